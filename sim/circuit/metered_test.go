package circuit_test

import (
	"fmt"
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// A board with a meter on it is solved as the board that has the meter as a part
// from the beginning, wherever the meter lies, whatever was measured before, and
// with a board on which something switches by itself.
func TestMeteredAgainstNew(t *testing.T) {
	at := models.At
	leads := []struct {
		name string
		a, b models.Node
		c    q.Farad
	}{
		{"within a channel", at(models.Output, 0), at(models.OptoOutput, 0), 0},
		{"from a channel to the supply", at(models.Gate, 1), at(models.Neutral, 0), 0},
		{"from channel to channel", at(models.Output, 0), at(models.Load, 2), 0},
		{"on the supply", at(models.Line, 0), at(models.ProtectiveEarth, 0), 1e-10},
		{"beside a capacitor", at(models.SnubberTap, 1), at(models.Line, 0), 2e-10},
		{"within a channel again", at(models.Output, 1), at(models.OptoOutput, 1), 0},
	}
	fires := boardfile.Default()
	fires.Bridges = []models.Bridge{{Name: "leak", From: at(models.Output, 2), To: at(models.OptoOutput, 2), Resistance: 5000, Channel: 2, Part: models.GatePart}}
	for name, b := range map[string]*models.Board{"healthy": boardfile.Default(), "firing by itself": fires} {
		warm := circuit.Uniform(len(b.Channels), 60)
		board, err := circuit.NewMetered(b, warm)
		if err != nil {
			t.Fatal(err)
		}
		in := circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
		read := func(s *circuit.Solver, a, z models.Node) models.Moments {
			sig, err := s.Voltage(a, z)
			if err != nil {
				t.Fatal(err)
			}
			m, ok, err := s.SettleMoments(25, in, sig, true)
			if err != nil || !ok {
				t.Fatalf("found %v and the error %v, expected a cycle that ends as it began", ok, err)
			}
			return m
		}
		for _, l := range leads {
			what := fmt.Sprintf("%s, %s", name, l.name)
			meter := models.Bridge{Name: "meter", From: l.a, To: l.b, Resistance: 3000, Capacitance: l.c}
			s, err := board.Solver(meter)
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			got := read(s, l.a, l.b)
			board.Keep(s)
			loaded := b.Clone()
			loaded.Bridges = append(loaded.Bridges, meter)
			if s, err = circuit.New(loaded); err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			s.SetTemperatures(warm)
			want := read(s, l.a, l.b)
			for _, x := range [][2]float64{{got.Mean, want.Mean}, {math.Sqrt(got.MeanSquare), math.Sqrt(want.MeanSquare)}, {got.MeanAbs, want.MeanAbs}, {got.MeanAbsCoupled, want.MeanAbsCoupled}} {
				if d := math.Abs(x[0] - x[1]); !(d <= 1e-9*math.Sqrt(want.MeanSquare)) {
					t.Errorf("%s: found %.15g V, expected %.15g V", what, x[0], x[1])
				}
			}
		}
	}
}

// What New refuses, a board with a meter refuses.
func TestMeteredErrors(t *testing.T) {
	t25 := circuit.Uniform(3, 25)
	for name, spoil := range map[string]func(b *models.Board){
		"no channel":   func(b *models.Board) { b.Channels = nil },
		"no frequency": func(b *models.Board) { b.Supply.Frequency = 0 },
		"no number":    func(b *models.Board) { b.Channels[1].Wire = q.Ohm(math.NaN()) },
	} {
		b := boardfile.Default()
		spoil(b)
		if _, err := circuit.NewMetered(b, t25); err == nil {
			t.Errorf("%s: found no error", name)
		}
	}
	b := boardfile.Default()
	board, err := circuit.NewMetered(b, t25)
	if err != nil {
		t.Fatal(err)
	}
	line, source := models.At(models.Line, 0), models.At(models.Source, 0)
	for name, m := range map[string]models.Bridge{
		"a node of another board": {Name: "meter", From: line, To: models.At(models.Output, 3), Resistance: 1e6},
		"a negative resistance":   {Name: "meter", From: line, To: source, Resistance: -1},
		"a capacitor on a source": {Name: "meter", From: source, To: models.Node{}, Resistance: 1e6, Capacitance: 1e-9},
	} {
		if _, err := board.Solver(m); err == nil {
			t.Errorf("%s: found no error", name)
		}
	}
	// What was found out at other temperatures is not kept.
	meter := models.Bridge{Name: "meter", From: line, To: source, Resistance: 1e6}
	s, err := board.Solver(meter)
	if err != nil {
		t.Fatal(err)
	}
	s.SetTemperatures(circuit.Uniform(3, 125))
	in := circuit.Input{Factor: 1, Drive: make([]float64, 3)}
	if _, err := s.HalfCycle(in); err != nil {
		t.Fatal(err)
	}
	board.Keep(s)
	board.Keep(s) // once more has no effect
	s.Release()
	energy := func(s *circuit.Solver, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		r, err := s.HalfCycle(in)
		if err != nil {
			t.Fatal(err)
		}
		return r.Element[0]
	}
	fresh, err := circuit.NewMetered(b, t25)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := energy(board.Solver(meter)), energy(fresh.Solver(meter)); got != want {
		t.Errorf("found %v J in the element, expected %v J", got, want)
	}
}
