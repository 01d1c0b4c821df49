package plots

import (
	"fmt"
	"math"
)

// Greatest magnitudes that have room at an axis.
const (
	mostPrefixed = 1e9 // of V, A and W, which take decimal prefixes
	mostPlain    = 1e5 // of other quantities
	mostAngle    = 720 // °
	mostRun      = 1e9 // s in a run
	mostWave     = 100 // s in a waveform figure
)

// mostOf is the greatest magnitude drawn of a unit.
func mostOf(unit string) float64 {
	if prefixFor(unit, 1e-3) != (prefix{1, ""}) {
		return mostPrefixed
	}
	return mostPlain
}

// leastSpan is the least span of an axis for values up to size, so that its
// labels stay short: none smaller than a millionth where there are prefixes
// for it, and one unit for values that are practically zero.
func leastSpan(unit string, size float64) float64 {
	switch {
	case mostOf(unit) == mostPlain:
		return 0.01
	case size < 1e-6:
		return 1
	}
	return 1e-6
}

// checkValues rejects a series that cannot be drawn. where names it.
func checkValues(where string, v []float64, most float64) error {
	for i, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%s: found %v at index %d, expected a finite number", where, x, i)
		}
		if math.Abs(x) > most {
			return fmt.Errorf("%s: found %g at index %d, expected at most %g in magnitude", where, x, i, most)
		}
	}
	return nil
}

// checkUnit rejects a unit that does not fit an axis.
func checkUnit(where, unit string) error {
	if unit == "" || clean(unit) != unit || len([]rune(unit)) > 8 {
		return fmt.Errorf("%s: found unit %q, expected one of 1 to 8 characters", where, unit)
	}
	return nil
}

// checkFrequency rejects a supply frequency that makes no axis.
func checkFrequency(f float64) error {
	if !(f >= 1 && f <= 1000) {
		return fmt.Errorf("supply frequency: found %v Hz, expected 1 Hz to 1000 Hz", f)
	}
	return nil
}

// checkTimes rejects times that do not make an axis.
func checkTimes(where string, t []float64, most float64) error {
	if len(t) < 2 {
		return fmt.Errorf("%s: found %s, expected at least 2", where, plural(len(t), "time", "times"))
	}
	if err := checkValues(where+": times", t, most); err != nil {
		return err
	}
	for i := 1; i < len(t); i++ {
		if t[i] < t[i-1] {
			return fmt.Errorf("%s: found time %g s at index %d after %g s, expected times that do not fall", where, t[i], i, t[i-1])
		}
	}
	if span := t[len(t)-1] - t[0]; span < 1e-6*math.Max(1e-3, math.Abs(t[0])) {
		return fmt.Errorf("%s: found times from %g s to %g s, expected a span of time", where, t[0], t[len(t)-1])
	}
	return nil
}

// checkSeries rejects values that do not belong to the times.
func checkSeries(where string, t, v []float64, most float64) error {
	if len(v) != len(t) {
		return fmt.Errorf("%s: found %s for %s, expected as many", where, plural(len(v), "value", "values"), plural(len(t), "time", "times"))
	}
	return checkValues(where, v, most)
}

// named gives the written name of a channel for messages.
func named(k int, name string) string {
	if name == "" {
		return fmt.Sprintf("channel %d", k+1)
	}
	return fmt.Sprintf("channel %q", name)
}

// extent returns the least and the greatest of the values.
func extent(v []float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, x := range v {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	return lo, hi
}

// size returns the greatest magnitude of the values.
func size(v []float64) float64 {
	lo, hi := extent(v)
	return math.Max(0, math.Max(-lo, hi))
}

// rms returns the root mean square over time by the trapezoidal rule on v²
// between samples, taking v as linear: ∫v² = Δt·(a² + ab + b²)/3.
func rms(t, v []float64) float64 {
	sum := 0.0
	for i := 1; i < len(t); i++ {
		a, b := v[i-1], v[i]
		sum += (t[i] - t[i-1]) * (a*a + a*b + b*b) / 3
	}
	return math.Sqrt(sum / (t[len(t)-1] - t[0]))
}
