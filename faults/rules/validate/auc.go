package validate

import (
	"math"
	"slices"
)

// AUC is the probability that a value of b exceeds one of a, ties counted half:
// the statistic of Mann and Whitney (Ann. Math. Stat. 18 (1947) 50) as a part
// of its greatest value, which is the area under the receiver operating
// characteristic (Hanley and McNeil, Radiology 143 (1982) 29). It is NaN where
// one of them is empty.
func AUC(a, b []float64) float64 {
	if len(a) == 0 || len(b) == 0 {
		return math.NaN()
	}
	type valued struct {
		v   float64
		ofB bool
	}
	all := make([]valued, 0, len(a)+len(b))
	for _, v := range a {
		all = append(all, valued{v, false})
	}
	for _, v := range b {
		all = append(all, valued{v, true})
	}
	slices.SortFunc(all, func(x, y valued) int {
		switch {
		case x.v < y.v:
			return -1
		case x.v > y.v:
			return 1
		}
		return 0
	})
	sum := 0.0 // of b's wins, over all of b
	below := 0 // of a
	for i := 0; i < len(all); {
		j, fromA, fromB := i, 0, 0
		for ; j < len(all) && all[j].v == all[i].v; j++ {
			if all[j].ofB {
				fromB++
			} else {
				fromA++
			}
		}
		if j == i { // not a number
			return math.NaN()
		}
		sum += float64(fromB) * (float64(below) + float64(fromA)/2)
		below += fromA
		i = j
	}
	return sum / (float64(len(a)) * float64(len(b)))
}

// deviationAUC is the standard deviation of AUC where both are drawn from the
// same law without ties (Mann and Whitney, as above).
func deviationAUC(a, b int) float64 {
	return math.Sqrt(float64(a+b+1) / (12 * float64(a) * float64(b)))
}
