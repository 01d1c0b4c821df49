package heat

import "boilwright/models/water"

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
	boilers, parts := c.boilers, r.boilers
	for i := range parts {
		b, o := &boilers[i], &parts[i]
		te, tw, ts, tl := b.x[elementNode], b.x[waterNode], b.x[shellNode], b.x[linkNode]
		top := tw + o.warmWater*factor
		if te > tw {
			top += (te - tw) * b.toWater
		}
		if b.es > 0 { // heat goes to the shell directly
			ts += b.es * c.dt * b.inverse[shellNode] * max(0, te+o.energy*factor*b.inverse[elementNode]-ts)
		}
		if ts > top {
			top = ts
		}
		rise := o.warmsLink * factor
		if top >= b.limit || top+rise >= b.melts-calmMargin || tl+rise >= b.melts {
			return false
		}
	}
	c.force()
	return true
}

// force finds what is held at its value in the middle of the window.
func (c *Calm) force() {
	x := c.m.now.x
	tk, tb := x[c.lid.node], x[c.pocket.node]
	toLid := -c.lid.air*(tk-c.ambient) - c.bridge*(tk-tb)
	boilers := c.boilers
	for i := range boilers {
		b := &boilers[i]
		toLid += b.sk * (b.x[shellNode] - tk)
	}
	half := c.dt / 2
	c.lidMid = tk + half*toLid*c.lid.inverse
	if len(c.taps) > 0 {
		c.drawn()
	}
	for i := range boilers {
		b := &boilers[i]
		ts, tl := b.x[shellNode], b.x[linkNode]
		toShell := b.ws*(b.x[waterNode]-ts) + b.es*(b.x[elementNode]-ts) - b.sl*(ts-tl) - b.sk*(ts-tk) - b.air*(ts-c.ambient)
		b.shellMid = ts + half*toShell*b.inverse[shellNode]
		b.shell = b.air*c.ambient + b.sk*c.lidMid
		// γ = T_w − H/c, and dγ/dH = 1/c_p − 1/c
		late := half * b.intoWater() * c.ref * b.inverse[waterNode]
		b.gamma = b.x[waterNode] - b.enthalpy*c.inverseRef + late*(b.inverseCP-c.inverseRef)
	}
	for _, e := range c.m.par.edges { // from shell to shell
		a, d := &c.boilers[e.a-shellNode*len(c.boilers)], &c.boilers[e.b-shellNode*len(c.boilers)]
		q := e.g * (a.shellMid - d.shellMid)
		a.shell -= q
		d.shell += q
	}
}

// intoWater is the heat in W that flows into the water now, draws taken off.
func (b *calmBoiler) intoWater() float64 {
	te, tw, ts, tp := b.x[elementNode], b.x[waterNode], b.x[shellNode], b.x[probeNode]
	return b.ew*(te-tw) - b.ws*(tw-ts) - b.wp*(tw-tp) - b.draw
}

// Mean returns the temperature in °C of the element of channel ch, meant over
// the window with the power of r as the weight, scale times which is what it
// takes.
func (c *Calm) Mean(r *Rhythm, ch int, scale float64) float64 {
	b, o := &c.boilers[ch], &r.boilers[ch]
	if o.energy == 0 {
		return b.x[elementNode]
	}
	return o.mean.of(b) + o.self*scale
}

// Advance takes the machine through the window that Begin looked at, with the
// powers of r for element and link of each channel and for the pocket times
// the given factors.
func (c *Calm) Advance(r *Rhythm, element, link []float64, power float64) {
	m, p := c.m, c.m.now
	in, lost, toLid := power*r.pocket, 0.0, 0.0 // J
	boilers, parts := c.boilers, r.boilers[:len(c.boilers)]
	element, link = element[:len(parts)], link[:len(parts)]
	for i := range boilers {
		b, o := &boilers[i], &parts[i]
		s, t := element[i], link[i]
		shell := b.shellSum.of(b) + s*o.shell + t*o.shellLink
		if len(c.taps) > 0 {
			b.mean = (b.waterSum.of(b) + s*o.water + t*o.waterLink) / c.dt
		}
		b.advance(o, s, t)
		in += s*o.energy + t*o.linkEnergy
		lost += b.air * (shell - c.ambient*c.dt)
		toLid += b.sk * (shell - c.lidMid*c.dt)
	}
	if len(c.taps) > 0 {
		c.redraw(p)
	}
	stored := c.singles(p.x, toLid, r.pocketSum*power, r.pocket*power, &lost)
	for i := range boilers {
		b := &boilers[i]
		stored += b.settle(c.ref)
		p.Element[i], p.Shell[i], p.Probe[i], p.Link[i] = b.x[elementNode], b.x[shellNode], b.x[probeNode], b.x[linkNode]
	}
	for i := range boilers {
		p.Water[i] = boilers[i].warm()
	}
	m.total.In += in
	m.total.Ambient += lost
	m.total.Stored += stored
	p.sync()
}

