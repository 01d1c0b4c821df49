package faults

import (
	"fmt"
	"math/bits"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// Course tells how an injection goes on after its onset. The zero value is
// for good at its severity. Growing and intermittent may go together; wetting
// goes with neither.
type Course struct {
	// On and Off are dwell times: the injection acts for On, rests for Off,
	// and so on, beginning with On. Both 0 is not intermittent.
	//
	// They are the means of exponential distributions, or with Fixed the
	// dwell times themselves. A random dwell is drawn from a generator of the
	// injection's own, seeded by the run's seed and by channel and fault, so
	// that other injections do not shift it.
	On, Off time.Duration
	Fixed   bool

	// Growing is how long the severity rises from Start to the injection's
	// Severity; 0 is at once. It rises in Steps equal steps (0 means 16) at
	// equal intervals, so that a board changes Steps + 1 times at most: it
	// is Start at the onset and Start + (Severity − Start)·k/Steps from the
	// time Growing·k/Steps after it on.
	Growing time.Duration
	Start   float64
	Steps   int

	// For is how long the injection acts after its onset, Until the time at
	// which it ends; 0 is no end. With both the earlier counts. An end is a
	// repair: the board is healthy after it, as far as this injection goes.
	For   time.Duration
	Until time.Duration

	// Wetting makes a film wet and dry; the zero value is none.
	Wetting Wetting
}

// The number of steps of a growing severity.
const (
	defaultSteps = 16
	mostSteps    = 1000
)

// shortest bounds the mean dwell times from below.
const shortest = time.Millisecond

func (c *Course) intermittent() bool { return c.On > 0 || c.Off > 0 }

func (c *Course) steps() int {
	if c.Growing == 0 {
		return 0
	}
	if c.Steps == 0 {
		return defaultSteps
	}
	return c.Steps
}

// levels is how many different edits the course has, the healthy one
// included.
func (c *Course) levels() uint64 {
	if c.Wetting.wets() {
		return wetSteps + 2
	}
	return uint64(c.steps()) + 2
}

// severityAt returns the severity at a level from 0 (healthy) to levels − 1.
func (j *Injection) severityAt(level int) float64 {
	c := &j.Course
	switch {
	case level == 0:
		return 0
	case c.Wetting.wets():
		return j.wetSeverity(float64(level-1) / wetSteps)
	case c.Growing == 0:
		return j.Severity
	}
	return linear(c.Start, j.Severity, float64(level-1)/float64(c.steps()))
}

// stepTime is how long after the onset step k comes: Growing·k/Steps, rounded
// up to a nanosecond.
func (c *Course) stepTime(k int) time.Duration {
	n := uint64(c.steps())
	hi, lo := bits.Mul64(uint64(c.Growing), uint64(k))
	quotient, rest := bits.Div64(hi, lo, n)
	if rest > 0 {
		quotient++
	}
	return time.Duration(quotient)
}

func (c *Course) check(f *Fault, severity float64, o Onset, b *models.Board) []error {
	var errs []error
	bad := func(field, found, expected string) { errs = append(errs, &FieldError{field, found, expected}) }
	duration := func(field string, d, least time.Duration) {
		if err := checkTime(field, d, least); err != nil {
			errs = append(errs, err)
		}
	}
	switch {
	case c.intermittent() && f.Lasting:
		bad("course", "an intermittent one", "none, as "+f.Name+" stays until a part is replaced")
	case c.intermittent():
		duration(keyOn, c.On, shortest)
		duration(keyOff, c.Off, shortest)
	case c.Fixed:
		bad(keyDwell, "fixed dwell times", keyOn+" and "+keyOff+" with them")
	}
	duration(keyGrowing, c.Growing, 0)
	switch {
	case c.Growing > 0 && !f.Graded:
		bad(keyGrowing, "a growing severity", "none, as "+f.Name+" has no degrees")
	case c.Growing == 0 && c.Start != 0:
		bad(keyStart, q.Format(q.Number, c.Start), keyGrowing+" with it")
	case c.Growing == 0 && c.Steps != 0:
		bad(keySteps, fmt.Sprint(c.Steps), keyGrowing+" with it")
	}
	if !(c.Start >= 0 && c.Start <= severity) && severity >= 0 { // else it is the severity that is wrong
		bad(keyStart, q.Format(q.Number, c.Start), "0 to the severity")
	}
	if c.Steps < 0 || c.Steps > mostSteps {
		bad(keySteps, fmt.Sprint(c.Steps), fmt.Sprintf("1 to %d", mostSteps))
	}
	duration(keyFor, c.For, 0)
	duration(keyUntil, c.Until, 0)
	if c.Until > 0 && c.Until <= o.From {
		bad(keyUntil, q.FormatDuration(c.Until), "a time after "+q.FormatDuration(o.From))
	}
	return append(errs, c.Wetting.check(f, c, b)...)
}
