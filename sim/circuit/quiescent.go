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
}

// guard is a voltage whose peak keeps something from switching while its square
// stays within a limit; source is its phasor under the supply alone. An ampere
// through its nodes gives the nodes reply, so that, as the network is reciprocal,
// an ampere through others gives it what reply has between these.
type guard struct {
	limit  float64
	source complex128
	reply  []complex128
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
	var few [64]complex128
	rhs := resize(few[:], q.n)
	clear(rhs)
	all := make([]complex128, (1+2*len(lim))*q.n)
	q.source, all = all[:q.n], all[q.n:]
	rhs[q.row(q.extra[sourceBranch])] = complex(math.Sqrt2*float64(s.Voltage), 0)
	q.eq.solve(rhs, q.source, 0)
	if !q.guard(lim, rhs, all) {
		return nil
	}
	return q
}

// guard sets the guards: no junction may reach its threshold, no triac its
// breakover voltage or the rate of rise that it withstands. It reports whether
// they hold under the supply alone. Their replies lie in all; rhs is room.
func (q *Quiescent) guard(lim []limits, rhs, all []complex128) bool {
	q.guards = make([]guard, 0, 2*len(lim))
	holds := true
	put := func(branch int, limit float64) {
		b := &q.net.branches[branch]
		g := guard{limit * limit, q.at(q.source, b.a) - q.at(q.source, b.b), all[:q.n:q.n]}
		all = all[q.n:]
		holds = holds && g.rests(g.source)
		if holds {
			q.through(rhs, b.a, b.b)
			q.eq.solve(rhs, g.reply, q.n-len(q.net.nodes)) // of nodes alone
		}
		q.guards = append(q.guards, g)
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

// through writes the right-hand sides for an ampere into node a and out of b.
func (q *Quiescent) through(rhs []complex128, a, b int) {
	clear(rhs)
	if a >= 0 {
		rhs[q.row(a)]++
	}
	if b >= 0 {
		rhs[q.row(b)]--
	}
}

// factor assembles the network's equations in phasors, with branches of little
// impedance as unknown currents, and factors them.
func (q *Quiescent) factor(k key) bool {
	net := q.net
	q.n = len(net.nodes)
	q.extra = make([]int, len(net.branches))
	var nodes [64]int
	parent := resize(nodes[:], q.n+1)
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
	var few [64]entry
	all := resize(few[:], len(net.branches))
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
	ends [2]int
	open complex128 // voltage without a meter
	z    complex128 // impedance
}

// Port returns the port between two nodes. A node that the network lacks is an
// error.
func (q *Quiescent) Port(plus, minus models.Node) (Port, error) {
	p := Port{q: q}
	for i, nd := range [2]models.Node{plus, minus} {
		p.ends[i] = -1
		if nd == q.net.zero {
			continue
		}
		k, known := q.net.index.find(nd)
		if !known {
			return Port{}, fmt.Errorf("found node %v, expected one of the network's", nd)
		}
		p.ends[i] = k
	}
	p.open, p.z = p.between(q.source), q.eq.impedance(q.row(p.ends[0]), q.row(p.ends[1]))
	return p, nil
}

// between returns the voltage at the port in a solution.
func (p *Port) between(x []complex128) complex128 {
	return p.q.at(x, p.ends[0]) - p.q.at(x, p.ends[1])
}

// Loaded returns the peak in volts at the port with a meter of resistance ohms
// and capacitance farads across it. ok is false where the meter makes
// something switch.
func (p *Port) Loaded(ohms, farads float64) (peak float64, ok bool) {
	y := complex(1/ohms, p.q.omega*farads)
	v := p.open / (1 + p.z*y)
	i := y * v
	for k := range p.q.guards {
		if g := &p.q.guards[k]; !g.rests(g.source - i*p.between(g.reply)) {
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
