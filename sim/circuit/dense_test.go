package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestSolveAgainstLU compares factor and solve with gonum's LU on random
// matrices whose rows and columns differ by up to 10¹² in size, as milliohms
// and gigohms do.
func TestSolveAgainstLU(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for _, n := range []int{1, 2, 3, 7, 20, 45} {
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
			const m = 3
			b := make([]float64, n*m)
			for i := range b {
				b[i] = r.NormFloat64()
			}
			var lu mat.LU
			lu.Factorize(mat.NewDense(n, n, append([]float64(nil), a...)))
			var want mat.Dense
			if err := lu.SolveTo(&want, false, mat.NewDense(n, m, append([]float64(nil), b...))); err != nil {
				if c := lu.Cond(); math.IsInf(c, 1) {
					continue // drew a singular one
				}
			}
			f, x, piv := append([]float64(nil), a...), append([]float64(nil), b...), make([]int, n)
			if col := factor(f, n, piv); col >= 0 {
				t.Fatalf("n = %d, spread %g: no pivot in column %d, gonum's condition number is %g", n, spread, col, lu.Cond())
			}
			solve(f, n, piv, x, m)
			scale := mat.Max(&want) - mat.Min(&want) + 1e-300
			tol := 1e-15 * math.Max(100, lu.Cond())
			for i := range n {
				for j := range m {
					near(t, "solution", x[i*m+j], want.At(i, j), scale, tol)
				}
			}
		}
	}
}

func TestFactorSingular(t *testing.T) {
	for _, c := range []struct {
		a    []float64
		n    int
		want int
	}{
		{[]float64{0}, 1, 0},
		{[]float64{1, 2, 2, 4}, 2, 1},
		{[]float64{1, 0, 0, 0, 0, 0, 0, 0, 1}, 3, 1},
		{[]float64{math.NaN(), 1, 1, 1}, 2, 0},
		{[]float64{0, 1, 1, 0}, 2, -1}, // needs an exchange, no more
	} {
		if got := factor(append([]float64(nil), c.a...), c.n, make([]int, c.n)); got != c.want {
			t.Errorf("factor of %v: no pivot in column %d, want %d", c.a, got, c.want)
		}
	}
}
