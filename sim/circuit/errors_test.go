package circuit

import (
	"math"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// TestRejectedBoards: what cannot be solved is refused on loading, and the
// error names the part.
func TestRejectedBoards(t *testing.T) {
	l, n := models.At(models.Line, 0), models.At(models.Neutral, 0)
	for _, c := range []struct {
		name string
		edit func(*models.Board)
		want []string
	}{
		{"no channel", func(b *models.Board) { b.Channels = nil }, []string{"channel"}},
		{"no frequency", func(b *models.Board) { b.Supply.Frequency = 0 }, []string{"frequency", "0"}},
		{"frequency NaN", func(b *models.Board) { b.Supply.Frequency = q.Hertz(math.NaN()) }, []string{"frequency", "NaN"}},
		{"capacitor across the ideal source", func(b *models.Board) {
			b.Supply.LineResistance, b.Supply.LineInductance, b.Supply.AcrossCapacitance = 0, 0, 1e-7
		}, []string{"across capacitor"}},
		{"capacitance of a meter across the ideal source", func(b *models.Board) {
			b.Supply.LineResistance, b.Supply.LineInductance = 0, 0
			b.Bridges = []models.Bridge{{Name: "scope", From: l, To: n, Resistance: 1e6, Capacitance: 1e-10}}
		}, []string{"bridge scope capacitance"}},
		{"inductance without a path", func(b *models.Board) {
			c := &b.Channels[0]
			c.Triac.Off, c.Opto.Off, c.Snubber = 0, 0, models.Snubber{}
		}, []string{"line inductance", "path"}},
		{"inductance with a path of 20 MΩ only", func(b *models.Board) { b.Channels[0].Snubber = models.Snubber{} }, []string{"line inductance", "path"}},
		{"inductance behind an open load", func(b *models.Board) { b.Channels[0].Element.Open = true }, []string{"line inductance", "path"}},
		{"two inductances in one loop", func(b *models.Board) { b.Supply.NeutralResistance, b.Supply.NeutralInductance = 0.2, 1e-4 }, []string{"inductance", "path"}},
		{"bridge to a channel that is not there", func(b *models.Board) {
			b.Bridges = []models.Bridge{{Name: "film", From: models.At(models.Output, 5), To: n, Resistance: 1e5}}
		}, []string{"film", "out6"}},
		{"bridge to a place that is not there", func(b *models.Board) {
			b.Bridges = []models.Bridge{{Name: "film", From: models.Node{Place: 99}, To: n, Resistance: 1e5}}
		}, []string{"film"}},
		{"bridge of a channel that is not there", func(b *models.Board) {
			b.Bridges = []models.Bridge{{Name: "short", From: l, To: n, Resistance: 1, Part: models.TriacPart, Channel: 7}}
		}, []string{"short", "7"}},
		{"bridge of a part that is not there", func(b *models.Board) {
			b.Bridges = []models.Bridge{{Name: "short", From: l, To: n, Resistance: 1, Part: 99}}
		}, []string{"short", "99"}},
		{"negative resistance", func(b *models.Board) { b.Channels[0].Element.Resistance = -3 }, []string{"element-near1", "-1.5"}},
		{"resistance NaN", func(b *models.Board) { b.Channels[0].GateResistance = q.Ohm(math.NaN()) }, []string{"gate-resistor1", "NaN"}},
		{"negative threshold", func(b *models.Board) { b.Channels[0].Triac.Threshold = -1 }, []string{"triac1", "-1"}},
		{"infinite capacitance", func(b *models.Board) { b.Channels[0].Snubber.Capacitance = q.Farad(inf) }, []string{"snubber-capacitor1"}},
		{"too many switching parts", func(b *models.Board) {
			for range 40 {
				b.Bridges = append(b.Bridges, models.Bridge{Name: "diode", From: l, To: n, Resistance: 1e3, OneWay: true})
			}
		}, []string{"switching parts"}},
	} {
		b := healthyBoard(44)
		c.edit(b)
		_, err := New(b)
		if err == nil {
			t.Errorf("%s: found no error, expected one", c.name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: found error %q, expected %q in it", c.name, err, w)
			}
		}
		if s := err.Error(); strings.HasSuffix(s, ".") || s[0] >= 'A' && s[0] <= 'Z' {
			t.Errorf("%s: found error %q, expected lower case and no full stop", c.name, s)
		}
	}
	// The default damping resistance is a path for any of them.
	b := healthyBoard(44)
	c := &b.Channels[0]
	c.Triac.Off, c.Opto.Off, c.Snubber, c.Element.Open = 0, 0, models.Snubber{}, true
	b.Supply.NeutralResistance, b.Supply.NeutralInductance, b.Supply.Damping = 0.2, 1e-4, 50
	if _, err := New(b); err != nil {
		t.Errorf("with damping: %v", err)
	}
}

// TestParallelCapacitances: two meters on the same nodes, or a meter across
// the capacitor of the board, are one capacitance.
func TestParallelCapacitances(t *testing.T) {
	out, n := models.At(models.Output, 0), models.At(models.Neutral, 0)
	b := healthyBoard(44)
	b.Supply.AcrossCapacitance = 1e-7
	one := b.Clone()
	one.Supply.AcrossCapacitance += 1e-10
	one.Bridges = []models.Bridge{{Name: "a", From: out, To: n, Resistance: 5e6, Capacitance: 3e-10}}
	two := b.Clone()
	two.Bridges = []models.Bridge{
		{Name: "l", From: models.At(models.Line, 0), To: n, Resistance: q.Ohm(inf), Capacitance: 1e-10},
		{Name: "a", From: out, To: n, Resistance: 1e7, Capacitance: 1e-10},
		{Name: "b", From: n, To: out, Resistance: 1e7, Capacitance: 2e-10},
	}
	s1, s2 := mustNew(t, one), mustNew(t, two)
	for range 3 {
		x, err := s1.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
		if err != nil {
			t.Fatal(err)
		}
		y, err := s2.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "energy", x.Element[0], y.Element[0], x.Element[0], 1e-12)
	}
}