// advance takes the amplitudes through a window but for draws, with s and t
// times the powers of o for element and link.
func (b *calmBoiler) advance(o *rhythm, s, t float64) {
	y, g, w := &b.y, b.gamma, b.shell
	y[0] = b.decay[0]*y[0] + b.byGamma[0]*g + b.byShell[0]*w + s*o.element[0] + t*o.link[0]
	y[1] = b.decay[1]*y[1] + b.byGamma[1]*g + b.byShell[1]*w + s*o.element[1] + t*o.link[1]
	y[2] = b.decay[2]*y[2] + b.byGamma[2]*g + b.byShell[2]*w + s*o.element[2] + t*o.link[2]
	y[3] = b.decay[3]*y[3] + b.byGamma[3]*g + b.byShell[3]*w + s*o.element[3] + t*o.link[3]
	y[4] = b.decay[4]*y[4] + b.byGamma[4]*g + b.byShell[4]*w + s*o.element[4] + t*o.link[4]
}

// settle finds the temperatures from the amplitudes, of the water its enthalpy
// H = c·w alone, and returns what the nodes have gained, in J.
func (b *calmBoiler) settle(c float64) (stored float64) {
	y, x := &b.y, &b.x
	te, ts, tp, tl := b.in[elementNode].dot(y), b.in[shellNode].dot(y), b.in[probeNode].dot(y), b.in[linkNode].dot(y)
	b.gained = c*b.in[waterNode].dot(y) - b.enthalpy
	stored = b.mass*b.gained + b.capacity[elementNode]*(te-x[elementNode]) + b.capacity[shellNode]*(ts-x[shellNode]) +
		b.capacity[probeNode]*(tp-x[probeNode]) + b.capacity[linkNode]*(tl-x[linkNode])
	x[elementNode], x[shellNode], x[probeNode], x[linkNode] = te, ts, tp, tl
	return stored
}

// warm returns the temperature of the water in °C that goes with the enthalpy
// it has gained, by two steps of Newton's method.
func (b *calmBoiler) warm() float64 {
	b.enthalpy += b.gained
	tw := b.x[waterNode] + b.gained*b.inverseCP
	h, cp := water.HAndCP(tw)
	b.inverseCP = 1 / cp
	tw += (b.enthalpy - h) * b.inverseCP
	b.x[waterNode] = tw
	return tw
}

// singles takes lid and pocket through a window with toLid J from the shells,
// and heat in J that adds sum K s to the integral of the pocket's temperature.
// It returns what they gained and adds what they lost to the room, in J.
func (c *Calm) singles(x []float64, toLid, sum, heat float64, lost *float64) (stored float64) {
	lid, pocket := &x[c.lid.node], &x[c.pocket.node]
	steady := (c.bridge*c.lidMid + c.pocket.air*c.ambient) * c.pocket.inverse
	sum += c.pocketWindow.one**pocket + c.pocketWindow.two*steady
	cross := c.bridge * (c.lidMid*c.dt - sum)
	outLid, outPocket := c.lid.air*(c.lidMid-c.ambient)*c.dt, c.pocket.air*(sum-c.ambient*c.dt)
	intoLid, intoPocket := toLid-cross-outLid, cross+heat-outPocket
	*lid += intoLid * c.lid.inverse
	*pocket += intoPocket * c.pocket.inverse
	*lost += outLid + outPocket
	return intoLid + intoPocket
}
