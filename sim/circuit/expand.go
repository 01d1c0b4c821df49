package circuit

import "slices"

// write writes the coefficients of a signal.
func (c *combination) write(sig int, to []float64) {
	if r := c.held(sig); r != nil {
		copy(to, r)
		return
	}
	c.expand(sig, to)
}

// expand writes the coefficients of a signal from those of the shared nodes and
// the trunk, and from the blocks.
func (c *combination) expand(sig int, to []float64) {
	net := c.net
	if c.image != nil {
		c.image.write(sig, to)
		to[len(to)-1] = -to[len(to)-1]
		return
	}
	if sig < len(net.nodes) {
		if at := net.owner[sig]; at >= 0 {
			r := c.blocks[at]
			c.expandBlock(at, r.line(r.node, net.local[sig]), to)
		} else {
			copy(to, c.node(sig))
		}
		return
	}
	branch, volt := sig-len(net.nodes), true
	if branch >= len(net.branches) {
		branch, volt = branch-len(net.branches), false
	}
	at, j := net.home[branch], net.order[branch]
	switch {
	case at < 0 && volt:
		c.acrossTrunk(branch, to)
	case at < 0:
		copy(to, c.line(len(net.probes)+len(net.shared)+j))
	case volt:
		r := c.blocks[at]
		var buf [16]float64
		v := room(buf[:], r.width)
		r.across(net, &net.blocks[at], j, v)
		c.expandBlock(at, v, to)
	default:
		r := c.blocks[at]
		c.expandBlock(at, r.line(r.amps, j), to)
	}
}

// expandBlock writes what a row of a block is in the combination.
func (c *combination) expandBlock(at int, from, to []float64) {
	edge, r := c.net.blocks[at].edge, c.blocks[at]
	states := from[len(edge):]
	if len(edge) == 3 { // as usual, at once
		x, y, z := from[0], from[1], from[2]
		p, q, s := c.node(edge[0])[:len(to)], c.node(edge[1])[:len(to)], c.node(edge[2])[:len(to)]
		for i := range to {
			to[i] = x*p[i] + y*q[i] + z*s[i]
		}
	} else {
		clear(to)
		for j, e := range edge {
			less(to, -from[j], c.node(e))
		}
	}
	for l, s := range r.active {
		to[slices.Index(c.active, s)] += states[l]
	}
	to[len(to)-1] += from[len(from)-1]
}

// node returns the coefficients of a shared node.
func (c *combination) node(i int) []float64 { return c.line(len(c.net.probes) + c.net.local[i]) }

// acrossTrunk writes the voltage of a branch of the trunk.
func (c *combination) acrossTrunk(branch int, to []float64) {
	clear(to)
	b := &c.net.branches[branch]
	if b.kind == source {
		to[c.n] = 1
		return
	}
	if b.kind == capacitor || b.kind == linkPath {
		if col := slices.Index(c.active, b.state); col >= 0 {
			to[col] = 1
			return
		}
	}
	if b.a >= 0 {
		copy(to, c.node(b.a))
	}
	if b.b >= 0 {
		for i, y := range c.node(b.b) {
			to[i] -= y
		}
	}
}
