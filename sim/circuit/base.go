package circuit

import (
	"math"
	"slices"
)

// base is what combinations have in common that differ in their blocks alone: the
// active states, and the equations as far as the trunk goes. Those unknowns that no
// block touches have been eliminated.
type base struct {
	key      key // of the contacts and the trunk's valves
	active   []int
	column   []int // see workspace
	unknowns int
	kept     []int     // the unknowns that are left
	rows     []float64 // their equations: coefficients, then columns
	at       [][2]int  // shared node to the row of its current and the column of its voltage there
	lines    []float64 // what follows from those, taken from the columns: see follow
	each     []int     // numbers the kept
	drives   []drive   // of the trunk's states
	touched  []int     // the shared nodes at which blocks end or islands are tied
	whole    bool      // the trunk connects all shared nodes with the reference
	parent   []int
	members  []member
	losses   []loss // of the trunk, once asked for
}

// drive tells which state is driven by what stands in one more line: the current of
// its capacitor or the voltage of its inductor.
type drive struct {
	column int
	store  float64
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
	b, known := p.lender.base(k)
	if !known {
		b = p.newBase(k)
	}
	p.bases.list = append(p.bases.list, b)
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
	b.touched, b.whole = net.touched(w)
	pivots := w.condense(&b, shared)
	b.parent = w.takeInts(len(w.parent))
	copy(b.parent, w.parent)
	b.members = append(b.members, w.members...)
	p.trace(&b, pivots)
	return b
}

// touched returns the shared nodes at which blocks end or, of an island without a
// path to the reference in the trunk, that at which it may be tied to it. An island
// at which no block ends is tied at once. It also reports whether there is none.
func (n *netlist) touched(w *workspace) (nodes []int, whole bool) {
	ends, whole := make([]bool, len(n.shared)), true
	for i := range n.blocks {
		for _, e := range n.blocks[i].edge {
			ends[n.local[e]] = true
		}
	}
	for i, is := range ends {
		if root := w.find(i); is && root < len(n.shared) {
			ends[root] = true
		}
	}
	for i, is := range ends {
		alone := w.find(i) == i
		whole = whole && w.find(i) == len(n.shared)
		if is {
			nodes = append(nodes, i)
		} else if alone {
			w.tie(i)
		}
	}
	return nodes, whole
}

// goodPivot is how large a pivot must be beside what else there is in its column.
const goodPivot = 0.1

// condense eliminates the unknowns that no block touches by the equations that no
// block touches, and returns which of these did each, −1 for none: one for which
// they have no good pivot stays.
func (w *workspace) condense(b *base, shared int) []int {
	const free, fixed, used = 0, 1, 2
	n, length := w.unknowns, w.length
	rows, pivot := make([]int, n), make([]int, n) // what each row is, and the pivot's row of each unknown
	for i := range pivot {
		pivot[i] = -1
	}
	for _, i := range b.touched {
		rows[i] = fixed
	}
	for k := range n {
		if slices.Contains(b.touched, k) {
			continue
		}
		best, most, all := -1, 0.0, 0.0
		for i, is := range rows {
			if x := math.Abs(w.rows[i*length+k]); is != used {
				all = max(all, x)
				if is == free && x > most {
					best, most = i, x
				}
			}
		}
		if best < 0 || !(most >= goodPivot*all) {
			continue
		}
		pivot[k], rows[best] = best, used
		own := w.rows[best*length : (best+1)*length]
		divide(own, own[k])
		for i := range n {
			if ri := w.rows[i*length : (i+1)*length]; i != best && ri[k] != 0 {
				less(ri, ri[k], own)
			}
		}
	}
	for k, p := range pivot {
		if p < 0 {
			b.kept = append(b.kept, k)
		}
	}
	b.at = make([][2]int, shared)
	wide := len(b.kept) + w.columns
	b.rows = w.lend(len(b.kept) * wide)[:0]
	for i, is := range rows {
		if is == used {
			continue
		}
		if i < shared {
			b.at[i] = [2]int{len(b.rows) / wide, slices.Index(b.kept, i)}
		}
		own := w.rows[i*length : (i+1)*length]
		for _, k := range b.kept {
			b.rows = append(b.rows, own[k])
		}
		b.rows = append(b.rows, own[n:]...)
	}
	return pivot
}

// trace writes how all that combinations take from the trunk follows from the
// unknowns that are left: the voltages of shared nodes, the trunk's currents, and
// what drives its states.
func (p *params) trace(b *base, pivots []int) {
	net, w := p.net, p.work
	kept, n, length := len(b.kept), w.unknowns, w.length
	wide := kept + w.columns
	w.full = resize(w.full, n*wide)
	clear(w.full)
	for i, k := range b.kept {
		w.full[k*wide+i] = 1
	}
	for k, at := range pivots {
		if at < 0 {
			continue
		}
		own, to := w.rows[at*length:(at+1)*length], w.full[k*wide:(k+1)*wide]
		for i, j := range b.kept {
			to[i] = -own[j]
		}
		copy(to[kept:], own[n:])
	}
	b.each = make([]int, kept)
	for i := range b.each {
		b.each[i] = i
	}
	w.rows, w.full = w.full, w.rows
	w.unknowns, w.columns, w.length = 0, wide, wide // nothing but solutions
	shared := len(net.shared)
	lines := shared + len(net.trunk)
	b.lines = w.lend((lines + len(net.trunk)) * wide)
	copy(b.lines, w.rows[:shared*wide])
	w.row = resize(w.row, wide)
	for i, at := range net.trunk {
		m, br := &w.members[i], &net.branches[at]
		amps := b.lines[(shared+i)*wide : (shared+i+1)*wide]
		if m.given >= 0 {
			m.given += kept
		}
		w.read(m, w.row, amps)
		if br.state < 0 || m.form != voltage && m.form != current {
			continue
		}
		driven := w.row // di/dt = v/L
		if m.form == voltage {
			driven = amps // dv/dt = i/C
		}
		copy(b.lines[(lines+len(b.drives))*wide:], driven)
		b.drives = append(b.drives, drive{b.column[br.state], br.store})
	}
	for at := 0; at < len(b.lines); at += wide {
		for i := range kept {
			b.lines[at+i] = -b.lines[at+i]
		}
	}
}

// follow writes line i of what follows from a base.
func (w *workspace) follow(b *base, i int, to []float64) {
	kept := len(b.each)
	row := b.lines[i*(kept+len(to)):][:kept+len(to)]
	copy(to, row[kept:])
	lessRows(to, row, w.kept, b.each, len(to), 1)
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
	w.unknowns, w.columns = len(b.kept), len(b.active)+2
	w.length = w.unknowns + w.columns
	w.pivots = resize(w.pivots, w.unknowns)
	w.column = b.column
	w.rows = append(w.rows[:0], b.rows...)
}
