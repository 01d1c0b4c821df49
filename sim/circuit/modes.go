package circuit

import (
	"errors"
	"fmt"
	"math"
)

// spectralBound bounds |λ| of all modes by the largest absolute row sum of A
// in energy scaling.
func (c *combination) spectralBound(net *netlist) float64 {
	most := 0.0
	for i, s := range c.active {
		sum := 0.0
		for j, x := range c.a[i*c.n : (i+1)*c.n] {
			sum += math.Abs(x) / net.scale[c.active[j]]
		}
		most = max(most, sum*net.scale[s])
	}
	return most
}

// modes are the modes of a combination's states and how they respond.
type modes struct {
	ready   bool
	lambda  []complex128 // per column; a pair's second column repeats the first
	pair    []bool       // column k is the first of a pair
	paired  bool         // some are pairs
	square  []float64    // |λ|² per column
	fastest float64      // the largest |Re λ| + |Im λ|
	v       []float64    // n×n real modal basis, x = v ξ
	vInv    []float64
	// unitDC is the response of the states to e = 1 V constant, constant that to
	// the thresholds.
	unitDC   []float64
	constant []float64
	beta     []float64 // modal input of e
}

// modal returns the combination of key k with its modes found. Mirror images
// have the modes of their originals.
func (p *params) modal(k key) (*combination, error) {
	c, err := p.combination(k)
	if err != nil || c.ready {
		return c, err
	}
	from := c
	if c.image != nil {
		from = c.image
	}
	if !from.ready {
		if err := from.decompose(p.net, p.work); err != nil {
			return nil, fmt.Errorf("%s: %w", p.describe(k), err)
		}
	}
	if c != from {
		c.modes = from.modes
		c.constant = negated(from.constant)
	}
	return c, nil
}

// decompose finds the modes of A. The states are scaled by the square root of
// their store, in which an RC or an RL network is symmetric. Where two modes
// fall so close together that their shapes cannot be told apart, the stores
// are shifted by parts in 10⁹ until they can.
func (c *combination) decompose(net *netlist, w *workspace) error {
	n := c.n
	for _, x := range [][]float64{c.a, c.be, c.kc} {
		for _, y := range x {
			if math.IsNaN(y) || math.IsInf(y, 0) {
				return fmt.Errorf("found a rate of %v in the network's equations, expected a finite one", y)
			}
		}
	}
	c.v, c.vInv = w.take(n*n), w.take(n*n)
	c.square, c.unitDC, c.constant, c.beta = w.take(n), w.take(n), w.take(n), w.take(n)
	c.lambda, c.pair = w.phasors.take(n, 32), make([]bool, n)
	var err error
	for try := range 5 {
		eps := 0.0
		if try > 0 {
			eps = 1e-10 * math.Pow(10, float64(try))
		}
		if err = c.eigen(net, &w.spectrum, eps); err == nil {
			break
		}
	}
	if err != nil {
		return err
	}
	for k, l := range c.lambda {
		c.paired = c.paired || c.pair[k]
		c.square[k] = real(l)*real(l) + imag(l)*imag(l)
		c.fastest = math.Max(c.fastest, math.Abs(real(l))+math.Abs(imag(l)))
	}
	c.input(&w.spectrum)
	c.ready = true
	return nil
}

// limitCondition bounds the condition of the modal basis in energy scaling.
const limitCondition = 1e6

