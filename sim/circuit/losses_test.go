package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// TestForms compares sums of squares as forms with the plain formula, at every
// width.
func TestForms(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 7))
	random := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		return x
	}
	for n := 1; n <= 12; n++ {
		form, x := make([]float64, triangle(n)), random(n)
		want := 0.0
		for range 5 {
			y, k := random(n), r.Float64()
			addSquare(form, y, k)
			want += k * math.Pow(mat.Dot(mat.NewVecDense(n, x), mat.NewVecDense(n, y)), 2)
		}
		got := 0.0
		for i := range n {
			for j := range i + 1 {
				got += form[productAt(i, j)] * x[i] * x[j]
			}
		}
		near(t, "form", got, want, want, 1e-13)
	}
}

// TestCombine compares the weighted sum of rows with gonum's product.
func TestCombine(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 9))
	for count := 0; count <= 9; count++ {
		for n := 1; n <= 9; n++ {
			from, rows, to := make([]float64, count), make([]float64, count*n), make([]float64, n)
			for i := range from {
				from[i] = r.NormFloat64()
			}
			for i := range rows {
				rows[i] = r.NormFloat64()
			}
			weigh(to, from, rows)
			if count == 0 {
				if floats.Norm(to, 1) != 0 {
					t.Errorf("found %v of no rows, expected zeros", to)
				}
				continue
			}
			var want mat.VecDense
			want.MulVec(mat.NewDense(count, n, rows).T(), mat.NewVecDense(count, from))
			for i, x := range to {
				near(t, "sum", x, want.AtVec(i), 1, 1e-13)
			}
		}
	}
}
