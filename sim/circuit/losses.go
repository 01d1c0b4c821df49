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
const often = 4

// condense keeps one of several forms, of m numbers each, that are multiples of
// each other: one current may flow through parts of several groups. They are if
// they differ by the rounding in their making. The forms are laid out as contract
// takes them, filled up with zeros.
func (l *losses) condense(m int) {
	var kept []float64
	for i, to := range l.groups {
		form := l.forms[i*m : (i+1)*m]
		if len(form) == 0 || slices.Max(form) == 0 && slices.Min(form) == 0 {
			continue
		}
		at, times := 0, 0.0
		for ; at < len(kept); at += m {
			if times = multiple(form, kept[at:at+m]); times != 0 {
				break
			}
		}
		if at == len(kept) {
			kept, times = append(kept, form...), 1
		}
		l.shares = append(l.shares, share{to, at / m, times})
	}
	n := (len(kept)/m + lanes - 1) / lanes
	l.forms = make([]float64, n*lanes*m)
	for at, x := range kept {
		form, i := at/m, at%m
		l.forms[(form/lanes*m+i)*lanes+form%lanes] = x
	}
}

// multiple returns the x for which a = x·b, zero if there is none.
func multiple(a, b []float64) float64 {
	best := 0
	for i, y := range b {
		if math.Abs(y) > math.Abs(b[best]) {
			best = i
		}
	}
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
	forms []float64
	parts []float64 // what inputs of the combination consist of, by row
	block []float64 // the same of the inputs of a block
	own   []float64 // of a branch's current
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
	n, width, nb := c.n, c.width, c.n+2*len(src.order)+1
	m := triangle(nb)
	w.forms = resize(w.forms, len(p.lossy)*m)
	clear(w.forms)
	w.own = resize(w.own, nb)
	c.parts(src, w)
	form := func(g int) []float64 {
		at := p.formOf[g] * m
		return w.forms[at : at+m]
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
			combine(from, parts, w.own)
			f := form(g)
			addSquare(f, w.own, ohms)
			if volts != 0 {
				addLinear(f, w.own, volts)
			}
		}
	}
	for i, r := range c.blocks {
		b := &net.blocks[i]
		w.block = resize(w.block, r.width*nb)
		for j, e := range b.edge {
			combine(c.row(net.sigNode(e)), w.parts, w.block[j*nb:(j+1)*nb])
		}
		for j, s := range r.active {
			col := slices.Index(c.active, s)
			copy(w.block[(len(b.edge)+j)*nb:], w.parts[col*nb:(col+1)*nb])
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
	combine(c.row(net.sigCurrent(sourceBranch)), w.parts, w.own)
	addProduct(form(groupSource), w.own, w.parts[n*nb:(n+1)*nb])
	addSquare(form(p.groups+sourceSquare), w.own, 1)
	if net.earth >= 0 {
		combine(c.row(net.sigCurrent(net.earth)), w.parts, w.own)
		addSquare(form(p.groups+earthSquare), w.own, 1)
		c.charge = append(w.take(nb)[:0], w.own...)
	}
	c.between(net.line, net.neutral, w)
	addSquare(form(p.groups+voltageSquare), w.own, 1)
	c.groups, c.forms = p.lossy, w.take(len(w.forms))
	copy(c.forms, w.forms)
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
	for h, resp := range c.responses(src) {
		for i, x := range resp {
			w.parts[i*nb+n+2*h], w.parts[i*nb+n+2*h+1] = real(x), imag(x)
		}
		w.parts[n*nb+n+2*h] = 1
	}
	w.parts[n*nb+nb-1] = src.dc
	w.parts[(n+1)*nb+nb-1] = 1
}

// between writes what the voltage between two shared nodes consists of into
// w.own.
func (c *combination) between(plus, minus int, w *workspace) {
	w.row = resize(w.row, c.width)
	clear(w.row)
	if plus >= 0 {
		copy(w.row, c.row(c.net.sigNode(plus)))
	}
	if minus >= 0 {
		less(w.row, 1, c.row(c.net.sigNode(minus)))
	}
	combine(w.row, w.parts, w.own)
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
	switch len(from) {
	case 2:
		x, y := from[0], from[1]
		r, s := rows[:n], rows[n:2*n]
		for j := range to {
			to[j] += x*r[j] + y*s[j]
		}
	case 1:
		x := from[0]
		for j, y := range rows[:n] {
			to[j] += x * y
		}
	}
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

// lossForms returns the sums that forms are built for, groups with parts and the
// extra sums. form tells which is a sum's own, −1 for none.
func (n *netlist) lossForms(groupOf []int, groups int) (sums, form []int) {
	form = make([]int, groups+extraSums)
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
