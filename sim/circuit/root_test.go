package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// bare is a segment with the given modes and no network behind it; a pair's
// eigenvalue stands for its two columns.
func bare(modes []complex128, orders ...int) *Segment {
	c := &combination{}
	for _, l := range modes {
		c.lambda, c.pair = append(c.lambda, l), append(c.pair, imag(l) != 0)
		if imag(l) != 0 {
			c.lambda, c.pair = append(c.lambda, l), append(c.pair, false)
		}
	}
	c.n = len(c.lambda)
	for _, p := range c.pair {
		c.paired = c.paired || p
	}
	for _, l := range c.lambda {
		c.square = append(c.square, real(l)*real(l)+imag(l)*imag(l))
		c.fastest = math.Max(c.fastest, math.Abs(real(l))+math.Abs(imag(l)))
	}
	w := &waveform{omega: 100 * math.Pi, order: orders, sin: make([]float64, len(orders)), cos: make([]float64, len(orders))}
	for _, order := range orders {
		w.rates = append(w.rates, float64(order)*w.omega)
	}
	return &Segment{c: c, src: w}
}

func (s *Segment) sum(w []float64, t float64) float64 {
	phi := make([]float64, s.size())
	s.basis(t, phi)
	return dot(w, phi)
}

// find returns what the finder makes of some sums of modes and sinusoids.
func find(s *Segment, end float64, ws ...[]float64) (float64, bool) {
	var f finder
	f.reset(s)
	for _, w := range ws {
		a := f.next()
		copy(a.w, w)
		f.never(a)
	}
	return f.first(end, &leg{who: -1})
}

// TestFinderAgainstScan compares the first root of random sums of fast and
// slow modes, oscillations and harmonics with a dense scan.
func TestFinderAgainstScan(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	found, none := 0, 0
	for range 400 {
		var modes []complex128
		for range r.IntN(4) {
			modes = append(modes, complex(-math.Pow(10, 1+9*r.Float64()), 0))
		}
		for range r.IntN(2) {
			a := math.Pow(10, 2+4*r.Float64())
			modes = append(modes, complex(-a*r.Float64(), a))
		}
		var orders []int
		for o := 1; o < 30; o += 1 + r.IntN(12) {
			orders = append(orders, o)
		}
		s := bare(modes, orders...)
		s.T0 = 0.004 * r.Float64()
		end := s.T0 + 0.01*r.Float64()
		var ws [][]float64
		for range 1 + r.IntN(4) {
			w := make([]float64, s.size())
			for i := range w {
				w[i] = r.NormFloat64()
			}
			// Below zero at the start, by little or by much.
			w[len(w)-1] -= s.sum(w, s.T0) + math.Pow(10, 1-4*r.Float64())
			ws = append(ws, w)
		}
		positive := func(t float64) bool {
			for _, w := range ws {
				if s.sum(w, t) > 1e-11 {
					return true
				}
			}
			return false
		}
		first := math.Inf(1)
		for d := 1e-13; d < 1e-4 && s.T0+d < end; d *= 1.01 {
			if positive(s.T0 + d) {
				first = s.T0 + d
				break
			}
		}
		for i := 1; i < 20000; i++ {
			at := s.T0 + (end-s.T0)*float64(i)/20000
			if at > first {
				break
			}
			if positive(at) {
				first = at
				break
			}
		}
		at, ok := find(s, end, ws...)
		if ok {
			found++
			most := math.Inf(-1)
			for _, w := range ws {
				most = math.Max(most, s.sum(w, at))
			}
			if !(most > 0) {
				t.Errorf("modes %v: nothing true at the root %.15g, the largest is %g", modes, at, most)
			}
		} else {
			none++
			at = end
		}
		if at > first+1e-12 {
			t.Errorf("modes %v, orders %v from %g: root found at %.15g, the scan saw one before %.15g", modes, orders, s.T0, at, first)
		}
	}
	if found < 100 || none < 20 {
		t.Errorf("found %d roots and %d segments without, expected many of both", found, none)
	}
}

// TestFinderTwoRootsInAStep: a signal that is above its threshold for 90 ps to
// 0.3 µs only, near the top of a sinusoid.
func TestFinderTwoRootsInAStep(t *testing.T) {
	for _, eps := range []float64{1e-9, 1e-11, 1e-13, 1e-14} {
		for _, phase := range []float64{0.3, 1, 2.2} {
			s := bare(nil, 1)
			// sin(ωt + phase) − 1 + eps
			w := []float64{math.Cos(phase), math.Sin(phase), -1 + eps}
			if phase > math.Pi/2 { // past the top: wait for the next
				w[0], w[1] = -w[0], -w[1]
			}
			top := (math.Pi/2 - phase) / (100 * math.Pi)
			if top < 0 {
				top += 0.01
			}
			half := math.Sqrt(2*eps) / (100 * math.Pi)
			at, ok := find(s, 0.01, w)
			if !ok {
				t.Errorf("height %g, phase %g: missed a peak %.2g s wide", eps, phase, 2*half)
				continue
			}
			// Rounding of 1e-16 in the height moves the root.
			near(t, fmt.Sprintf("height %g, phase %g", eps, phase), at, top-half, 1, 1e-12+1e-15/(eps+1e-300)*half)
		}
	}
	s := bare(nil, 1)
	if at, ok := find(s, 0.01, []float64{1, 0, -1 - 1e-12}); ok {
		t.Errorf("found a root at %g of a peak that stays below its threshold", at)
	}
}

