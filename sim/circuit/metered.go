package circuit

import (
	"math"
	"slices"
	"sync"

	"boilwright/models"
)

// Metered is a board made ready to be solved with one meter after another on
// it. What a meter leaves as it is, is compiled once: the parts of the network,
// and the blocks that it does not touch. It is safe for concurrent use.
type Metered struct {
	board *models.Board
	temps Temperatures
	net   *netlist
	par   *params
	loops error // see checkLoops

	mu     sync.Mutex
	blocks [][]lent // by block of the network without a meter
	bases  []base
}

// lent is a block at the levels of a key.
type lent struct {
	key key
	of  *reduced
}

// NewMetered makes a board at temperatures t ready. The error tells of a
// network that makes no sense.
func NewMetered(b *models.Board, t Temperatures) (*Metered, error) {
	if err := checkBoard(b); err != nil {
		return nil, err
	}
	net, err := newNetlist(b)
	if err != nil {
		return nil, err
	}
	m := &Metered{board: b, temps: t, net: net, par: newParams(net, b, t, nil), loops: net.checkLoops()}
	m.blocks = make([][]lent, len(net.blocks))
	return m, nil
}

// Solver returns a solver of the board at its temperatures with a meter across
// two of its nodes, like that of [New]. Call Keep when done with it.
func (m *Metered) Solver(meter models.Bridge) (*Solver, error) {
	b := *m.board
	b.Bridges = append(slices.Clip(b.Bridges), meter)
	net := m.net.clone(newWorkspace())
	if err := net.bridge(&b, &meter); err != nil {
		return nil, err
	}
	plain := meter.Resistance > 0 && !(meter.Capacitance > 0) // nothing but a branch, with resistance in its loop
	from, loops := 0, m.loops
	if plain {
		from = len(m.net.branches)
	}
	if err := net.checkValues(from); err != nil {
		return nil, err
	}
	if !plain {
		loops = net.checkLoops()
	}
	if loops != nil {
		return nil, loops
	}
	l := &lender{from: m}
	if !net.extend(m.net) {
		net.partition()
	} else {
		l.trunk = len(net.trunk) == len(m.net.trunk) && len(net.states) == len(m.net.states)
	}
	l.match(net)
	return newSolver(&b, net, m.temps, l)
}

// lender lends a network with a meter what has been found out about the parts that
// it has in common with the one without.
type lender struct {
	from   *Metered
	blocks []int // by block the same one without the meter, −1
	trunk  bool  // the trunk is the same, and what ends at its nodes
}

// match finds what is the same in a network with a meter.
func (l *lender) match(net *netlist) {
	without := l.from.net.blocks
	l.blocks = make([]int, len(net.blocks))
	for j := range net.blocks {
		b := &net.blocks[j]
		l.blocks[j] = -1
		for i := range without {
			if a := &without[i]; slices.Equal(a.nodes, b.nodes) && slices.Equal(a.branches, b.branches) && slices.Equal(a.edge, b.edge) {
				l.blocks[j] = i
			}
		}
		l.trunk = l.trunk && slices.Equal(without[j].edge, b.edge)
	}
}

// block returns a block at the levels of its key, nil if that is not known.
func (l *lender) block(at int, own key) *reduced {
	if l == nil || l.blocks[at] < 0 {
		return nil
	}
	l.from.mu.Lock()
	defer l.from.mu.Unlock()
	return l.from.block(l.blocks[at], own)
}

// block returns what is known of block i at the levels of its key, or nil.
func (m *Metered) block(i int, own key) *reduced {
	for _, x := range m.blocks[i] {
		if x.key == own {
			return x.of
		}
	}
	return nil
}

// base returns the base of key k, and whether it is known.
func (l *lender) base(k key) (base, bool) {
	if l == nil || !l.trunk {
		return base{}, false
	}
	l.from.mu.Lock()
	defer l.from.mu.Unlock()
	for i := range l.from.bases {
		if b := &l.from.bases[i]; b.key == k {
			return *b, true
		}
	}
	return base{}, false
}

// Keep keeps what a solver that Solver returned has found out about the parts of
// the network that the meter leaves as they are, for those after it, and hands back
// the solver's storage. Neither the solver nor anything that it returned by
// reference, its records among it, is to be used thereafter.
func (m *Metered) Keep(s *Solver) {
	if s.net == nil || s.net.work == nil {
		return // handed back already
	}
	if l := s.par.lender; l != nil && l.from == m && len(s.par.blocks) == len(l.blocks) {
		l.keep(s.par)
	}
	s.net.work.solver = s
	s.Release()
}

// keep copies what is new to the lender, which outlives the workspace.
func (l *lender) keep(p *params) {
	m := l.from
	m.mu.Lock()
	defer m.mu.Unlock()
	for j, i := range l.blocks {
		if i < 0 {
			continue
		}
		for k, r := range p.blocks[j] {
			if m.block(i, k) == nil {
				m.blocks[i] = append(m.blocks[i], lent{k, r.clone(&p.net.blocks[j])})
			}
		}
	}
	if !l.trunk || p.bases == nil {
		return
	}
	for i := range p.bases.list {
		b := &p.bases.list[i]
		if !slices.ContainsFunc(m.bases, func(x base) bool { return x.key == b.key }) {
			m.bases = append(m.bases, b.clone())
		}
	}
}

