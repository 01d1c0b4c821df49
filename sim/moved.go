package sim

import (
	"math"

	"boilwright/sim/heat"
)

// moved is by how far the resistance of a channel's element has moved from R₀,
// that of the class in which half-cycles were solved, and what that makes of the
// channel's current: that of a load behind an impedance,
//
//	I/I₀ = (1 − y)/(1 − z·y),  y = 1 − R₀/R
//
// where the slope of the element's energy, d ln E/d ln R = 2z − 1, tells what part
// z of the loop's impedance is not the element's.
type moved struct {
	ratio   float64 // R/R₀
	y       float64
	drop    float64 // y/(1 − z·y): what the channel adds to others' voltage goes with it
	current float64 // I/I₀
	less    float64 // 1 − z
}

// move sets m to a resistance ratio times that of the class, for an element whose
// energy has the given slope; none means that it does not follow.
func (m *moved) move(ratio, slope float64) {
	if slope == 0 {
		*m = moved{ratio: 1, current: 1, less: 1}
		return
	}
	z, above := (1+slope)/2, ratio-1
	m.ratio, m.y, m.less = ratio, above/ratio, 1-z
	m.drop = above / (ratio - z*above)
	m.current = 1 - m.less*m.drop
}

// element is what the element's energy, R·∫i², comes to.
func (m *moved) element() float64 { return m.current * m.current * m.ratio }

// wire is what a loss with ∫i² comes to.
func (m *moved) wire() float64 { return m.current * m.current }

// leastLess is the 1 − z below which the parts of a triac's loss cannot be told.
const leastLess = 1e-3

// triac is what the loss of a triac comes to, V_T0·∫|i| + r_T·∫i², its slope
// telling the parts.
func (m *moved) triac(slope float64) float64 {
	still, slope, linear, square := triacParts(slope, m.less)
	return still + slope*m.y + m.current*(linear+square*m.current)
}

// triacParts divides a triac's loss of the given slope, beside an element of the given
// 1 − z, into parts that go as 1, y, the current and its square.
func triacParts(slope, less float64) (still, byY, linear, square float64) {
	if slope == 0 || less < leastLess {
		return 1, slope, 0, 0
	}
	square = -slope/less - 1
	return 0, 0, 1 - square, square
}

// carried is what a loss comes to whose slope tells how the current through it
// follows that of the element: like it in a gate path or a snubber that carries
// it, not at all where they do not.
func (m *moved) carried(slope float64) float64 {
	current := (1 - m.y) / (1 - (1+slope/2)*m.y)
	return current * current
}

// others is what currents make of a loss with the square of their sum, given the
// sum x of slopes times drops.
func others(x float64) float64 { return (1 + x/2) * (1 + x/2) }

// leakageLaw is by how much leakage grows, 1/K: it doubles every 10 K.
const leakageLaw = math.Ln2 / 10

// leakage is what warmth makes of the leakage of up to four triacs, lane by lane,
// which doubles every 10 K. Near the last exponential it goes on by a series, to 1e-6.
type leakage struct {
	more     heat.Lanes // by the temperatures last moved to
	at, base heat.Lanes // K, and the factors there
}

// leakages returns those of a number of triacs, at the temperatures of their class.
func leakages(n int) []leakage {
	l := make([]leakage, (n+heat.Wide-1)/heat.Wide)
	for i := range l {
		l[i].base = heat.Lanes{1, 1, 1, 1}
	}
	return l
}

// grown is by how much lane k is more at a temperature t K above that of the class,
// near the last exponential.
func (l *leakage) grown(k int, t float64) float64 {
	x := leakageLaw * (t - l.at[k])
	return float64(l.base[k]*(1+float64(x*(1+float64(x*(1./2+float64(x*(1./6)))))))) - 1
}

// move sets lane k to a temperature t K above that of the class.
func (l *leakage) move(k int, t float64) {
	if math.Abs(t-l.at[k]) > 1 {
		l.at[k], l.base[k] = t, math.Exp(leakageLaw*t)
	}
	l.more[k] = l.grown(k, t)
}
