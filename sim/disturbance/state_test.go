package disturbance_test

import (
	"math"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim"
)

// from changes the board at an instant.
type from struct {
	at   time.Duration
	edit func(*models.Board)
}

func (f from) Version(m models.Moment) (uint64, time.Duration) {
	if m.Time < f.at {
		return 0, f.at
	}
	return 1, math.MaxInt64
}

func (from) Timed() bool { return true }

func (f from) Edit(b *models.Board, m models.Moment) error {
	if m.Time >= f.at {
		f.edit(b)
	}
	return nil
}

// TestEditedPatterns: a channel that goes half-wave during the run shows as
// patterns of its own, by the board that was in force.
func TestEditedPatterns(t *testing.T) {
	b := oneHeater(100)
	a := assess(t, b, sim.Options{Duration: 4 * time.Second, Edits: from{2 * time.Second, func(b *models.Board) { halfWave(b, 0) }}})
	var direct []bool
	for _, p := range a.Patterns {
		direct = append(direct, math.Abs(p.Current.DC) > 1)
	}
	// Driven and not before, driven and not after: a driven triac beside it
	// makes up for the other half-cycle.
	if len(direct) != 4 || direct[0] || direct[1] || direct[2] || !direct[3] || a.Patterns[2].First != 2*time.Second {
		t.Errorf("found direct current in %v of the patterns, expected it in the fourth", direct)
	}
}

// TestLinkOpensPattern: once its thermal link has opened, a driven channel
// draws next to nothing.
func TestLinkOpensPattern(t *testing.T) {
	b := oneHeater(100)
	b.Channels[0].Control.Duty = 1
	b.Channels[0].Link.Functions = b.Ambient + 1
	a := assess(t, b, sim.Options{Duration: 3 * time.Minute})
	if len(a.Patterns) != 2 {
		t.Fatalf("found %d patterns, expected one with the link whole and one with it open", len(a.Patterns))
	}
	p, q := a.Patterns[0], a.Patterns[1]
	if p.Open != 0 || p.Current.Total < 6 || q.Open != 1 || q.Drives != 1 || q.Current.Total > 0.1 {
		t.Errorf("found %.3f A with links %b open, %.3f A with %b", p.Current.Total, p.Open, q.Current.Total, q.Open)
	}
	if a.Voltage.Count != 2 || math.Abs(a.Voltage.Steady-1.12) > 0.02 {
		t.Errorf("found %+v, expected two changes of 1.12 %%, on and off", a.Voltage)
	}
}

// TestSupplyEditedFromStart: a supply that is low, or whose neutral is loose,
// before the board is connected is no voltage change; one that becomes so
// during the run is. 1500 W at 230 V on 0.4 + j0.25 Ω moves the voltage by
// 1.12392 % (exact division), on a supply of 85 % by 0.85 of that.
// Half a second after the load went, the last steady state is that with it.
func TestSupplyEditedFromStart(t *testing.T) {
	low := func(b *models.Board) { b.Supply.Voltage *= 0.85 }
	for _, c := range []struct {
		at   time.Duration
		want float64 // d_max in percent
	}{{0, 0.85 * 1.12392}, {2500 * time.Millisecond, 15 - 1.12392}} {
		a := assess(t, oneHeater(400), sim.Options{Duration: 8 * time.Second, Edits: from{c.at, low}})
		if !(math.Abs(a.Voltage.Max-c.want) <= 0.01*c.want) {
			t.Errorf("low from %v: found d_max %.3f %%, expected %.3f %%", c.at, a.Voltage.Max, c.want)
		}
		if early := a.Sensation.Peak[1]; c.at == 0 && early > 3 {
			t.Errorf("low from the start: found P_inst %.2f in the second second, expected what a healthy supply has", early)
		}
	}
	loose := func(b *models.Board) { b.Supply.NeutralResistance += 2 }
	for _, at := range []time.Duration{0, 2 * time.Second} {
		a := assess(t, oneHeater(400), sim.Options{Duration: 4 * time.Second, Edits: from{at, loose}})
		first, last := real(a.Impedance), real(a.Last)
		if a.Reference() || math.Abs(last-2.4) > 0.01 || math.Abs(first-2.4) > 0.01 != (at > 0) {
			t.Errorf("loose from %v: found %.3f Ω, then %.3f Ω, expected 2.4 Ω in the end", at, first, last)
		}
	}
}
