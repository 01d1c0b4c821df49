package heat

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// product returns the coefficients of c·Π (s − root).
func product(c float64, roots ...float64) []float64 {
	a := []float64{c}
	for _, r := range roots {
		b := make([]float64, len(a)+1)
		for i, v := range a {
			b[i] -= r * v
			b[i+1] += v
		}
		a = b
	}
	return a
}

// Polynomials written down by their roots, so that the first rise is known.
func TestRise(t *testing.T) {
	for _, c := range []struct {
		name string
		a    []float64
		want float64
		ok   bool
	}{
		{"constant below", []float64{-1}, 0, false},
		{"zero", []float64{0, 0, 0}, 0, false},
		{"above already", []float64{1e-300, -1}, 0, true},
		{"zero and falling", []float64{0, -1}, 0, false},
		{"zero and rising", []float64{0, 0, 1}, 0, true},
		{"zero, falling, rising later", product(1, 0, 0.25), 0.25, true},
		{"straight", []float64{-1, 4}, 0.25, true},
		{"zero at the very end, not positive", []float64{-1, 1}, 0, false},
		{"not reached", []float64{-1, 0.999}, 0, false},
		{"up and down again inside", product(-1, 0.5, 0.51), 0.5, true},
		// Rounding the coefficients moves such roots by 1e-16/1e-6.
		{"up and down within a millionth", product(-1, 0.3, 0.300001), 0.3, true},
		{"touching from below", product(-1, 0.4, 0.4), 0, false},
		{"three roots", product(1, 0.2, 0.6, 0.9), 0.2, true},
		{"beyond the end", product(1, 1.01), 0, false},
		{"five roots", product(1, 0.1, 0.15, 0.5, 0.8, 0.81), 0.1, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, ok := rise(slices.Clone(c.a))
			if ok != c.ok || math.Abs(s-c.want) > 1e-10 {
				t.Errorf("found %.15g, %t, expected %.15g, %t", s, ok, c.want, c.ok)
			}
		})
	}
}

// Against the plain way: look at very many places.
func TestRiseAgainstSampling(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SliceOfN(rapid.Float64Range(-1, 1), 2, 14).Draw(t, "coefficients")
		a[0] = -math.Abs(a[0]) - 1e-6
		value := func(s float64) float64 {
			v := 0.0
			for k := len(a) - 1; k >= 0; k-- {
				v = v*s + a[k]
			}
			return v
		}
		const places = 2000
		want := math.Inf(1)
		for k := range places + 1 {
			if s := float64(k) / places; value(s) > 1e-12 {
				want = s
				break
			}
		}
		s, ok := rise(slices.Clone(a))
		if ok && math.Abs(value(s)) > 1e-12 {
			t.Fatalf("found a value of %g at %g, expected 0", value(s), s)
		}
		if !ok {
			s = math.Inf(1)
		}
		if s > want {
			t.Fatalf("found the first rise at %g, expected it by %g", s, want)
		}
		if ok && s < want-1.0/places { // between two places: it must come down again
			if v := value(s + 1e-7); v < -1e-9 {
				t.Fatalf("found %g after the rise at %g, expected more than 0", v, s)
			}
		}
	})
}
