package models_test

import (
	"testing"
	"time"

	"boilwright/models"

	"pgregory.net/rapid"
)

const sec = time.Second

func TestControllerOn(t *testing.T) {
	c := models.Controller{Schedule: []models.OnPeriod{{From: 10 * sec, To: 20 * sec}, {From: 15 * sec, To: 30 * sec}, {From: 40 * sec, To: 40 * sec}}}
	for _, x := range []struct {
		at   time.Duration
		want bool
	}{{0, false}, {10*sec - 1, false}, {10 * sec, true}, {20 * sec, true}, {30*sec - 1, true}, {30 * sec, false}, {40 * sec, false}} {
		if got := c.On(x.at); got != x.want {
			t.Errorf("on at %v: %v, want %v", x.at, got, x.want)
		}
	}
	c.Schedule = nil
	if !c.On(0) || !c.On(1000*time.Hour) {
		t.Error("off without a schedule, want on throughout")
	}
}

func TestDrawActive(t *testing.T) {
	once := models.Draw{From: 10 * sec, To: 12 * sec}
	again := models.Draw{From: 10 * sec, To: 12 * sec, Every: 5 * sec}
	fromStart := models.Draw{To: 2 * sec, Every: 5 * sec}
	none := models.Draw{From: 10 * sec, To: 10 * sec, Every: 5 * sec}
	for _, x := range []struct {
		name   string
		draw   models.Draw
		at     time.Duration
		active bool
		next   time.Duration
	}{
		{"once, before", once, 0, false, 10 * sec},
		{"once, just before", once, 10*sec - 1, false, 10 * sec},
		{"once, at the start", once, 10 * sec, true, 12 * sec},
		{"once, last instant", once, 12*sec - 1, true, 12 * sec},
		{"once, at the end", once, 12 * sec, false, 0},
		{"once, long after", once, 1000 * sec, false, 0},
		{"repeated, before", again, 4 * sec, false, 10 * sec},
		{"repeated, first", again, 11 * sec, true, 12 * sec},
		{"repeated, first pause", again, 12 * sec, false, 15 * sec},
		{"repeated, just before the second", again, 15*sec - 1, false, 15 * sec},
		{"repeated, second", again, 15 * sec, true, 17 * sec},
		{"repeated, a thousand periods on", again, 5011 * sec, true, 5012 * sec},
		{"repeated, pause a thousand periods on", again, 5012 * sec, false, 5015 * sec},
		{"from the start", fromStart, 0, true, 2 * sec},
		{"from the start, pause", fromStart, 4 * sec, false, 5 * sec},
		{"of no length", none, 10 * sec, false, 15 * sec},
	} {
		if active, next := x.draw.Active(x.at); active != x.active || next != x.next {
			t.Errorf("%s: %v until %v, want %v until %v", x.name, active, next, x.active, x.next)
		}
	}
}

// TestDrawNext: nothing changes between an instant and the next that is
// announced for it, by asking at every nanosecond of a short draw.
func TestDrawNext(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := models.Draw{From: time.Duration(rapid.IntRange(0, 9).Draw(t, "from"))}
		length := rapid.IntRange(1, 8).Draw(t, "length")
		d.To = d.From + time.Duration(length)
		if rapid.Bool().Draw(t, "repeats") {
			d.Every = time.Duration(length + rapid.IntRange(1, 9).Draw(t, "pause"))
		}
		want := func(at time.Duration) bool {
			for k := range time.Duration(200) {
				if at >= d.From+k*d.Every && at < d.To+k*d.Every {
					return true
				}
				if d.Every == 0 {
					break
				}
			}
			return false
		}
		for at := range time.Duration(100) {
			active, next := d.Active(at)
			if active != want(at) {
				t.Fatalf("%+v at %d: active %v", d, at, active)
			}
			for later := at + 1; later < 100 && (next == 0 || later < next); later++ {
				if want(later) != active {
					t.Fatalf("%+v at %d: %v until %d, but it changes at %d", d, at, active, next, later)
				}
			}
			if next != 0 && want(next) == active {
				t.Fatalf("%+v at %d: announces a change at %d, where there is none", d, at, next)
			}
		}
	})
}
