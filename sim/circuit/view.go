package circuit

import (
	"math"
	"math/bits"
)

// memo is what a combination keeps for its visits to come.
type memo struct {
	probes []float64 // a row of its width a probe, see prober
	values []float64 // the probes' values
	serial uint64    // of the (x, e, 1) they belong to
	// responses are those of the states to each harmonic of the source, see
	// combination.response.
	responses [][]complex128
	single    [1][]complex128 // room for one harmonic
	// states and amplitudes, see transforms
	states, amplitudes []float64
	rises              [][]float64  // by channel, see riseRow
	few                [4][]float64 // room for them
	views              *view        // the first of a list
	count              int          // of its views
	band               *band
}

// responses returns the response to each harmonic of a waveform, found once.
func (c *combination) responses(src *waveform) [][]complex128 {
	if c.image != nil {
		return c.image.responses(src)
	}
	m := &c.memo
	if m.responses == nil {
		m.responses = m.single[:0]
		for _, order := range src.order {
			x := c.net.work.phasors.Lend(c.n, 32)
			c.response(float64(order)*src.omega, x)
			m.responses = append(m.responses, x)
		}
	}
	return m.responses
}

// transforms returns how states and parts of the solution follow from each other,
// row by row: the states from the parts (see Segment.parts), with e and 1 after them,
// and the amplitudes of the modes from the states and the parts that are not modes.
// Made once.
func (c *combination) transforms(src *waveform) (states, amplitudes []float64) {
	m := &c.memo
	if m.states != nil {
		return m.states, m.amplitudes
	}
	n, nb, w := c.n, c.n+2*len(src.order)+1, c.net.work
	states, amplitudes = w.lend((n+2)*nb), w.lend(n*nb)
	m.states, m.amplitudes = states, amplitudes
	if c.image != nil && src.dc == 0 {
		x, y := c.image.transforms(src)
		copy(states, x)
		copy(amplitudes, y)
		for i := nb - 1; i < n*nb; i += nb {
			states[i], amplitudes[i] = -states[i], -amplitudes[i]
		}
		return states, amplitudes
	}
	for i := range n {
		row := states[i*nb : (i+1)*nb]
		copy(row, c.v[i*n:(i+1)*n])
		for h, resp := range c.responses(src) {
			row[n+2*h], row[n+2*h+1] = real(resp[i]), imag(resp[i])
		}
		row[nb-1] = c.constant[i] + src.dc*c.unitDC[i]
	}
	e, one := states[n*nb:(n+1)*nb], states[(n+1)*nb:]
	clear(states[n*nb:])
	for j := n; j < nb-1; j += 2 {
		e[j] = 1
	}
	e[nb-1], one[nb-1] = src.dc, 1
	for k := range n {
		row, own := amplitudes[k*nb:(k+1)*nb], c.vInv[k*n:(k+1)*n]
		weigh(row, own, states)
		copy(row, own)
		for j := n; j < nb; j++ {
			row[j] = -row[j]
		}
	}
	return states, amplitudes
}

// view is the probes of a combination - that of a segment or a hypothetical
// one with the same states - on the basis of the segment's, before amplitudes of
// modes and levels of the source.
type view struct {
	of *combination
	// rows holds for each probe the modes' parts, real and imaginary part of the
	// response to each harmonic, and the rest with that to direct voltage.
	rows []float64
	// size holds for each probe the magnitudes of modes, that of a pair in its
	// first column, and of harmonics.
	size []float64
	done uint64 // the probes that are there
	next *view
}

// maxViews bounds the views that a combination keeps.
const maxViews = 64

// everyProbe is the set of all probes, one bit each.
const everyProbe = ^uint64(0)

// view returns the given probes of combination of on the segment's basis, each
// made once.
func (s *Segment) view(of *combination, probes uint64) *view {
	v := s.c.found(of)
	if v == nil {
		v = s.open(of)
	}
	if missing := probes &^ v.done; missing != 0 {
		s.look(v, missing)
	}
	return v
}

// found returns the view of a combination, nil if there is none.
func (c *combination) found(of *combination) *view {
	for v := c.memo.views; v != nil; v = v.next {
		if v.of == of {
			return v
		}
	}
	return nil
}

// open begins a view. Where segment and combination are mirror images of two for
// which there is one, that is it but for the sign of the thresholds' part.
func (s *Segment) open(of *combination) *view {
	m, w := &s.c.memo, s.c.net.work
	if m.count == maxViews {
		m.views, m.count = nil, 0
	}
	v := &w.views.Take(1, 8)[0]
	v.of, v.next = of, m.views
	m.views = v
	m.count++
	n, h := s.c.n, len(s.src.order)
	count, long, short := len(of.memo.values), n+2*h+1, n+h
	if s.c.image != nil && of.image != nil && s.src.dc == 0 {
		if o := s.c.image.found(of.image); o != nil {
			v.rows, v.size, v.done = w.lend(count*long), o.size, o.done
			copy(v.rows, o.rows)
			for i := long - 1; i < len(v.rows); i += long {
				v.rows[i] = -v.rows[i]
			}
			return v
		}
	}
	v.rows, v.size = w.lend(count*long), w.lend(count*short)
	return v
}

