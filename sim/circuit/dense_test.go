package circuit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestInvert compares inverses with gonum's, of random matrices whose rows differ by
// up to 10¹² in size, as milliohms and gigohms do.
func TestInvert(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for _, n := range []int{1, 2, 3, 5, 7, 20} {
		for _, spread := range []float64{0, 3, 6} {
			a := make([]float64, n*n)
			for i := range n {
				row := math.Pow(10, spread*(2*r.Float64()-1))
				for j := range n {
					if i == j || r.IntN(3) == 0 {
						a[i*n+j] = row * r.NormFloat64()
					}
				}
			}
			var lu mat.LU
			lu.Factorize(mat.NewDense(n, n, slices.Clone(a)))
			var want mat.Dense
			if err := lu.SolveTo(&want, false, eye(n)); err != nil && math.IsInf(lu.Cond(), 1) {
				continue // drew a singular one
			}
			got := slices.Clone(a)
			if !invert(got, n, make([]int, n)) {
				t.Fatalf("n = %d, spread %g: found none, gonum's condition number is %g", n, spread, lu.Cond())
			}
			for j := range n { // by columns, which rows of a scale
				scale := mat.Norm(want.ColView(j), math.Inf(1))
				for i := range n {
					near(t, "inverse", got[i*n+j], want.At(i, j), scale, 1e-15*math.Max(100, lu.Cond()))
				}
			}
		}
	}
}

func eye(n int) *mat.Dense {
	m := mat.NewDense(n, n, nil)
	for i := range n {
		m.Set(i, i, 1)
	}
	return m
}

// TestInvertSingular: a matrix without an inverse is told.
func TestInvertSingular(t *testing.T) {
	for _, a := range [][]float64{{0}, {1, 2, 2, 4}, {math.NaN()}, {1, 0, 0, 0, 0, 1, 0, 0, 1}} {
		n := int(math.Sqrt(float64(len(a))))
		if got := slices.Clone(a); invert(got, n, make([]int, n)) {
			t.Errorf("found an inverse of %v", a)
		}
	}
}
