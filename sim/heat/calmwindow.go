package heat

// calmMargin keeps windows in which something might just happen away, in kelvin.
const calmMargin = 0.05

// calmBoiling is how near boiling, in kelvin, new modes are not found.
const calmBoiling = 0.5

// Begin looks at the window that starts at t0 with the powers of r, at most
// factor times those, and reports whether nothing will happen in it. If so it
// must be followed by Advance.
func (c *Calm) Begin(t0 float64, r *Rhythm, factor float64) bool {
	if !c.Able(t0) || r.epoch != c.epoch {
		return false
	}
	if len(c.taps) > 0 {
		calmDrawn(c.lanes)
	}
	return calmBegin(c.lanes, &r.rhythm, factor, c.m.now.x) == 0
}

// Means returns the temperatures in °C of the elements, meant over the window
// with the powers of r as the weights, scale times which is what they take.
func (c *Calm) Means(r *Rhythm, scale *Lanes) (means Lanes) {
	calmMeans(c.lanes, &means, &r.rhythm, scale)
	return means
}

// Advance takes the machine through the window that Begin looked at, with the
// powers of r for element and link of each channel and for the pocket times
// the given factors.
func (c *Calm) Advance(r *Rhythm, element, link *Lanes, power float64) {
	m, g := c.m, c.lanes
	p := m.now
	if len(c.taps) > 0 {
		c.redraw(&r.rhythm, element, link)
	}
	if out := calmAdvance(g, &r.rhythm, element, link, power, p.x); out != 0 {
		for i := range c.boilers {
			if out>>i&1 != 0 {
				p.Water[i] = g.leave(i)
			}
		}
	}
	single := p.x[len(p.x)-single:]
	p.Lid, p.Pocket = single[lidNode], single[pocketNode]
	put, stored, lost := g.sums[0], g.sums[1], g.sums[2]
	if c.leaks {
		stored -= c.leaked()
	}
	m.total.In += put
	m.total.Ambient += lost
	m.total.Stored += stored
}
