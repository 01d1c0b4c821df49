package circuit

import "math"

// span is an interval of the search with what its modes can do in it, for all
// atoms.
type span struct {
	from, to float64
	of       int     // serial number of the segment
	half     float64 // half of the square of its length
	// bend is h²/2 times the largest second derivative of each mode, or less: see
	// steep. lift is by how much it may leave its chord at most, used instead where
	// that is less. end is the magnitude of a lifted pair where the interval ends.
	bend, lift, end []float64
	lifted          bool
}

// steep is by how much a mode decays in a span, as a multiple of its time constant,
// from which its bend is taken from the slope where it begins. It decays from y₀ to
// y₁ as a convex curve that is bent ever less, so that it lies
//
//	(x·y₀ − (y₀ − y₁))·u·(1 − u)
//
// below its chord at most, x being that multiple: the difference touches zero at
// u = 0, rises from there and, once it is bent downwards, stays so until it is zero
// at u = 1. Below steep, where that formula loses digits, it is hardly less than with
// the second derivative at the begin.
const steep = 1. / 8

// spanOf returns the span between two places. The last are kept, for atoms are
// looked at in the same intervals.
func (f *finder) spanOf(a, b *place) *span {
	for i := range f.spans {
		if s := &f.spans[i]; s.from == a.t && s.to == b.t && s.of == f.serial {
			return s
		}
	}
	return f.newSpan(a, b)
}

func (f *finder) newSpan(a, b *place) *span {
	c, s := f.seg.c, &f.spans[f.oldest]
	f.oldest = (f.oldest + 1) % len(f.spans)
	h := b.t - a.t
	s.from, s.to, s.of, s.half = a.t, b.t, f.serial, h*h/2
	if s.lifted = false; len(s.bend) != c.n {
		s.bend, s.lift, s.end = resize(s.bend, c.n), resize(s.lift, c.n), resize(s.end, c.n)
	}
	start, stop := a.phi[:c.n], b.phi[:c.n]
	if c.paired {
		s.paired(c, h, start, stop)
		return s
	}
	bend, lift := s.bend, s.lift[:len(s.bend)]
	for k, q := range c.square[:len(bend)] {
		// A decaying mode: it lies between its ends.
		y, most := s.half*q*start[k], start[k]-stop[k]
		if x := -real(c.lambda[k]) * h; x > steep {
			y = x*start[k] - most
		}
		if y <= 4*most { // a bend of q·u·(1 − u) rises by q/4
			bend[k], lift[k] = y, 0
		} else {
			bend[k], lift[k], s.lifted = 0, most, true
		}
	}
	return s
}

// paired sets bends and lifts where some modes are pairs.
func (s *span) paired(c *combination, h float64, start, stop []float64) {
	bend, lift, end := s.bend[:c.n], s.lift[:c.n], s.end[:c.n]
	for k := 0; k < c.n; k++ {
		from, most := start[k], start[k]-stop[k]
		pair := c.pair[k]
		if pair { // below its envelope
			from = math.Sqrt(start[k]*start[k] + start[k+1]*start[k+1])
			most = from
		}
		y := s.half * c.square[k] * from
		if x := -real(c.lambda[k]) * h; x > steep && !pair {
			y = x*from - most
		}
		if y <= 4*most {
			bend[k], lift[k] = y, 0
		} else {
			bend[k], lift[k], s.lifted = 0, most, true
			if pair {
				end[k] = math.Sqrt(stop[k]*stop[k] + stop[k+1]*stop[k+1])
			}
		}
		if pair {
			k++
			bend[k], lift[k] = 0, 0
		}
	}
}

// halve leaves those of the open atoms open that are not known to stay below zero
// in two parts of an interval either: most are.
func (f *finder) halve(a, b *place) {
	c := f.at(2)
	f.put(c, f.between(a, b))
	left, right := f.newSpan(a, c), f.newSpan(c, b)
	rest := f.open[:0]
	for _, i := range f.open {
		x := &f.atoms[i]
		fc := dot(x.w, c.phi)
		if fc > 0 ||
			!f.under(x, left, a, c, f.fa[i], fc, dot(x.concave, left.bend)) ||
			!f.under(x, right, c, b, fc, f.fb[i], dot(x.concave, right.bend)) {
			rest = append(rest, i)
		}
	}
	f.open = rest
}

// between returns where an interval is divided: in the logarithm of the time since
// the segment's start, on which the modes live.
func (f *finder) between(a, b *place) float64 {
	since, h := a.t-f.seg.T0, b.t-a.t
	if fastest := f.seg.c.fastest; fastest > 0 {
		since += 0.3 / fastest
	}
	t := f.seg.T0 + math.Sqrt(since*(b.t-f.seg.T0))
	return min(max(t, a.t+h/16), a.t+h/2)
}

