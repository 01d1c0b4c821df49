package circuit

import (
	"fmt"
	"math"
	"math/cmplx"

	"boilwright/models"
)

// Quiescent is a board on a sinusoidal supply with nothing switching: every
// triac, opto and gate junction blocks for the whole cycle. Its network is
// then linear, so that the phasors of every node follow from one factorization
// and those under a meter's load from its impedance there. It is what a
// [Solver] comes to rest in, without its way there. It is safe for concurrent
// use.
type Quiescent struct {
	net    *netlist
	par    *params
	lim    []limits
	omega  float64
	n      int // unknowns: nodes, then the currents of some branches
	extra  []int
	lu     []complex128
	piv    []int
	source []complex128 // unknowns under the supply alone
}

// NewQuiescent returns the quiescent state of board b at temperatures t under
// constant drive voltages, or nil where something switches, the supply is no
// sine, or the network is one that only a Solver can judge.
func NewQuiescent(b *models.Board, t Temperatures, drive []float64) *Quiescent {
	s := &b.Supply
	if s.DC != 0 || !(s.Frequency > 0) || len(b.Channels) == 0 {
		return nil
	}
	for _, h := range s.Harmonics {
		if h.Voltage != 0 {
			return nil
		}
	}
	if s.LineInductance+s.NeutralInductance > 0 && !(s.Damping <= 1e6) {
		return nil // whether the inductances have a path is for a Solver to say
	}
	q := &Quiescent{omega: 2 * math.Pi * float64(s.Frequency)}
	for k := range b.Channels {
		c := &b.Channels[k]
		l := newLimits(c, t.Junction[k], t.Board)
		if i := c.Drive.LEDCurrent(&c.Opto, drive[k]); i > 0 && i >= l.ledTrigger {
			return nil
		}
		q.lim = append(q.lim, l)
	}
	net, err := newNetlist(b)
	if err != nil || net.checkLoops() != nil || net.oneWays != 0 {
		return nil
	}
	q.net, q.par = net, newParams(net, b, t)
	var k key
	for v, i := range net.valves {
		if br := &net.branches[i]; br.kind == linkPath && net.startsOpen(b, br, i) {
			k = k.with(v, positive)
		}
	}
	if !q.factor(k) {
		return nil
	}
	rhs := make([]complex128, q.n)
	rhs[q.extra[sourceBranch]] = complex(math.Sqrt2*float64(s.Voltage), 0)
	q.source = q.solve(rhs)
	if !q.rests(q.source) {
		return nil
	}
	return q
}

// factor assembles the network's equations in phasors, with branches of little
// impedance as unknown currents, and factors them.
func (q *Quiescent) factor(k key) bool {
	net := q.net
	q.n = len(net.nodes)
	q.extra = make([]int, len(net.branches))
	parent := make([]int, q.n+1)
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			i = parent[i]
		}
		return i
	}
	type entry struct {
		admittance, impedance complex128
		form                  form
	}
	all := make([]entry, len(net.branches))
	for i := range net.branches {
		b := &net.branches[i]
		q.extra[i] = -1
		f, ohms, _ := q.par.shape(i, k)
		e := entry{form: f}
		switch {
		case f == absent:
			all[i] = e
			continue
		case f == conductive:
			e.admittance = complex(1/ohms, 0)
		case f == impedance:
			e.impedance = complex(ohms, 0)
		case f == current: // an inductance
			e.form, e.impedance = impedance, complex(0, q.omega*b.store)
		case b.kind != source: // a capacitance
			e.form, e.admittance = conductive, complex(0, q.omega*b.store)
		}
		all[i] = e
		if e.form != conductive {
			q.extra[i] = q.n
			q.n++
		}
		if x, y := find(b.a+1), find(b.b+1); x != y {
			parent[max(x, y)] = min(x, y)
		}
	}
	q.lu, q.piv = make([]complex128, q.n*q.n), make([]int, q.n)
	add := func(r, c int, v complex128) {
		if r >= 0 && c >= 0 {
			q.lu[r*q.n+c] += v
		}
	}
	for i := range net.branches {
		b, e := &net.branches[i], &all[i]
		switch e.form {
		case absent:
		case conductive:
			add(b.a, b.a, e.admittance)
			add(b.b, b.b, e.admittance)
			add(b.a, b.b, -e.admittance)
			add(b.b, b.a, -e.admittance)
		default:
			x := q.extra[i]
			add(b.a, x, 1)
			add(b.b, x, -1)
			add(x, b.a, 1)
			add(x, b.b, -1)
			add(x, x, -e.impedance)
		}
	}
	for i := range net.nodes { // an island is tied to the reference at one node
		if find(i+1) == i+1 {
			add(i, i, 1)
		}
	}
	return factorComplex(q.lu, q.n, q.piv)
}

