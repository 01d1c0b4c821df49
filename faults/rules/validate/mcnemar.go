package validate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// exactBelow is the number of discordant pairs below which the binomial law is
// taken, and from which the chi-squared law is good enough: common practice, no
// source.
const exactBelow = 26

// Paired is the test of McNemar on pairs of which the first or the second alone
// is right.
type Paired struct {
	First, Second uint64  // only the first is right, only the second is
	Exact         bool    // P is of the binomial law
	Square        float64 // with continuity correction; NaN without discordant pairs
	P             float64 // two-sided; 1 without discordant pairs
}

// McNemar tests whether two judges that see the same units are equally often
// right, given on how many only the first and only the second is. Where they
// are, each discordant pair is as likely the one as the other:
//
//	exact      P = 2·Pr(X ≤ min(b, c)), X binomial of b + c trials at 1/2
//	otherwise  χ² = (|b − c| − 1)²/(b + c) of one degree of freedom
//
// (McNemar, Psychometrika 12 (1947) 153; the correction is that of Edwards,
// Psychometrika 13 (1948) 185.)
func McNemar(first, second uint64) Paired {
	x := Paired{First: first, Second: second, Square: math.NaN(), P: 1, Exact: first+second < exactBelow}
	b, c := float64(first), float64(second)
	n := b + c
	if n == 0 {
		return x
	}
	d := math.Max(0, math.Abs(b-c)-1)
	x.Square = d * d / n
	if x.Exact {
		x.P = math.Min(1, 2*distuv.Binomial{N: n, P: 0.5}.CDF(math.Min(b, c)))
	} else {
		x.P = distuv.ChiSquared{K: 1}.Survival(x.Square)
	}
	return x
}
