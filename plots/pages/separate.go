package pages

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"boilwright/sim/readings"
)

// Separation is the kind of test that first tells two boards apart, in the
// order of advice: unplugged before live, and what needs no lead at mains
// voltage before what does.
type Separation int

// The kinds of test, the safest first.
const (
	ByUnplugged  Separation = iota // ohmmeter or diode test on the unplugged board
	ByInsulation                   // 500 V on the unplugged board
	ByMonitor                      // the energy monitor in the supply lead
	ByControl                      // a live board, leads on its extra-low-voltage side
	ByStandby                      // a live board, leads at mains voltage
	ByHeating
	ByHolding   // with drives in bursts
	Inseparable // by none of these
)

// states are those in which readings are taken, in the order of advice.
var states = []readings.State{readings.Standby, readings.Heating, readings.Holding}

// readingsIn are the readings in a state; nil where none were taken.
func (s *Study) readingsIn(state readings.State) [][]readings.Value {
	switch state {
	case readings.Standby:
		return s.Standby
	case readings.Heating:
		return s.Heating
	}
	return s.Holding
}

// First returns the first kind of test that tells two boards apart, and
// Inseparable where none of those that both were given does. Holding is
// compared only where both have been measured in it. A board that lacks the
// part, or whose simulation failed, is told apart by nothing.
func (r *Reference) First(a, b *Study) Separation {
	by, _ := r.first(a, b)
	return by
}

// first returns the kind of test and what it gives on the two boards, as
// Markdown.
func (r *Reference) first(a, b *Study) (Separation, string) {
	if !a.simulated() || !b.simulated() {
		return Inseparable, ""
	}
	if tests := advised(a, b); len(tests) > 0 {
		by := ByUnplugged
		if a.Dead[tests[0]].Test == readings.Insulation {
			by = ByInsulation
		}
		return by, unpluggedText(a, b, tests[0])
	}
	if text := r.monitorApart(a, b); text != "" {
		return ByMonitor, text
	}
	for _, control := range []bool{true, false} {
		for i, state := range states {
			if p, ok := most(a, b, state, func(p *readings.Point) bool { return p.Control == control }); ok {
				if control {
					return ByControl, liveText(a, b, p)
				}
				return ByStandby + Separation(i), liveText(a, b, p)
			}
		}
	}
	return Inseparable, ""
}

// most returns the place of the live reading in a state that differs most in
// volts between two boards, among the points that are asked for.
func most(a, b *Study, state readings.State, wanted func(*readings.Point) bool) (best place, ok bool) {
	x, y := a.readingsIn(state), b.readingsIn(state)
	if len(x) != len(y) { // one of them was not measured so
		return best, false
	}
	largest := -1.0
	for i := range x {
		for j := range x[i] {
			u, v := &x[i][j], &y[i][j]
			if !wanted(&u.Point) || !differ(*u, *v) {
				continue
			}
			if d := gap(*u, *v); d > largest {
				largest, best, ok = d, place{state, i, j}, true
			}
		}
	}
	return best, ok
}

// gap is how far two readings of one meter lie apart in volts. Of readings
// that vary it counts where the spans do.
func gap(a, b readings.Value) float64 {
	return math.Max(math.Abs(a.Low-b.Low), math.Abs(a.High-b.High))
}

// monitorApart tells what the energy monitor shows on two boards where it
// tells them apart, and nothing where it does not.
func (r *Reference) monitorApart(a, b *Study) string {
	for i, state := range plugStates {
		x, y := a.Plug[i], b.Plug[i]
		m := &r.Board.Monitor
		if monitorDiffers(m, x.Watts, y.Watts, float64(m.PowerResolution)) {
			return fmt.Sprintf("energy monitor, %s: %s W / %s W", state, decimals(x.Watts, float64(m.PowerResolution)), decimals(y.Watts, float64(m.PowerResolution)))
		}
		if monitorDiffers(m, x.Amperes, y.Amperes, float64(m.CurrentResolution)) {
			return fmt.Sprintf("energy monitor, %s: %s A / %s A", state, decimals(x.Amperes, float64(m.CurrentResolution)), decimals(y.Amperes, float64(m.CurrentResolution)))
		}
	}
	return ""
}

// unpluggedText names a test on the unplugged board and what it gives.
func unpluggedText(a, b *Study, i int) string {
	x := &a.Dead[i]
	text := x.Test.String()
	if x.Test == readings.Insulation {
		text += ", line and neutral joined, to earth"
	} else {
		text += " at " + code(x.Point) + ", + on " + x.Plus.String()
	}
	return text + ": " + dead(x) + " / " + dead(&b.Dead[i])
}

// liveText names a live reading and what it is.
func liveText(a, b *Study, p place) string {
	x := a.at(p)
	return fmt.Sprintf("%v, %s, meter %s: %s V / %s V", p.state, code(x.Point.Name), code(x.Meter), display(x), display(b.at(p)))
}

// What counts as plain of a result on the unplugged board: resistances of
// twice each other, and 0.2 V of the diode test (our own choice).
const (
	plainRatio = 2.0
	plainVolts = 0.2
)

// advised returns the tests on the unplugged board that tell two boards apart,
// the one to begin with first: one with small voltages before 500 V, and of
// those one whose results differ plainly.
func advised(a, b *Study) []int {
	tests := separating(a, b)
	slices.SortStableFunc(tests, func(i, j int) int { return cmp.Compare(reserve(a, b, i), reserve(a, b, j)) })
	return tests
}

// reserve grades why a test should wait: 0 for not at all.
func reserve(a, b *Study, i int) int {
	x, y := &a.Dead[i], &b.Dead[i]
	limit := math.Log(plainRatio)
	switch {
	case x.Test == readings.Insulation:
		return 2
	case x.Test == readings.DiodeTest:
		limit = plainVolts
	}
	if contrast(x, y) < limit {
		return 1
	}
	return 0
}

// otherUnplugged names the tests on the unplugged board that tell two boards
// apart, but for the first.
func otherUnplugged(a, b *Study) string {
	var parts []string
	for n, i := range advised(a, b) {
		if n > 0 {
			parts = append(parts, unpluggedText(a, b, i))
		}
	}
	if len(parts) == 0 {
		return "none"
	}
	return strings.Join(parts, "; ")
}