// clone returns a copy that does not lie in a workspace.
func (r *reduced) clone(b *block) *reduced {
	c := &reduced{width: r.width}
	ints := joined(r.active, r.joined)
	c.active, c.joined = ints[:len(r.active):len(r.active)], ints[len(r.active):]
	c.divide(b, slices.Clone(r.all))
	return c
}

// clone returns a copy without losses that does not lie in a workspace.
func (b *base) clone() base {
	c := *b
	ints, numbers := joined(b.active, b.column, b.parent), joined(b.rows, b.lines)
	n, m := len(b.active), len(b.active)+len(b.column)
	c.active, c.column, c.parent = ints[:n:n], ints[n:m:m], ints[m:]
	n = len(b.rows)
	c.rows, c.lines, c.losses = numbers[:n:n], numbers[n:], nil
	return c
}

// joined returns a copy of slices one after the other.
func joined[T any](parts ...[]T) []T {
	n := 0
	for _, p := range parts {
		n += len(p)
	}
	all := make([]T, 0, n)
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// clone returns a copy to which a bridge can be added; extend or partition
// divides it into blocks. It lives in a workspace.
func (n *netlist) clone(w *workspace) *netlist {
	c := *n
	c.work = w
	c.nodes, c.branches = slices.Clip(n.nodes), slices.Grow(w.branches[:0], len(n.branches)+2)
	c.branches = append(c.branches, n.branches...)
	w.branches = nil
	c.valves, c.states = slices.Clip(n.valves), slices.Clip(n.states)
	c.index = slices.Clone(n.index)
	return &c
}

// extend divides a copy of a network, with branches added, into the blocks of
// the original. It reports whether it could: no node is new and no branch leads
// from one block to another.
func (n *netlist) extend(original *netlist) bool {
	if len(n.nodes) != len(original.nodes) || len(n.valves) != len(original.valves) {
		return false
	}
	n.trunk, n.blocks = slices.Clip(n.trunk), slices.Clone(n.blocks)
	for i := len(original.branches); i < len(n.branches); i++ {
		br := &n.branches[i]
		own := -1
		for _, e := range [2]int{br.a, br.b} {
			if e < 0 || n.owner[e] < 0 {
				continue
			}
			if own >= 0 && own != n.owner[e] {
				return false
			}
			own = n.owner[e]
		}
		if own < 0 {
			n.trunk = append(n.trunk, i)
			continue
		}
		b := &n.blocks[own]
		b.branches = append(slices.Clip(b.branches), i)
		if br.state >= 0 {
			b.states = append(slices.Clip(b.states), br.state)
		}
		for _, e := range [2]int{br.a, br.b} {
			if e >= 0 && n.owner[e] < 0 && b.place(e) < 0 {
				b.edge = append(slices.Clip(b.edge), e)
			}
		}
	}
	n.prepare()
	return true
}

// newSolver returns the solver of a network at temperatures t, in the periodic
// state with every triac and opto blocking. What is known at these temperatures
// may be lent.
func newSolver(b *models.Board, net *netlist, t Temperatures, l *lender) (*Solver, error) {
	if net.work == nil {
		net.work = newWorkspace()
	}
	if net.owner == nil {
		net.partition()
	}
	n := len(b.Channels)
	s := net.work.solver
	if s == nil {
		s = &Solver{sets: map[string]*params{}}
	}
	s.board, s.net, s.ch, s.period = b, net, b.Channels, b.Supply.HalfCycle()
	s.x, s.chans, s.lim, s.windows = zeroed(s.x, len(net.states)), zeroed(s.chans, n), zeroed(s.lim, n), zeroed(s.windows, n)
	s.strain, s.urge, s.risen = zeroed(s.strain, n), zeroed(s.urge, n), zeroed(s.risen, n)
	r := &s.rec
	r.Triac, r.Gate, r.Snubber, r.Element, r.Wire = zeroed(r.Triac, n), zeroed(r.Gate, n), zeroed(r.Snubber, n), zeroed(r.Element, n), zeroed(r.Wire, n)
	s.find, s.gram, s.course = net.work.finder, net.work.gram, net.work.course
	net.work.solver = nil
	s.recent, s.trials = &net.work.recent, &net.work.trials
	s.prober.begin(net)
	s.gears = s.prober.gears(s.gears[:0])
	for k := range s.windows {
		s.windows[k].slope = math.NaN() // none yet
	}
	s.groupOf, s.groups = net.groupOf()
	s.lossy, s.formOf = net.lossForms(s.groupOf, s.groups)
	s.sums = zeroed(s.sums, s.groups+extraSums)
	for i := range net.branches {
		br := &net.branches[i]
		if br.kind != linkPath {
			continue
		}
		s.contacts = append(s.contacts, contact{branch: i})
		if net.startsOpen(b, br, i) {
			s.key = s.key.with(br.valve, positive)
		}
	}
	if l != nil {
		p := s.newSet(t)
		p.lender = l
		s.sets[string(s.values(t))] = p
	}
	s.SetTemperatures(t)
	if err := s.checkPaths(); err != nil {
		return nil, err
	}
	s.source(1)
	c, err := s.par.modal(s.key)
	if err != nil {
		return nil, err
	}
	s.seg.c, s.seg.net = c, net
	s.seg.begin(s.x)
	clear(s.seg.xi)
	s.seg.state(0, s.x)
	return s, nil
}
