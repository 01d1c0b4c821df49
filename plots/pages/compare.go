package pages

import (
	"math"
	"slices"
	"time"

	"boilwright/models"
	"boilwright/sim/readings"
)

// differ reports whether two readings of one meter lie further apart than both
// uncertainties together. Readings that vary differ where an end of their spans
// does, by a tenth of the display at least: nobody reads closer what jumps (our
// own choice).
func differ(a, b readings.Value) bool {
	switch {
	case a.Over || b.Over:
		return a.Over != b.Over
	case a.Varies || b.Varies:
		return gap(a, b) > a.Uncertainty+b.Uncertainty && gap(a, b) > jumping*math.Max(math.Abs(a.High), math.Abs(b.High))
	}
	return math.Abs(a.Shown-b.Shown) > a.Uncertainty+b.Uncertainty
}

// jumping is the part of a display that varies to which it can be read.
const jumping = 0.1

// What two results on the unplugged board have to differ by to be told apart:
// this part and this much more. Hand-held meters and their leads; common
// practice, no source.
const (
	ohmsPart  = 0.05
	ohmsMore  = 0.5  // Ω
	voltsMore = 0.05 // V of the diode test
)

// differDead reports whether two results of one test on the unplugged board
// can be told apart.
func differDead(a, b *Dead) bool {
	switch {
	case a.Open || b.Open:
		return a.Open != b.Open
	case a.Test == readings.DiodeTest:
		return math.Abs(a.Volts-b.Volts) > voltsMore
	case a.Test == readings.Continuity:
		return a.Beeps != b.Beeps
	}
	return math.Abs(a.Ohms-b.Ohms) > ohmsPart*math.Max(a.Ohms, b.Ohms)+ohmsMore
}

// contrast grades how plainly two results differ, so that the plainest of a
// kind can be named: the ratio of resistances, or the volts between them.
func contrast(a, b *Dead) float64 {
	if a.Test == readings.DiodeTest {
		volts := func(d *Dead) float64 {
			if d.Open {
				return 3 // as much as the test applies
			}
			return d.Volts
		}
		return math.Abs(volts(a) - volts(b))
	}
	ohms := func(d *Dead) float64 {
		if d.Open {
			return 1e9
		}
		return math.Max(d.Ohms, 0.1) // the leads' own
	}
	return math.Abs(math.Log(ohms(a) / ohms(b)))
}

// place is a live reading: the state and where in its table.
type place struct {
	state        readings.State
	point, meter int
}

// differences counts the live readings in standby and heating in which two
// boards differ, and tells which of them differs most in volts; alike boards
// have none.
func differences(a, b *Study) (n int, most place) {
	largest := -1.0
	for _, state := range states[:2] {
		x, y := a.readingsIn(state), b.readingsIn(state)
		for i := range x {
			for j := range x[i] {
				if !differ(x[i][j], y[i][j]) {
					continue
				}
				n++
				if d := math.Abs(x[i][j].Shown - y[i][j].Shown); d > largest {
					largest, most = d, place{state, i, j}
				}
			}
		}
	}
	return n, most
}

// at is the live reading at a place.
func (s *Study) at(p place) readings.Value { return s.readingsIn(p.state)[p.point][p.meter] }

// Alike reports whether the live readings of two boards, in standby and in
// heating, all lie within the uncertainties of each other. Other tests may
// still tell them apart, see [Reference.First]. Both must have the same points
// and meters; a board that lacks the part is like none.
func Alike(a, b *Study) bool {
	if !a.simulated() || !b.simulated() {
		return false
	}
	n, _ := differences(a, b)
	return n == 0
}

// separating returns the tests on the unplugged board that tell two boards
// apart: of every instrument the one whose results differ most, as indices
// into Dead.
func separating(a, b *Study) []int {
	var out []int
	for _, test := range []readings.Test{readings.Ohmmeter, readings.DiodeTest, readings.Insulation} {
		best, most := -1, 0.0
		for i := range a.Dead {
			x, y := &a.Dead[i], &b.Dead[i]
			if x.Test != test || !differDead(x, y) {
				continue
			}
			if c := contrast(x, y); best < 0 || c > most*(1+1e-9) {
				best, most = i, c
			}
		}
		if best >= 0 {
			out = append(out, best)
		}
	}
	return out
}

// ShowsBest returns the state, standby or heating, in which a fault shows best
// in voltage and current of the channel: the one in which the reading at its
// output and the current at the plug differ more from the healthy board's, as
// parts of the supply's voltage and of the element's rated current. Heating
// stands where there is not much between them.
func (r *Reference) ShowsBest(s *Study) readings.State {
	volts := float64(r.Board.Supply.Voltage)
	amperes := volts / float64(r.Board.Channels[r.Channel].Element.Resistance)
	score := func(healthy, faulty [][]readings.Value, a, b Plug) float64 {
		most := 0.0
		for j, x := range healthy[r.output()] {
			if y := faulty[r.output()][j]; differ(x, y) {
				most = math.Max(most, math.Abs(x.Shown-y.Shown))
			}
		}
		return most/volts + math.Abs(a.Amperes-b.Amperes)/amperes
	}
	h := r.Healthy
	if score(h.Standby, s.Standby, h.Plug[0], s.Plug[0]) > 1.2*score(h.Heating, s.Heating, h.Plug[1], s.Plug[1]) {
		return readings.Standby
	}
	return readings.Heating
}

// output is the index of the channel's output among the test points: the
// first of the channel.
func (r *Reference) output() int {
	return max(0, slices.IndexFunc(r.Points, func(p readings.Point) bool { return p.Channel == r.Channel }))
}

// What two runs have to differ by to be told apart on a page: temperatures in
// K, times in s, energies as a part. They are far above what the simulation
// resolves and below what a technician would act on.
const (
	kelvinsMore = 1
	secondsMore = 15
	energyPart  = 0.02
)

// apart reports whether two values lie further apart than a limit.
func apart(a, b, limit float64) bool { return math.Abs(a-b) > limit }

// apartTimes compares instants of two runs, negative where they never came.
func apartTimes(a, b time.Duration) bool {
	if a < 0 || b < 0 {
		return (a < 0) != (b < 0)
	}
	return apart(a.Seconds(), b.Seconds(), secondsMore)
}

// plugStates are the states in which the energy monitor is read.
var plugStates = [...]string{"standby", "every drive on"}

// monitorDiffers reports whether two values of the energy monitor, which
// steps by resolution, lie further apart than its accuracy allows.
func monitorDiffers(m *models.EnergyMonitor, a, b, resolution float64) bool {
	return apart(a, b, float64(m.Accuracy)*(a+b)+resolution)
}

// apartEnergies compares energies in J.
func apartEnergies(a, b float64) bool {
	return apart(a, b, energyPart*math.Max(math.Abs(a), math.Abs(b)))
}
