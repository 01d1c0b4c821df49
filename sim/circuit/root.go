package circuit

import "math"

// atom is one threshold being watched in a segment: it becomes true where
// f(t) = w·φ(t) rises above zero.
type atom struct {
	w  []float64
	fa float64 // f at the left end of the panel
}

// finder locates the first instant in a segment at which any atom is true,
// on the exact solution and never on a sample grid. Whatever lies between two
// evaluations is bounded by the second derivative: with |f″| ≤ M on a panel of
// length h, f stays below the greater of its ends plus M·h²/8.
type finder struct {
	atoms  []atom
	used   int
	phi    []float64
	phiMid []float64
	mid    float64 // the time of phiMid
	dw     []float64
	left   []float64 // |exp(λτ)| at the start of the panel
	seg    *Segment
}

// minimal steps of the search in seconds.
const (
	nudge   = 5e-13 // how far past a root the solution is taken
	grazing = 1e-13 // panels shorter than this are not divided further
)

func (f *finder) reset(seg *Segment) {
	f.seg, f.used, f.mid = seg, 0, math.NaN()
	nb := seg.size()
	f.phi, f.phiMid, f.dw, f.left = resize(f.phi, nb), resize(f.phiMid, nb), resize(f.dw, nb), resize(f.left, seg.c.n)
}

// next returns the weights of a new atom to be filled.
func (f *finder) next() *atom {
	if f.used == len(f.atoms) {
		f.atoms = append(f.atoms, atom{})
	}
	a := &f.atoms[f.used]
	f.used++
	a.w = resize(a.w, f.seg.size())
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
	if f.never(a.w) {
		f.used--
	}
}

// never reports whether the atom cannot become true anywhere after T0.
func (f *finder) never(w []float64) bool {
	n, last := f.seg.c.n, len(w)-1
	top := w[last]
	for _, x := range w[:last] {
		top += math.Abs(x)
	}
	if top <= 0 { // the common case, found without a root
		return true
	}
	top = w[last]
	for k := 0; k < n; k++ {
		if f.seg.c.pair[k] {
			top += math.Sqrt(w[k]*w[k] + w[k+1]*w[k+1])
			k++
		} else if w[k] > 0 {
			top += w[k]
		}
	}
	for j := n; j < last; j += 2 {
		top += math.Sqrt(w[j]*w[j] + w[j+1]*w[j+1])
	}
	return top <= 0
}

// curvature bounds |f″| from the start of the panel on, with the modes as
// they have decayed by then.
func (f *finder) curvature(w []float64) float64 {
	s := f.seg
	m := 0.0
	for k := 0; k < s.c.n; k++ {
		g := f.left[k]
		if s.c.pair[k] {
			m += math.Sqrt(w[k]*w[k]+w[k+1]*w[k+1]) * s.c.square[k] * g
			k++
			continue
		}
		m += math.Abs(w[k]) * s.c.square[k] * g
	}
	j := s.c.n
	for _, order := range s.src.order {
		r := float64(order) * s.src.omega
		m += r * r * math.Sqrt(w[j]*w[j]+w[j+1]*w[j+1])
		j += 2
	}
	return m
}

// decayed takes what the modes have come down to from the basis functions at
// the start of the panel.
func (f *finder) decayed() {
	c := f.seg.c
	for k := 0; k < c.n; k++ {
		if c.pair[k] {
			f.left[k] = math.Sqrt(f.phi[k]*f.phi[k] + f.phi[k+1]*f.phi[k+1])
			k++
			continue
		}
		f.left[k] = f.phi[k]
	}
}

// value returns f(t) of the weights w.
func (f *finder) value(w []float64, t float64) float64 {
	f.middle(t)
	return dot(w, f.phiMid)
}

// middle sets phiMid to the basis functions at t; atoms that share a panel ask
// for the same instants.
func (f *finder) middle(t float64) {
	if t != f.mid {
		f.seg.basis(t, f.phiMid)
		f.mid = t
	}
}

// first returns the first time in (T0, end] at which an atom is true, and
// whether there is one.
func (f *finder) first(end float64) (float64, bool) { return f.from(f.seg.T0, end) }

// from is first, searching from a later start.
func (f *finder) from(a, end float64) (float64, bool) {
	s := f.seg
	if f.used == 0 {
		return end, false
	}
	fastest := s.c.fastest
	s.basis(a, f.phi)
	for i := range f.atoms[:f.used] {
		at := &f.atoms[i]
		at.fa = dot(at.w, f.phi)
		if at.fa > 0 {
			// True by rounding only: the discrete state has settled at T0.
			return math.Min(a+2*nudge, end), true
		}
	}
	for a < end {
		h := end - a
		if fastest > 0 {
			h = math.Min(h, math.Max(math.Max(0.7/fastest, grazing), 0.7*(a-s.T0)))
		}
		h = math.Min(h, 0.15/(s.src.omega/(2*math.Pi))) // an eighth of a period or so
		b := a + h
		if b > end-grazing {
			b = end
		}
		f.decayed()
		s.basis(b, f.phi)
		hit, at := false, b
		for i := range f.atoms[:f.used] {
			x := &f.atoms[i]
			fb := dot(x.w, f.phi)
			if t, ok := f.panel(x.w, a, at, x.fa, f.endValue(x.w, fb, at, b)); ok {
				hit, at = true, t
			}
			x.fa = fb
		}
		if hit {
			// Far enough past the root that rounding cannot hide the demand:
			// at a root found to the last digit it may still read as not met.
			return math.Min(at+nudge/2, end), true
		}
		a = b
	}
	return end, false
}

// endValue is f at the shortened end of a panel.
func (f *finder) endValue(w []float64, fb, at, b float64) float64 {
	if at == b {
		return fb
	}
	return f.value(w, at)
}

// panel finds the first root in (a, b], given f(a) ≤ 0 and f(b).
func (f *finder) panel(w []float64, a, b, fa, fb float64) (float64, bool) {
	h := b - a
	m := -1.0
	if fb <= 0 {
		m = f.curvature(w)
		if math.Max(fa, fb)+m*h*h/8 <= 0 {
			return 0, false
		}
		if h < grazing {
			return 0, false
		}
	} else if h < 2*grazing {
		return b, true
	}
	if m < 0 {
		m = f.curvature(w)
	}
	mid := a + h/2
	f.middle(mid)
	f.seg.derive(w, f.dw)
	slope := dot(f.dw, f.phiMid)
	if math.Abs(slope) >= m*h/2 { // monotone in the panel
		if fb <= 0 {
			return 0, false
		}
		return f.refine(w, a, b, fa, fb), true
	}
	fm := dot(w, f.phiMid)
	if t, ok := f.panel(w, a, mid, fa, fm); ok {
		return t, true
	}
	if fm > 0 {
		return mid, true
	}
	return f.panel(w, mid, b, fm, fb)
}

// refine narrows the bracket f(a) ≤ 0 < f(b) of a monotone f by Newton's
// method kept inside the bracket, and returns a time just past the root at
// which f > 0.
func (f *finder) refine(w []float64, a, b, fa, fb float64) float64 {
	f.seg.derive(w, f.dw)
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
		d := dot(f.dw, f.phiMid)
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
