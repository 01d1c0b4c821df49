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
	omega  float64
	n      int           // unknowns: nodes, then the currents of some branches
	extra  []int         // branch to such an unknown, −1
	eq     *phasorMatrix // in reverse order, shared nodes last, which fills in least
	source []complex128
	guards []guard
	some   []uint64 // the unknowns that guards look at, and what these follow from
}

// guard is a voltage whose peak keeps something from switching while its square
// stays within a limit; source is its phasor under the supply alone.
type guard struct {
	a, b   int
	limit  float64
	source complex128
}

// rests reports whether the guard holds at a phasor.
func (g *guard) rests(v complex128) bool { return real(v)*real(v)+imag(v)*imag(v) <= g.limit }

// Quiescent returns the quiescent state of the board under constant drive
// voltages, or nil where something switches, the supply is no sine, or the
// network is one that only a Solver can judge.
func (m *Metered) Quiescent(drive []float64) *Quiescent {
	b, t := m.board, &m.temps
	s := &b.Supply
	if s.DC != 0 {
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
	lim := make([]limits, len(b.Channels))
	for k := range b.Channels {
		c := &b.Channels[k]
		l := newLimits(c, t.Junction[k], t.Board)
		if i := c.Drive.LEDCurrent(&c.Opto, drive[k]); i > 0 && i >= l.ledTrigger {
			return nil
		}
		lim[k] = l
	}
	net := m.net
	if net.checkLoops() != nil || net.oneWays != 0 {
		return nil
	}
	q.net, q.par = net, m.par
	var k key
	for v, i := range net.valves {
		if br := &net.branches[i]; br.kind == linkPath && net.startsOpen(b, br, i) {
			k = k.with(v, positive)
		}
	}
	if !q.factor(k) {
		return nil
	}
	rhs := make([]complex128, 2*q.n)
	rhs, q.source = rhs[:q.n], rhs[q.n:]
	rhs[q.row(q.extra[sourceBranch])] = complex(math.Sqrt2*float64(s.Voltage), 0)
	q.eq.solve(rhs, q.source)
	if !q.guard(lim) {
		return nil
	}
	q.some = make([]uint64, (q.n+63)/64)
	for i := range q.guards {
		q.need(q.some, q.guards[i].a)
		q.need(q.some, q.guards[i].b)
	}
	return q
}

// need adds what a node's voltage follows from.
func (q *Quiescent) need(some []uint64, node int) {
	if node >= 0 {
		q.eq.needed(some, q.row(node))
	}
}

// guard sets the guards: no junction may reach its threshold, no triac its
// breakover voltage or the rate of rise that it withstands. It reports whether
// they hold under the supply alone.
func (q *Quiescent) guard(lim []limits) bool {
	q.guards = make([]guard, 0, 2*len(lim))
	holds := true
	put := func(branch int, limit float64) {
		b := &q.net.branches[branch]
		g := guard{b.a, b.b, limit * limit, q.at(q.source, b.a) - q.at(q.source, b.b)}
		q.guards = append(q.guards, g)
		holds = holds && g.rests(g.source)
	}
	for k := range q.net.channels {
		p, l := &q.net.channels[k], &lim[k]
		if p.junction >= 0 {
			put(p.junction, q.net.branches[p.junction].volts)
		}
		if !l.open {
			put(p.main, math.Min(l.breakover, l.static/q.omega))
		}
	}
	return holds
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
	q.eq = newPhasorMatrix(q.n)
	add := func(r, c int, v complex128) { q.eq.add(q.row(r), q.row(c), v) }
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
	return q.eq.factor()
}

// row is where a node or another unknown stands in the equations; the
// reference stays −1.
func (q *Quiescent) row(unknown int) int {
	if unknown < 0 {
		return -1
	}
	return q.n - 1 - unknown
}

// at returns an unknown of the solution x, that of the reference being zero.
func (q *Quiescent) at(x []complex128, unknown int) complex128 {
	if unknown < 0 {
		return 0
	}
	return x[q.n-1-unknown]
}

// Port is a pair of nodes of a quiescent board, on which meters can be put one
// after the other. It is safe for concurrent use.
type Port struct {
	q    *Quiescent
	open complex128 // voltage without a meter
	z    complex128 // impedance
	// guards are the voltages of the guards under an ampere into the port.
	guards []complex128
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
		k, known := q.net.index.find(nd)
		if !known {
			return nil, fmt.Errorf("found node %v, expected one of the network's", nd)
		}
		ends[i] = k
	}
	var room [128]complex128
	rhs := resize(room[:], 2*q.n)
	clear(rhs)
	rhs, x := rhs[:q.n], rhs[q.n:]
	if ends[0] >= 0 {
		rhs[q.row(ends[0])]++
	}
	if ends[1] >= 0 {
		rhs[q.row(ends[1])]--
	}
	var words [4]uint64
	some := append(words[:0], q.some...)
	q.need(some, ends[0])
	q.need(some, ends[1])
	q.eq.solveSome(rhs, x, some)
	p := &Port{q: q, guards: make([]complex128, len(q.guards))}
	p.open, p.z = q.at(q.source, ends[0])-q.at(q.source, ends[1]), q.at(x, ends[0])-q.at(x, ends[1])
	for i := range q.guards {
		g := &q.guards[i]
		p.guards[i] = q.at(x, g.a) - q.at(x, g.b)
	}
	return p, nil
}

// Loaded returns the peak in volts at the port with a meter of resistance ohms
// and capacitance farads across it. ok is false where the meter makes
// something switch.
func (p *Port) Loaded(ohms, farads float64) (peak float64, ok bool) {
	y := complex(1/ohms, p.q.omega*farads)
	v := p.open / (1 + p.z*y)
	i := y * v
	for k, z := range p.guards {
		if g := &p.q.guards[k]; !g.rests(g.source - i*z) {
			return 0, false
		}
	}
	if cmplx.IsNaN(v) {
		return 0, false
	}
	return cmplx.Abs(v), true
}

// Flowing returns the peak in amperes of the current in a branch, unloaded; ok
// is false where the network has no such branch.
func (q *Quiescent) Flowing(branch string) (peak float64, ok bool) {
	i, ok := q.net.named(branch)
	if !ok {
		return 0, false
	}
	if x := q.extra[i]; x >= 0 {
		return cmplx.Abs(q.at(q.source, x)), true
	}
	if b := &q.net.branches[i]; b.kind == resistor {
		return cmplx.Abs(q.at(q.source, b.a)-q.at(q.source, b.b)) / q.par.ohms[i], true
	}
	return 0, false
}
