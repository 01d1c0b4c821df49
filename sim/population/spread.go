package population

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Law is the shape of a distribution.
type Law int

// The laws. Each has bounds that no draw goes beyond, so that a drawn board
// stays one that a maker would have let out.
const (
	// Fixed draws nothing: the board's own value.
	Fixed Law = iota
	// Normal has its mean in the middle of the bounds and a standard deviation
	// of a sixth of the distance between them, and is cut off at both.
	Normal
	// LogNormal has a normal logarithm, likewise: its median is the geometric
	// mean of the bounds.
	LogNormal
	// Uniform is even between the bounds.
	Uniform
)

var lawNames = [...]string{"fixed", "normal", "lognormal", "uniform"}

func (l Law) String() string {
	if l < 0 || int(l) >= len(lawNames) {
		return fmt.Sprintf("law(%d)", int(l))
	}
	return lawNames[l]
}

// ParseLaw returns the law of a written name.
func ParseLaw(name string) (Law, error) {
	for i, n := range lawNames {
		if n == name {
			return Law(i), nil
		}
	}
	return 0, fmt.Errorf("found law %q, expected one of %v", name, lawNames)
}

// cut is at how many standard deviations a normal law ends.
const cut = 3

// Spread is a distribution between two bounds. What the bounds are - factors
// on the board's own value, differences from it, or values - is told by the
// [Kind] of the parameter. The zero value draws nothing.
type Spread struct {
	Law       Law
	Low, High float64 // bounds; Low at most High
}

// Within is a law between 1 − part and 1 + part of a value.
func Within(l Law, part float64) Spread { return Spread{l, 1 - part, 1 + part} }

// Times is a lognormal factor between 1/most and most, with the median 1.
func Times(most float64) Spread { return Spread{LogNormal, 1 / most, most} }

// String writes the spread, such as "normal 0.95 to 1.05".
func (s Spread) String() string {
	if s.Law == Fixed {
		return s.Law.String()
	}
	return fmt.Sprintf("%v %.4g to %.4g", s.Law, s.Low, s.High)
}

// ParseSpread reads a spread as String writes it: "fixed", or a law with its
// bounds, "uniform 0.9 to 1.1".
func ParseSpread(text string) (Spread, error) {
	words := strings.Fields(text)
	if len(words) == 0 {
		return Spread{}, fmt.Errorf("found nothing, expected a law such as %q", Within(Uniform, 0.1))
	}
	law, err := ParseLaw(words[0])
	if err != nil {
		return Spread{}, err
	}
	if law == Fixed && len(words) == 1 {
		return Spread{}, nil
	}
	if law == Fixed || len(words) != 4 || words[2] != "to" {
		return Spread{}, fmt.Errorf("found %q, expected %q or a law with its bounds such as %q", text, Fixed, Within(Uniform, 0.1))
	}
	s := Spread{Law: law}
	for i, to := range []*float64{&s.Low, &s.High} {
		if *to, err = strconv.ParseFloat(words[1+2*i], 64); err != nil {
			return Spread{}, fmt.Errorf("found bound %q, expected a number", words[1+2*i])
		}
	}
	return s, s.check(math.Inf(-1))
}

// check reports what is wrong with the spread, of which the bounds may not lie
// below least.
func (s Spread) check(least float64) error {
	switch {
	case s.Law < Fixed || s.Law > Uniform:
		return fmt.Errorf("found law %d, expected %d to %d", int(s.Law), int(Fixed), int(Uniform))
	case s.Law == Fixed:
		return nil
	case !(s.Low <= s.High) || math.IsInf(s.Low, 0) || math.IsInf(s.High, 0):
		return fmt.Errorf("found bounds %v to %v, expected finite ones, the lower first", s.Low, s.High)
	case s.Low < least:
		return fmt.Errorf("found bound %v, expected at least %v", s.Low, least)
	case s.Law == LogNormal && s.Low <= 0:
		return fmt.Errorf("found bound %v of a lognormal law, expected more than 0", s.Low)
	}
	return nil
}

// sampler makes values of a spread of which only what lies between two further
// bounds is drawn. Those move in where a law is cut off, and leave its mean and
// its standard deviation.
type sampler struct {
	law      Law
	lo, hi   float64
	mean, sd float64 // of the value, or of its logarithm
	a, b     float64 // probabilities at the cuts
}

// between returns the sampler for what lies between low and high.
func (s Spread) between(low, high float64) sampler {
	x := sampler{law: s.Law, lo: math.Max(s.Low, low), hi: math.Min(s.High, high)}
	if !(x.lo < x.hi) { // one value, or none that is allowed: the nearest that is
		x.law, x.lo = Fixed, math.Max(low, math.Min(high, x.lo))
		return x
	}
	into := func(v float64) float64 { return v }
	if s.Law == LogNormal {
		into = math.Log
	}
	x.mean = (into(s.Low) + into(s.High)) / 2
	x.sd = (into(s.High) - into(s.Low)) / (2 * cut)
	x.a, x.b = distuv.UnitNormal.CDF((into(x.lo)-x.mean)/x.sd), distuv.UnitNormal.CDF((into(x.hi)-x.mean)/x.sd)
	return x
}

// at returns the value at the probability p, in (0, 1):
//
//	normal     m + σ·Φ⁻¹(a + p·(b − a)), a and b the probabilities at the cuts
//	lognormal  the exponential of the same for logarithms
//	uniform    low + p·(high − low)
//
// Inverse transform sampling (Devroye, Non-Uniform Random Variate Generation,
// 1986, II.2): one even number makes one value, so that another law shifts
// nothing else that is drawn.
func (x *sampler) at(p float64) float64 {
	var v float64
	switch x.law {
	case Fixed:
		return x.lo
	case Uniform:
		v = x.lo + p*(x.hi-x.lo)
	default:
		v = x.mean + x.sd*distuv.UnitNormal.Quantile(x.a+p*(x.b-x.a))
		if x.law == LogNormal {
			v = math.Exp(v)
		}
	}
	return math.Max(x.lo, math.Min(x.hi, v))
}