// TestRejectedInputs: bad inputs are errors, not panics.
func TestRejectedInputs(t *testing.T) {
	on := []float64{12, 12, 12}
	for _, c := range []struct {
		name string
		in   Input
		want string
	}{
		{"too few drives", Input{Factor: 1, Drive: on[:2]}, "2 drive voltages"},
		{"too many drives", Input{Factor: 1, Drive: append(on, 12)}, "4 drive voltages"},
		{"factor NaN", Input{Factor: math.NaN(), Drive: on}, "finite"},
		{"factor infinite", Input{Factor: inf, Drive: on}, "finite"},
		{"change of a channel that is not there", Input{Factor: 1, Drive: on, Changes: []DriveChange{{After: 0.001, Channel: 3}}}, "channel"},
		{"change of channel −1", Input{Factor: 1, Drive: on, Changes: []DriveChange{{After: 0.001, Channel: -1}}}, "channel"},
		{"change after the half-cycle", Input{Factor: 1, Drive: on, Changes: []DriveChange{{After: 0.01}}}, "0.01 s"},
		{"change before the half-cycle", Input{Factor: 1, Drive: on, Changes: []DriveChange{{After: -0.001}}}, "-0.001 s"},
		{"change at NaN", Input{Factor: 1, Drive: on, Changes: []DriveChange{{After: math.NaN()}}}, "NaN"},
		{"changes out of order", Input{Factor: 1, Drive: on, Changes: []DriveChange{{After: 0.005}, {After: 0.004}}}, "rising"},
	} {
		s := mustNew(t, refBoard())
		_, err := s.HalfCycle(c.in)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: found error %v, expected %q in it", c.name, err, c.want)
		}
	}
	s := mustNew(t, refBoard())
	for name, err := range map[string]error{
		"branch":  second(s.Current("triac9")),
		"voltage": second(s.BranchVoltage("triac9")),
		"ends":    third(s.Ends("triac9")),
		"node":    second(s.Voltage(models.At(models.Output, 7), models.Node{})),
	} {
		if err == nil || !strings.Contains(err.Error(), "expected one of") {
			t.Errorf("%s: found error %v, expected a list of what there is", name, err)
		}
	}
	if _, err := s.Voltage(models.At(models.SnubberTap, 0), models.Node{}); err != nil {
		t.Error(err)
	}
	b := refBoard()
	b.Channels[0].Snubber = models.Snubber{}
	if _, err := mustNew(t, b).Voltage(models.At(models.SnubberTap, 0), models.Node{}); err == nil {
		t.Error("found the node of a snubber that is not fitted, expected an error")
	}
}

func second[T any](_ T, err error) error        { return err }
func third[S, T any](_ S, _ T, err error) error { return err }

// TestNoConsistentState: an opto that needs less current to turn on than to
// stay on has no consistent state; the error names time, states and nodes.
func TestNoConsistentState(t *testing.T) {
	b := healthyBoard(44)
	b.Channels[0].Opto.Holding = 10 * b.Channels[0].Opto.Latching
	s := mustNew(t, b)
	_, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
	if err == nil {
		t.Fatal("found no error, expected one")
	}
	for _, w := range []string{"ms of half-cycle 0", "gate1", "out1", " V"} {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("found error %q, expected %q in it", err, w)
		}
	}
}

// TestShortedSnubberResistor: a capacitor right across a triac without slope
// resistance has no solution when the triac fires; that is an error too.
func TestShortedSnubberResistor(t *testing.T) {
	b := healthyBoard(44)
	b.Channels[0].Snubber.Resistance, b.Channels[0].Triac.Slope = 0, 0
	s := mustNew(t, b)
	_, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
	if err == nil || !strings.Contains(err.Error(), "snubber-capacitor1") {
		t.Errorf("found error %v, expected snubber-capacitor1 in it", err)
	}
}
