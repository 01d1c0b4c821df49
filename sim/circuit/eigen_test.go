package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// passive draws the rate matrix of a passive network in energy scaling, of
// capacitors and of inductors: those of a kind act on each other alike, those of
// two kinds with opposite signs, and none gains energy. Rates spread over the
// given decades.
func passive(r *rand.Rand, capacitors, inductors int, decades float64) []float64 {
	n := capacitors + inductors
	a := make([]float64, n*n)
	scale := make([]float64, n)
	for i := range scale {
		scale[i] = math.Pow(10, decades*r.Float64()/2)
	}
	for range 2 * n { // a loss in some direction
		x := make([]float64, n)
		for i := range x {
			if r.IntN(2) == 0 {
				x[i] = r.NormFloat64() * scale[i]
			}
		}
		for i := range n {
			for j := range n {
				if (i < capacitors) == (j < capacitors) {
					a[i*n+j] -= x[i] * x[j]
				}
			}
		}
	}
	for i := range capacitors {
		for j := capacitors; j < n; j++ {
			x := r.NormFloat64() * scale[i] * scale[j]
			a[i*n+j], a[j*n+i] = x, -x
		}
	}
	return a
}

// residual returns the largest |A·v − λ·v| of the modes found.
func (e *spectrum) residual(a []float64) float64 {
	n, most := e.n, 0.0
	for k := 0; k < n; k++ {
		pair := imag(e.values[k]) != 0
		v := func(i int) complex128 {
			if pair {
				return complex(e.vectors[i*n+k], e.vectors[i*n+k+1])
			}
			return complex(e.vectors[i*n+k], 0)
		}
		for i := range n {
			s := -e.values[k] * v(i)
			for j := range n {
				s += complex(a[i*n+j], 0) * v(j)
			}
			most = math.Max(most, cmplx.Abs(s))
		}
		if pair {
			k++
		}
	}
	return most
}

func sorted(v []complex128) []complex128 {
	v = slices.Clone(v)
	slices.SortFunc(v, func(a, b complex128) int {
		switch {
		case real(a) < real(b):
			return -1
		case real(a) > real(b):
			return 1
		case imag(a) < imag(b):
			return -1
		}
		return 1
	})
	return v
}

// TestSpectrumAgainstGonum compares the eigenvalues of random networks with
// gonum's, which balances and takes LAPACK's way, and looks whether the
// eigenvectors are ones.
func TestSpectrumAgainstGonum(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	var e spectrum
	pairs := 0
	for n := 1; n <= 12; n++ {
		for try := range 60 {
			inductors := r.IntN(n + 1)
			if try%3 == 0 {
				inductors = 0
			}
			a := passive(r, n-inductors, inductors, []float64{0, 1, 3, 8}[try%4])
			what := fmt.Sprintf("%d capacitors and %d inductors, try %d", n-inductors, inductors, try)
			given := slices.Clone(a)
			solve := e.general
			if inductors == 0 || inductors == n {
				solve = e.symmetric
			}
			if !solve(a, n) {
				t.Fatalf("%s: did not converge", what)
			}
			if !slices.Equal(a, given) {
				t.Fatalf("%s: changed the matrix it was given", what)
			}
			norm := frobenius(a) + 1e-300
			if x := e.residual(a); !(x < 1e-14*float64(n)*norm) {
				t.Errorf("%s: found A·v − λ·v of %g beside a norm of %g", what, x, norm)
			}
			for k := 0; k < n; k++ {
				square, pair := 0.0, imag(e.values[k]) != 0
				for i := range n {
					square += e.vectors[i*n+k] * e.vectors[i*n+k]
					if pair {
						square += e.vectors[i*n+k+1] * e.vectors[i*n+k+1]
					}
				}
				near(t, what+": length of an eigenvector", square, 1, 1, 1e-13)
				if pair {
					pairs++
					if imag(e.values[k]) < 0 || e.values[k+1] != cmplx.Conj(e.values[k]) {
						t.Fatalf("%s: found eigenvalues %v and %v next to each other, expected a conjugate pair", what, e.values[k], e.values[k+1])
					}
					k++
				}
			}
			// What the library finds is put in the same form.
			if x := new(spectrum); !x.library(a, n) || x.residual(a) > 1e-13*float64(n)*norm {
				t.Errorf("%s: found no modes by the library", what)
			}
			var want mat.Eigen
			if !want.Factorize(mat.NewDense(n, n, given), mat.EigenRight) {
				t.Fatalf("%s: gonum found no eigenvalues", what)
			}
			// As far as the eigenvalues are sharp: a pair of them about to
			// merge moves by the root of what the matrix does.
			var right mat.CDense
			want.VectorsTo(&right)
			basis := mat.NewDense(n, n, nil)
			for k := 0; k < n; k++ {
				for i := range n {
					if v := right.At(i, k); imag(want.Values(nil)[k]) < 0 {
						basis.Set(i, k, imag(v))
					} else {
						basis.Set(i, k, real(v))
					}
				}
			}
			sharp := mat.Cond(basis, 2)
			got, from := sorted(e.values), sorted(want.Values(nil))
			for k := range got {
				if d := cmplx.Abs(got[k] - from[k]); !(d < 1e-15*float64(n)*norm*sharp) {
					t.Errorf("%s: found eigenvalue %v, gonum %v, condition %g", what, got[k], from[k], sharp)
				}
			}
		}
	}
	if pairs < 100 {
		t.Errorf("drew %d conjugate pairs, expected hundreds", pairs)
	}
}

