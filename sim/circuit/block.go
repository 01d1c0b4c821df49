package circuit

import (
	"math"
	"slices"
)

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
	ends     [][2]end
	mask     key   // the bits of their valves
	probes   []int // those of the network that are its own
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
	n.blocks, n.shared, n.trunk = make([]block, 0, most), make([]int, 0, len(n.nodes)), make([]int, 0, len(n.branches))
	places := make([]int, 2*len(n.nodes))
	n.owner, n.local = places[:len(n.nodes)], places[len(n.nodes):]
	for i := range n.nodes {
		c := channel(i)
		if c < 0 {
			n.owner[i], n.local[i] = -1, len(n.shared)
			n.shared = append(n.shared, i)
			continue
		}
		c = find(c)
		if number[c] == 0 {
			n.blocks = append(n.blocks, newBlock())
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

// newBlock returns a block with room for what a channel has as a rule.
func newBlock() block {
	room := make([]int, 44)
	return block{nodes: room[:0:12], branches: room[12:12:32], states: room[32:32:36], edge: room[36:36]}
}

// prepare makes room for what is worked out of a network in blocks, and notes
// where everything is.
func (n *netlist) prepare() {
	n.kept, n.bases, n.wasted, n.strands = nil, nil, nil, nil
	n.scale = n.work.take(len(n.states))
	for i, b := range n.states {
		n.scale[i] = math.Sqrt(n.branches[b].store)
	}
	n.home, n.order = n.work.takeInts(len(n.branches)), n.work.takeInts(len(n.branches))
	ends := n.work.takeEnds(len(n.branches))
	place := func(branches []int, block int) [][2]end {
		own := ends[:len(branches):len(branches)]
		ends = ends[len(branches):]
		for j, at := range branches {
			n.home[at], n.order[at] = block, j
			own[j] = [2]end{n.end(n.branches[at].a, block), n.end(n.branches[at].b, block)}
		}
		return own
	}
	n.ends = place(n.trunk, -1)
	n.common = n.linkMask
	for _, at := range n.trunk {
		if v := n.branches[at].valve; v >= 0 {
			n.common |= 3 << (2 * v)
		}
	}
	for i := range n.blocks {
		n.blocks[i].ends = place(n.blocks[i].branches, i)
	}
	n.keepAtHand()
}

// end returns where a node is in the equations of a block, or, −1, in those of
// the shared nodes.
func (n *netlist) end(node, block int) end {
	switch {
	case node < 0:
		return reference
	case n.owner[node] == block:
		return end{n.local[node], -1}
	}
	return end{-1, n.blocks[block].place(node)}
}

// keepAtHand chooses the signals whose rows every combination holds from the
// start: what the switching rules look at, the probes, and what the other rows
// follow from, the shared nodes and the currents of the trunk. The rest is for
// those who measure.
func (n *netlist) keepAtHand() {
	n.probes = n.work.takeInts(len(n.valves))[:0]
	n.rowOf = n.work.takeInts(n.signals())
	for i := range n.rowOf {
		n.rowOf[i] = -1
	}
	for _, i := range n.valves {
		if n.branches[i].kind == linkPath {
			continue
		}
		n.rowOf[n.sigVolt(i)], n.rowOf[n.sigCurrent(i)] = len(n.probes), len(n.probes)
		n.probes = append(n.probes, i)
	}
	n.atHand = len(n.probes)
	own := n.work.takeInts(len(n.probes))[:0]
	for i := range n.blocks {
		first := len(own)
		for j, at := range n.probes {
			if n.home[at] == i {
				own = append(own, j)
			}
		}
		n.blocks[i].probes = own[first:len(own):len(own)]
	}
	for _, i := range n.shared {
		n.rowOf[n.sigNode(i)] = n.atHand
		n.atHand++
	}
	for _, i := range n.trunk {
		if b := &n.branches[i]; b.valve < 0 || b.kind == linkPath {
			n.rowOf[n.sigCurrent(i)] = n.atHand
		}
		n.atHand++
	}
}

// probe returns the signal of probe i at the levels of key k: the current of its
// valve where it conducts, the voltage where it blocks.
func (n *netlist) probe(i int, k key) int {
	b := n.probes[i]
	if k.level(n.branches[b].valve) != off {
		return n.sigCurrent(b)
	}
	return n.sigVolt(b)
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
// valves. Rows stand on (the voltages of its edge, its active states, 1).
type reduced struct {
	active []int // states of the netlist
	width  int
	all    []float64 // the rows, in this order:
	node   []float64 // a row for each of its nodes
	amps   []float64 // and for each of its branches
	probe  []float64 // and for each of its probes
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
	if n := len(p.net.blocks); len(p.blocks) < n {
		p.blocks = slices.Grow(p.blocks, n)[:n] // perhaps with empty maps in it
	}
	if p.blocks[at] == nil {
		p.blocks[at] = map[key]*reduced{}
	}
	own := k & b.mask
	if r, ok := p.blocks[at][own]; ok {
		return r, nil
	}
	if r := p.lender.block(at, own); r != nil {
		p.blocks[at][own] = r
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
	m := &w.reductions.Take(1, 8)[0]
	m.active, m.width, m.joined = r.active, r.width, r.joined
	m.divide(b, w.blocks.Lend(len(r.all), 1000))
	copy(m.all, r.all)
	for i := r.width - 1; i < len(m.all); i += r.width {
		m.all[i] = -m.all[i]
	}
	return m
}

// divide gives the rows of a block their room.
func (r *reduced) divide(b *block, all []float64) {
	r.all = all
	take := func(rows int) []float64 {
		x := all[:rows*r.width]
		all = all[len(x):]
		return x
	}
	r.node, r.amps, r.probe, r.flow = take(len(b.nodes)), take(len(b.branches)), take(len(b.probes)), take(len(b.edge))
}

// across writes the voltage of branch j of the block.
func (r *reduced) across(n *netlist, b *block, j int, to []float64) {
	clear(to)
	if br := &n.branches[b.branches[j]]; br.kind == capacitor || br.kind == linkPath {
		if s := slices.Index(r.active, br.state); s >= 0 {
			to[len(b.edge)+s] = 1
			return
		}
	}
	x, y := b.ends[j][0], b.ends[j][1]
	if x.row >= 0 {
		copy(to, r.line(r.node, x.row))
	} else if x.col >= 0 {
		to[x.col] = 1
	}
	if y.row >= 0 {
		for i, v := range r.line(r.node, y.row) {
			to[i] -= v
		}
	} else if y.col >= 0 {
		to[y.col]--
	}
}

func (p *params) eliminate(b *block, k key) (*reduced, error) {
	net, w := p.net, p.work
	own, edge := len(b.nodes), len(b.edge)
	r := &w.reductions.Take(1, 8)[0]
	r.active = w.indices.Take(len(b.states), 32)[:0]
	for _, s := range b.states {
		if f, _, _ := p.shape(net.states[s], k); f == voltage || f == current {
			r.active = append(r.active, s)
		}
	}
	r.width = edge + len(r.active) + 1
	cols := r.width
	w.members = resize(w.members, len(b.branches))
	w.separate(own + edge + 1) // own nodes, edge, reference
	spot := func(e end) int {
		switch {
		case e.row >= 0:
			return e.row
		case e.col >= 0:
			return own + e.col
		}
		return own + edge
	}
	unknowns := own
	for i, at := range b.branches {
		m := &w.members[i]
		m.a, m.b, m.x, m.given = b.ends[i][0], b.ends[i][1], -1, -1
		m.form, m.ohms, m.volts = p.shape(at, k)
		switch m.form {
		case impedance:
			m.x = unknowns
			unknowns++
		case voltage:
			m.x, m.given = unknowns, edge+slices.Index(r.active, net.branches[at].state)
			unknowns++
		}
		if m.form != absent && m.form != current {
			w.join(spot(m.a), spot(m.b)) // the reference and the edge stay roots
		}
	}
	w.begin(unknowns, cols)
	for i := range w.members {
		w.stamp(&w.members[i])
	}
	// What nothing connects to the rest is tied to the reference at one node;
	// no current flows there.
	for i := range own {
		if w.find(i) == i {
			w.tie(i)
		}
	}
	r.joined = w.indices.Take(edge, 32)
	for j := range r.joined {
		if root := w.find(own + j); root != own+edge {
			r.joined[j] = root + 1
		}
	}
	if col := w.solve(); col >= 0 {
		return nil, p.singular(k, col, b.nodes, b.branches)
	}
	r.divide(b, w.blocks.Lend((own+len(b.branches)+len(b.probes)+edge)*cols, 1000))
	clear(r.flow)
	for i := range own {
		copy(r.line(r.node, i), w.solution(i))
	}
	w.row = resize(w.row, cols)
	for i := range w.members {
		m, amps := &w.members[i], r.line(r.amps, i)
		w.read(m, w.row, amps)
		if m.a.col >= 0 {
			for j, x := range amps {
				r.flow[m.a.col*cols+j] += x
			}
		}
		if m.b.col >= 0 {
			less(r.line(r.flow, m.b.col), 1, amps)
		}
	}
	for i, of := range b.probes {
		at, row := net.probes[of], r.line(r.probe, i)
		if k.level(net.branches[at].valve) != off {
			copy(row, r.line(r.amps, net.order[at]))
		} else {
			r.across(net, b, net.order[at], row)
		}
	}
	return r, nil
}
