package circuit

import (
	"fmt"
	"strings"
)

// combination is the linear network of one set of valve levels:
//
//	dx/dt = A x + b·e + k,   y = C x + d·e + h
//
// with x the capacitor voltages and inductor currents that exist in it, e the
// source voltage and y every node voltage, branch voltage and branch current.
// Rows of C, d and h stand side by side in rows.
type combination struct {
	key    key
	serial uint64 // see workspace.made
	net    *netlist
	n      int   // active states
	active []int // active state to state of the netlist
	width  int   // n + 2
	// rows holds (C, d, h), one row of width numbers for each of the signals
	// that the netlist keeps at hand, the probes first; a mirror image holds
	// those alone.
	rows   []float64
	blocks []*reduced
	few    [4]*reduced // where blocks are, if no more
	// image is the combination of which this one is the mirror image, nil for
	// one that has been assembled.
	image *combination

	// A, b and k, from which modal finds the modes when first asked for them:
	// a combination that only serves to test a demand needs none.
	a, be, kc []float64
	bound     float64 // no mode is faster, 1/s

	modes
	lasted float64 // how long the last segment in it was, s

	// apart tells that an inductor's ends lie in parts of the network that
	// nothing else connects.
	apart bool

	losses
	memo memo // for its visits to come
}

// signal indices
func (n *netlist) sigNode(i int) int { return i }

func (n *netlist) sigVolt(b int) int { return len(n.nodes) + b }

func (n *netlist) sigCurrent(b int) int { return len(n.nodes) + len(n.branches) + b }

func (n *netlist) signals() int { return len(n.nodes) + 2*len(n.branches) }

// row returns the coefficients of a signal, from those at hand or worked out.
func (c *combination) row(sig int) []float64 {
	if r := c.held(sig); r != nil {
		return r
	}
	to := make([]float64, c.width)
	c.expand(sig, to)
	return to
}

// held returns the coefficients of a signal if they are at hand.
func (c *combination) held(sig int) []float64 {
	i := c.net.rowOf[sig]
	if i < 0 || (i+1)*c.width > len(c.rows) || i < len(c.net.probes) && c.net.probe(i, c.key) != sig {
		return nil
	}
	return c.line(i)
}

// form tells how a branch enters the equations in a combination.
type form uint8

const (
	absent form = iota
	conductive
	impedance // v − r·i = s·V0, current an unknown
	voltage   // source or capacitor: voltage given, current an unknown
	current   // inductor: current given
)

// shape returns the form, the resistance and the signed threshold of branch b
// at the level of its valve.
func (p *params) shape(i int, k key) (f form, ohms, volts float64) {
	b := &p.net.branches[i]
	if b.lifted || p.direct && (b.kind == capacitor || b.kind == linkPath && k.level(b.valve) != off) {
		return absent, 0, 0
	}
	l := off
	if b.valve >= 0 {
		l = k.level(b.valve)
	}
	switch b.kind {
	case source, capacitor:
		return voltage, 0, 0
	case inductor:
		return current, 0, 0
	case resistor:
		return resistive(p.ohms[i]), p.ohms[i], 0
	case linkPath:
		if l != off {
			if b.store <= 0 {
				return absent, 0, 0
			}
			return voltage, 0, 0
		}
		return resistive(b.ohms), b.ohms, 0
	case mainPath, optoPath:
		if l == off {
			g := p.siemens[i]
			if g <= 0 {
				return absent, 0, 0
			}
			return conductive, 1 / g, 0
		}
	case junction, diode:
		if l == off {
			return absent, 0, 0
		}
	}
	return resistive(b.ohms), b.ohms, l.sign() * b.volts
}

func resistive(ohms float64) form {
	if ohms < stiff {
		return impedance
	}
	return conductive
}

// assemble builds the combination of key k from its blocks.
func (p *params) assemble(k key) (*combination, error) {
	net, w := p.net, p.work
	w.reduced = w.reduced[:0]
	for i := range net.blocks {
		r, err := p.reduce(i, k)
		if err != nil {
			return nil, err
		}
		w.reduced = append(w.reduced, r)
	}
	c := w.newCombination(k, net)
	c.blocks = append(c.few[:0], w.reduced...)
	b := p.base(k)
	c.active, c.n, c.width = b.active, len(b.active), len(b.active)+2
	w.from(b)
	p.equations(c, b)
	if col := w.solveAll(); col >= 0 {
		w.members = append(w.members[:0], b.members...)
		return nil, p.singular(k, b.kept[col], net.shared, net.trunk)
	}
	c.rows = w.lend(net.atHand * c.width)
	c.a, c.be, c.kc = w.lend(c.n*c.n), w.lend(c.n), w.lend(c.n)
	p.gather(c, b)
	c.bound = c.spectralBound(net)
	return c, nil
}

// newCombination lends a combination.
func (w *workspace) newCombination(k key, net *netlist) *combination {
	c := &w.combinations.Take(1, 2)[0]
	w.made++
	c.key, c.serial, c.net = k, w.made, net
	return c
}

