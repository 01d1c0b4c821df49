package circuit

import "math"

// block is a part of the network that touches the rest only at a few nodes: a
// channel with its parts, or several where a path joins them. Its own nodes are
// eliminated once for each set of its valves' levels, so that a combination of
// the whole is put together from blocks and needs to solve for shared nodes
// alone.
type block struct {
	nodes    []int // its own
	branches []int // with an end at one of them
	states   []int // states of the netlist that belong to them
	edge     []int // shared nodes at which they end, the reference left out
	mask     key   // the bits of their valves
}

// partition divides the network into blocks, by channel.
func (n *netlist) partition() {
	// Channels that a branch joins are one block.
	most := 0
	for _, nd := range n.nodes {
		most = max(most, nd.Channel+1)
	}
	parent := make([]int, most)
	for i := range parent {
		parent[i] = i
	}
	find := func(i int) int {
		for parent[i] != i {
			i = parent[i]
		}
		return i
	}
	// The ends of inductances stay, for whether something else connects them is
	// a question for the whole network.
	stays := make([]bool, len(n.nodes))
	for i := range n.branches {
		if b := &n.branches[i]; b.kind == inductor {
			for _, e := range [2]int{b.a, b.b} {
				if e >= 0 {
					stays[e] = true
				}
			}
		}
	}
	channel := func(node int) int {
		if node < 0 || stays[node] || n.nodes[node].Place < 0 || !n.nodes[node].Place.PerChannel() {
			return -1
		}
		return n.nodes[node].Channel
	}
	for i := range n.branches {
		a, b := channel(n.branches[i].a), channel(n.branches[i].b)
		if a >= 0 && b >= 0 && find(a) != find(b) {
			parent[max(find(a), find(b))] = min(find(a), find(b))
		}
	}
	number := make([]int, most) // of the block of a channel, from 1
	n.blocks, n.shared, n.trunk = nil, nil, nil
	n.owner, n.local = make([]int, len(n.nodes)), make([]int, len(n.nodes))
	for i := range n.nodes {
		c := channel(i)
		if c < 0 {
			n.owner[i], n.local[i] = -1, len(n.shared)
			n.shared = append(n.shared, i)
			continue
		}
		c = find(c)
		if number[c] == 0 {
			n.blocks = append(n.blocks, block{})
			number[c] = len(n.blocks)
		}
		b := &n.blocks[number[c]-1]
		n.owner[i], n.local[i] = number[c]-1, len(b.nodes)
		b.nodes = append(b.nodes, i)
	}
	for i := range n.branches {
		br := &n.branches[i]
		own := -1
		for _, e := range [2]int{br.a, br.b} {
			if e >= 0 && n.owner[e] >= 0 {
				own = n.owner[e]
			}
		}
		if own < 0 {
			n.trunk = append(n.trunk, i)
			continue
		}
		b := &n.blocks[own]
		b.branches = append(b.branches, i)
		if br.state >= 0 {
			b.states = append(b.states, br.state)
		}
		if br.valve >= 0 {
			b.mask |= 3 << (2 * br.valve)
		}
		for _, e := range [2]int{br.a, br.b} {
			if e >= 0 && n.owner[e] < 0 && b.place(e) < 0 {
				b.edge = append(b.edge, e)
			}
		}
	}
	n.prepare()
}

// prepare makes room for what is worked out of a network in blocks.
func (n *netlist) prepare() {
	n.work, n.kept = new(workspace), nil
	n.scale = make([]float64, len(n.states))
	for i, b := range n.states {
		n.scale[i] = math.Sqrt(n.branches[b].store)
	}
	n.keepAtHand()
}

// keepAtHand chooses the signals whose rows every combination holds from the
// start: what the switching rules look at, the valves' own first, and what
// the other rows follow from. The rest is for those who measure.
func (n *netlist) keepAtHand() {
	n.rowOf, n.atHand = make([]int, n.signals()), 0
	for i := range n.rowOf {
		n.rowOf[i] = n.signals()
	}
	keep := func(sig int) {
		if n.rowOf[sig] == n.signals() {
			n.rowOf[sig] = n.atHand
			n.atHand++
		}
	}
	branch := func(i int) {
		keep(n.sigVolt(i))
		keep(n.sigCurrent(i))
	}
	for _, i := range n.valves {
		branch(i)
	}
	for _, i := range n.trunk {
		branch(i)
	}
	for _, i := range n.shared {
		keep(n.sigNode(i))
	}
	for k := range n.channels { // for sensitivities
		for _, e := range [2]int{n.channels[k].elemA, n.channels[k].elemB} {
			if e >= 0 {
				keep(n.sigCurrent(e))
			}
		}
	}
}

// place returns the number of a shared node among the edge of the block, −1
// if it is not there.
func (b *block) place(node int) int {
	for j, e := range b.edge {
		if e == node {
			return j
		}
	}
	return -1
}

// reduced is a block with its own nodes eliminated, at given levels of its
// valves. Rows stand on (its active states, the voltages of its edge, 1).
type reduced struct {
	active []int // states of the netlist
	width  int
	all    []float64 // the rows, in this order:
	node   []float64 // a row for each of its nodes
	volt   []float64 // and each of its branches
	amps   []float64
	flow   []float64 // the current that each node of the edge loses to the block
	// joined numbers what is connected through the block: equal numbers for
	// nodes of its edge that are, 0 for what is connected to the reference.
	joined []int
}

