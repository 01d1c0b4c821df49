package sim_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim"

	q "boilwright/models/quantity"
)

// switched is an editor whose version changes at given times, and is what the
// last of them says.
type switched struct {
	at      []time.Duration
	version []uint64
	edit    func(b *models.Board, version uint64) error
	seen    []time.Duration // moments of edits
}

func (s *switched) Version(m models.Moment) (version uint64, next time.Duration) {
	next = math.MaxInt64
	for i, t := range s.at {
		if t > m.Time {
			return version, t
		}
		version = s.version[i]
	}
	return version, next
}

func (*switched) Timed() bool { return true }

func (s *switched) Edit(b *models.Board, m models.Moment) error {
	s.seen = append(s.seen, m.Time)
	v, _ := s.Version(m)
	if v == 0 {
		return nil
	}
	return s.edit(b, v)
}

// alone is a board whose channel 2 heats throughout and the others never do.
func alone(t testing.TB, name string) *models.Board {
	b := warm(board(t, name))
	for k := range b.Channels {
		b.Channels[k].Control = models.Control{Kind: models.FixedDuty, SetPoint: 150, OverTemp: 200, InBand: 1, Enabled: k == 1, Duty: 1}
	}
	return b
}

// everyHalf runs a board and keeps its half-cycles.
func everyHalf(t testing.TB, b *models.Board, o sim.Options) (*sim.Result, []sim.HalfCycle) {
	t.Helper()
	var all []sim.HalfCycle
	o.HalfCycles = func(h sim.HalfCycle) { all = append(all, h) }
	r, err := sim.Run(context.Background(), b, o)
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range all {
		if h.Index != int64(i) {
			t.Fatalf("found half-cycle %d in place %d, expected all in order", h.Index, i)
		}
	}
	if int64(len(all)) != r.Stats.HalfCycles {
		t.Fatalf("found %d half-cycles told, expected %d", len(all), r.Stats.HalfCycles)
	}
	return r, all
}

func openElement(b *models.Board, _ uint64) error {
	b.Channels[1].Element.Open = true
	return nil
}

// An onset at a time takes effect at the first zero of the supply at or after
// it: exactly then, whatever the control window.
func TestOnsetIsAtTheNextZero(t *testing.T) {
	for _, c := range []struct {
		board string
		at    time.Duration
		first int // half-cycle
	}{
		{"dye-bench-230", 0, 0},
		{"dye-bench-230", 1, 1},
		{"dye-bench-230", 1230 * time.Millisecond, 123},
		{"dye-bench-230", 1230*time.Millisecond - 1, 123},
		{"dye-bench-230", 1230*time.Millisecond + 1, 124},
		{"dye-bench-230", time.Second, 100},
		{"dye-bench-230", 1503 * time.Millisecond, 151},
		// Half-cycles of 60 Hz are no whole number of nanoseconds.
		{"dye-bench-120", 1025 * time.Millisecond, 123},
		{"dye-bench-120", 1025*time.Millisecond + 1, 124},
		{"dye-bench-120", 8333333 * time.Nanosecond, 1},
		{"dye-bench-120", 8333334 * time.Nanosecond, 2},
		{"dye-bench-120", 1016666667 * time.Nanosecond, 122},
	} {
		for _, full := range []bool{false, true} {
			e := &switched{at: []time.Duration{c.at}, version: []uint64{1}, edit: openElement}
			r, all := everyHalf(t, alone(t, c.board), sim.Options{Duration: 2 * time.Second, Full: full, Edits: e})
			last := -1
			for i, h := range all {
				if h.Current > 1 {
					last = i
				}
			}
			if last+1 != c.first {
				t.Errorf("%s, onset at %v, full %t: found the last current in half-cycle %d, expected %d", c.board, c.at, full, last, c.first-1)
			}
			if c.at == 0 {
				continue
			}
			want := time.Duration(math.Round(float64(c.first) * alone(t, c.board).Supply.HalfCycle() * 1e9))
			if found := event(r, sim.Edited); found != want {
				t.Errorf("%s, onset at %v, full %t: found the board changed at %v, expected %v", c.board, c.at, full, found, want)
			}
			if r.Stats.Versions != 2 || len(e.seen) != 2 {
				t.Errorf("%s, onset at %v, full %t: found %d versions and edits at %v, expected 2", c.board, c.at, full, r.Stats.Versions, e.seen)
			}
		}
	}
}

