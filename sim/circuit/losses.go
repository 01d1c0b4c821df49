package circuit

import (
	"math"
	"slices"

	"boilwright/models"
)

// losses are the quadratic forms of the power of the loss groups, and of the
// extra sums, on the parts that gram integrates the products of: one number
// for each two parts. Groups of which the board has no part are left out.
type losses struct {
	groups []int // by form, its sum
	forms  []float64
	charge []float64 // the current in the earth conductor, if there is one
	still  []product // what does not change: see integrate
	uses   int       // half-cycles that have needed them
	shares []share   // instead of groups, once condensed
}

// share is a sum's share in a form.
type share struct {
	to, form int
	times    float64
}

// often is how often forms are used before they are condensed.
const often = 16

// condense keeps one of several forms, of m numbers each, that are multiples of
// each other: one current may flow through parts of several groups. They are if
// they differ by the rounding in their making. The forms are laid out as contract
// takes them, filled up with zeros.
func (l *losses) condense(m int) {
	kept := make([]float64, 0, len(l.forms))
	var most []int // the largest number of each
	l.shares = make([]share, 0, len(l.groups))
	for i, to := range l.groups {
		form := l.forms[i*m : (i+1)*m]
		best := largest(form)
		if best < 0 {
			continue
		}
		own, times := 0, 0.0
		for ; own < len(most); own++ {
			if times = multiple(form, kept[own*m:(own+1)*m], most[own]); times != 0 {
				break
			}
		}
		if own == len(most) {
			kept, most, times = append(kept, form...), append(most, best), 1
		}
		l.shares = append(l.shares, share{to, own, times})
	}
	n := (len(most) + lanes - 1) / lanes
	l.forms = make([]float64, n*lanes*m)
	for i := range most {
		to := l.forms[i/lanes*m*lanes+i%lanes:]
		for j, x := range kept[i*m : (i+1)*m] {
			to[j*lanes] = x
		}
	}
}

// largest returns which number has the largest magnitude, −1 if all are zero.
func largest(a []float64) int {
	best, most := -1, 0.0
	for i, x := range a {
		if x = math.Abs(x); x > most {
			best, most = i, x
		}
	}
	return best
}

// multiple returns the x for which a = x·b, zero if there is none; best is the
// largest number of b.
func multiple(a, b []float64, best int) float64 {
	x := a[best] / b[best]
	for i, y := range b {
		if !(math.Abs(a[i]-x*y) <= 1e-12*math.Abs(a[i])) {
			return 0
		}
	}
	return x
}