// line returns row j of some rows of the block.
func (r *reduced) line(rows []float64, j int) []float64 { return rows[j*r.width : (j+1)*r.width] }

// reduce returns a block at the levels of key k, made once.
func (p *params) reduce(at int, k key) (*reduced, error) {
	b := &p.net.blocks[at]
	if p.blocks == nil {
		p.blocks = make([]map[key]*reduced, len(p.net.blocks))
	}
	if p.blocks[at] == nil {
		p.blocks[at] = map[key]*reduced{}
	}
	own := k & b.mask
	if r, ok := p.blocks[at][own]; ok {
		return r, nil
	}
	if m, ok := p.blocks[at][p.net.mirror(own)]; ok && p.net.symmetric(own) {
		r := m.mirrored(b, p.work)
		p.blocks[at][own] = r
		return r, nil
	}
	r, err := p.eliminate(b, k)
	if err != nil {
		return nil, err
	}
	p.blocks[at][own] = r
	return r, nil
}

// mirrored returns a block with the sign of every threshold exchanged.
func (r *reduced) mirrored(b *block, w *workspace) *reduced {
	m := &reduced{active: r.active, width: r.width, joined: r.joined}
	m.divide(b, w.take(len(r.all)))
	copy(m.all, r.all)
	for i := r.width - 1; i < len(m.all); i += r.width {
		m.all[i] = -m.all[i]
	}
	return m
}

// divide gives the rows of a block their room.
func (r *reduced) divide(b *block, all []float64) {
	own, n := len(b.nodes)*r.width, len(b.branches)*r.width
	r.all = all
	r.node, r.volt, r.amps, r.flow = all[:own], all[own:own+n], all[own+n:own+2*n], all[own+2*n:]
}

func (p *params) eliminate(b *block, k key) (*reduced, error) {
	net, w := p.net, p.work
	own, edge := len(b.nodes), len(b.edge)
	r := &reduced{}
	for _, s := range b.states {
		if f, _, _ := p.shape(net.states[s], k); f == voltage || f == current {
			r.active = append(r.active, s)
		}
	}
	states := len(r.active)
	r.width = states + edge + 1
	cols := r.width
	place := func(node int) end {
		switch {
		case node < 0:
			return reference
		case net.owner[node] >= 0:
			return end{net.local[node], -1}
		}
		return end{-1, states + b.place(node)}
	}
	given := func(br *branch) int {
		for j, s := range r.active {
			if s == br.state {
				return j
			}
		}
		return -1
	}
	w.extra = resize(w.extra, len(b.branches))
	w.parent = resize(w.parent, own+edge+1) // own nodes, edge, reference
	for i := range w.parent {
		w.parent[i] = i
	}
	spot := func(e end) int {
		switch {
		case e.row >= 0:
			return e.row
		case e.col >= 0:
			return own + e.col - states
		}
		return own + edge
	}
	unknowns := own
	for i, at := range b.branches {
		w.extra[i] = -1
		f, _, _ := p.shape(at, k)
		if f == impedance || f == voltage {
			w.extra[i] = unknowns
			unknowns++
		}
		if f != absent && f != current {
			br := &net.branches[at]
			x, y := w.find(spot(place(br.a))), w.find(spot(place(br.b)))
			w.parent[min(x, y)] = max(x, y) // the reference and the edge stay roots
		}
	}
	w.begin(unknowns, cols)
	for i, at := range b.branches {
		br := &net.branches[at]
		f, ohms, v0 := p.shape(at, k)
		w.stamp(f, ohms, v0, place(br.a), place(br.b), w.extra[i], given(br))
	}
	// What nothing connects to the rest is tied to the reference at one node;
	// no current flows there.
	for i := range own {
		if w.find(i) == i {
			w.tie(i)
		}
	}
	r.joined = make([]int, edge)
	for j := range r.joined {
		if root := w.find(own + j); root != own+edge {
			r.joined[j] = root + 1
		}
	}
	if col := w.solve(); col >= 0 {
		if col < own {
			return nil, p.singular(k, "node "+net.nodeName(b.nodes[col]))
		}
		for i, x := range w.extra {
			if x == col {
				return nil, p.singular(k, "part "+net.branches[b.branches[i]].name)
			}
		}
	}
	r.divide(b, w.take((own+2*len(b.branches)+edge)*cols))
	for i := range own {
		copy(r.line(r.node, i), w.solution(i))
	}
	for i, at := range b.branches {
		br := &net.branches[at]
		amps := r.amps[i*cols : (i+1)*cols]
		f, ohms, v0 := p.shape(at, k)
		w.read(f, ohms, v0, place(br.a), place(br.b), w.extra[i], given(br), r.volt[i*cols:(i+1)*cols], amps)
		for side, node := range [2]int{br.a, br.b} {
			c := place(node).col
			if c < 0 {
				continue
			}
			flow := r.flow[(c-states)*cols : (c-states+1)*cols]
			for j, x := range amps {
				if side == 0 {
					flow[j] += x
				} else {
					flow[j] -= x
				}
			}
		}
	}
	return r, nil
}
