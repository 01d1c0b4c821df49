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
			e.solve(b, x, 0)
			scale := mat.Max(&want) - mat.Min(&want) + 1e-300
			for i := range n {
				d := cmplx.Abs(x[i] - complex(want.AtVec(i), want.AtVec(n+i)))
				near(t, "distance from gonum's solution", d, 0, scale, 1e-15*math.Max(100, lu.Cond()))
			}
		}
	}
}

// TestPortImpedance compares the impedance at a port of random networks of
// admittances, mostly far apart, with the solution for an ampere through it.
func TestPortImpedance(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 2))
	for _, n := range []int{1, 2, 5, 20, 45, 70, 130} {
		e := newPhasorMatrix(n)
		for range 3 * n {
			a, b := r.IntN(n+1)-1, r.IntN(n+1)-1
			y := complex(r.ExpFloat64(), r.NormFloat64()) * complex(math.Pow(10, 6*r.Float64()), 0)
			e.add(a, a, y)
			e.add(b, b, y)
			e.add(a, b, -y)
			e.add(b, a, -y)
		}
		for i := range n {
			e.add(i, i, 1)
		}
		if !e.factor() {
			t.Fatal("found no pivot")
		}
		for range 20 {
			a, b := r.IntN(n+1)-1, r.IntN(n+1)-1
			rhs, x, want := make([]complex128, n), make([]complex128, n), 0i
			if a >= 0 {
				rhs[a]++
			}
			if b >= 0 {
				rhs[b]--
			}
			e.solve(rhs, x, 0)
			if a >= 0 {
				want += x[a]
			}
			if b >= 0 {
				want -= x[b]
			}
			near(t, "distance from the solution at a port", cmplx.Abs(e.impedance(a, b)-want), 0, cmplx.Abs(want)+1e-6, 1e-9)
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
