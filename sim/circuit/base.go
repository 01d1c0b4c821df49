package circuit

// base is what combinations have in common that differ in their blocks alone: the
// active states, and the equations as far as the trunk goes.
type base struct {
	key      key // of the contacts and the trunk's valves
	active   []int
	column   []int // see workspace
	unknowns int
	rows     []float64
	pattern  []uint64
	parent   []int
	members  []member
	losses   []loss // of the trunk, once asked for
}

// bases are those of networks whose trunks have the same values.
type bases struct {
	ohms, siemens []float64 // of the trunk's branches
	list          []base
}

// serve reports whether the bases are those of p.
func (b *bases) serve(p *params) bool {
	for i, at := range p.net.trunk {
		if b.ohms[i] != p.ohms[at] || b.siemens[i] != p.siemens[at] {
			return false
		}
	}
	return true
}

// newBases returns none yet, for the values of p.
func (p *params) newBases() *bases {
	n := len(p.net.trunk)
	values := p.work.lend(2 * n)
	b := &bases{ohms: values[:n], siemens: values[n:]}
	for i, at := range p.net.trunk {
		b.ohms[i], b.siemens[i] = p.ohms[at], p.siemens[at]
	}
	return b
}

// base returns that of key k, made once.
func (p *params) base(k key) *base {
	if p.bases == nil {
		p.bases = p.newBases()
	}
	k &= p.net.common
	for i := range p.bases.list {
		if b := &p.bases.list[i]; b.key == k {
			return b
		}
	}
	p.bases.list = append(p.bases.list, p.newBase(k))
	return &p.bases.list[len(p.bases.list)-1]
}

// newBase finds the active states and puts up the equations of the shared nodes
// and the trunk.
func (p *params) newBase(k key) base {
	net, w := p.net, p.work
	b := base{key: k, column: w.takeInts(len(net.states)), active: w.takeInts(len(net.states))[:0]}
	for s, i := range net.states {
		b.column[s] = -1
		if f, _, _ := p.shape(i, k); f == voltage || f == current {
			b.column[s] = len(b.active)
			b.active = append(b.active, s)
		}
	}
	n, shared := len(b.active), len(net.shared)
	w.members = resize(w.members, len(net.trunk))
	w.separate(shared + 1)
	unknowns := shared
	for i, at := range net.trunk {
		m, br := &w.members[i], &net.branches[at]
		*m = member{a: net.ends[i][0], b: net.ends[i][1], x: -1, given: -1}
		m.form, m.ohms, m.volts = p.shape(at, k)
		if m.form == impedance || m.form == voltage {
			m.x = unknowns
			unknowns++
		}
		if br.kind == source {
			m.given = n
		} else if br.state >= 0 {
			m.given = b.column[br.state]
		}
		if m.form != absent && m.form != current {
			w.join(net.spot(m.a), net.spot(m.b)) // the reference stays a root
		}
	}
	w.begin(unknowns, n+2)
	for i := range w.members {
		w.stamp(&w.members[i])
	}
	b.unknowns = unknowns
	b.rows = w.lend(len(w.rows))
	copy(b.rows, w.rows)
	b.parent = w.takeInts(len(w.parent))
	copy(b.parent, w.parent)
	b.pattern, b.members = append(b.pattern, w.pattern...), append(b.members, w.members...)
	return b
}

// spot returns where an end of the trunk is among the shared nodes, the reference
// after them.
func (n *netlist) spot(e end) int {
	if e.row < 0 {
		return len(n.shared)
	}
	return e.row
}

// from begins with the equations of a base.
func (w *workspace) from(b *base) {
	w.unknowns, w.columns = b.unknowns, len(b.active)+2
	w.length = w.unknowns + w.columns
	w.pivots = resize(w.pivots, w.unknowns)
	w.column = b.column
	w.rows = append(w.rows[:0], b.rows...)
	w.pattern = append(w.pattern[:0], b.pattern...)
	w.parent = append(w.parent[:0], b.parent...)
	w.members = append(w.members[:0], b.members...)
}
