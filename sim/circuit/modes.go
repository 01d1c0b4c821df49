package circuit

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// spectralBound bounds |λ| of all modes by the largest absolute row sum of A
// in energy scaling.
func (c *combination) spectralBound(net *netlist) float64 {
	most := 0.0
	for i := range c.n {
		si := net.branches[net.states[c.active[i]]].store
		sum := 0.0
		for j := range c.n {
			sj := net.branches[net.states[c.active[j]]].store
			sum += math.Abs(c.a[i*c.n+j]) * math.Sqrt(si/sj)
		}
		most = math.Max(most, sum)
	}
	return most
}

// modal returns the combination of key k with its modes found.
func (p *params) modal(k key) (*combination, error) {
	c, err := p.combination(k)
	if err != nil || c.ready {
		return c, err
	}
	if err := c.decompose(p.net, c.a, c.be, c.kc); err != nil {
		return nil, fmt.Errorf("%s: %w", p.describe(k), err)
	}
	c.ready = true
	return c, nil
}

// decompose finds the modes of A. The states are scaled by the square root of
// their store, in which an RC or an RL network is symmetric. Where two modes
// fall so close together that their shapes cannot be told apart, the stores
// are shifted by parts in 10⁹ until they can.
func (c *combination) decompose(net *netlist, a, be, kc []float64) error {
	n := c.n
	for _, x := range [][]float64{a, be, kc} {
		for _, y := range x {
			if math.IsNaN(y) || math.IsInf(y, 0) {
				return fmt.Errorf("found a rate of %v in the network's equations, expected a finite one", y)
			}
		}
	}
	c.unit = map[int][]complex128{}
	c.unitDC, c.constant = make([]float64, n), make([]float64, n)
	if n == 0 {
		return nil
	}
	scale := make([]float64, n)
	for i, s := range c.active {
		scale[i] = math.Sqrt(net.branches[net.states[s]].store)
	}
	var err error
	for try := range 5 {
		eps := 0.0
		if try > 0 {
			eps = 1e-10 * math.Pow(10, float64(try))
		}
		if err = c.eigen(a, scale, eps); err == nil {
			break
		}
	}
	if err != nil {
		return err
	}
	c.square = make([]float64, n)
	for k, l := range c.lambda {
		c.paired = c.paired || c.pair[k]
		c.square[k] = real(l)*real(l) + imag(l)*imag(l)
		c.fastest = math.Max(c.fastest, math.Abs(real(l))+math.Abs(imag(l)))
	}
	c.input(be, kc)
	return nil
}

// limitCondition bounds the condition of the modal basis in energy scaling.
const limitCondition = 1e6