// look fills in probes of a view.
func (s *Segment) look(v *view, probes uint64) {
	c, of, n, h := s.c, v.of, s.c.n, len(s.src.order)
	long, short := n+2*h+1, n+h
	v.done |= probes
	for ; probes != 0; probes &= probes - 1 {
		p := bits.TrailingZeros64(probes)
		if p >= len(of.memo.values) {
			return
		}
		from, to := of.memo.probes[p*of.width:(p+1)*of.width], v.rows[p*long:(p+1)*long]
		c.compose(from, s.src, to)
		size := v.size[p*short : (p+1)*short]
		c.sizes(to, size)
		for k := range h {
			re, im := to[n+2*k], to[n+2*k+1]
			size[n+k] = math.Sqrt(re*re + im*im)
		}
	}
}

// project writes the parts that modes have in the signal with coefficients row.
func (c *combination) project(row, w []float64) {
	n := c.n
	clear(w[:n])
	for i, x := range row[:n] {
		if x == 0 {
			continue
		}
		for k, v := range c.v[i*n : (i+1)*n] {
			w[k] += x * v
		}
	}
}

// sizes writes the magnitudes of the modes' parts of w, that of a pair in its
// first column.
func (c *combination) sizes(w, out []float64) {
	for k, x := range w[:c.n] {
		out[k] = math.Abs(x)
	}
	if !c.paired {
		return
	}
	for k, pair := range c.pair {
		if pair {
			out[k], out[k+1] = math.Sqrt(w[k]*w[k]+w[k+1]*w[k+1]), 0
		}
	}
}

// prober knows the signals by which a board's valves switch: of every valve
// that is no contact the current where it conducts and the voltage where it
// blocks.
type prober struct {
	net     *netlist
	edges   []edge
	passive uint64   // their probes, one bit each
	owner   []uint64 // by probe, the bit of the channel that it belongs to, if any
}

// edge is the probe of a junction or one-way path.
type edge struct {
	probe, valve int
	branch       *branch
}

// gear is what switches in a channel: probes and valves.
type gear struct {
	main, junction, opto                int // probes; junction is −1 if there is none
	mainValve, junctionValve, optoValve int
	// least is a voltage across the blocking output of the opto below which the
	// output could not carry its latching current: it would drop V_P0 + r_P·I_LP
	// itself, and whatever lies in series only adds to that. How much a gate resistor
	// that nothing else leads to adds is known: ohms. leastHeld is the same of the
	// holding current.
	least, leastHeld, ohms float64
	probes                 uint64 // those that a trial of a change in the channel looks at
}

// ungated returns key k with the channel's gate junction open, as it most likely
// is without its opto or beside a conducting triac. What is resolved from there is
// the same wherever it begins, but takes fewer combinations.
func (g *gear) ungated(k key) key {
	if g.junction < 0 {
		return k
	}
	return k.with(g.junctionValve, off)
}

// begin makes a prober that of a network.
func (p *prober) begin(net *netlist) {
	*p = prober{net: net, edges: p.edges[:0], owner: zeroed(p.owner, len(net.probes))}
	for i, at := range net.probes {
		b := &net.branches[at]
		if b.kind == junction || b.kind == diode {
			p.edges = append(p.edges, edge{i, b.valve, b})
			p.passive |= 1 << i
		}
	}
}

// gears appends what switches in every channel, and notes whose probes are whose.
func (p *prober) gears(list []gear) []gear {
	net := p.net
	of := net.work.takeInts(len(net.branches))
	oneWays := uint64(0)
	for i, at := range net.probes {
		of[at] = i
		if net.branches[at].kind == diode {
			oneWays |= 1 << i
		}
	}
	for k := range net.channels {
		c := &net.channels[k]
		g := gear{main: of[c.main], opto: of[c.opto], junction: -1, probes: oneWays}
		g.mainValve, g.optoValve = net.branches[c.main].valve, net.branches[c.opto].valve
		g.probes |= 1<<g.main | 1<<g.opto
		if c.junction >= 0 {
			g.junction, g.junctionValve = of[c.junction], net.branches[c.junction].valve
			g.probes |= 1 << g.junction
		}
		if c.gateRes >= 0 && net.alone(c.optoNode, c.opto, c.gateRes) {
			g.ohms = net.branches[c.gateRes].ohms
		}
		for i := range p.owner {
			if g.probes&^oneWays>>i&1 == 1 {
				p.owner[i] = 1 << k
			}
		}
		list = append(list, g)
	}
	return list
}

// alone reports whether no more than two branches lead to a node.
func (n *netlist) alone(node, one, other int) bool {
	for i := range n.branches {
		if b := &n.branches[i]; (b.a == node || b.b == node) && i != one && i != other {
			return false
		}
	}
	return true
}

// prepare gives a combination its probes, once.
func (p *prober) prepare(c *combination) {
	m := &c.memo
	if m.probes != nil {
		return
	}
	count := len(p.net.probes)
	m.probes, m.values = c.rows[:count*c.width], p.net.work.lend(count)
}
