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
