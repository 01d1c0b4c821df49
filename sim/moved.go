package sim

import "math"

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
	z := (1 + slope) / 2
	m.ratio, m.y, m.less = ratio, 1-1/ratio, 1-z
	m.drop = m.y / (1 - z*m.y)
	m.current = 1 - m.less*m.drop
}

// element is what the element's energy, R·∫i², comes to.
func (m *moved) element() float64 { return m.current * m.current * m.ratio }

// wire is what a loss with ∫i² comes to.
func (m *moved) wire() float64 { return m.current * m.current }

// triac is what the loss of a triac comes to, V_T0·∫|i| + r_T·∫i², its slope
// telling the parts.
func (m *moved) triac(slope float64) float64 {
	if slope == 0 || m.less < 1e-3 {
		return 1 + slope*m.y
	}
	square := -slope/m.less - 1
	return m.current * (1 - square + square*m.current)
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

// leakage is what warmth makes of a triac's leakage, which doubles every 10 K.
type leakage struct {
	more     float64 // by the temperature last moved to
	at, base float64 // K, and the factor there
}

// move sets the leakage to a temperature t K above that of the class. Near the
// last exponential it goes on by a series, to 1e-6.
func (l *leakage) move(t float64) {
	const law = leakageLaw
	if l.base == 0 || math.Abs(t-l.at) > 1 {
		l.at, l.base = t, math.Exp(law*t)
	}
	x := law * (t - l.at)
	l.more = l.base*(1+x*(1+x/2*(1+x/3))) - 1
}
