package circuit

import "math"

// memo is what a combination keeps for its visits to come.
type memo struct {
	probes []float64 // a row of its width a probe, see prober
	values []float64 // the probes' values
	serial uint64    // of the (x, e, 1) they belong to
	// responses are those of the states to each harmonic of the source, see
	// combination.response.
	responses [][]complex128
	views     []*view
}

// kept returns a combination's memo.
func (c *combination) kept() *memo {
	if c.memo == nil {
		c.memo = &memo{}
	}
	return c.memo
}

// responses returns the response to each harmonic of a waveform, found once.
func (c *combination) responses(src *waveform) [][]complex128 {
	m := c.kept()
	if m.responses == nil {
		m.responses = make([][]complex128, 0, len(src.order))
		for _, order := range src.order {
			m.responses = append(m.responses, c.response(order, float64(order)*src.omega))
		}
	}
	return m.responses
}

// view is the probes of a combination - that of a segment or a hypothetical
// one with the same states - on the basis of the segment's, before amplitudes of
// modes and levels of the source.
type view struct {
	of *combination
	// rows holds for each probe the modes' parts, real and imaginary part of the
	// response to each harmonic, that to direct voltage and the rest.
	rows []float64
	// size holds for each probe the magnitudes of modes, that of a pair in its
	// first column, and of harmonics.
	size []float64
}

// maxViews bounds the views that a combination keeps.
const maxViews = 64

// view returns the probes of combination of on the segment's basis, made once.
func (s *Segment) view(of *combination) *view {
	m := s.c.kept()
	for _, v := range m.views {
		if v.of == of {
			return v
		}
	}
	if len(m.views) == maxViews {
		m.views = m.views[:0]
	}
	v := s.look(of)
	m.views = append(m.views, v)
	return v
}

func (s *Segment) look(of *combination) *view {
	c, n, h := s.c, s.c.n, len(s.src.order)
	count, long, short := len(of.memo.values), n+2*h+2, n+h
	buf := make([]float64, count*(long+short))
	v := &view{of: of, rows: buf[:count*long], size: buf[count*long:]}
	for p := range count {
		from, to := of.memo.probes[p*of.width:(p+1)*of.width], v.rows[p*long:(p+1)*long]
		size := v.size[p*short : (p+1)*short]
		c.project(from, to)
		c.sizes(to, size)
		e := from[n]
		for k, resp := range c.responses(s.src) {
			y := complex(e, 0)
			for i, x := range resp {
				y += complex(from[i], 0) * x
			}
			to[n+2*k], to[n+2*k+1] = real(y), imag(y)
			size[n+k] = math.Hypot(real(y), imag(y))
		}
		to[n+2*h] = e + dot(c.unitDC, from)
		to[n+2*h+1] = from[n+1] + dot(c.constant, from)
	}
	return v
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
	net      *netlist
	branches []int // of each probe
	edges    []edge
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
	// itself, and whatever lies in series only adds to that.
	least float64
}

func newProber(net *netlist) (p prober, gears []gear) {
	p.net = net
	of := make([]int, len(net.branches))
	for valve, i := range net.valves {
		b := &net.branches[i]
		if b.kind == linkPath {
			continue
		}
		of[i] = len(p.branches)
		if b.kind == junction || b.kind == diode {
			p.edges = append(p.edges, edge{of[i], valve, b})
		}
		p.branches = append(p.branches, i)
	}
	for k := range net.channels {
		c := &net.channels[k]
		g := gear{main: of[c.main], opto: of[c.opto], junction: -1}
		g.mainValve, g.optoValve = net.branches[c.main].valve, net.branches[c.opto].valve
		if c.junction >= 0 {
			g.junction, g.junctionValve = of[c.junction], net.branches[c.junction].valve
		}
		gears = append(gears, g)
	}
	return p, gears
}

// prepare gives a combination its probes, once.
func (p *prober) prepare(c *combination) {
	m := c.kept()
	if m.probes != nil {
		return
	}
	w := c.width
	all := make([]float64, len(p.branches)*(w+1))
	m.probes, m.values = all[:len(p.branches)*w], all[len(p.branches)*w:]
	for i, b := range p.branches {
		sig := p.net.sigVolt(b)
		if c.key.level(p.net.branches[b].valve) != off {
			sig = p.net.sigCurrent(b)
		}
		copy(m.probes[i*w:(i+1)*w], c.row(sig))
	}
}
