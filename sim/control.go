package sim

import (
	"fmt"
	"math"
	"slices"

	"boilwright/models"
)

// Indicator is what the lamp of a channel shows.
type Indicator int

// The indicator states.
const (
	IndicatorOff Indicator = iota // controls off
	Heating                       // not yet in band
	InBand
	Drifted  // out of band after having been in it
	OverTemp // above the over-temperature limit
)

func (i Indicator) String() string {
	return [...]string{"off", "heating", "in band", "drifted", "over temperature"}[i]
}

// Bounds of what can be sampled: half-cycles in a control window, and the
// supply's frequency in hertz.
const (
	mostWindow                    = 12000
	leastFrequency, mostFrequency = 1, 1000
)

// checkRunnable looks over what a run divides its time by, the converters, and the
// thermal networks of the triacs.
func checkRunnable(b *models.Board) error {
	if f := float64(b.Supply.Frequency); !(f >= leastFrequency && f <= mostFrequency) {
		return fmt.Errorf("supply frequency: found %v, expected %d Hz to %d Hz", b.Supply.Frequency, leastFrequency, mostFrequency)
	}
	if w := b.Controller.Window; w < 2 || w > mostWindow || w%2 != 0 {
		return fmt.Errorf("control window: found %d half-cycles, expected an even number of at least 2 and at most %d", w, mostWindow)
	}
	for k := range b.Channels {
		for j, f := range b.Channels[k].Triac.Foster {
			if r := float64(f.Resistance); math.IsNaN(r) || math.IsInf(r, 0) {
				return fmt.Errorf("channel %q: triac: stage %d of its thermal network: found a resistance of %v, expected a finite one", b.Channels[k].Name, j+1, f.Resistance)
			}
		}
		p := &b.Channels[k].Probe
		if bits := p.Bits; bits < 1 || bits > 32 {
			return fmt.Errorf("channel %q: probe: found a converter of %d bits, expected 1 to 32", b.Channels[k].Name, bits)
		}
		for _, t := range []float64{-40, 25, 150} {
			if math.IsNaN(p.Reading(p.Code(t))) {
				return fmt.Errorf("channel %q: probe: found no temperature for the converter's code at %g °C, expected resistances and coefficients above 0", b.Channels[k].Name, t)
			}
		}
	}
	return nil
}

// sensed is a table of the steps of a probe's converter, filled as codes are
// met. Neighbouring codes lie side by side; those mostSteps apart take each
// other's place.
type sensed struct {
	known [mostSteps]converterStep
	last  int // code of the reading before
}

// mostSteps is the size of the table, a power of two.
const mostSteps = 256

// converterStep is a code, the temperature that the controller takes it for, and
// those between which the converter is sure to give it, in °C. They are found
// when it is met again: a probe that warms fast meets most codes once.
type converterStep struct {
	met                bool
	code               int
	reading, low, high float64
}

// step is the place in the table for a code.
func (s *sensed) step(code int) *converterStep { return &s.known[code&(mostSteps-1)] }

// reading is what the controller takes probe p at t °C for.
func (s *sensed) reading(p *models.Probe, t float64) float64 {
	c := s.step(s.last)
	if t > c.low && t < c.high {
		return c.reading
	}
	code := s.last + 1 // of a colder probe
	if t >= c.high {
		code = s.last - 1
	}
	c = s.step(code)
	if c.code != code || !(t > c.low && t < c.high) {
		code = p.Code(t)
		c = s.step(code)
		switch {
		case !c.met || c.code != code:
			*c = converterStep{met: true, code: code, reading: p.Reading(code)}
		case c.low == c.high:
			c.low, c.high = p.Span(code)
		}
	}
	s.last = code
	return c.reading
}

// controller is the running control of one channel.
type controller struct {
	set      *models.Control
	integral float64
	on       bool
	started  bool
	reached  bool // has been in band since the controls came on
	shown    Indicator
	// What it decided last, and between which temperatures of the probe in °C it
	// does so again.
	low, high float64
	count     int     // of cycles; −1 where it learns
	short     float64 // e, K
	part      float64 // Kp·e
	gain      float64 // of I in a window: (Kp/Ti)·e·w
}

// forget makes it look at what is read again.
func (c *controller) forget() { c.low, c.high = 0, 0 }

// holds reports whether it decides as before, by again, with its controls still on
// and its probe at t °C.
func (c *controller) holds(t float64) bool { return t > c.low && t < c.high }

// decide returns how many of the n whole cycles of the coming window of w seconds
// the channel asks for with its controls on and its probe at t °C, and updates
// the indicator.
func (c *controller) decide(p *models.Probe, s *sensed, t float64, n int, w float64) int {
	reading := s.reading(p, t)
	c.indicate(reading, true)
	count := c.cycles(reading, n, w)
	step := s.step(s.last)
	c.low, c.high = step.low, step.high
	if count == n {
		c.look(p, t, reading)
	}
	return count
}

