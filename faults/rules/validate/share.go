package validate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Confidence of all intervals.
const Confidence = 0.95

// Share is how many out of how many.
type Share struct{ Count, Of uint64 }

// Value is the share itself, 0 to 1; NaN out of none.
func (s Share) Value() float64 { return float64(s.Count) / float64(s.Of) }

// Interval is the score interval of the share at [Confidence]; NaN out of none.
func (s Share) Interval() (low, high float64) { return Wilson(s.Count, s.Of, Confidence) }

// Decimals is how many decimals shares are told with beside each other: two, or
// four where two would round one of them to all or none that it is not.
func Decimals(shares ...float64) int {
	for _, x := range shares {
		if x > 0 && x < 0.005 || x >= 0.995 && x < 1 {
			return 4
		}
	}
	return 2
}

// Wilson returns the two-sided score interval of k out of n at a confidence
// between 0 and 1:
//
//	(p + z²/2n ± z·√(p(1−p)/n + z²/4n²)) / (1 + z²/n)
//
// with p = k/n and z the quantile of the standard normal law at (1 + c)/2
// (Wilson, J. Am. Stat. Assoc. 22 (1927) 209; method 3 of Newcombe, Stat. Med.
// 17 (1998) 857). It is NaN where n is 0.
func Wilson(k, n uint64, confidence float64) (low, high float64) {
	if n == 0 || k > n {
		return math.NaN(), math.NaN()
	}
	z := distuv.UnitNormal.Quantile((1 + confidence) / 2)
	m, p := float64(n), float64(k)/float64(n)
	middle := p + z*z/(2*m)
	half := z * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	low, high = (middle-half)/(1+z*z/m), (middle+half)/(1+z*z/m)
	// The ends are exact where the share is.
	if k == 0 {
		low = 0
	}
	if k == n {
		high = 1
	}
	return low, high
}

// Counts are the four kinds of units of one rule.
type Counts struct{ TP, FP, FN, TN uint64 }

func (c *Counts) add(o Counts) {
	c.TP += o.TP
	c.FP += o.FP
	c.FN += o.FN
	c.TN += o.TN
}

// Units is how many there are.
func (c Counts) Units() uint64 { return c.TP + c.FP + c.FN + c.TN }

// Applied is how many of them the rule applied to.
func (c Counts) Applied() uint64 { return c.TP + c.FP }

// Sensitivity is the share of units of which it is true where it is said.
func (c Counts) Sensitivity() Share { return Share{c.TP, c.TP + c.FN} }

// Specificity is the share of units of which it is not true where it is not
// said.
func (c Counts) Specificity() Share { return Share{c.TN, c.TN + c.FP} }

// Positive is the positive predictive value: the share of what is said that is
// true. It holds at the prevalence of the population only.
func (c Counts) Positive() Share { return Share{c.TP, c.TP + c.FP} }

// Negative is the negative predictive value: the share of what is not said
// that is not true. It holds at the prevalence of the population only.
func (c Counts) Negative() Share { return Share{c.TN, c.TN + c.FN} }

// Prevalence is the share of units of which it is true.
func (c Counts) Prevalence() Share { return Share{c.TP + c.FN, c.Units()} }

var infinity = math.Inf(1)
