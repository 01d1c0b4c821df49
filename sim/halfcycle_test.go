package sim_test

import (
	"math"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/boardfile"
)

// halfCycles runs a board and returns every half-cycle of it.
func halfCycles(t *testing.T, b *models.Board, o sim.Options) ([]sim.HalfCycle, *sim.Result) {
	t.Helper()
	var out []sim.HalfCycle
	o.HalfCycles = func(h sim.HalfCycle) { out = append(out, h) }
	r, err := sim.Run(t.Context(), b, o)
	if err != nil {
		t.Fatal(err)
	}
	return out, r
}

// burstBoard is the demonstration board with fixed duties, spread and in one
// run, so that drives keep changing.
func burstBoard() *models.Board {
	b := boardfile.Default()
	for k := range b.Channels {
		c := &b.Channels[k].Control
		c.Kind, c.Duty, c.Spread = models.FixedDuty, 0.4, k == 1
	}
	return b
}

// TestHalfCycles: each half-cycle is told once, in order; the currents add up
// to those of the samples; a run that solves every half-cycle tells the same.
func TestHalfCycles(t *testing.T) {
	b := burstBoard()
	o := sim.Options{Duration: 3 * time.Second, Every: 3 * time.Second}
	fast, r := halfCycles(t, b, o)
	if int64(len(fast)) != r.Stats.HalfCycles {
		t.Fatalf("told of %d half-cycles, expected %d", len(fast), r.Stats.HalfCycles)
	}
	square := 0.0
	for i, h := range fast {
		if h.Index != int64(i) || h.Board != fast[0].Board || h.Open != 0 || h.Upstream {
			t.Fatalf("half-cycle %d: found %+v", i, h)
		}
		square += h.Current * h.Current
	}
	rms := math.Sqrt(square / float64(len(fast)))
	if want := r.Samples[len(r.Samples)-1].Current; math.Abs(rms-want) > 1e-9*want {
		t.Errorf("rms current of the half-cycles %.9g A, of the sample %.9g A", rms, want)
	}
	o.Full = true
	full, _ := halfCycles(t, b, o)
	if len(full) != len(fast) {
		t.Fatalf("told of %d half-cycles with each one solved, expected %d", len(full), len(fast))
	}
	for i, h := range full {
		g := fast[i]
		if h.Drives != g.Drives || math.Abs(h.Voltage-g.Voltage) > 1e-5*h.Voltage || math.Abs(h.Current-g.Current) > 1e-4*h.Current+1e-3 {
			t.Fatalf("half-cycle %d: found %+v with each one solved, %+v with reuse", i, h, g)
		}
	}
}

// TestHalfCyclesEnd: nothing is told after the fuse has cut the board off.
func TestHalfCyclesEnd(t *testing.T) {
	b := burstBoard()
	for k := range b.Channels {
		b.Channels[k].Control.Duty = 1
	}
	b.Protection.Fuse = models.Fuse{Fitted: true, Rated: 5, Melt: 300}
	all, r := halfCycles(t, b, sim.Options{Duration: 10 * time.Second})
	var cut time.Duration
	for _, e := range r.Events {
		if e.Kind == sim.FuseMelted {
			cut = e.Time
		}
	}
	if cut == 0 || cut > 9*time.Second {
		t.Fatalf("the fuse melted at %v, expected it to within 9 s", cut)
	}
	if want := int(cut / (10 * time.Millisecond)); len(all) != want {
		t.Errorf("told of %d half-cycles, expected %d up to the cut at %v", len(all), want, cut)
	}
}
