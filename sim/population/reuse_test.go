package population_test

import (
	"context"
	"math"
	"testing"
	"time"

	"boilwright/sim"
	"boilwright/sim/population"
)

// Boards as they are drawn, with parts and supplies that differ and faults of
// any severity, on the fast path and with every half-cycle solved: they begin
// warm, so that within seconds every channel is switched. Where a run says that
// something was near a threshold, it is held to less.
func TestReuseOnDrawnBoards(t *testing.T) {
	boards := uint64(16)
	if testing.Short() {
		boards = 5
	}
	p := drawn(t, 3)
	near := 0
	for i := range boards {
		m, err := p.Member(i)
		if err != nil {
			t.Fatal(err)
		}
		for k := range m.Board.Channels {
			c := &m.Board.Channels[k]
			c.Boiler.Start, c.Boiler.Draws = c.Control.SetPoint-3, nil
		}
		fast, full := both(t, m)
		energy, element := 2e-5, 0.015
		if fast.Stats.Narrow {
			energy, element = 1e-3, 0.3
			near++
		}
		const little = 1000 // J
		if d := (fast.Heat.In - full.Heat.In) / max(full.Heat.In, little); !(math.Abs(d) <= energy) {
			t.Errorf("board %d, %v: energy differs by %.2g, expected at most %g", i, m.Faults, d, energy)
		}
		last := len(full.Samples) - 1
		for k := range full.Samples[last].Channels {
			x, y := fast.Samples[last].Channels[k].Element, full.Samples[last].Channels[k].Element
			if !(math.Abs(x-y) <= element) {
				t.Errorf("board %d, %v: element of channel %d: found %.4f °C, expected %.4f", i, m.Faults, k+1, x, y)
			}
		}
	}
	t.Logf("%d of %d boards near a threshold", near, boards)
}

// both runs a member on the fast path and in full.
func both(t *testing.T, m population.Member) (fast, full *sim.Result) {
	t.Helper()
	for _, every := range []bool{false, true} {
		set, err := m.Faults.Start(m.Seed)
		if err != nil {
			t.Fatal(err)
		}
		o := sim.Options{Duration: 10 * time.Second, Every: time.Second, Full: every}
		if len(m.Faults) > 0 {
			o.Edits = set
		}
		r, err := sim.Run(context.Background(), m.Board, o)
		if err != nil {
			t.Fatalf("board %d, %v: %v", m.Index, m.Faults, err)
		}
		fast, full = full, r
	}
	return fast, full
}
