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
	for _, n := range []int{1, 2, 3, 7, 20, 45, 70} {
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
			// Some unknowns alone are what they are among all.
			clear(b)
			b[r.IntN(n)], b[r.IntN(n)] = 1, -1
			some, asked, y := make([]uint64, (n+63)/64), []int{r.IntN(n), r.IntN(n)}, make([]complex128, n)
			for _, i := range asked {
				e.needed(some, i)
			}
			e.solve(b, x)
			e.solveSome(b, y, some)
			for _, i := range asked {
				if x[i] != y[i] {
					t.Errorf("n = %d, unknown %d alone: found %v, expected %v", n, i, y[i], x[i])
				}
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

// TestPhasor: the response of a combination's states solves (jω − A)·X = b, also
// where the first pivot is zero.
func TestPhasor(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 3))
	for n := range 9 {
		c := &combination{n: n, a: make([]float64, n*n), be: make([]float64, n)}
		for i := range c.a {
			c.a[i] = r.NormFloat64() * math.Exp(3*r.NormFloat64())
		}
		for i := range c.be {
			c.be[i] = r.NormFloat64()
		}
		omega := 2.0
		if n > 1 {
			c.a[0], omega = 0, 0
		}
		x, err := c.phasor(omega, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := range n {
			sum, size := complex(0, omega)*x[i], cmplx.Abs(x[i])*omega
			for j, v := range x {
				y := complex(c.a[i*n+j], 0) * v
				sum, size = sum-y, size+cmplx.Abs(y)
			}
			if d := cmplx.Abs(sum - complex(c.be[i], 0)); d > 1e-12*(size+1) {
				t.Errorf("equation %d of %d: found %v, expected %v", i, n, sum, c.be[i])
			}
		}
	}
	if _, err := (&combination{n: 2, a: make([]float64, 4), be: make([]float64, 2)}).phasor(0, nil); err == nil {
		t.Error("found a response of nothing, expected an error")
	}
}
