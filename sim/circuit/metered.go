package circuit

import (
	"maps"
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

	mu     sync.Mutex
	blocks []map[key]*reduced // by block of the network without a meter
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
	m := &Metered{board: b, temps: t, net: net, par: newParams(net, b, t, nil)}
	m.blocks = make([]map[key]*reduced, len(net.blocks))
	for i := range m.blocks {
		m.blocks[i] = map[key]*reduced{}
	}
	return m, nil
}

// Solver returns a solver of the board at its temperatures with a meter across
// two of its nodes, like that of [New]. Call Keep when done with it.
func (m *Metered) Solver(meter models.Bridge) (*Solver, error) {
	b := *m.board
	b.Bridges = append(slices.Clone(b.Bridges), meter)
	net := m.net.clone(newWorkspace())
	if err := net.bridge(&b, &meter); err != nil {
		return nil, err
	}
	if err := net.checkValues(); err != nil {
		return nil, err
	}
	if err := net.checkLoops(); err != nil {
		return nil, err
	}
	if !net.extend(m.net) {
		net.partition()
	}
	return newSolver(&b, net, m.temps, m.known(net))
}

// known returns what is known of the blocks of a network with a meter.
func (m *Metered) known(net *netlist) []map[key]*reduced {
	m.mu.Lock()
	defer m.mu.Unlock()
	blocks := make([]map[key]*reduced, len(net.blocks))
	m.shared(net, func(i, j int) { blocks[j] = maps.Clone(m.blocks[i]) })
	return blocks
}

// Keep keeps what a solver that Solver returned has found out about the blocks
// without the meter, for those after it. The solver is not to be used
// thereafter.
func (m *Metered) Keep(s *Solver) {
	if p := s.par; len(p.blocks) == len(s.net.blocks) && s.temps.equal(&m.temps) {
		m.mu.Lock()
		defer m.mu.Unlock()
		m.shared(s.net, func(i, j int) { maps.Copy(m.blocks[i], p.blocks[j]) })
	}
	if w := s.net.work; w != nil {
		w.reductions.Leave()
		w.blocks.Leave()
		w.indices.Leave()
		s.retire(w)
	}
}

func (t *Temperatures) equal(u *Temperatures) bool {
	return slices.Equal(t.Element, u.Element) && slices.Equal(t.Junction, u.Junction) && slices.Equal(t.Leakage, u.Leakage) && t.Board == u.Board
}

// shared calls f with the numbers of every block of the network without a meter
// and of the same block of a network with one.
func (m *Metered) shared(net *netlist, f func(i, j int)) {
	for i := range m.net.blocks {
		a := &m.net.blocks[i]
		for j := range net.blocks {
			if b := &net.blocks[j]; slices.Equal(a.nodes, b.nodes) && slices.Equal(a.branches, b.branches) && slices.Equal(a.edge, b.edge) {
				f(i, j)
			}
		}
	}
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
// state with every triac and opto blocking. blocks is what is known of the
// network's blocks at these temperatures.
func newSolver(b *models.Board, net *netlist, t Temperatures, blocks []map[key]*reduced) (*Solver, error) {
	if net.work == nil {
		net.work = newWorkspace()
	}
	if net.owner == nil {
		net.partition()
	}
	n := len(b.Channels)
	s := &Solver{
		board: b, net: net, sets: map[string]*params{}, ch: b.Channels,
		x: make([]float64, len(net.states)), chans: make([]channelState, n), lim: make([]limits, n),
		strain: make([]float64, n), urge: make([]float64, n), windows: make([]window, n), period: b.Supply.HalfCycle(),
	}
	s.find, s.gram, s.course = net.work.finder, net.work.gram, net.work.course
	net.work.finder, net.work.gram, net.work.course = finder{}, gram{}, course{}
	s.recent, s.trials = &net.work.recent, &net.work.trials
	s.prober, s.gears = newProber(net)
	for k := range s.windows {
		s.windows[k].slope = math.NaN() // none yet
	}
	s.groupOf, s.groups = net.groupOf()
	s.lossy, s.formOf = net.lossForms(s.groupOf, s.groups)
	s.sums = make([]float64, s.groups+extraSums)
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
	s.rec = Record{Triac: make([]float64, n), Gate: make([]float64, n), Snubber: make([]float64, n), Element: make([]float64, n), Wire: make([]float64, n)}
	if blocks != nil {
		p := s.newSet(t)
		p.blocks = blocks
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
	s.seg = Segment{c: c, net: net, src: s.src}
	s.seg.begin(s.x)
	clear(s.seg.xi)
	s.seg.state(0, s.x)
	return s, nil
}
