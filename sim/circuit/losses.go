package circuit

import (
	"slices"

	"boilwright/models"
)

// losses are the quadratic forms of the power of the loss groups, and of the
// extra sums, on the parts that gram integrates the products of: one number
// for each two parts. Groups that lose nothing are left out.
type losses struct {
	groups []int // by form, its sum
	forms  []float64
	charge []float64 // the current in the earth conductor, if there is one
}

// lossWork is the storage that losses are made in.
type lossWork struct {
	all    []float64 // forms of all groups
	used   []bool
	groups []int
	parts  []float64 // what inputs of the combination consist of, by row
	block  []float64 // the same of the inputs of a block
	row    []float64 // of a branch's current
}

// The sums that follow those of the loss groups: ∫i² of the source, ∫i² and ∫i
// of the earth conductor, ∫v² from L to N.
const (
	sourceSquare = iota
	earthSquare
	earthCharge
	voltageSquare
	extraSums
)

// power builds the forms. The power of a branch with v = r·i + V0 is that of its
// current alone, so that a small loss is no difference of large voltages.
func (c *combination) power(p *params, src *waveform) {
	net, w := p.net, p.work
	n, width, nb := c.n, c.width, c.n+2*len(src.order)+1
	m := triangle(nb)
	w.all, w.used = resize(w.all, (p.groups+extraSums)*m), resize(w.used, p.groups+extraSums)
	clear(w.all)
	clear(w.used)
	w.row = resize(w.row, nb)
	c.parts(src, w)
	used := 0
	form := func(g int) []float64 {
		if !w.used[g] {
			w.used[g] = true
			used++
		}
		return w.all[g*m : (g+1)*m]
	}
	lose := func(at int, from, parts []float64) {
		g := p.groupOf[at]
		if g < 0 {
			return
		}
		b := &net.branches[at]
		if b.kind == linkPath && c.key.level(b.valve) != off {
			return // open, it is a stray capacitance: it stores
		}
		if f, ohms, volts := p.shape(at, c.key); f != absent {
			combine(from, parts, w.row)
			f := form(g)
			addSquare(f, w.row, ohms)
			if volts != 0 {
				addLinear(f, w.row, volts)
			}
		}
	}
	w.column = resize(w.column, len(net.states))
	for i, s := range c.active {
		w.column[s] = i
	}
	for i, r := range c.blocks {
		b := &net.blocks[i]
		w.block = resize(w.block, r.width*nb)
		for j, s := range r.active {
			col := w.column[s]
			copy(w.block[j*nb:], w.parts[col*nb:(col+1)*nb])
		}
		for j, e := range b.edge {
			at := len(r.active) + j
			combine(c.row(net.sigNode(e)), w.parts, w.block[at*nb:(at+1)*nb])
		}
		copy(w.block[(r.width-1)*nb:], w.parts[(width-1)*nb:])
		for j, at := range b.branches {
			lose(at, r.line(r.amps, j), w.block)
		}
	}
	for _, at := range net.trunk {
		if at != sourceBranch {
			lose(at, c.row(net.sigCurrent(at)), w.parts)
		}
	}
	combine(c.row(net.sigCurrent(sourceBranch)), w.parts, w.row)
	addProduct(form(groupSource), w.row, w.parts[n*nb:(n+1)*nb])
	addSquare(form(p.groups+sourceSquare), w.row, 1)
	if net.earth >= 0 {
		combine(c.row(net.sigCurrent(net.earth)), w.parts, w.row)
		addSquare(form(p.groups+earthSquare), w.row, 1)
		c.charge = append(w.take(nb)[:0], w.row...)
	}
	c.between(net.line, net.neutral, w)
	addSquare(form(p.groups+voltageSquare), w.row, 1)
	w.groups = w.groups[:0]
	for g, u := range w.used {
		if u {
			w.groups = append(w.groups, g)
		}
	}
	for len(w.groups)%4 > 0 { // in fours, filled up with forms of zeros
		w.groups = append(w.groups, groupSource)
	}
	if !slices.Equal(p.lossy, w.groups) { // most combinations have the same
		p.lossy = slices.Clone(w.groups)
	}
	c.groups, c.forms = p.lossy, w.take(len(p.lossy)*m)
	for i, g := range c.groups[:used] {
		copy(c.forms[i*m:], w.all[g*m:(g+1)*m])
	}
}

