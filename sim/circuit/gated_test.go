package circuit

import (
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// gatedBoard has a triac whose drop (1.5 V) lies above that of its gate path
// (0.7 V and 56 Ω), so that its gate keeps current while it conducts, and a
// load too light to latch it: 65 mA at the peak, I_L = 100 mA.
func gatedBoard() *models.Board {
	b := healthyBoard(5000)
	b.Supply.LineResistance, b.Supply.LineInductance = 0, 0
	c := &b.Channels[0]
	c.Snubber, c.Wire, c.Link.Resistance = models.Snubber{}, 0, 0
	c.Opto.Threshold, c.Opto.Inhibit, c.Opto.Off = 0.3, q.Volt(inf), 1e-12
	c.GateResistance, c.GateShunt = 50, q.Ohm(inf)
	t := &c.Triac
	t.Off, t.Threshold, t.Slope, t.GateThreshold, t.GateSlope = 1e-12, 1.5, 0, 0.4, 1
	t.Trigger = [4]q.Ampere{5e-3, 5e-3, 5e-3, 5e-3}
	t.Latching, t.Holding = 0.1, 0.08
	return b
}

// TestGated: such a triac conducts as long as its gate holds it, which takes
// (1.5 V − 0.7 V)/56 Ω of the load's current, and gives up where its own
// current would reverse: it never returns power. Kirchhoff's laws give the
// angles.
func TestGated(t *testing.T) {
	b := gatedBoard()
	pulse := func(at, off float64) func(int64) Input {
		return func(half int64) Input {
			in := Input{Factor: 1, Drive: []float64{0}}
			if half == 0 {
				in.Changes = []DriveChange{{After: at, Volts: 12}, {After: off, Volts: 0}}
			}
			return in
		}
	}
	peak := math.Sqrt2 * 230
	holds := (1.5 - 0.3 - 0.4) / (50 + 5 + 1)
	angle := func(amps float64) float64 { return math.Asin((1.5+5000*amps)/peak) * 180 / math.Pi }

	s := mustNew(t, b)
	r := mustRecord(t, s, 4, pulse(0.005, 0.006))
	c := Conduction(r.Events, 0)
	if len(c) != 1 || c[0].Firings != 1 {
		t.Fatalf("conducts %+v, expected once", c)
	}
	near(t, "driven at the peak: fires", c[0].Firing, 90, 180, 1e-10)
	near(t, "its current reverses", c[0].Extinction, 180-angle(holds), 180, 1e-10)
	m := r.Moments(ampOf(t, s, "triac1"))
	near(t, "one direction only", m.MeanAbs, math.Abs(m.Mean), m.MeanAbs, 1e-6) // but for leakage

	// Driven early, it fires where the load's current reaches what the gate
	// path takes: sooner, it would have to carry a current backwards.
	c = Conduction(mustRecord(t, mustNew(t, b), 2, pulse(1e-6, 0.006)).Events, 0)
	if len(c) != 1 || c[0].Firings != 1 {
		t.Fatalf("conducts %+v, expected once", c)
	}
	near(t, "driven early: fires", c[0].Firing, angle(holds), 180, 2e-10) // two steps of half a picosecond past a root

	// The energy of the main path is never negative.
	s = mustNew(t, gatedBoard())
	for range 4 {
		rec, err := s.HalfCycle(pulse(0.005, 0.0051)(s.Half()))
		if err != nil {
			t.Fatal(err)
		}
		if rec.Triac[0] < 0 {
			t.Errorf("half-cycle %d: the triac gave %g J", rec.Half, -rec.Triac[0])
		}
	}
}
