package circuit

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestPhasorsAgainstLU compares the sparse factors with gonum's LU of the real
// and imaginary parts side by side, on random matrices mostly of zeros whose
// rows differ by up to 10¹² in size, as milliohms and gigohms do.
func TestPhasorsAgainstLU(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for _, n := range []int{1, 2, 3, 7, 20, 45} {
		for _, spread := range []float64{0, 3, 6} {
			e := newPhasorMatrix(n)
			whole := mat.NewDense(2*n, 2*n, nil)
			b := make([]complex128, n)
			right := mat.NewVecDense(2*n, nil)
			for i := range n {
				size := math.Pow(10, spread*(2*r.Float64()-1))
				for j := range n {
					if i != j && r.IntN(5) != 0 {
						continue
					}
					z := complex(size*r.NormFloat64(), size*r.NormFloat64())
					e.add(i, j, z)
					whole.Set(i, j, real(z))
					whole.Set(i, n+j, -imag(z))
					whole.Set(n+i, j, imag(z))
					whole.Set(n+i, n+j, real(z))
				}
				b[i] = complex(r.NormFloat64(), r.NormFloat64())
				right.SetVec(i, real(b[i]))
				right.SetVec(n+i, imag(b[i]))
			}
			e.add(-1, 0, 1) // the reference has no equation
			e.add(0, -1, 1)
			var lu mat.LU
			lu.Factorize(whole)
			var want mat.VecDense
			if err := lu.SolveVecTo(&want, false, right); err != nil && math.IsInf(lu.Cond(), 1) {
				continue // drew a singular one
			}
			if !e.factor() {
				t.Fatalf("n = %d, spread %g: found no pivot, gonum's condition number is %g", n, spread, lu.Cond())
			}
			x := make([]complex128, n)
			e.solve(b, x)
			scale := mat.Max(&want) - mat.Min(&want) + 1e-300
			for i := range n {
				d := cmplx.Abs(x[i] - complex(want.AtVec(i), want.AtVec(n+i)))
				near(t, "distance from gonum's solution", d, 0, scale, 1e-15*math.Max(100, lu.Cond()))
			}
		}
	}
}

// A matrix without a pivot, or with something that is no number, has no
// factors.
func TestPhasorsSingular(t *testing.T) {
	for _, a := range [][4]complex128{{0, 0, 0, 1}, {1, 2i, -1i, 2}, {1, 0, 0, 0}, {cmplx.NaN(), 1, 1, 1}} {
		e := newPhasorMatrix(2)
		for i, v := range a {
			e.add(i/2, i%2, v)
		}
		if e.factor() {
			t.Errorf("found factors of %v, expected none", a)
		}
	}
	e := newPhasorMatrix(2)
	e.add(0, 1, 1)
	e.add(1, 0, 1i)
	if !e.factor() {
		t.Error("found no factors of a matrix that only needs its rows exchanged")
	}
}
