package circuit

// expansion takes rows of a block to rows of a combination.
type expansion struct {
	inputs []float64 // rows of the block's inputs: states, edge and 1
	n      int       // how many
}

// expansion returns that of a block, given the column of each state, in the
// storage room.
func (c *combination) expansion(column []int, r *reduced, b *block, room []float64) expansion {
	room = resize(room, r.width*c.width)
	clear(room)
	for l, s := range r.active {
		room[l*c.width+column[s]] = 1
	}
	for j, e := range b.edge {
		copy(room[(len(r.active)+j)*c.width:], c.row(c.net.sigNode(e)))
	}
	room[len(room)-1] = 1
	return expansion{room, r.width}
}

func (x expansion) expand(from, to []float64) { combine(from, x.inputs, to) }

// distant returns the row of a signal that is not kept at hand, and expands
// those of all blocks when first asked. Recordings may be read by several at
// once.
func (c *combination) distant(sig int) []float64 {
	all := c.further.Load()
	if all == nil {
		all = c.expandAll()
		c.further.Store(all)
	}
	return (*all)[sig*c.width : (sig+1)*c.width]
}

func (c *combination) expandAll() *[]float64 {
	net := c.net
	all := make([]float64, net.signals()*c.width)
	if c.image != nil {
		for sig := range net.signals() {
			mirrorRow(c.image.row(sig), all[sig*c.width:(sig+1)*c.width])
		}
		return &all
	}
	column := make([]int, len(net.states))
	for i, s := range c.active {
		column[s] = i
	}
	for i, r := range c.blocks {
		b := &net.blocks[i]
		x := c.expansion(column, r, b, nil)
		put := func(sig int, from []float64) { x.expand(from, all[sig*c.width:(sig+1)*c.width]) }
		for j, node := range b.nodes {
			put(net.sigNode(node), r.line(r.node, j))
		}
		for j, at := range b.branches {
			put(net.sigVolt(at), r.line(r.volt, j))
			put(net.sigCurrent(at), r.line(r.amps, j))
		}
	}
	return &all
}

// mirrorRow writes a row with the sign of its threshold exchanged.
func mirrorRow(from, to []float64) {
	copy(to, from)
	to[len(to)-1] = -to[len(to)-1]
}