// magnitude is a measure of size that is quick to take.
func magnitude(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

// factorComplex is factor for complex matrices; it reports whether every
// pivot was found.
func factorComplex(a []complex128, n int, piv []int) bool {
	for k := range n {
		p, best := k, magnitude(a[k*n+k])
		for i := k + 1; i < n; i++ {
			if v := magnitude(a[i*n+k]); v > best {
				p, best = i, v
			}
		}
		piv[k] = p
		if !(best >= 1e-300) {
			return false
		}
		if p != k {
			rk, rp := a[k*n:k*n+n], a[p*n:p*n+n]
			for j := range rk {
				rk[j], rp[j] = rp[j], rk[j]
			}
		}
		row := a[k*n : k*n+n]
		inv := 1 / row[k]
		for i := k + 1; i < n; i++ {
			ri := a[i*n : i*n+n]
			if ri[k] == 0 {
				continue
			}
			f := ri[k] * inv
			ri[k] = f
			for j := k + 1; j < n; j++ {
				if row[j] != 0 {
					ri[j] -= f * row[j]
				}
			}
		}
	}
	return true
}

// solve overwrites the right-hand sides x by the unknowns.
func (q *Quiescent) solve(x []complex128) []complex128 {
	n := q.n
	for k, p := range q.piv {
		x[k], x[p] = x[p], x[k]
	}
	for i := 1; i < n; i++ {
		row, sum := q.lu[i*n:i*n+i], x[i]
		for k, f := range row {
			if f != 0 {
				sum -= f * x[k]
			}
		}
		x[i] = sum
	}
	for i := n - 1; i >= 0; i-- {
		row, sum := q.lu[i*n+i+1:i*n+n], x[i]
		for k, f := range row {
			if f != 0 {
				sum -= f * x[i+1+k]
			}
		}
		x[i] = sum / q.lu[i*n+i]
	}
	return x
}

// across returns the phasor of a branch's voltage.
func (q *Quiescent) across(x []complex128, branch int) complex128 {
	b := &q.net.branches[branch]
	return at(x, b.a) - at(x, b.b)
}

func at(x []complex128, node int) complex128 {
	if node < 0 {
		return 0
	}
	return x[node]
}

// rests reports whether nothing switches at any instant of the cycle: no
// junction reaches its threshold, no triac its breakover voltage or the rate of
// rise that it withstands.
func (q *Quiescent) rests(x []complex128) bool {
	for k := range q.net.channels {
		p, l := &q.net.channels[k], &q.lim[k]
		if p.junction >= 0 && !(cmplx.Abs(q.across(x, p.junction)) <= q.net.branches[p.junction].volts) {
			return false
		}
		if v := cmplx.Abs(q.across(x, p.main)); !l.open && !(v <= l.breakover && v*q.omega <= l.static) {
			return false
		}
	}
	return true
}

// Port is a pair of nodes of a quiescent board, on which meters can be put one
// after the other. It is not safe for concurrent use.
type Port struct {
	q      *Quiescent
	inject []complex128 // unknowns under an ampere into the port
	loaded []complex128
	open   complex128 // voltage without a meter
	z      complex128 // impedance
}

// Port returns the port between two nodes. A node that the network lacks is an
// error.
func (q *Quiescent) Port(plus, minus models.Node) (*Port, error) {
	var ends [2]int
	for i, nd := range []models.Node{plus, minus} {
		ends[i] = -1
		if nd == q.net.zero {
			continue
		}
		k, known := q.net.index[nd]
		if !known {
			return nil, fmt.Errorf("found node %v, expected one of the network's", nd)
		}
		ends[i] = k
	}
	rhs := make([]complex128, 2*q.n)
	p := &Port{q: q, inject: rhs[:q.n], loaded: rhs[q.n:]}
	if ends[0] >= 0 {
		p.inject[ends[0]]++
	}
	if ends[1] >= 0 {
		p.inject[ends[1]]--
	}
	q.solve(p.inject)
	p.open, p.z = at(q.source, ends[0])-at(q.source, ends[1]), at(p.inject, ends[0])-at(p.inject, ends[1])
	return p, nil
}

// Loaded returns the peak in volts at the port with a meter of resistance ohms
// and capacitance farads across it. ok is false where the meter makes
// something switch.
func (p *Port) Loaded(ohms, farads float64) (peak float64, ok bool) {
	y := complex(1/ohms, p.q.omega*farads)
	v := p.open / (1 + p.z*y)
	for i, x := range p.inject {
		p.loaded[i] = p.q.source[i] - y*v*x
	}
	if !p.q.rests(p.loaded) || cmplx.IsNaN(v) {
		return 0, false
	}
	return cmplx.Abs(v), true
}

// Flowing returns the peak in amperes of the current in a branch, unloaded; ok
// is false where the network has no such branch.
func (q *Quiescent) Flowing(branch string) (peak float64, ok bool) {
	i, ok := q.net.byName[branch]
	if !ok {
		return 0, false
	}
	if x := q.extra[i]; x >= 0 {
		return cmplx.Abs(q.source[x]), true
	}
	if b := &q.net.branches[i]; b.kind == resistor {
		return cmplx.Abs(q.across(q.source, i)) / q.par.ohms[i], true
	}
	return 0, false
}