// cycles returns how many of the n whole cycles of the coming window of w
// seconds the channel asks for, given the probe's reading in °C.
//
// Proportional-integral: u = Kp·e + I, then I += (Kp/Ti)·e·w unless u lies
// outside [0, 1] and e pushes it further out; c = ⌊clamp(u)·n + ½⌋.
func (c *controller) cycles(reading float64, n int, w float64) int {
	s := c.set
	switch {
	case !s.Enabled:
		c.count = 0
	case s.Kind == models.FixedDuty:
		c.count = nearest(float64(s.Duty), n)
	case s.Kind == models.Hysteresis:
		half := float64(s.Band) / 2
		switch {
		case !c.started:
			c.on, c.started = reading < float64(s.SetPoint)+half, true
		case reading >= float64(s.SetPoint)+half:
			c.on = false
		case reading <= float64(s.SetPoint)-half:
			c.on = true
		}
		c.count = 0
		if c.on {
			c.count = n
		}
	default:
		e := float64(s.SetPoint) - reading
		c.count, c.short, c.part, c.gain = -1, e, s.Gain*e, 0
		if s.Integral > 0 {
			c.gain = s.Gain / float64(s.Integral) * e * w
		}
	}
	return c.again(n)
}

// again is what cycles returns at the reading that it had last.
func (c *controller) again(n int) int {
	if c.count >= 0 {
		return c.count
	}
	u, e := c.part+c.integral, c.short
	if !(u > 1 && e > 0) && !(u < 0 && e < 0) {
		c.integral += c.gain
	}
	return nearest(u, n)
}

// nearest is ⌊clamp(u)·n + ½⌋; a conversion rounds what is not negative down.
func nearest(u float64, n int) int {
	switch {
	case !(u > 0):
		return 0
	case u >= 1:
		return n
	}
	return int(u*float64(n) + 0.5)
}

// indicate updates the indicator from the probe's reading.
func (c *controller) indicate(reading float64, on bool) Indicator {
	s := c.set
	switch {
	case !on || !s.Enabled:
		c.reached = false
		c.shown = IndicatorOff
	case reading > float64(s.OverTemp):
		c.shown = OverTemp
	case math.Abs(reading-float64(s.SetPoint)) <= float64(s.InBand):
		c.reached = true
		c.shown = InBand
	case c.reached:
		c.shown = Drifted
	default:
		c.shown = Heating
	}
	return c.shown
}

// reset forgets what a channel has learnt while the controls were off.
func (c *controller) reset() {
	c.integral, c.started, c.reached = 0, false, false
	c.forget()
}

// limit is the reading in °C below which the controller decides at any reading as
// it has just done at one, and learns nothing from it; −Inf where there is none.
func (c *controller) limit() float64 {
	s, limit := c.set, math.Inf(1)
	if c.shown != IndicatorOff {
		limit = min(float64(s.SetPoint)-float64(s.InBand), float64(s.OverTemp))
	}
	switch {
	case !s.Enabled || s.Kind == models.FixedDuty:
		return limit
	case s.Kind == models.Hysteresis && c.on:
		return min(limit, float64(s.SetPoint)-float64(s.Band)/2)
	case s.Kind != models.Hysteresis && s.Gain > 0: // all cycles, and e > 0
		return min(limit, float64(s.SetPoint)-max(0, (1-c.integral)/s.Gain))
	}
	return math.Inf(-1)
}

// look finds how warm a probe at t °C, taken for the given reading, may become
// without a change of decision: readings rise with the temperature.
func (c *controller) look(p *models.Probe, t, reading float64) {
	limit := c.limit()
	// Most of the way there, as long as it is some way; the rest later.
	gap := 0.9 * (limit - reading)
	if far := t + gap; gap > 1 && rising(p) && p.Reading(p.Code(far)) < limit-0.01 {
		c.low, c.high = math.Inf(-1), far
	}
}

// rising reports whether what a controller takes a probe for rises with its
// temperature for sure.
func rising(p *models.Probe) bool {
	if p.A == 0 {
		return p.Beta > 0
	}
	return p.B > 0 && p.C >= 0
}

// pattern writes which of n cycles are on for c of them: in one run from the
// start, or spread so that cycle j is on when ⌊(j+1)c/n⌋ > ⌊j·c/n⌋.
func pattern(on []bool, c int, spread bool) {
	n := len(on)
	for j := range on {
		if spread {
			on[j] = (j+1)*c/n > j*c/n
		} else {
			on[j] = j < c
		}
	}
}

// allocate applies a limit on channels that conduct in the same cycle, in
// place: want[ch][j]. Channels go by priority; a refused cycle is owed to its
// channel for the rest of the window, or lost.
func allocate(want [][]bool, order []int, together int, lose bool, owed []int) {
	if together <= 0 || together >= len(want) {
		return
	}
	clear(owed)
	for j := range want[0] {
		left := together
		for _, ch := range order {
			switch {
			case want[ch][j] && left > 0:
				left--
			case want[ch][j]:
				want[ch][j] = false
				if !lose {
					owed[ch]++
				}
			case owed[ch] > 0 && left > 0:
				want[ch][j] = true
				owed[ch]--
				left--
			}
		}
	}
}

// byPriority returns the channels in the order in which they are served.
func byPriority(chans []models.Channel) []int {
	order := make([]int, len(chans))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return chans[a].Control.Priority - chans[b].Control.Priority })
	return order
}