// eigen finds eigenvalues and modal basis, each store being shifted by a part
// eps of itself and more.
func (c *combination) eigen(net *netlist, e *spectrum, eps float64) error {
	n := c.n
	e.scaled, e.scale = resize(e.scaled, n*n), resize(e.scale, n)
	as, scale := e.scaled, e.scale
	for i, s := range c.active {
		scale[i] = net.scale[s]
	}
	for i := range n {
		shift := 1 + eps*float64(i+1)
		for j := range n {
			as[i*n+j] = c.a[i*n+j] * scale[i] / scale[j] * shift
		}
	}
	symmetric := true
	for i := 0; i < n && symmetric; i++ {
		for j := range i {
			x, y := as[i*n+j], as[j*n+i]
			if math.Abs(x-y) > 1e-13*math.Sqrt(math.Abs(as[i*n+i]*as[j*n+j]))+1e-300 {
				symmetric = false
			}
		}
	}
	if symmetric {
		for i := range n {
			for j := range i {
				x := (as[i*n+j] + as[j*n+i]) / 2
				as[i*n+j], as[j*n+i] = x, x
			}
		}
		if !e.symmetric(as, n) && !e.library(as, n) {
			return errNoModes
		}
		for k, l := range e.values {
			c.lambda[k] = complex(math.Min(real(l), 0), 0)
			for i := range n {
				x := e.vectors[i*n+k]
				c.v[i*n+k] = x / scale[i]
				c.vInv[k*n+i] = x * scale[i]
			}
		}
		return nil
	}
	if !e.general(as, n) && !e.library(as, n) {
		return errNoModes
	}
	clear(c.pair)
	for k := 0; k < n; k++ {
		l := e.values[k]
		if real(l) > 0 { // a passive network: rounding only
			l = complex(0, imag(l))
		}
		c.lambda[k] = l
		if imag(l) != 0 {
			c.pair[k], c.lambda[k+1] = true, l
			k++
		}
	}
	// as has served; it becomes the factors of the basis.
	copy(as, e.vectors)
	e.piv = resize(e.piv, n)
	if factor(as, n, e.piv) >= 0 {
		return errDegenerate
	}
	clear(c.vInv)
	for i := range n {
		c.vInv[i*n+i] = 1
	}
	solve(as, n, e.piv, c.vInv, n)
	if frobenius(e.vectors)*frobenius(c.vInv) > limitCondition {
		return errDegenerate
	}
	for i := range n {
		for k := range n {
			c.v[i*n+k] = e.vectors[i*n+k] / scale[i]
			c.vInv[k*n+i] *= scale[i]
		}
	}
	return nil
}

var (
	errNoModes    = errors.New("the modes of the network did not converge")
	errDegenerate = errors.New("two modes of the network cannot be told apart")
)

func frobenius(a []float64) float64 {
	s := 0.0
	for _, x := range a {
		s += x * x
	}
	return math.Sqrt(s)
}

// input computes the responses to constants and keeps the modal input of e.
func (c *combination) input(e *spectrum) {
	n := c.n
	kappa := e.scale // which has served
	for k := range n {
		c.beta[k] = dot(c.vInv[k*n:(k+1)*n], c.be)
		kappa[k] = dot(c.vInv[k*n:(k+1)*n], c.kc)
	}
	c.rest(c.beta, c.unitDC)
	c.rest(kappa, c.constant)
}

// rest adds the states' response to constant modal inputs. A charge that nothing
// drives stays out.
func (c *combination) rest(in, out []float64) {
	n := c.n
	put := func(k int, amplitude float64) {
		for i := range out {
			out[i] += amplitude * c.v[i*n+k]
		}
	}
	for k := 0; k < n; k++ {
		s, o := real(c.lambda[k]), imag(c.lambda[k])
		switch {
		case c.pair[k]:
			p, q, d := in[k], in[k+1], s*s+o*o
			put(k, (o*q-s*p)/d)
			put(k+1, -(s*q+o*p)/d)
			k++
		case math.Abs(s) >= 1e-9:
			put(k, -in[k]/s)
		}
	}
}

// response writes the states' phasors for a source phasor of 1 at angular
// frequency w.
func (c *combination) response(w float64, x []complex128) {
	n := c.n
	clear(x)
	put := func(k int, amplitude complex128) {
		for i := range x {
			y := c.v[i*n+k]
			x[i] += complex(real(amplitude)*y, imag(amplitude)*y)
		}
	}
	for k := 0; k < n; k++ {
		l := c.lambda[k]
		rate := complex(-real(l), w)
		if c.pair[k] {
			// da/dt = σ·a + ω·b + p, db/dt = σ·b − ω·a + q
			p, q, o := complex(c.beta[k], 0), complex(c.beta[k+1], 0), complex(imag(l), 0)
			d := rate*rate + o*o
			put(k, (rate*p+o*q)/d)
			put(k+1, (rate*q-o*p)/d)
			k++
		} else {
			put(k, complex(c.beta[k], 0)/rate)
		}
	}
}