func (c *combination) eigen(a, scale []float64, eps float64) error {
	n := c.n
	as := mat.NewDense(n, n, nil)
	symmetric := true
	for i := 0; i < n; i++ {
		shift := 1 + eps*float64(i+1)
		for j := 0; j < n; j++ {
			as.Set(i, j, a[i*n+j]*scale[i]/scale[j]*shift)
		}
	}
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			x, y := as.At(i, j), as.At(j, i)
			if math.Abs(x-y) > 1e-13*math.Sqrt(math.Abs(as.At(i, i)*as.At(j, j)))+1e-300 {
				symmetric = false
			}
		}
	}
	c.lambda = make([]complex128, n)
	c.pair = make([]bool, n)
	c.vc = make([]complex128, n*n)
	c.v = make([]float64, n*n)
	c.vInv = make([]float64, n*n)
	if symmetric {
		sym := mat.NewSymDense(n, nil)
		for i := 0; i < n; i++ {
			for j := i; j < n; j++ {
				sym.SetSym(i, j, (as.At(i, j)+as.At(j, i))/2)
			}
		}
		var es mat.EigenSym
		if !es.Factorize(sym, true) {
			return fmt.Errorf("the modes of the network did not converge")
		}
		var vec mat.Dense
		es.VectorsTo(&vec)
		for k, l := range es.Values(nil) {
			c.lambda[k] = complex(math.Min(l, 0), 0)
			for i := 0; i < n; i++ {
				x := vec.At(i, k)
				c.v[i*n+k] = x / scale[i]
				c.vInv[k*n+i] = x * scale[i]
				c.vc[i*n+k] = complex(x/scale[i], 0)
			}
		}
		return nil
	}
	var eig mat.Eigen
	if !eig.Factorize(as, mat.EigenRight) {
		return fmt.Errorf("the modes of the network did not converge")
	}
	values := eig.Values(nil)
	var vec mat.CDense
	eig.VectorsTo(&vec)
	vr := make([]float64, n*n)
	for k := 0; k < n; k++ {
		l := values[k]
		if real(l) > 0 { // a passive network: rounding only
			l = complex(0, imag(l))
		}
		c.lambda[k] = l
		for i := 0; i < n; i++ {
			z := vec.At(i, k)
			c.vc[i*n+k] = z / complex(scale[i], 0)
		}
		switch {
		case imag(l) == 0:
			for i := 0; i < n; i++ {
				vr[i*n+k] = real(vec.At(i, k))
			}
		case k+1 < n && imag(l) > 0:
			c.pair[k] = true
			for i := 0; i < n; i++ {
				z := vec.At(i, k)
				vr[i*n+k], vr[i*n+k+1] = real(z), imag(z)
			}
			c.lambda[k+1] = l
			for i := 0; i < n; i++ {
				c.vc[i*n+k+1] = cmplx.Conj(c.vc[i*n+k])
			}
			k++
		default:
			return fmt.Errorf("found an unpaired complex mode %v", l)
		}
	}
	inv := make([]float64, n*n)
	lu := append([]float64(nil), vr...)
	piv := make([]int, n)
	if factor(lu, n, piv) >= 0 {
		return errDegenerate
	}
	for i := 0; i < n; i++ {
		inv[i*n+i] = 1
	}
	solve(lu, n, piv, inv, n)
	if frobenius(vr)*frobenius(inv) > limitCondition {
		return errDegenerate
	}
	for i := 0; i < n; i++ {
		for k := 0; k < n; k++ {
			c.v[i*n+k] = vr[i*n+k] / scale[i]
			c.vInv[k*n+i] = inv[k*n+i] * scale[i]
		}
	}
	return nil
}

var errDegenerate = fmt.Errorf("two modes of the network cannot be told apart")

func frobenius(a []float64) float64 {
	s := 0.0
	for _, x := range a {
		s += x * x
	}
	return math.Sqrt(s)
}

// input computes the responses to constants and keeps the modal input of e.
func (c *combination) input(be, kc []float64) {
	n := c.n
	c.beta = make([]complex128, n)
	kappa := make([]complex128, n)
	for k := 0; k < n; k++ {
		var b, h float64
		for i := 0; i < n; i++ {
			b += c.vInv[k*n+i] * be[i]
			h += c.vInv[k*n+i] * kc[i]
		}
		c.beta[k], kappa[k] = complex(b, 0), complex(h, 0)
	}
	// A pair's real amplitudes (p, q) are the complex amplitude (p − jq)/2 of
	// its first vector and the conjugate of the second.
	for k := 0; k < n; k++ {
		if c.pair[k] {
			for _, z := range [][]complex128{c.beta, kappa} {
				p, q := real(z[k]), real(z[k+1])
				z[k] = complex(p/2, -q/2)
				z[k+1] = complex(p/2, q/2)
			}
			k++
		}
	}
	respond := func(in []complex128, out []float64) {
		for k := 0; k < n; k++ {
			l := c.mode(k)
			if cmplx.Abs(l) < 1e-9 {
				continue // a charge that nothing drives
			}
			a := -in[k] / l
			for i := 0; i < n; i++ {
				out[i] += real(a * c.vc[i*n+k])
			}
		}
	}
	respond(c.beta, c.unitDC)
	respond(kappa, c.constant)
}

// mode returns the eigenvalue of complex column k.
func (c *combination) mode(k int) complex128 {
	if k > 0 && c.pair[k-1] {
		return cmplx.Conj(c.lambda[k])
	}
	return c.lambda[k]
}

// response returns the states' phasor for a source phasor of 1 at angular
// frequency w and harmonic order.
func (c *combination) response(order int, w float64) []complex128 {
	if x, ok := c.unit[order]; ok {
		return x
	}
	n := c.n
	x := make([]complex128, n)
	for k := 0; k < n; k++ {
		a := c.beta[k] / (complex(0, w) - c.mode(k))
		for i := 0; i < n; i++ {
			x[i] += a * c.vc[i*n+k]
		}
	}
	c.unit[order] = x
	return x
}
