package heat

import "math"

// bernstein holds the coefficients of a polynomial in the Bernstein basis of
// an interval.
type bernstein [maxOrder + 2]float64

// rise returns the smallest s in [0, 1] at which the polynomial
// a_0 + a_1 s + … + a_n s^n becomes positive, and false where it never does.
// A polynomial that starts at exactly zero counts as positive only once it
// rises; one that touches zero from below and turns away doesn't rise.
//
// No root is missed: the number of roots in an interval is at most the number
// of sign changes of the Bernstein coefficients there, and of the same parity
// (variation diminishing; R. T. Farouki, "The Bernstein polynomial basis: a
// centennial retrospective", Comput. Aided Geom. Des. 29 (2012) 379-419).
// Intervals with several are halved until each holds one or none. a is
// overwritten.
func rise(a []float64) (float64, bool) {
	for len(a) > 0 && a[0] == 0 {
		a = a[1:] // divide by s, which is positive
	}
	switch {
	case len(a) == 0:
		return 0, false
	case a[0] > 0:
		return 0, true
	}
	up := 0.0
	for _, c := range a[1:] {
		up += max(c, 0)
	}
	if up <= -a[0] {
		return 0, false
	}
	// b_j = Σ_{i ≤ j} C(j,i)/C(n,i) a_i, by repeated sums of the scaled
	// coefficients a_i/C(n,i).
	n := len(a) - 1
	var b bernstein
	binomial := 1.0
	for i := range a {
		b[i] = a[i] / binomial
		binomial *= float64(n-i) / float64(i+1)
	}
	for pass := 1; pass <= n; pass++ {
		for j := n; j >= pass; j-- {
			b[j] += b[j-1]
		}
	}
	size := 0.0
	for _, c := range a {
		size += math.Abs(c)
	}
	return firstRoot(a, &b, n, 0, 1, 1e-15*size)
}

// firstRoot looks for the first rise in (lo, hi], where b holds the
// coefficients of a there and the polynomial isn't positive at lo. Where all
// of them are below noise, the polynomial touches zero as far as anyone can
// tell, and what lies behind decides.
func firstRoot(a []float64, b *bernstein, n int, lo, hi, noise float64) (float64, bool) {
	changes, sign, largest := 0, -1.0, 0.0
	for _, v := range b[:n+1] {
		if v*sign < 0 {
			changes++
			sign = -sign
		}
		largest = max(largest, math.Abs(v))
	}
	switch {
	case changes == 0 || largest <= noise:
		return 0, false
	case changes == 1:
		return refine(a, lo, hi), true
	}
	mid := (lo + hi) / 2
	var left bernstein
	right := *b
	for j := 0; j <= n; j++ { // de Casteljau at one half
		left[j] = right[0]
		for i := 0; i < n-j; i++ {
			right[i] = (right[i] + right[i+1]) / 2
		}
	}
	if s, ok := firstRoot(a, &left, n, lo, mid, noise); ok {
		return s, true
	}
	return firstRoot(a, &right, n, mid, hi, noise)
}

// refine returns the only root in (lo, hi] of a polynomial that isn't
// positive at lo, by Newton steps kept inside a shrinking bracket.
func refine(a []float64, lo, hi float64) float64 {
	s := (lo + hi) / 2
	for range 200 {
		v, d := 0.0, 0.0
		for k := len(a) - 1; k >= 0; k-- {
			d = d*s + v
			v = v*s + a[k]
		}
		if v > 0 {
			hi = s
		} else {
			lo = s
		}
		next := s - v/d
		if !(next > lo && next < hi) { // also where d is zero
			next = (lo + hi) / 2
		}
		if math.Abs(next-s) <= 1e-16 || next == lo || next == hi {
			break
		}
		s = next
	}
	return s
}
