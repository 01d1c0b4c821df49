package disturbance

import (
	"fmt"
	"math"
	"time"

	q "boilwright/models/quantity"
)

// VoltageChanges is what the relative voltage changes of an observation came
// to, in percent of the nominal voltage.
type VoltageChanges struct {
	// Max is d_max: the greatest difference of a half-cycle from the steady
	// state before it.
	Max float64
	// Steady is d_c: the greatest difference of two consecutive steady states,
	// 0 where there was no second one.
	Steady float64
	// Beyond is the longest time within one change, from one steady state to
	// the next, for which d(t) was more than 3.3 %.
	Beyond time.Duration
	// Count is the number of voltage changes of more than 0.1 %; those in one
	// direction within 30 ms count as one.
	Count     int
	PerMinute float64
	// Lowest and Highest are of the half-cycle rms values, in V.
	Lowest, Highest float64
}

// Limits on voltage changes (IEC 61000-3-3:2013, from memory; its first
// edition had d_c 3 % and 200 ms). d_max may be 6 % or 7 % for equipment that
// is switched by hand, attended, or rarely.
const (
	limitSteady = 3.3
	limitMax    = 4.0
	limitBeyond = 500 * time.Millisecond
)

const (
	// steadyBand is the half-width, in percent of nominal, within which the
	// rms values of a second are a steady state (IEC 61000-4-15 ed. 2, from
	// memory).
	steadyBand = 0.2
	// noticed is the difference of two half-cycles, in percent of nominal,
	// that counts as a voltage change: our own choice.
	noticed = 0.1
	// merge is the time in seconds within which changes in one direction are
	// one (IEC 61000-3-3, from memory).
	merge = 0.03
)

// Changes follows the half-cycle rms values of a voltage, d(t).
//
// A steady state is a second of values within ±0.2 %. From there on values are
// compared with its mean, until the next steady state. A burst that switches
// more often than once a second leaves no steady state: its changes are those
// from the voltage before it began.
type Changes struct {
	nominal float64
	half    float64 // s
	n       int     // half-cycles of a second

	// The band of the latest values.
	run      int
	low, top float64
	sum      float64

	// The steady state last left, or that holds.
	steady  float64
	in      bool // it holds
	known   bool
	beyond  int // half-cycles beyond 3.3 % in the present change
	longest int

	fed             int
	last            float64
	sign            int // direction of the last change
	since           int // half-cycles since
	out             VoltageChanges
	lowest, highest float64
}

// NewChanges follows the half-cycles of a supply of hertz, relative to nominal
// volts. An error names what is out of range.
func NewChanges(nominal q.Volt, hertz q.Hertz) (*Changes, error) {
	if !(nominal > 0) || math.IsInf(float64(nominal), 0) {
		return nil, fmt.Errorf("nominal voltage: found %v V, expected more than 0", float64(nominal))
	}
	if !(hertz >= 40 && hertz <= 70) {
		return nil, fmt.Errorf("supply frequency: found %v Hz, expected 40 Hz to 70 Hz", float64(hertz))
	}
	half := 1 / (2 * float64(hertz))
	return &Changes{nominal: float64(nominal), half: half, n: int(1/half + 0.5), lowest: math.Inf(1), highest: math.Inf(-1)}, nil
}

// percent is a difference in percent of nominal.
func (c *Changes) percent(volts float64) float64 { return 100 * volts / c.nominal }

// Feed takes the rms value of the next half-cycle in volts.
func (c *Changes) Feed(v float64) {
	c.lowest, c.highest = min(c.lowest, v), max(c.highest, v)
	c.step(v)
	if c.run > 0 && c.percent(max(c.top, v)-min(c.low, v)) > 2*steadyBand {
		c.in = false
		c.run = 0
	}
	if c.run == 0 {
		c.low, c.top, c.sum = v, v, 0
	}
	c.run++
	c.sum += v
	c.low, c.top = min(c.low, v), max(c.top, v)
	mean := c.sum / float64(c.run)
	switch {
	case c.in:
		c.steady = mean
	case c.run >= c.n:
		if c.known {
			c.out.Steady = max(c.out.Steady, math.Abs(c.percent(mean-c.steady)))
		}
		c.steady, c.in, c.known, c.beyond = mean, true, true, 0
	}
	if c.known && !c.in {
		d := math.Abs(c.percent(v - c.steady))
		c.out.Max = max(c.out.Max, d)
		if d > limitSteady {
			c.beyond++
			c.longest = max(c.longest, c.beyond)
		}
	}
}

// step counts the voltage changes.
func (c *Changes) step(v float64) {
	c.fed++
	c.since++
	if c.fed > 1 {
		d := c.percent(v - c.last)
		sign := 0
		switch {
		case d > noticed:
			sign = 1
		case d < -noticed:
			sign = -1
		}
		if sign != 0 {
			if sign != c.sign || float64(c.since)*c.half > merge+1e-9 {
				c.out.Count++
			}
			c.sign, c.since = sign, 0
		}
	}
	c.last = v
}

// Result returns what the values so far came to.
func (c *Changes) Result() VoltageChanges {
	out := c.out
	if c.fed == 0 {
		return out
	}
	out.Beyond = time.Duration(math.Round(float64(c.longest) * c.half * 1e9))
	out.PerMinute = float64(out.Count) / (float64(c.fed) * c.half / 60)
	out.Lowest, out.Highest = c.lowest, c.highest
	return out
}

// Checks compares the changes with their limits.
func (v *VoltageChanges) Checks() []Check {
	const source = "IEC 61000-3-3:2013, from memory"
	return []Check{
		{"greatest voltage change d_max", v.Max, limitMax, "%", source},
		{"steady voltage change d_c", v.Steady, limitSteady, "%", source},
		{"time beyond 3.3 %", v.Beyond.Seconds(), limitBeyond.Seconds(), "s", source},
	}
}