// lossWork is the storage that losses are made in.
type lossWork struct {
	nodes []float64 // what the shared nodes consist of, by row
	block []float64 // and of the inputs of a block but for 1
	own   []float64 // of a branch's current
	// losses are those of a block or of the trunk
	losses []loss
	// and what integrate works with
	roots  []root
	still  []product
	charge []float64
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
	if net.strands == nil {
		net.chain()
	}
	n, nb := c.n, c.n+2*len(src.order)+1
	m := triangle(nb)
	c.groups, c.forms = p.lossy, w.take(len(p.lossy)*m)
	w.own = resize(w.own, nb)
	states, _ := c.transforms(src)
	w.nodes = resize(w.nodes, len(net.shared)*nb)
	for i, at := range net.shared {
		c.compose(c.row(net.sigNode(at)), src, w.nodes[i*nb:(i+1)*nb])
	}
	for i, r := range c.blocks {
		b := &net.blocks[i]
		w.block = resize(w.block, r.width*nb)
		for j, e := range b.edge {
			copy(w.block[j*nb:(j+1)*nb], w.nodes[net.local[e]*nb:])
		}
		for j, s := range r.active {
			col := slices.Index(c.active, s)
			copy(w.block[(len(b.edge)+j)*nb:], states[col*nb:(col+1)*nb])
		}
		copy(w.block[(r.width-1)*nb:], states[(n+1)*nb:])
		last, list := -1, p.lossesOf(b, r, c.key)
		for j := range list {
			l := &list[j]
			if l.row != last {
				weigh(w.own, r.line(r.amps, l.row), w.block)
				last = l.row
			}
			c.lose(l, w.own)
		}
	}
	form := func(g int) []float64 {
		at := p.formOf[g] * m
		return c.forms[at : at+m]
	}
	base := p.base(c.key)
	if base.losses == nil {
		base.losses = p.losses(net.trunk, c.key)
	}
	last, list := -1, base.losses
	for j := range list {
		l := &list[j]
		if l.row != last {
			c.compose(c.row(net.sigCurrent(net.trunk[l.row])), src, w.own)
			last = l.row
		}
		c.lose(l, w.own)
	}
	c.compose(c.row(net.sigCurrent(sourceBranch)), src, w.own)
	into := form(groupSource)
	for h := range src.order {
		addTimes(into, w.own, n+2*h, 1)
	}
	if src.dc != 0 {
		addTimes(into, w.own, nb-1, src.dc)
	}
	addSquare(form(p.groups+sourceSquare), w.own, 1)
	if net.earth >= 0 {
		c.compose(c.row(net.sigCurrent(net.earth)), src, w.own)
		addSquare(form(p.groups+earthSquare), w.own, 1)
		c.charge = append(w.take(nb)[:0], w.own...)
	}
	clear(w.own) // the voltage from L to N
	if net.line >= 0 {
		copy(w.own, w.nodes[net.local[net.line]*nb:])
	}
	if net.neutral >= 0 {
		less(w.own, 1, w.nodes[net.local[net.neutral]*nb:])
	}
	addSquare(form(p.groups+voltageSquare), w.own, 1)
}

// loss is the power that one current loses in a group: r·i² + V0·i.
type loss struct {
	row         int // whose current it is, among the branches that were listed
	form        int // of the group
	ohms, volts float64
}

// losses lists what some branches lose at the levels of key k, those in series
// together, but for what nobody asks for.
func (p *params) losses(branches []int, k key) []loss {
	w := p.work
	w.losses = w.losses[:0]
	for row, at := range branches {
		if !p.net.leads(at) {
			continue
		}
		for at >= 0 {
			group := p.groupOf[at]
			l := loss{row: row}
			for ; at >= 0 && p.groupOf[at] == group; at = p.net.strands[at].next {
				b := &p.net.branches[at]
				if group < 0 || b.kind == source || b.kind == linkPath && k.level(b.valve) != off {
					continue // a link that is open is a stray capacitance: it stores
				}
				if f, ohms, volts := p.shape(at, k); f != absent {
					l.ohms += ohms
					l.volts += volts * p.net.strands[at].sign
				}
			}
			if l.ohms != 0 || l.volts != 0 {
				l.form = p.formOf[group]
				w.losses = append(w.losses, l)
			}
		}
	}
	list := w.lists.Lend(len(w.losses), 64)
	copy(list, w.losses)
	return list
}

// lossesOf returns the losses of a block, listed once.
func (p *params) lossesOf(b *block, r *reduced, k key) []loss {
	n := p.net
	if n.wasted == nil {
		n.wasted = map[*reduced][]loss{}
	}
	list, ok := n.wasted[r]
	if !ok {
		list = p.losses(b.branches, k)
		n.wasted[r] = list
	}
	return list
}

// lose adds a loss to its form, own being what its current consists of.
func (c *combination) lose(l *loss, own []float64) {
	m := triangle(len(own))
	form := c.forms[l.form*m:][:m]
	if l.volts != 0 {
		addTimes(form, own, len(own)-1, l.volts)
	}
	if l.ohms != 0 {
		addSquare(form, own, l.ohms)
	}
}

