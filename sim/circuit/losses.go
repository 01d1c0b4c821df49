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
	parts []float64 // what the states of the combination consist of, by row
	nodes []float64 // the same of the shared nodes
	block []float64 // and of the inputs of a block but for 1
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
	if net.strands == nil {
		net.chain()
	}
	n, nb := c.n, c.n+2*len(src.order)+1
	m := triangle(nb)
	c.groups, c.forms = p.lossy, w.take(len(p.lossy)*m)
	w.own = resize(w.own, nb)
	c.parts(src, w)
	w.nodes = resize(w.nodes, len(net.shared)*nb)
	for i, at := range net.shared {
		c.compose(c.row(net.sigNode(at)), src, w, w.nodes[i*nb:(i+1)*nb])
	}
	for i, r := range c.blocks {
		b := &net.blocks[i]
		w.block = resize(w.block, (r.width-1)*nb)
		for j, e := range b.edge {
			copy(w.block[j*nb:(j+1)*nb], w.nodes[net.local[e]*nb:])
		}
		for j, s := range r.active {
			col := slices.Index(c.active, s)
			copy(w.block[(len(b.edge)+j)*nb:], w.parts[col*nb:(col+1)*nb])
		}
		for j, at := range b.branches {
			if !net.leads(at) {
				continue
			}
			c.lose(p, at, func() {
				row := r.line(r.amps, j)
				combine(row[:r.width-1], w.block, w.own)
				w.own[nb-1] += row[r.width-1]
			})
		}
	}
	form := func(g int) []float64 {
		at := p.formOf[g] * m
		return c.forms[at : at+m]
	}
	for _, at := range net.trunk {
		if net.leads(at) {
			c.lose(p, at, func() { c.compose(c.row(net.sigCurrent(at)), src, w, w.own) })
		}
	}
	c.compose(c.row(net.sigCurrent(sourceBranch)), src, w, w.own)
	into := form(groupSource)
	for h := range src.order {
		addTimes(into, w.own, n+2*h, 1)
	}
	if src.dc != 0 {
		addTimes(into, w.own, nb-1, src.dc)
	}
	addSquare(form(p.groups+sourceSquare), w.own, 1)
	if net.earth >= 0 {
		c.compose(c.row(net.sigCurrent(net.earth)), src, w, w.own)
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

// ohmic returns the resistance and the threshold by which a branch loses power
// in a combination; lossy is false where it loses none, or where nobody asks.
func (c *combination) ohmic(p *params, at int) (ohms, volts float64, lossy bool) {
	b := &p.net.branches[at]
	if p.groupOf[at] < 0 || b.kind == source || b.kind == linkPath && c.key.level(b.valve) != off {
		return 0, 0, false // a link that is open is a stray capacitance: it stores
	}
	f, ohms, volts := p.shape(at, c.key)
	return ohms, volts, f != absent
}

// lose adds the losses of a branch and of those in series with it. What their
// current consists of is found by flow, which writes w.own, if any loses power.
func (c *combination) lose(p *params, at int, flow func()) {
	own := p.work.own
	m, known := triangle(len(own)), false
	for at >= 0 {
		group, sum := p.groupOf[at], 0.0
		for ; at >= 0 && p.groupOf[at] == group; at = p.net.strands[at].next {
			ohms, volts, lossy := c.ohmic(p, at)
			if !lossy {
				continue
			}
			if !known {
				flow()
				known = true
			}
			sum += ohms
			if volts != 0 {
				addTimes(c.forms[p.formOf[group]*m:][:m], own, len(own)-1, volts*p.net.strands[at].sign)
			}
		}
		if sum != 0 {
			addSquare(c.forms[p.formOf[group]*m:][:m], own, sum)
		}
	}
}

// parts writes what the states consist of into w.parts, a row each.
func (c *combination) parts(src *waveform, w *workspace) {
	n, nb := c.n, c.n+2*len(src.order)+1
	w.parts = resize(w.parts, n*nb)
	responses := c.responses(src)
	for i := range n {
		row := w.parts[i*nb : (i+1)*nb]
		copy(row, c.v[i*n:(i+1)*n])
		for h, resp := range responses {
			row[n+2*h], row[n+2*h+1] = real(resp[i]), imag(resp[i])
		}
		row[nb-1] = src.dc*c.unitDC[i] + c.constant[i]
	}
}

// compose writes what a signal with coefficients row consists of.
func (c *combination) compose(row []float64, src *waveform, w *workspace, to []float64) {
	n, e := c.n, row[c.n]
	combine(row[:n], w.parts, to)
	for h := range src.order {
		to[n+2*h] += e
	}
	to[len(to)-1] += src.dc*e + row[n+1]
}

// combine writes the sum of some rows, as long as to, weighted by from. The width
// of usual boards is written out.
func combine(from, rows, to []float64) {
	n := len(to)
	if n == 8 {
		combine8(from, rows, (*[8]float64)(to))
		return
	}
	clear(to)
	for i, x := range from {
		less(to, -x, rows[i*n:(i+1)*n])
	}
}

func combine8(from, rows []float64, to *[8]float64) {
	var s0, s1, s2, s3, s4, s5, s6, s7 float64
	for _, x := range from {
		r := (*[8]float64)(rows)
		rows = rows[8:]
		s0 += x * r[0]
		s1 += x * r[1]
		s2 += x * r[2]
		s3 += x * r[3]
		s4 += x * r[4]
		s5 += x * r[5]
		s6 += x * r[6]
		s7 += x * r[7]
	}
	*to = [8]float64{s0, s1, s2, s3, s4, s5, s6, s7}
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
