package disturbance

import (
	"math"
	"slices"
)

// classes of the cumulative probability of P_inst from which P_st is made: the
// level exceeded for p percent of the time, smoothed over neighbours.
var classes = [...]struct {
	weight  float64
	percent []float64
}{
	{0.0314, []float64{0.1}},
	{0.0525, []float64{0.7, 1, 1.5}},
	{0.0657, []float64{2.2, 3, 4}},
	{0.28, []float64{6, 8, 10, 13, 17}},
	{0.08, []float64{30, 50, 80}},
}

// Pst returns the short-term flicker severity of levels of P_inst that were
// taken at equal intervals:
//
//	P_st = √(0.0314·P0.1 + 0.0525·P1s + 0.0657·P3s + 0.28·P10s + 0.08·P50s)
//
// with P1s = (P0.7 + P1 + P1.5)/3, P3s = (P2.2 + P3 + P4)/3,
// P10s = (P6 + P8 + P10 + P13 + P17)/5, P50s = (P30 + P50 + P80)/3
// (IEC 61000-4-15 clause 5). The levels are taken as they are, without
// classes of finite width. Without any it is 0.
func Pst(levels []float64) float64 {
	if len(levels) == 0 {
		return 0
	}
	sorted := slices.Clone(levels)
	slices.Sort(sorted)
	sum := 0.0
	for _, c := range classes {
		mean := 0.0
		for _, p := range c.percent {
			mean += exceeded(sorted, p/100)
		}
		sum += c.weight * mean / float64(len(c.percent))
	}
	return math.Sqrt(sum)
}

// exceeded returns the level that a part p of the sorted levels exceeds.
func exceeded(sorted []float64, p float64) float64 {
	x := (1-p)*float64(len(sorted)) - 0.5
	i := int(math.Floor(x))
	switch {
	case i < 0:
		return sorted[0]
	case i >= len(sorted)-1:
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}

// Plt returns the long-term severity of consecutive short-term ones, twelve
// for two hours:
//
//	P_lt = (Σ P_st³/N)^(1/3)
//
// (IEC 61000-3-3). Without any it is 0.
func Plt(pst []float64) float64 {
	if len(pst) == 0 {
		return 0
	}
	sum := 0.0
	for _, p := range pst {
		sum += p * p * p
	}
	return math.Cbrt(sum / float64(len(pst)))
}

// AnalyticPst estimates the severity of equal voltage changes of d percent,
// perMinute of them, by the analytical method of IEC 61000-3-3 clause 4.2 (the
// formula from memory):
//
//	t_f = 2.3 s·(F·d)^3.2, P_st = (Σ t_f/T_p)^(1/3.2)
//
// with the shape factor F, 1 for steps. It holds while changes are at least
// 1 s apart and serves to check plausibility.
func AnalyticPst(d, shape, perMinute float64) float64 {
	return math.Pow(2.3*math.Pow(shape*math.Abs(d), 3.2)*perMinute/60, 1/3.2)
}