// TestSpectrumOfKnown takes matrices whose eigenvalues are known in closed form,
// shift-cycling ones among them.
func TestSpectrumOfKnown(t *testing.T) {
	var e spectrum
	for _, c := range []struct {
		a    []float64
		n    int
		want []complex128
	}{
		{[]float64{-3}, 1, []complex128{-3}},
		{[]float64{0, 1, -1, 0}, 2, []complex128{-1i, 1i}},
		{[]float64{0, 0, 1, 1, 0, 0, 0, 1, 0}, 3, []complex128{complex(-0.5, -math.Sqrt(3)/2), complex(-0.5, math.Sqrt(3)/2), 1}},
		{[]float64{0, 0, 0, 1, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0}, 4, []complex128{-1, -1i, 1i, 1}},
		{[]float64{0, 0, 0, 0, 0, 0, 0, 0, 0}, 3, []complex128{0, 0, 0}},
		{[]float64{-1, 5, 7, 0, -2, 3, 0, 0, -4}, 3, []complex128{-4, -2, -1}},
		{[]float64{-1e12, 1, 1, -1}, 2, []complex128{-1e12 - 1e-12, -1 + 1e-12}},
		{[]float64{-1, 1, 1, -1}, 2, []complex128{-2, 0}},
		{[]float64{-4, 2, 2, 2, -1, -1, 2, -1, -1}, 3, []complex128{-6, 0, 0}},
	} {
		if !e.general(c.a, c.n) {
			t.Fatalf("%v: did not converge", c.a)
		}
		got := sorted(e.values)
		for k, w := range c.want {
			if cmplx.Abs(got[k]-w) > 1e-14*cmplx.Abs(w)+1e-15 {
				t.Errorf("%v: found eigenvalue %v, expected %v", c.a, got[k], w)
			}
		}
		if a := mat.NewDense(c.n, c.n, c.a); !mat.Equal(a, a.T()) {
			continue
		}
		if !e.symmetric(c.a, c.n) {
			t.Fatalf("%v: did not converge as a symmetric one", c.a)
		}
		for k, l := range sorted(e.values) {
			if cmplx.Abs(l-c.want[k]) > 1e-14*cmplx.Abs(c.want[0])+1e-15 {
				t.Errorf("%v: found eigenvalue %v as a symmetric one, expected %v", c.a, l, c.want[k])
			}
		}
	}
	if e.library([]float64{0, 1, -1, 0}, 2); imag(e.values[0]) != 1 || e.residual([]float64{0, 1, -1, 0}) > 1e-15 {
		t.Errorf("found eigenvalues %v by the library, expected ±i", e.values)
	}
	nan := []float64{math.NaN(), 1, 2, 3, 4, 5, 6, 7, 8}
	if e.general(nan, 3) || e.symmetric(nan, 3) {
		t.Error("found eigenvalues of a matrix that is not one")
	}
}

func BenchmarkSpectrum(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 11))
	a := passive(r, 3, 2, 2)
	var e spectrum
	for b.Loop() {
		e.general(a, 5)
	}
	b.ReportAllocs()
}

func BenchmarkSpectrumSymmetric(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 11))
	a := passive(r, 5, 0, 2)
	var e spectrum
	for b.Loop() {
		e.symmetric(a, 5)
	}
	b.ReportAllocs()
}