// compose writes what a signal with coefficients row consists of.
func (c *combination) compose(row []float64, src *waveform, to []float64) {
	states, _ := c.transforms(src)
	weigh(to, row, states)
}

// addSquare adds k·y² to a form, y being a row of parts. The width of usual boards
// is written out.
func addSquare(form, y []float64, k float64) {
	if len(y) == 8 {
		addSquare8((*[36]float64)(form), (*[8]float64)(y), k)
		return
	}
	for i, x := range y {
		row, twice := form[:i], 2*k*x
		for j := range row {
			row[j] += twice * y[j]
		}
		form[i] += k * x * x
		form = form[i+1:]
	}
}

func addSquare8(f *[36]float64, y *[8]float64, k float64) {
	y0, y1, y2, y3, y4, y5, y6, y7 := y[0], y[1], y[2], y[3], y[4], y[5], y[6], y[7]
	f[0] += k * y0 * y0
	a := 2 * k * y1
	f[1], f[2] = f[1]+a*y0, f[2]+k*y1*y1
	a = 2 * k * y2
	f[3], f[4], f[5] = f[3]+a*y0, f[4]+a*y1, f[5]+k*y2*y2
	a = 2 * k * y3
	f[6], f[7], f[8], f[9] = f[6]+a*y0, f[7]+a*y1, f[8]+a*y2, f[9]+k*y3*y3
	a = 2 * k * y4
	f[10], f[11], f[12], f[13], f[14] = f[10]+a*y0, f[11]+a*y1, f[12]+a*y2, f[13]+a*y3, f[14]+k*y4*y4
	a = 2 * k * y5
	f[15], f[16], f[17] = f[15]+a*y0, f[16]+a*y1, f[17]+a*y2
	f[18], f[19], f[20] = f[18]+a*y3, f[19]+a*y4, f[20]+k*y5*y5
	a = 2 * k * y6
	f[21], f[22], f[23], f[24] = f[21]+a*y0, f[22]+a*y1, f[23]+a*y2, f[24]+a*y3
	f[25], f[26], f[27] = f[25]+a*y4, f[26]+a*y5, f[27]+k*y6*y6
	a = 2 * k * y7
	f[28], f[29], f[30], f[31] = f[28]+a*y0, f[29]+a*y1, f[30]+a*y2, f[31]+a*y3
	f[32], f[33], f[34], f[35] = f[32]+a*y4, f[33]+a*y5, f[34]+a*y6, f[35]+k*y7*y7
}

// addTimes adds k times the product of y and part i.
func addTimes(form, y []float64, i int, k float64) {
	row := form[triangle(i):]
	for j, x := range y[:i+1] {
		row[j] += k * x
	}
	for j := i + 1; j < len(y); j++ {
		form[triangle(j)+i] += k * y[j]
	}
}

// groupOf names the loss group of each branch.
func (n *netlist) groupOf() (of []int, count int) {
	per := int(models.WiringPart) // parts that a channel owns
	of = n.work.takeInts(len(n.branches))
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

// lossForms returns the sums that forms are built for, groups with parts and the
// extra sums. form tells which is a sum's own, −1 for none.
func (n *netlist) lossForms(groupOf []int, groups int) (sums, form []int) {
	form = n.work.takeInts(groups + extraSums)
	sums = n.work.takeInts(len(form))[:0]
	for g := range form {
		form[g] = -1
	}
	add := func(g int) {
		if form[g] < 0 {
			form[g] = len(sums)
			sums = append(sums, g)
		}
	}
	add(groupSource)
	for _, g := range groupOf {
		if g >= 0 {
			add(g)
		}
	}
	add(groups + sourceSquare)
	if n.earth >= 0 {
		add(groups + earthSquare)
	}
	add(groups + voltageSquare)
	return sums, form
}

// Loss groups that belong to no channel; the groups of channel k follow.
const (
	groupSource = iota
	groupWiring
	groupOutside
	groupUpstream
	groupFixed
)
