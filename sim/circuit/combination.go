package circuit

import (
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
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
	net    *netlist
	n      int   // active states
	active []int // active state to state of the netlist
	width  int   // n + 2
	// rows holds (C, d, h), one row of width numbers for each of the signals
	// that the netlist keeps at hand; further, once asked for, those of all.
	rows    []float64
	further atomic.Pointer[[]float64]
	blocks  []*reduced
	few     [4]*reduced // where blocks are, if no more
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
	memo *memo // for its visits to come
}

// signal indices
func (n *netlist) sigNode(i int) int { return i }

func (n *netlist) sigVolt(b int) int { return len(n.nodes) + b }

func (n *netlist) sigCurrent(b int) int { return len(n.nodes) + len(n.branches) + b }

func (n *netlist) signals() int { return len(n.nodes) + 2*len(n.branches) }

// row returns the coefficients of a signal.
func (c *combination) row(sig int) []float64 {
	i := c.net.rowOf[sig] * c.width
	if i >= len(c.rows) {
		return c.distant(sig)
	}
	return c.rows[i : i+c.width]
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
	net := p.net
	w := p.work
	w.blocks = w.blocks[:0]
	for i := range net.blocks {
		r, err := p.reduce(i, k)
		if err != nil {
			return nil, err
		}
		w.blocks = append(w.blocks, r)
	}
	blocks := w.blocks
	shared := len(net.shared)
	w.extra = resize(w.extra, len(net.trunk))
	w.parent = resize(w.parent, shared+1) // the last is the reference
	for i := range w.parent {
		w.parent[i] = i
	}
	spot := func(node int) int {
		if node < 0 {
			return shared
		}
		return net.local[node]
	}
	join := func(a, b int) {
		x, y := w.find(a), w.find(b)
		w.parent[min(x, y)] = max(x, y) // the reference stays a root
	}
	c := &combination{key: k, net: net}
	c.blocks = append(c.few[:0], blocks...)
	w.column, w.active = resize(w.column, len(net.states)), w.active[:0]
	for s, i := range net.states {
		w.column[s] = -1
		if f, _, _ := p.shape(i, k); f == voltage || f == current {
			w.column[s] = len(w.active)
			w.active = append(w.active, s)
		}
	}
	if !slices.Equal(p.active, w.active) { // most combinations have the same
		p.active = slices.Clone(w.active)
	}
	c.active, c.n = p.active, len(p.active)
	unknowns := shared
	for i, at := range net.trunk {
		w.extra[i] = -1
		f, _, _ := p.shape(at, k)
		if f == impedance || f == voltage {
			w.extra[i] = unknowns
			unknowns++
		}
		if f != absent && f != current {
			join(spot(net.branches[at].a), spot(net.branches[at].b))
		}
	}
	for i, r := range blocks {
		edge := net.blocks[i].edge
		for j, x := range r.joined {
			if x == 0 {
				join(net.local[edge[j]], shared)
				continue
			}
			for l := range j {
				if r.joined[l] == x {
					join(net.local[edge[j]], net.local[edge[l]])
				}
			}
		}
	}
	c.width = c.n + 2
	cols := c.width
	w.begin(unknowns, cols)
	place := func(node int) end {
		if node < 0 {
			return reference
		}
		return end{net.local[node], -1}
	}
	given := func(b *branch) int {
		if b.kind == source {
			return cols - 2
		}
		if b.state < 0 {
			return -1
		}
		return w.column[b.state]
	}
	for i, at := range net.trunk {
		b := &net.branches[at]
		f, r, v0 := p.shape(at, k)
		w.stamp(f, r, v0, place(b.a), place(b.b), w.extra[i], given(b))
	}
	for i, r := range blocks {
		edge, states := net.blocks[i].edge, len(r.active)
		for j, e := range edge {
			n1 := net.local[e]
			flow := r.flow[j*r.width : (j+1)*r.width]
			for l, s := range r.active {
				w.put(n1, w.column[s], -flow[l])
			}
			for l, e2 := range edge {
				w.add(n1, net.local[e2], flow[states+l])
			}
			w.put(n1, cols-1, -flow[r.width-1])
		}
	}
	// An island without a path to the reference is tied to it at one node; no
	// current flows there.
	for i := range shared {
		if w.find(i) == i {
			w.tie(i)
		}
	}
	for _, at := range net.trunk {
		if b := &net.branches[at]; b.kind == inductor && w.find(spot(b.a)) != w.find(spot(b.b)) {
			c.apart = true
		}
	}
	if col := w.solve(); col >= 0 {
		if col < shared {
			return nil, p.singular(k, "node "+net.nodeName(net.shared[col]))
		}
		for i, x := range w.extra {
			if x == col {
				return nil, p.singular(k, "part "+net.branches[net.trunk[i]].name)
			}
		}
	}
	c.rows = w.take(net.atHand * cols)
	c.a, c.be, c.kc = w.take(c.n*c.n), w.take(c.n), w.take(c.n)
	for i, node := range net.shared {
		copy(c.row(net.sigNode(node)), w.solution(i))
	}
	for i, at := range net.trunk {
		b := &net.branches[at]
		f, r, v0 := p.shape(at, k)
		w.read(f, r, v0, place(b.a), place(b.b), w.extra[i], given(b), c.row(net.sigVolt(at)), c.row(net.sigCurrent(at)))
	}
	w.rate = resize(w.rate, cols)
	for i, r := range blocks {
		b := &net.blocks[i]
		x := c.expansion(w.column, r, b, w.inputs)
		w.inputs = x.inputs
		for j, at := range b.branches {
			if v := net.sigVolt(at); net.rowOf[v] < net.atHand {
				x.expand(r.line(r.volt, j), c.row(v))
			}
			if i := net.sigCurrent(at); net.rowOf[i] < net.atHand {
				x.expand(r.line(r.amps, j), c.row(i))
			} else if st := net.branches[at].state; st >= 0 && w.column[st] >= 0 {
				x.expand(r.line(r.amps, j), w.rate) // a capacitor's: inductors belong to no block
				c.setRate(w.column[st], w.rate, net.branches[at].store)
			}
		}
	}
	for s, st := range c.active {
		i := net.states[st]
		if net.rowOf[net.sigVolt(i)] >= net.atHand {
			continue
		}
		src := net.sigCurrent(i) // dv/dt = i/C
		if f, _, _ := p.shape(i, k); f == current {
			src = net.sigVolt(i) // di/dt = v/L
		}
		c.setRate(s, c.row(src), net.branches[i].store)
	}
	c.bound = c.spectralBound(net)
	return c, nil
}

// setRate sets the rate of state s: what drives its store.
func (c *combination) setRate(s int, row []float64, store float64) {
	a := c.a[s*c.n : (s+1)*c.n]
	for j := range a {
		a[j] = row[j] / store
	}
	c.be[s], c.kc[s] = row[c.n]/store, row[c.n+1]/store
}

func resize[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// singular explains that the network of a combination has no solution at a
// node or part.
func (p *params) singular(k key, what string) error {
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
