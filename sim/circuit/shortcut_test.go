package circuit

import (
	"math"
	"slices"
	"testing"
)

// What is known of an opto beside a conducting triac, and of its latching, saves trials
// and changes no event and no energy.
func TestOptoBypassed(t *testing.T) {
	for name, s := range map[string][2]*Solver{
		"loads":    {mustNew(t, healthyBoard(26, 19, 33)), mustNew(t, healthyBoard(26, 19, 33))},
		"imagined": {mustNew(t, imagined()), mustNew(t, imagined())},
	} {
		quick, plain := s[0], s[1]
		for k := range plain.gears {
			g := &plain.gears[k]
			b := &plain.net.branches[plain.net.channels[k].opto]
			if g.least <= b.volts || g.leastHeld <= b.volts || g.ohms == 0 {
				t.Errorf("%s: channel %d: found bounds of %g V and %g V, expected more than the %g V of the opto", name, k+1, g.least, g.leastHeld, b.volts)
			}
			g.least, g.leastHeld = b.volts, math.Inf(-1)
		}
		fired := 0
		for _, drive := range [][]float64{{12, 12, 12}, {12, 12, 12}, {0, 12, 12}, {12, 0, 0}, {0, 0, 0}, {0, 0, 12}} {
			found, err := quick.HalfCycle(Input{Factor: 1, Drive: drive})
			if err != nil {
				t.Fatal(err)
			}
			want, err := plain.HalfCycle(Input{Factor: 1, Drive: drive})
			if err != nil {
				t.Fatal(err)
			}
			if !slices.EqualFunc(found.Events, want.Events, func(a, b Event) bool {
				if a.Kind == Fired {
					fired++
				}
				return a.Kind == b.Kind && a.Channel == b.Channel && a.Half == b.Half && math.Abs(a.Degrees-b.Degrees) < 1e-9
			}) {
				t.Errorf("%s: found events %v, expected %v", name, found.Events, want.Events)
			}
			if d := math.Abs(found.Source - want.Source); d > 1e-12*(1+want.Source) {
				t.Errorf("%s: found %.15g J out of the source, expected %.15g J", name, found.Source, want.Source)
			}
		}
		if fired == 0 {
			t.Errorf("%s: found no triac that fired", name)
		}
	}
}

// A segment ends where a triac withstands less from then on, not where it withstands more.
func TestWindowEnd(t *testing.T) {
	s := mustNew(t, healthyBoard(26))
	s.lim[0].turnOff = 1e-4
	c := &s.chans[0]
	c.triac, c.everOff, c.offHalf, c.offTime, c.offSlope = blocking, true, s.half, 0, 1
	for _, x := range []struct{ commutating, static, want float64 }{{5e6, 2e8, 1e-2}, {5e6, 1e6, 1e-4}} {
		s.windows[0] = window{slope: c.offSlope, celsius: s.temps.Junction[0], rate: x.commutating}
		s.lim[0].static = x.static
		if end := s.windowEnd(1e-5, 1e-2); end != x.want {
			t.Errorf("%g V/s within the window, %g V/s after it: found the end at %g s, expected %g s", x.commutating, x.static, end, x.want)
		}
	}
}
