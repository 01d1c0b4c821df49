package circuit

// projected is a signal of a combination on the basis of its own segments,
// before amplitudes: the modes' parts, the responses to the source's harmonics
// and the constants.
type projected struct {
	modes    []float64
	re, im   []float64
	dc, rest float64
}

// projections are the valves' signals of a combination projected, each when first
// asked for.
type projections struct {
	made []*projected // by row
	room []projected  // for more of them
}

// project returns the projection of a signal.
func (c *combination) project(sig int, src *waveform) *projected {
	i := c.net.rowOf[sig]
	if i < len(c.made) && c.made[i] != nil {
		return c.made[i]
	}
	return c.projectFirst(sig, src)
}

// projectFirst projects a signal, and keeps it if it is a valve's.
func (c *combination) projectFirst(sig int, src *waveform) *projected {
	if len(c.room) == 0 {
		c.room = make([]projected, 8)
	}
	if c.made == nil {
		c.made = make([]*projected, 2*len(c.net.valves))
	}
	i := c.net.rowOf[sig]
	if i >= len(c.made) {
		p := new(projected)
		c.projection(c.row(sig), src, p, make([]float64, c.n+2*len(src.order)))
		return p
	}
	if len(c.room) == 0 {
		c.room = make([]projected, 8)
	}
	p := &c.room[0]
	c.room, c.made[i] = c.room[1:], p
	if c.image != nil {
		*p = *c.image.project(sig, src)
		p.rest = -p.rest
	} else {
		c.projection(c.row(sig), src, p, c.net.work.take(c.n+2*len(src.order)))
	}
	return p
}

// projection projects a row into p, whose numbers go to line, all zero.
func (c *combination) projection(row []float64, src *waveform, p *projected, line []float64) {
	n, h := c.n, len(src.order)
	p.modes, p.re, p.im = line[:n:n], line[n:n+h:n+h], line[n+h:]
	p.dc, p.rest = row[n], row[n+1]
	for i, x := range row[:n] {
		for k, v := range c.v[i*n : (i+1)*n] {
			p.modes[k] += x * v
		}
		p.dc += x * c.unitDC[i]
		p.rest += x * c.constant[i]
	}
	for k, order := range src.order {
		p.re[k] = row[n]
		for i, x := range c.response(order, float64(order)*src.omega) {
			p.re[k] += row[i] * real(x)
			p.im[k] += row[i] * imag(x)
		}
	}
}
