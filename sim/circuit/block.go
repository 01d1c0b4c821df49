package circuit

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
	node   []float64 // a row for each of its nodes
	volt   []float64 // and each of its branches
	amps   []float64
	flow   []float64 // the current that each node of the edge loses to the block
	// joined numbers what is connected through the block: equal numbers for
	// nodes of its edge that are, 0 for what is connected to the reference.
	joined []int
}

// reduce returns a block at the levels of key k, made once.
func (p *params) reduce(at int, k key) (*reduced, error) {
	b := &p.net.blocks[at]
	if p.blocks == nil {
		p.blocks = make([]map[key]*reduced, len(p.net.blocks))
	}
	if p.blocks[at] == nil {
		p.blocks[at] = map[key]*reduced{}
	}
	if r, ok := p.blocks[at][k&b.mask]; ok {
		return r, nil
	}
	r, err := p.eliminate(b, k)
	if err != nil {
		return nil, err
	}
	p.blocks[at][k&b.mask] = r
	return r, nil
}

func (p *params) eliminate(b *block, k key) (*reduced, error) {
	net, w := p.net, &p.work
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
	column := func(state int) int {
		for j, s := range r.active {
			if s == state {
				return j
			}
		}
		return -1
	}
	// An end of a branch: one of the block's nodes, or a column of its edge; −1
	// is the reference.
	ends := func(br *branch) (a, b2, ca, cb int) {
		a, b2, ca, cb = -1, -1, -1, -1
		for i, e := range [2]int{br.a, br.b} {
			if e < 0 {
				continue
			}
			row, col := -1, -1
			if net.owner[e] >= 0 {
				row = net.local[e]
			} else {
				col = states + b.place(e)
			}
			if i == 0 {
				a, ca = row, col
			} else {
				b2, cb = row, col
			}
		}
		return a, b2, ca, cb
	}
	w.extra = resize(w.extra, len(b.branches))
	w.parent = resize(w.parent, own+edge+1) // own nodes, edge, reference
	for i := range w.parent {
		w.parent[i] = i
	}
	spot := func(row, col int) int {
		switch {
		case row >= 0:
			return row
		case col >= 0:
			return own + col - states
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
			n1, n2, c1, c2 := ends(&net.branches[at])
			x, y := w.find(spot(n1, c1)), w.find(spot(n2, c2))
			w.parent[min(x, y)] = max(x, y) // the reference and the edge stay roots
		}
	}
	w.m, w.rhs, w.piv = resize(w.m, unknowns*unknowns), resize(w.rhs, unknowns*cols), resize(w.piv, unknowns)
	clear(w.m)
	clear(w.rhs)
	m, rhs := w.m, w.rhs
	add := func(row, col int, v float64) {
		if row >= 0 && col >= 0 {
			m[row*unknowns+col] += v
		}
	}
	put := func(row, col int, v float64) {
		if row >= 0 && col >= 0 {
			rhs[row*cols+col] += v
		}
	}
	for i, at := range b.branches {
		br := &net.branches[at]
		f, ohms, v0 := p.shape(at, k)
		if f == absent {
			continue
		}
		n1, n2, c1, c2 := ends(br)
		switch f {
		case conductive:
			g := 1 / ohms
			add(n1, n1, g)
			add(n2, n2, g)
			add(n1, n2, -g)
			add(n2, n1, -g)
			put(n1, c2, g)
			put(n2, c1, g)
			put(n1, cols-1, g*v0)
			put(n2, cols-1, -g*v0)
		case impedance, voltage:
			x := w.extra[i]
			add(n1, x, 1)
			add(n2, x, -1)
			add(x, n1, 1)
			add(x, n2, -1)
			put(x, c1, -1)
			put(x, c2, 1)
			if f == impedance {
				add(x, x, -ohms)
				put(x, cols-1, v0)
			} else {
				put(x, column(br.state), 1)
			}
		case current:
			put(n1, column(br.state), -1)
			put(n2, column(br.state), 1)
		}
	}
	// What nothing connects to the rest is tied to the reference at one node;
	// no current flows there.
	for i := range own {
		if w.find(i) == i {
			add(i, i, 1)
		}
	}
	r.joined = make([]int, edge)
	for j := range r.joined {
		if root := w.find(own + j); root != own+edge {
			r.joined[j] = root + 1
		}
	}
	if col := factor(m, unknowns, w.piv); col >= 0 {
		if col < own {
			return nil, p.singular(k, "node "+net.nodeName(b.nodes[col]))
		}
		for i, x := range w.extra {
			if x == col {
				return nil, p.singular(k, "part "+net.branches[b.branches[i]].name)
			}
		}
	}
	solve(m, unknowns, w.piv, rhs, cols)
	all := make([]float64, (own+2*len(b.branches)+edge)*cols)
	r.node, all = all[:own*cols:own*cols], all[own*cols:]
	n := len(b.branches) * cols
	r.volt, r.amps, r.flow = all[:n:n], all[n:2*n:2*n], all[2*n:]
	copy(r.node, rhs)
	for i, at := range b.branches {
		br := &net.branches[at]
		n1, n2, c1, c2 := ends(br)
		v, amps := r.volt[i*cols:(i+1)*cols], r.amps[i*cols:(i+1)*cols]
		f, ohms, v0 := p.shape(at, k)
		if f == voltage {
			v[column(br.state)] = 1
		} else {
			if n1 >= 0 {
				copy(v, rhs[n1*cols:(n1+1)*cols])
			} else if c1 >= 0 {
				v[c1] = 1
			}
			if n2 >= 0 {
				for j, x := range rhs[n2*cols : (n2+1)*cols] {
					v[j] -= x
				}
			} else if c2 >= 0 {
				v[c2]--
			}
		}
		switch f {
		case conductive:
			for j := range amps {
				amps[j] = v[j] / ohms
			}
			amps[cols-1] -= v0 / ohms
		case impedance, voltage:
			copy(amps, rhs[w.extra[i]*cols:(w.extra[i]+1)*cols])
		case current:
			amps[column(br.state)] = 1
		}
		for end, c := range [2]int{c1, c2} {
			if c < 0 {
				continue
			}
			flow := r.flow[(c-states)*cols : (c-states+1)*cols]
			for j, x := range amps {
				if end == 0 {
					flow[j] += x
				} else {
					flow[j] -= x
				}
			}
		}
	}
	return r, nil
}
