package circuit

import "math"

// atom is one threshold being watched in a segment: it becomes true where
// f(t) = w·φ(t) rises above zero.
type atom struct {
	w []float64
	// amp bounds |f| without modes and constant, curve its second derivative.
	amp, curve float64
	fa, fb     float64 // f at the ends of the interval

	// The same of the rate of change, once asked for.
	derived      bool
	dw           []float64
	damp, dcurve float64
}

// finder locates the first instant in a segment at which any atom is true,
// on the exact solution and never on a sample grid. Whatever lies between two
// evaluations is bounded term by term.
type finder struct {
	atoms  []atom
	used   int
	places []*place
	serial int   // of the segment, which places belong to
	open   []int // atoms that the interval's ends do not decide
	phiMid []float64
	mid    float64 // the time of phiMid
	dw     []float64
	seg    *Segment
}

// minimal steps of the search in seconds.
const (
	nudge   = 5e-13 // how far past a root the solution is taken
	grazing = 1e-13 // intervals shorter than this are not divided further
)

func (f *finder) reset(seg *Segment) {
	f.seg, f.used, f.mid = seg, 0, math.NaN()
	nb := seg.size()
	f.phiMid, f.dw = resize(f.phiMid, nb), resize(f.dw, nb)
	f.serial++
}

// next returns the weights of a new atom to be filled.
func (f *finder) next() *atom {
	if f.used == len(f.atoms) {
		f.atoms = append(f.atoms, atom{})
	}
	a := &f.atoms[f.used]
	f.used++
	a.w, a.derived = resize(a.w, f.seg.size()), false
	return a
}

// watch adds sign·y − threshold, y being a signal of combination c: that of
// the segment, or a hypothetical one with the same states.
func (f *finder) watch(c *combination, sig int, sign, threshold float64) {
	a := f.next()
	if c == f.seg.c {
		f.seg.signal(sig, a.w)
	} else {
		f.seg.weights(c.row(sig), a.w)
	}
	f.admit(a, sign, threshold)
}

// watchRate adds sign·dy/dt − threshold, jumps left out.
func (f *finder) watchRate(c *combination, sig int, sign, threshold float64) {
	a := f.next()
	f.seg.signal(sig, f.dw)
	f.seg.deriveSmooth(f.dw, a.w)
	f.admit(a, sign, threshold)
}

// admit finishes an atom and drops it again if it can never become true.
func (f *finder) admit(a *atom, sign, threshold float64) {
	if sign != 1 {
		for i := range a.w {
			a.w[i] *= sign
		}
	}
	a.w[len(a.w)-1] -= threshold
	if f.never(a) {
		f.used--
	}
}

// never reports whether the atom cannot become true anywhere after T0.
func (f *finder) never(a *atom) bool {
	w := a.w
	n, last := f.seg.c.n, len(w)-1
	top := w[last]
	for _, x := range w[:last] {
		top += math.Abs(x)
	}
	if top <= 0 { // the common case, found without a root
		return true
	}
	a.amp, a.curve = f.seg.swing(w)
	top = w[last] + a.amp
	pair := f.seg.c.pair
	for k := 0; k < n; k++ {
		if pair[k] {
			top += math.Sqrt(w[k]*w[k] + w[k+1]*w[k+1])
			k++
		} else if w[k] > 0 {
			top += w[k]
		}
	}
	return top <= 0
}

// place is a time with the basis functions there.
type place struct {
	t   float64
	phi []float64
	of  int // serial number of the segment
}

// bounds returns bounds of w·φ between two places: each real mode lies between
// its ends, a pair within its amplitude, and what is not modes between its ends
// but for its curvature, or within its amplitude.
func (f *finder) bounds(w []float64, amp, curve float64, a, b *place) (low, high float64) {
	c := f.seg.c
	n := c.n
	last := len(w) - 1
	one, two := 0.0, 0.0
	for j := n; j < last; j++ {
		one += w[j] * a.phi[j]
		two += w[j] * b.phi[j]
	}
	h := b.t - a.t
	if one > two {
		one, two = two, one
	}
	bend := curve * h * h / 8
	low, high = max(one-bend, -amp)+w[last], min(two+bend, amp)+w[last]
	left, right := a.phi[:n], b.phi[:n]
	if !c.paired {
		for k, x := range w[:n] {
			one, two := x*left[k], x*right[k]
			low += min(one, two)
			high += max(one, two)
		}
		return low, high
	}
	for k := 0; k < n; k++ {
		if c.pair[k] {
			x := math.Sqrt((w[k]*w[k] + w[k+1]*w[k+1]) * (left[k]*left[k] + left[k+1]*left[k+1]))
			low -= x
			high += x
			k++
			continue
		}
		one, two := w[k]*left[k], w[k]*right[k]
		low += min(one, two)
		high += max(one, two)
	}
	return low, high
}