// TestFinderFastAndSlow: a mode of 0.1 ns lifts a signal above its threshold
// for an instant at the start of a segment of 10 ms; roots follow one another
// at once.
func TestFinderFastAndSlow(t *testing.T) {
	// exp(−t/a) − exp(−t/b) peaks at ln(b/a)·ab/(b−a)... with a = 1 ns and
	// b = 0.1 ns; its root with 0.5 is known from Newton's method below.
	a, b := 1e-9, 1e-10
	s := bare([]complex128{complex(-1/a, 0), complex(-1/b, 0)}, 1)
	at, ok := find(s, 0.01, []float64{1, -1, 0, 0, -0.5})
	x := 1e-11
	for range 50 {
		f := math.Exp(-x/a) - math.Exp(-x/b) - 0.5
		x -= f / (-math.Exp(-x/a)/a + math.Exp(-x/b)/b)
	}
	if !ok {
		t.Fatal("missed a pulse of a nanosecond")
	}
	near(t, "root of the pulse", at, x, 1, 1e-12)
	if _, ok := find(s, 0.01, []float64{1, -1, 0, 0, -0.7}); ok {
		t.Error("found a root of a pulse that stays below its threshold")
	}
	// After the pulse only the slow part is left.
	at, ok = find(s, 0.01, []float64{-3, -1, 1, 0, -0.5})
	if !ok {
		t.Fatal("missed the slow part")
	}
	near(t, "root of the sine", at, math.Pi/6/(100*math.Pi), 1, 1e-12)
}

// TestFinderEnds: a root just before the end counts, one just after does not;
// without thresholds the segment runs to its end.
func TestFinderEnds(t *testing.T) {
	s := bare(nil, 1)
	w := []float64{1, 0, -0.5}
	root := math.Pi / 6 / (100 * math.Pi)
	if at, ok := find(s, root+3e-12, w); !ok || at < root {
		t.Errorf("root just before the end: found %v at %.15g", ok, at)
	}
	if at, ok := find(s, root-3e-12, w); ok || at != root-3e-12 {
		t.Errorf("root just after the end: found %v at %.15g", ok, at)
	}
	if at, ok := find(s, 0.01); ok || at != 0.01 {
		t.Errorf("without thresholds: found %v at %g", ok, at)
	}
	// The earliest of several thresholds wins.
	at, ok := find(s, 0.01, []float64{1, 0, -0.9}, w, []float64{1, 0, -0.7})
	if !ok {
		t.Fatal("missed all of three thresholds")
	}
	near(t, "first of three", at, root, 1, 1e-12)
}

// TestForesee: a guess at the root, right or wrong, changes nothing but the way
// to it. Guesses are all instants at which an atom rises above zero, most of them
// after others or the same one have done so.
func TestForesee(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 12))
	right, wrong := 0, 0
	for range 300 {
		modes := []complex128{complex(-math.Pow(10, 2+5*r.Float64()), 0)}
		if r.IntN(2) == 0 {
			a := math.Pow(10, 3+2*r.Float64())
			modes = append(modes, complex(-a*r.Float64(), a))
		}
		s := bare(modes, 1, 2+r.IntN(9))
		s.T0 = 0.004 * r.Float64()
		end := s.T0 + 0.009*r.Float64()
		var ws [][]float64
		for range 3 {
			w := make([]float64, s.size())
			for i := range w {
				w[i] = r.NormFloat64()
			}
			w[len(w)-1] -= s.sum(w, s.T0) + math.Pow(10, 1-3*r.Float64())
			ws = append(ws, w)
		}
		want, ok := find(s, end, ws...)
		if !ok {
			continue
		}
		for who, w := range ws {
			const steps = 3000
			before := s.T0
			for i := 1; i <= steps; i++ {
				at := s.T0 + (end-s.T0)*float64(i)/steps
				if s.sum(w, before) > 0 || s.sum(w, at) <= 0 {
					before = at
					continue
				}
				low, high := before, at
				for high-low > 1e-15 {
					if mid := (low + high) / 2; s.sum(w, mid) > 0 {
						high = mid
					} else {
						low = mid
					}
				}
				before = at
				var f finder
				f.reset(s)
				for i, w := range ws {
					a := f.next()
					copy(a.w, w)
					f.never(a)
					a.label = i
				}
				got, ok := f.first(end, &leg{who: who, lasted: high - s.T0 + 1e-9*r.NormFloat64()})
				if !ok || math.Abs(got-want) > 1e-12 {
					t.Fatalf("modes %v, guess %.15g: found %v at %.15g, expected %.15g", modes, high, ok, got, want)
				}
				if math.Abs(high-want) < 1e-12 {
					right++
				} else {
					wrong++
				}
			}
		}
	}
	if right < 100 || wrong < 100 {
		t.Errorf("%d guesses were right and %d wrong, expected many of both", right, wrong)
	}
}