// below reports whether f, at most zero at both ends, stays so between them.
func (f *finder) below(x *atom, a, b *place, fa, fb float64) bool {
	s := f.spanOf(a, b)
	return f.under(x, s, a, b, fa, fb, dot(x.concave, s.bend))
}

// under is below with the modes' bend known. Terms are bounded by their chord
// and their curvature or, where that is less, by the most that they come to:
// f lies under
//
//	fa·(1 − u) + fb·u + q·u·(1 − u),  0 ≤ u ≤ 1.
//
// A decaying mode with a positive weight is convex and stays below its chord, a
// pair stays below its envelope, which is convex.
func (f *finder) under(x *atom, s *span, a, b *place, fa, fb, q float64) bool {
	if s.lifted {
		fa += dot(x.concave, s.lift)
		if c := f.seg.c; c.paired {
			for k, pair := range c.pair {
				if pair && s.lift[k] > 0 {
					fa -= x.w[k]*a.phi[k] + x.w[k+1]*a.phi[k+1]
					fb += x.concave[k]*s.end[k] - x.w[k]*b.phi[k] - x.w[k+1]*b.phi[k+1]
				}
			}
		}
	}
	if clears(fa, fb, q+x.curve*s.half) {
		return true
	}
	// The same with a closer look at what oscillates.
	curve, top, ha, hb := f.harmonics(x, a, b)
	q -= f.relief(x, s, a, b)
	return clears(fa, fb, q+curve*s.half) || clears(fa+top-ha, fb+top-hb, q)
}

// relief returns by how much the bend of an atom's pairs is less than if they
// bent downwards all the time as much as they can: their second derivative is a
// pair too, which lies within its own bend of its ends.
func (f *finder) relief(x *atom, s *span, a, b *place) float64 {
	c := f.seg.c
	if !c.paired {
		return 0
	}
	sum := 0.0
	for k, pair := range c.pair {
		if !pair || s.bend[k] == 0 {
			continue
		}
		l := c.lambda[k]
		re, im := real(l*l), imag(l*l)
		p, q := re*x.w[k]+im*x.w[k+1], re*x.w[k+1]-im*x.w[k]
		down := -(p*a.phi[k] + q*a.phi[k+1])
		if y := -(p*b.phi[k] + q*b.phi[k+1]); y > down {
			down = y
		}
		if down < 0 {
			down = 0
		}
		bend := x.concave[k] * s.bend[k]
		if less := bend - s.half*down - bend*c.square[k]*s.half/4; less > 0 {
			sum += less
		}
	}
	return sum
}

// clears reports whether fa·(1 − u) + fb·u + q·u·(1 − u) stays at or below zero
// for 0 ≤ u ≤ 1, q ≥ 0. Its top is at an end, or (fa + fb)/2 + q/4 + d²/4q.
func clears(fa, fb, q float64) bool {
	if fa > 0 || fb > 0 {
		return false
	}
	d := fb - fa
	return math.Abs(d) >= q || 2*q*(fa+fb)+q*q+d*d <= 0
}

// harmonics bounds the harmonics of an atom between two places: how far their
// second derivative is below zero at most, and what they come to at most; with
// what they are at the two.
func (f *finder) harmonics(x *atom, a, b *place) (curve, top, atA, atB float64) {
	s := f.seg
	j := s.c.n
	for _, r := range s.src.rates {
		sin, cos := x.w[j], x.w[j+1]
		ya := sin*a.phi[j] + cos*a.phi[j+1]
		yb := sin*b.phi[j] + cos*b.phi[j+1]
		most := ya
		if yb > ya {
			most = yb
		}
		// Within half a period it passes its crest only from rising to falling.
		if r*(b.t-a.t) > 3.14 || sin*a.phi[j+1]-cos*a.phi[j] > 0 && sin*b.phi[j+1]-cos*b.phi[j] < 0 {
			most = math.Sqrt(sin*sin + cos*cos)
		}
		if most > 0 {
			curve += r * r * most // y″ = −r²·y
		}
		top, atA, atB = top+most, atA+ya, atB+yb
		j += 2
	}
	return curve, top, atA, atB
}

// monotone reports whether the rate of change of an atom is known to have one
// sign between two places.
func (f *finder) monotone(x *atom, a, b *place) bool {
	if math.Abs(dot(x.dw, a.phi)) >= f.curvature(x, a)*(b.t-a.t) {
		return true
	}
	amp, curve := f.seg.swing(x.dw)
	low, high := f.bounds(x.dw, amp, curve, a, b)
	return low >= 0 || high <= 0
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

// swing bounds the part of w·φ that is neither modes nor constant, and its
// second derivative.
func (s *Segment) swing(w []float64) (amp, curve float64) {
	for h, r := range s.src.rates {
		j := s.c.n + 2*h
		x := math.Sqrt(w[j]*w[j] + w[j+1]*w[j+1])
		amp += x
		curve += x * r * r
	}
	return amp, curve
}
