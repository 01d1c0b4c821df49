package readings_test

import (
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// embedded returns a demonstration board.
func embedded(t testing.TB, name string) *models.Board {
	t.Helper()
	f, err := boardfile.Embedded(name)
	if err != nil {
		t.Fatal(err)
	}
	return f.Board
}

// single is the first channel of a demonstration board on its own.
func single(t testing.TB, name string) *models.Board {
	b := embedded(t, name)
	b.Channels, b.Couplings = b.Channels[:1], nil
	return b
}

// textbook strips a board of one channel to what an exercise has: an ideal
// source, a blocking triac without leakage, no wiring, no insulation path, a
// snubber of 100 Ω and 10 nF and a load of 48 Ω at 20 °C.
func textbook(t testing.TB, volts q.Volt) *models.Board {
	b := single(t, "dye-bench-240")
	b.Supply.Voltage = volts
	stiffen(b)
	c := &b.Channels[0]
	c.Triac.Off, c.Opto.Off = 0, 0
	c.Snubber = models.Snubber{Resistance: 100, Capacitance: 1e-8}
	c.Wire, c.Link.Resistance = 0, 0
	c.Element.Resistance, c.Element.Insulation = 48, q.Ohm(math.Inf(1))
	return b
}

// stiffen makes the supply an ideal source.
func stiffen(b *models.Board) {
	s := &b.Supply
	s.LineResistance, s.LineInductance, s.NeutralResistance, s.NeutralInductance = 0, 0, 0, 0
}

// conditions has every part at 20 °C, at which elements have their R20.
func conditions(b *models.Board, s readings.State) readings.Conditions {
	return readings.Conditions{State: s, Temps: circuit.Uniform(len(b.Channels), 20)}
}

// meter returns the board's meter of a name.
func meter(t testing.TB, b *models.Board, name string) models.Meter {
	t.Helper()
	for _, m := range b.Meters {
		if m.Name == name {
			return m
		}
	}
	t.Fatalf("no meter %q on board %q", name, b.Name)
	return models.Meter{}
}

// look returns what the named meter makes of a point.
func look(t testing.TB, b *models.Board, p readings.Point, name string, c readings.Conditions) readings.Value {
	t.Helper()
	v, err := readings.At(b, p, []models.Meter{meter(t, b, name)}, c)
	if err != nil {
		t.Fatal(err)
	}
	return v[0]
}

// point returns the test point of a name.
func point(t testing.TB, b *models.Board, name string) readings.Point {
	t.Helper()
	p, err := readings.FindPoint(b, name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// near fails unless got is within tol·scale of want.
func near(t *testing.T, what string, got, want, scale, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Abs(scale)) {
		t.Errorf("%s: got %.12g, want %.12g (off by %.3g, allowed %.3g)", what, got, want, got-want, tol*math.Abs(scale))
	}
}

// The nodes of the first channel.
var (
	line, neutral, earth = models.At(models.Line, 0), models.At(models.Neutral, 0), models.At(models.ProtectiveEarth, 0)
	output, opto, gate   = models.At(models.Output, 0), models.At(models.OptoOutput, 0), models.At(models.Gate, 0)
	load, mid, wire      = models.At(models.Load, 0), models.At(models.Midpoint, 0), models.At(models.Wire, 0)
)

// oneWayOpto lets the opto's output of the first channel conduct in one
// polarity without any drive, as a junction V_P0 + r_P·i from MT2 or to it.
func oneWayOpto(b *models.Board, fromMT2 bool) {
	o := &b.Channels[0].Opto
	br := models.Bridge{Name: "one-way opto", From: output, To: opto, Threshold: o.Threshold, Resistance: o.Slope, OneWay: true, Part: models.GatePart}
	if !fromMT2 {
		br.From, br.To = br.To, br.From
	}
	b.Bridges = append(b.Bridges, br)
}

// shortTriac puts 20 mΩ across the triac of a channel.
func shortTriac(b *models.Board, k int) {
	b.Bridges = append(b.Bridges, models.Bridge{Name: "shorted triac", From: models.At(models.Output, k), To: line, Resistance: 0.02, Part: models.TriacPart, Channel: k})
}