// first returns the first time in (T0, end] at which an atom is true, and
// whether there is one. guess is how long that takes perhaps, or zero.
func (f *finder) first(end, guess float64) (float64, bool) { return f.from(f.seg.T0, end, guess) }

// from is first, searching from a later start.
func (f *finder) from(start, end, guess float64) (float64, bool) {
	if f.used == 0 {
		return end, false
	}
	a, b := f.at(0), f.at(1)
	f.put(a, start)
	for i := range f.atoms[:f.used] {
		x := &f.atoms[i]
		if x.fa = dot(x.w, a.phi); x.fa > 0 {
			// True by rounding only: the discrete state has settled at T0.
			return math.Min(start+2*nudge, end), true
		}
	}
	for a.t < end {
		t := end
		if a.t == start && guess > 0 {
			t = a.t + max(1.1*guess, grazing)
		}
		if t > end-grazing {
			t = end
		}
		f.put(b, t)
		f.open = f.open[:0]
		soonest, best := t, -1
		for i := range f.atoms[:f.used] {
			x := &f.atoms[i]
			if x.fb = dot(x.w, b.phi); x.fb <= 0 {
				if !f.below(x, a, b, x.fa, x.fb) {
					f.open = append(f.open, i)
				}
				continue
			}
			f.open = append(f.open, i)
			// The one that crosses first by its chord goes first, and leaves the
			// others less to search.
			if est := a.t - x.fa*(t-a.t)/(x.fb-x.fa); est < soonest || best < 0 {
				soonest, best = est, len(f.open)-1
			}
		}
		if best > 0 {
			f.open[0], f.open[best] = f.open[best], f.open[0]
		}
		hit := false
		for _, i := range f.open {
			x := &f.atoms[i]
			fb := x.fb
			if hit {
				if fb = dot(x.w, b.phi); fb <= 0 && f.below(x, a, b, x.fa, fb) {
					continue
				}
			}
			if root, ok := f.seek(x, a, b, x.fa, fb, 2); ok {
				hit = true
				f.put(b, root)
			}
		}
		if hit {
			// Far enough past the root that rounding cannot hide the demand:
			// at a root found to the last digit it may still read as not met.
			return math.Min(b.t+nudge/2, end), true
		}
		for i := range f.atoms[:f.used] {
			f.atoms[i].fa = f.atoms[i].fb
		}
		a.t = b.t
		a.phi, b.phi = b.phi, a.phi
	}
	return end, false
}

// at returns the place kept for a depth of the search.
func (f *finder) at(depth int) *place {
	for depth >= len(f.places) {
		f.places = append(f.places, new(place))
	}
	p := f.places[depth]
	p.phi = resize(p.phi, f.seg.size())
	return p
}

// put moves a place to the time t.
func (f *finder) put(p *place, t float64) {
	if p.t != t || p.of != f.serial {
		f.seg.basis(t, p.phi)
		p.t, p.of = t, f.serial
	}
}

// below reports whether f, at most zero at both ends, stays so between them: by
// the greater of its ends plus M·h²/8 with |f″| ≤ M, or by its terms.
func (f *finder) below(x *atom, a, b *place, fa, fb float64) bool {
	h := b.t - a.t
	if max(fa, fb)+f.curvature(x, a)*h*h/8 <= 0 {
		return true
	}
	_, high := f.bounds(x.w, x.amp, x.curve, a, b)
	return high <= 0
}

