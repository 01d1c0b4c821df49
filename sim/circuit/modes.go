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
	c.v, c.vInv = w.lend(n*n), w.lend(n*n)
	c.square, c.unitDC, c.constant, c.beta = w.lend(n), w.lend(n), w.lend(n), w.lend(n)
	c.lambda, c.pair = w.phasors.Lend(n, 32), w.flags.Take(n, 64)
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
		from, to, by := c.a[i*n:(i+1)*n], as[i*n:(i+1)*n], scale[i]*(1+eps*float64(i+1))
		for j, x := range from {
			to[j] = x * by / scale[j]
		}
	}
	if symmetric(as, n) {
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
	copy(c.vInv, e.vectors)
	e.exchanges = resize(e.exchanges, n)
	if !invert(c.vInv, n, e.exchanges) || frobenius(e.vectors)*frobenius(c.vInv) > limitCondition {
		return errDegenerate
	}
	for i := range n {
		from, to, by := e.vectors[i*n:(i+1)*n], c.v[i*n:(i+1)*n], 1/scale[i]
		for k, x := range from {
			to[k] = x * by
		}
		to = c.vInv[i*n : (i+1)*n]
		for k, x := range scale[:len(to)] {
			to[k] *= x
		}
	}
	return nil
}

// symmetric reports whether a matrix is that, but for rounding.
func symmetric(a []float64, n int) bool {
	for i := range n {
		for j, x := range a[i*n : i*n+i] {
			y := a[j*n+i]
			if d := math.Abs(x - y); d > 1e-13*math.Sqrt(math.Abs(a[i*n+i]*a[j*n+j]))+1e-300 {
				return false
			}
		}
	}
	return true
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

// rest writes the states' response to constant modal inputs. A charge that nothing
// drives stays out.
func (c *combination) rest(in, out []float64) {
	n := c.n
	var buf [16]float64
	amplitude := room(buf[:], n)
	for k := 0; k < n; k++ {
		s, o := real(c.lambda[k]), imag(c.lambda[k])
		switch {
		case c.pair[k]:
			p, q, d := in[k], in[k+1], s*s+o*o
			amplitude[k], amplitude[k+1] = (o*q-s*p)/d, -(s*q+o*p)/d
			k++
		case math.Abs(s) >= 1e-9:
			amplitude[k] = -in[k] / s
		default:
			amplitude[k] = 0
		}
	}
	dots(out, c.v, amplitude)
}

// response writes the states' phasors for a source phasor of 1 at angular
// frequency w.
func (c *combination) response(w float64, x []complex128) {
	n := c.n
	var buf [32]float64
	work := room(buf[:], 4*n)
	re, im, y := work[:n], work[n:2*n], work[2*n:]
	put := func(k int, amplitude complex128) { re[k], im[k] = real(amplitude), imag(amplitude) }
	for k := 0; k < n; k++ {
		l := c.lambda[k]
		rate := complex(-real(l), w)
		if c.pair[k] {
			// da/dt = σ·a + ω·b + p, db/dt = σ·b − ω·a + q
			p, q, o := complex(c.beta[k], 0), complex(c.beta[k+1], 0), complex(imag(l), 0)
			by := reciprocal(rate*rate + o*o)
			put(k, (rate*p+o*q)*by)
			put(k+1, (rate*q-o*p)*by)
			k++
		} else {
			put(k, complex(c.beta[k], 0)*reciprocal(rate))
		}
	}
	dots(y[:n], c.v, re)
	dots(y[n:], c.v, im)
	for i := range x {
		x[i] = complex(y[i], y[n+i])
	}
}