// equations adds a combination's blocks to the equations of its base.
func (p *params) equations(c *combination, b *base) {
	net, w := p.net, p.work
	for i, r := range c.blocks {
		edge := net.blocks[i].edge
		for j, e := range edge {
			flow, at := r.line(r.flow, j), b.at[net.local[e]][0]
			row := w.rows[at*w.length : (at+1)*w.length]
			left, right := row[:w.unknowns], row[w.unknowns:]
			for l, e2 := range edge {
				left[b.at[net.local[e2]][1]] += flow[l]
			}
			states := flow[len(edge):]
			for l, s := range r.active {
				right[w.column[s]] -= states[l]
			}
			right[len(right)-1] -= states[len(r.active)]
		}
	}
	if !b.whole {
		p.islands(c, b)
	}
}

// islands ties every island without a path to the reference to it at one node; no
// current flows there.
func (p *params) islands(c *combination, b *base) {
	net, w := p.net, p.work
	shared := len(net.shared)
	w.parent = append(w.parent[:0], b.parent...)
	for i, r := range c.blocks {
		edge := net.blocks[i].edge
		for j, x := range r.joined {
			if x == 0 {
				w.join(net.local[edge[j]], shared)
				continue
			}
			for l := range j {
				if r.joined[l] == x {
					w.join(net.local[edge[j]], net.local[edge[l]])
				}
			}
		}
	}
	for _, i := range b.touched {
		if w.find(i) == i {
			at := b.at[i]
			w.rows[at[0]*w.length+at[1]]++
		}
	}
	for i := range b.members {
		if m := &b.members[i]; m.form == current && w.find(net.spot(m.a)) != w.find(net.spot(m.b)) {
			c.apart = true
		}
	}
}

// gather takes the rows at hand of a combination, and the rates of its states,
// from the solution of its equations.
func (p *params) gather(c *combination, base *base) {
	net, w := p.net, p.work
	w.kept = w.kept[:0]
	for i := range w.unknowns {
		w.kept = append(w.kept, w.solution(i)...)
	}
	w.row = resize(w.row, c.width)
	lines := len(net.shared) + len(net.trunk)
	for i := range lines {
		w.follow(base, i, c.line(len(net.probes)+i))
	}
	for i, d := range base.drives {
		w.follow(base, lines+i, w.row)
		c.setRate(d.column, w.row, d.store)
	}
	for i, at := range net.probes {
		if net.home[at] < 0 {
			c.expand(net.probe(i, c.key), c.line(i))
		}
	}
	for i, r := range c.blocks {
		b := &net.blocks[i]
		w.edge = resize(w.edge, r.width*c.width)
		states := w.edge[copyRows(w.edge, c, b.edge):]
		clear(states)
		for l, s := range r.active {
			states[l*c.width+w.column[s]] = 1
		}
		states[len(states)-1] = 1
		for j, of := range b.probes {
			weigh(c.line(of), r.line(r.probe, j), w.edge)
		}
		for _, s := range r.active {
			at := net.states[s]
			weigh(w.row, r.line(r.amps, net.order[at]), w.edge)
			c.setRate(w.column[s], w.row, net.branches[at].store)
		}
	}
}

// copyRows copies the rows of some shared nodes and returns how many numbers they
// are.
func copyRows(to []float64, c *combination, nodes []int) int {
	n := 0
	for _, e := range nodes {
		n += copy(to[n:], c.node(e))
	}
	return n
}

// line returns row i of those at hand.
func (c *combination) line(i int) []float64 { return c.rows[i*c.width : (i+1)*c.width] }

// setRate sets the rate of state s: what drives its store.
func (c *combination) setRate(s int, row []float64, store float64) {
	a, by := c.a[s*c.n:(s+1)*c.n], 1/store
	for j, x := range row[:len(a)] {
		a[j] = x * by
	}
	c.be[s], c.kc[s] = row[c.n]*by, row[c.n+1]*by
}

func resize[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// zeroed returns n zeros, in the room of s if that is enough.
func zeroed[T any](s []T, n int) []T {
	s = resize(s, n)
	clear(s)
	return s
}

// singular explains that the network of a combination has no solution at the
// unknown col: the voltages of some nodes come first, then the currents of those
// branches that have one.
func (p *params) singular(k key, col int, nodes, branches []int) error {
	what := ""
	if col < len(nodes) {
		what = "node " + p.net.nodeName(nodes[col])
	}
	for i, at := range branches {
		if p.work.members[i].x == col {
			what = "part " + p.net.branches[at].name
		}
	}
	return fmt.Errorf("%s: the network has no unique solution at %s (a loop of sources, capacitors and parts of zero resistance)", p.describe(k), what)
}

// describe names the valves of a combination that are not blocking.
func (p *params) describe(k key) string {
	var on []string
	for v, i := range p.net.valves {
		b := &p.net.branches[i]
		switch l := k.level(v); {
		case l == off:
		case b.kind == linkPath:
			on = append(on, b.name+" open")
		case l == positive:
			on = append(on, b.name+" conducting +")
		default:
			on = append(on, b.name+" conducting −")
		}
	}
	if len(on) == 0 {
		return "all blocking"
	}
	return strings.Join(on, ", ")
}