// parts writes what states, source and 1 consist of into w.parts, a row each.
func (c *combination) parts(src *waveform, w *workspace) {
	n, nb := c.n, c.n+2*len(src.order)+1
	w.parts = resize(w.parts, c.width*nb)
	clear(w.parts)
	for i := range n {
		row := w.parts[i*nb : (i+1)*nb]
		copy(row, c.v[i*n:(i+1)*n])
		row[nb-1] = src.dc*c.unitDC[i] + c.constant[i]
	}
	for h, order := range src.order {
		for i, x := range c.response(order, float64(order)*src.omega) {
			w.parts[i*nb+n+2*h], w.parts[i*nb+n+2*h+1] = real(x), imag(x)
		}
		w.parts[n*nb+n+2*h] = 1
	}
	w.parts[n*nb+nb-1] = src.dc
	w.parts[(n+1)*nb+nb-1] = 1
}

// between writes what the voltage between two nodes consists of into w.row.
func (c *combination) between(plus, minus int, w *workspace) {
	clear(w.row)
	for _, x := range [2]struct {
		node int
		sign float64
	}{{plus, 1}, {minus, -1}} {
		if x.node < 0 {
			continue
		}
		nb := len(w.row)
		for i, y := range c.row(c.net.sigNode(x.node)) {
			for j, z := range w.parts[i*nb : (i+1)*nb] {
				w.row[j] += x.sign * y * z
			}
		}
	}
}

// combine writes the sum of some rows, as long as to, weighted by from.
func combine(from, rows, to []float64) {
	clear(to)
	n := len(to)
	for len(from) > 2 { // three at a time
		x, y, z := from[0], from[1], from[2]
		r, s, t := rows[:n], rows[n:2*n], rows[2*n:3*n]
		for j := range to {
			to[j] += x*r[j] + y*s[j] + z*t[j]
		}
		from, rows = from[3:], rows[3*n:]
	}
	for _, x := range from {
		for j, y := range rows[:n] {
			to[j] += x * y
		}
		rows = rows[n:]
	}
}

// addSquare adds k·y² to a form, y being a row of parts.
func addSquare(form, y []float64, k float64) {
	for i, x := range y {
		row, twice := form[:i], 2*k*x
		for j := range row {
			row[j] += twice * y[j]
		}
		form[i] += k * x * x
		form = form[i+1:]
	}
}

// addLinear adds k·y.
func addLinear(form, y []float64, k float64) {
	last := form[triangle(len(y)-1):]
	for j, x := range y {
		last[j] += k * x
	}
}

// addProduct adds x·y.
func addProduct(form, x, y []float64) {
	at := 0
	for i := range x {
		for j := range i {
			form[at+j] += x[i]*y[j] + x[j]*y[i]
		}
		form[at+i] += x[i] * y[i]
		at += i + 1
	}
}

// groupOf names the loss group of each branch.
func (n *netlist) groupOf() (of []int, count int) {
	per := int(models.WiringPart) // parts that a channel owns
	of = make([]int, len(n.branches))
	for i := range n.branches {
		b := &n.branches[i]
		of[i] = -1
		switch {
		case b.kind == source:
			of[i] = groupSource
		case b.kind == inductor, b.kind == capacitor:
		case b.part == models.NoPart:
			of[i] = groupOutside
		case b.kind == linkPath && b.channel < 0:
			of[i] = groupUpstream
		case b.channel < 0:
			of[i] = groupWiring
		default:
			of[i] = groupFixed + b.channel*per + int(b.part) - 1
		}
	}
	return of, groupFixed + len(n.channels)*per
}

// Loss groups that belong to no channel; the groups of channel k follow.
const (
	groupSource = iota
	groupWiring
	groupOutside
	groupUpstream
	groupFixed
)