// One that comes and goes finds the healthy board again, and what was solved
// of it.
func TestIntermittentReturnsToTheSameBoard(t *testing.T) {
	e := &switched{edit: openElement}
	for i := range 10 {
		e.at = append(e.at, time.Duration(i+1)*703*time.Millisecond)
		e.version = append(e.version, uint64(1-i%2))
	}
	r, all := everyHalf(t, alone(t, "dye-bench-230"), sim.Options{Duration: 8 * time.Second, Edits: e})
	_, healthy := everyHalf(t, alone(t, "dye-bench-230"), sim.Options{Duration: 8 * time.Second})
	if r.Stats.Versions != 2 || len(e.seen) != 2 {
		t.Errorf("found %d versions and %d edits, expected 2: equal versions are made once", r.Stats.Versions, len(e.seen))
	}
	changed := 0
	for _, x := range r.Events {
		if x.Kind == sim.Edited {
			changed++
		}
	}
	if changed != len(e.at) {
		t.Errorf("found the board changed %d times, expected %d", changed, len(e.at))
	}
	boards := map[*models.Board]bool{}
	for i, h := range all {
		boards[h.Board] = true
		v, _ := e.Version(models.Moment{Time: time.Duration(i) * 10 * time.Millisecond})
		if v == 1 && h.Current > 1e-2 {
			t.Fatalf("half-cycle %d: found %g A with the element open", i, h.Current)
		}
		// The element is cooler after a rest: within 100 K of 170 ppm/K.
		if v == 0 && math.Abs(h.Current/healthy[i].Current-1) > 0.02 {
			t.Fatalf("half-cycle %d: found %g A, expected %g A as without the edit", i, h.Current, healthy[i].Current)
		}
	}
	if len(boards) != 2 {
		t.Errorf("found %d boards, expected 2", len(boards))
	}
	if r.Stats.Solved > 200 {
		t.Errorf("found %d half-cycles solved of %d, expected most to be used again", r.Stats.Solved, r.Stats.HalfCycles)
	}
}

// What an editor makes of a board is refused with the time and the reason,
// and nothing is half done.
func TestEditsThatCannotBe(t *testing.T) {
	broken := errors.New("found a broken edit")
	for _, c := range []struct {
		name string
		edit func(b *models.Board, v uint64) error
		want []string
	}{
		{"the editor refuses", func(*models.Board, uint64) error { return broken }, []string{"at 1.5s", "found a broken edit"}},
		{"no water", func(b *models.Board, _ uint64) error { b.Channels[1].Boiler.ShellCapacity = 0; return nil }, []string{"at 1.5s", "dye"}},
		{"another number of channels", func(b *models.Board, _ uint64) error { b.Channels = b.Channels[:2]; b.Couplings = nil; return nil }, []string{"at 1.5s", "2 channels"}},
		{"another link ahead", func(b *models.Board, _ uint64) error {
			b.Upstream = &models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 150, Capacity: 5, ToShell: 0.25}
			return nil
		}, []string{"at 1.5s", "upstream link"}},
		{"another frequency", func(b *models.Board, _ uint64) error { b.Supply.Frequency = 60; return nil }, []string{"at 1.5s", "frequency"}},
		{"another window", func(b *models.Board, _ uint64) error { b.Controller.Window = 10; return nil }, []string{"at 1.5s", "window"}},
		{"a resistance that is no number", func(b *models.Board, _ uint64) error { b.Channels[1].GateResistance = q.Ohm(math.NaN()); return nil }, []string{"at 1.5s"}},
	} {
		e := &switched{at: []time.Duration{1500 * time.Millisecond}, version: []uint64{1}, edit: c.edit}
		r, err := sim.Run(context.Background(), alone(t, "dye-bench-230"), sim.Options{Duration: 3 * time.Second, Edits: e})
		if err == nil || r != nil {
			t.Errorf("%s: found no error, expected one", c.name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: found %q, expected it to tell of %q", c.name, err, w)
			}
		}
	}
	e := &switched{at: []time.Duration{0}, version: []uint64{1}, edit: func(*models.Board, uint64) error { return broken }}
	if _, err := sim.Run(context.Background(), alone(t, "dye-bench-230"), sim.Options{Edits: e}); !errors.Is(err, broken) {
		t.Errorf("found %v, expected the editor's own error", err)
	}
}

// The healthy board is never touched, and the result has it.
func TestEditsLeaveTheBoardAlone(t *testing.T) {
	b := alone(t, "dye-bench-230")
	before := fmt.Sprintf("%+v", *b)
	e := &switched{at: []time.Duration{time.Second}, version: []uint64{1}, edit: openElement}
	r, err := sim.Run(context.Background(), b, sim.Options{Duration: 3 * time.Second, Edits: e})
	if err != nil {
		t.Fatal(err)
	}
	if r.Board != b || fmt.Sprintf("%+v", *b) != before {
		t.Error("found the board changed, expected edits to act on copies")
	}
}