// seek finds the first root of an atom in (a, b], given f(a) ≤ 0 and f(b). An
// interval is left out where f stays below zero, searched by Newton's
// method where its rate has one sign, and divided elsewhere, in the logarithm
// of the time since the segment's start, on which the modes live.
func (f *finder) seek(x *atom, a, b *place, fa, fb float64, depth int) (float64, bool) {
	h := b.t - a.t
	if fb <= 0 {
		if h < grazing {
			return 0, false
		}
		if depth > 2 && f.below(x, a, b, fa, fb) { // at 2 it has been asked already
			return 0, false
		}
	} else if h < 2*grazing {
		return b.t, true
	}
	m := f.curvature(x, a)
	if !x.derived {
		x.derive(f.seg)
	}
	monotone := math.Abs(dot(x.dw, a.phi)) >= m*h
	if !monotone {
		low, high := f.bounds(x.dw, x.damp, x.dcurve, a, b)
		monotone = low >= 0 || high <= 0
	}
	if monotone {
		if fb <= 0 {
			return 0, false
		}
		return f.refine(x, a.t, b.t, fa, fb), true
	}
	since := a.t - f.seg.T0
	if fastest := f.seg.c.fastest; fastest > 0 {
		since += 0.3 / fastest
	}
	t := f.seg.T0 + math.Sqrt(since*(b.t-f.seg.T0))
	t = min(max(t, a.t+h/16), a.t+h/2)
	c := f.at(depth)
	f.put(c, t)
	fc := dot(x.w, c.phi)
	if root, ok := f.seek(x, a, c, fa, fc, depth+1); ok {
		return root, true
	}
	if fc > 0 {
		return t, true
	}
	return f.seek(x, c, b, fc, fb, depth+1)
}

// curvature bounds |f″| from a place on, with the modes as they have decayed by
// then.
func (f *finder) curvature(x *atom, a *place) float64 {
	c, w := f.seg.c, x.w
	m := x.curve
	if !c.paired {
		for k, q := range c.square {
			m += math.Abs(w[k]) * q * a.phi[k]
		}
		return m
	}
	for k := 0; k < c.n; k++ {
		if c.pair[k] {
			g := (w[k]*w[k] + w[k+1]*w[k+1]) * (a.phi[k]*a.phi[k] + a.phi[k+1]*a.phi[k+1])
			m += math.Sqrt(g) * c.square[k]
			k++
			continue
		}
		m += math.Abs(w[k]) * c.square[k] * a.phi[k]
	}
	return m
}

// derive makes the weights of the atom's rate of change.
func (x *atom) derive(s *Segment) {
	x.derived = true
	x.dw = resize(x.dw, len(x.w))
	s.derive(x.w, x.dw)
	x.damp, x.dcurve = s.swing(x.dw)
}

// swing bounds the part of w·φ that is neither modes nor constant, and its
// second derivative.
func (s *Segment) swing(w []float64) (amp, curve float64) {
	for h, order := range s.src.order {
		j := s.c.n + 2*h
		r := float64(order) * s.src.omega
		x := math.Sqrt(w[j]*w[j] + w[j+1]*w[j+1])
		amp += x
		curve += x * r * r
	}
	return amp, curve
}

// value returns f(t) of the weights w.
func (f *finder) value(w []float64, t float64) float64 {
	f.middle(t)
	return dot(w, f.phiMid)
}

// middle sets phiMid to the basis functions at t; atoms that share an interval
// ask for the same instants.
func (f *finder) middle(t float64) {
	if t != f.mid {
		f.seg.basis(t, f.phiMid)
		f.mid = t
	}
}

// refine narrows the bracket f(a) ≤ 0 < f(b) of a monotone f by Newton's
// method kept inside the bracket, and returns a time just past the root at
// which f > 0.
func (f *finder) refine(at *atom, a, b, fa, fb float64) float64 {
	w := at.w
	x := a - fa*(b-a)/(fb-fa)
	for range 100 {
		if b-a < nudge {
			break
		}
		if !(x > a && x < b) {
			x = a + (b-a)/2
		}
		f.middle(x)
		fx := dot(w, f.phiMid)
		d := dot(at.dw, f.phiMid)
		if fx > 0 {
			b = x
		} else {
			a = x
		}
		step := fx / d
		if math.Abs(step) < nudge/4 {
			// Converged: end on the true side.
			if fx > 0 {
				return x
			}
			for delta := nudge / 2; x+delta < b; delta *= 2 {
				if f.value(w, x+delta) > 0 {
					return x + delta
				}
			}
			return b
		}
		x -= step
	}
	return b
}
