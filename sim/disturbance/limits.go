package disturbance

import (
	"fmt"
	"math"
)

// Check compares a value with a limit.
type Check struct {
	What   string  // "current harmonic 3"
	Value  float64 // in Unit
	Limit  float64 // in Unit
	Unit   string  // "A", "%", "s" or none
	Source string  // of the limit
}

// Met reports whether the value is within its limit.
func (c Check) Met() bool { return c.Value <= c.Limit }

// Ratio is the value as a part of its limit.
func (c Check) Ratio() float64 { return c.Value / c.Limit }

// Worst returns the check that lies highest against its limit, the first of
// equals; false if there is none.
func Worst(checks []Check) (Check, bool) {
	best := -1
	for i, c := range checks {
		if best < 0 || c.Ratio() > checks[best].Ratio() {
			best = i
		}
	}
	if best < 0 {
		return Check{}, false
	}
	return checks[best], true
}

// Where the limits come from.
const (
	SourceClassA  = "IEC 61000-3-2 Table 1, class A"
	SourceVoltage = "EN 50160 Table 1, to 2010"
)

// ClassA returns the limit on the harmonic current of order n of class A
// equipment, to which heating appliances belong, in A rms; NaN where there is
// none (IEC 61000-3-2 Table 1).
func ClassA(n int) float64 {
	odd := [...]float64{3: 2.30, 5: 1.14, 7: 0.77, 9: 0.40, 11: 0.33, 13: 0.21}
	even := [...]float64{2: 1.08, 4: 0.43, 6: 0.30}
	switch {
	case n < 2 || n > Orders:
		return math.NaN()
	case n%2 == 1 && n < len(odd):
		return odd[n]
	case n%2 == 1:
		return 0.15 * 15 / float64(n)
	case n < len(even):
		return even[n]
	}
	return 0.23 * 8 / float64(n)
}

// VoltageLimit returns the limit on the harmonic voltage of order n as a
// percentage of the fundamental, NaN where there is none (EN 50160 Table 1 up
// to the 2010 edition; that of 2022 allows 1 % for order 15 and 0.75 % for
// order 21, from memory). It is meant for 95 % of the 10 min means of a week.
func VoltageLimit(n int) float64 {
	table := [...]float64{2: 2, 3: 5, 4: 1, 5: 6, 7: 5, 9: 1.5, 11: 3.5, 13: 3, 15: 0.5, 17: 2, 19: 1.5, 21: 0.5, 23: 1.5, 25: 1.5}
	switch {
	case n >= 6 && n <= 24 && n%2 == 0:
		return 0.5
	case n >= 2 && n < len(table) && table[n] > 0:
		return table[n]
	}
	return math.NaN()
}

// distortionLimit is the limit on the voltage's THD to order 40, in percent
// (EN 50160).
const distortionLimit = 8

// againstClassA compares rms currents by order with factor times the limits of
// class A.
func againstClassA(what string, rms *[Orders + 1]float64, factor float64) []Check {
	var out []Check
	for n := 2; n <= Orders; n++ {
		out = append(out, Check{fmt.Sprintf("%s %d", what, n), rms[n], factor * ClassA(n), "A", SourceClassA})
	}
	return out
}

// ClassA compares a current's spectrum with the limits of class A, order by
// order. The limits are meant for the mean over an observation and up to 16 A.
func (s *Spectrum) ClassA() []Check { return againstClassA("current harmonic", &s.RMS, 1) }

// ClassA compares the mean groups of a current with the limits of class A,
// and the greatest with 1.5 times them (the latter from memory).
func (g *Grouped) ClassA() []Check {
	return append(againstClassA("mean of current harmonic group", &g.Mean, 1),
		againstClassA("maximum of current harmonic group", &g.Max, 1.5)...)
}

// Voltage compares a voltage's spectrum with the limits for the supply at its
// terminals, order by order and in sum; nothing where there is no fundamental.
func (s *Spectrum) Voltage() []Check {
	if s.RMS[1] == 0 {
		return nil
	}
	var out []Check
	for n := 2; n <= Orders; n++ {
		if limit := VoltageLimit(n); !math.IsNaN(limit) {
			out = append(out, Check{fmt.Sprintf("voltage harmonic %d", n), 100 * s.RMS[n] / s.RMS[1], limit, "%", SourceVoltage})
		}
	}
	return append(out, Check{"voltage distortion", 100 * s.THD(), distortionLimit, "%", "EN 50160"})
}
