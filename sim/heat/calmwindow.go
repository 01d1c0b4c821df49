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
	boilers, parts := c.boilers, r.boilers[:len(c.boilers)]
	for i := range boilers {
		b, o := &boilers[i], &parts[i]
		tw, top := b.water, b.water+o.reach*factor
		if d := b.x[elementNode] - tw; d > 0 {
			top += d * b.toWater
		}
		// Mostly the water is the warmest but for the element, and far from its limits.
		if !(top < b.safe && b.x[shellNode] <= tw && b.x[linkNode] <= tw) && !b.clear(o, factor, c.dt) {
			return false
		}
	}
	c.force()
	return true
}

// clear reports whether nothing reaches its limit in a window of dt seconds.
func (b *calmBoiler) clear(o *rhythm, factor, dt float64) bool {
	te, tw, ts, tl := b.x[elementNode], b.water, b.x[shellNode], b.x[linkNode]
	energy := o.energy * factor
	top := tw + energy*b.inverse[waterNode] + max(0, te-tw)*b.toWater
	if b.es > 0 { // heat goes to the shell directly
		ts += b.es * dt * b.inverse[shellNode] * max(0, te+energy*b.inverse[elementNode]-ts)
	}
	top = max(top, ts)
	rise := o.linkEnergy * factor * b.inverse[linkNode]
	return !(top >= b.limit || top+rise >= b.melts-calmMargin || tl+rise >= b.melts)
}

// force finds what is held at its value in the middle of the window.
func (c *Calm) force() {
	x, boilers := c.m.now.x, c.boilers
	tk, tb := x[c.lid.node], x[c.pocket.node]
	toLid := -c.lid.air*(tk-c.ambient) - c.bridge*(tk-tb)
	for i := range boilers {
		b := &boilers[i]
		toLid += b.sk * (b.x[shellNode] - tk)
	}
	mid := tk + c.dt/2*toLid*c.lid.inverse
	c.lidMid = mid
	if len(c.taps) > 0 {
		c.drawn()
	}
	for i := range boilers {
		b := &boilers[i]
		x := &b.x
		x[waterNode] = b.water
		b.shell = b.room + b.sk*mid
		b.shellMid = b.midShell.dot(x) + b.midLid*tk + b.midRoom
		// γ = T_w − H/c, and dγ/dH = 1/c_p − 1/c
		x[waterNode] = b.water + (b.risen.dot(x)-b.rise*b.draw)*(b.inverseCP-c.inverseRef)
	}
	for i := range c.edges {
		e := &c.edges[i]
		a, d := &boilers[e.a], &boilers[e.b]
		q := e.g * (a.shellMid - d.shellMid)
		a.shell -= q
		d.shell += q
	}
}

// Means returns the temperatures in °C of the elements, meant over the window
// with the powers of r as the weights, scale times which is what they take.
func (c *Calm) Means(r *Rhythm, scale *Lanes) (means Lanes) {
	for ch := range c.boilers {
		b, o := &c.boilers[ch], &r.boilers[ch]
		means[ch] = b.x[elementNode]
		if o.energy != 0 {
			means[ch] = o.mean.of(b) + o.self*scale[ch]
		}
	}
	return means
}

// Advance takes the machine through the window that Begin looked at, with the
// powers of r for element and link of each channel and for the pocket times
// the given factors.
func (c *Calm) Advance(r *Rhythm, element, link *Lanes, power float64) {
	m := c.m
	if len(c.taps) > 0 {
		c.redraw(r.boilers, element, link)
	}
	put, stored, out, lost := c.nodes(r.boilers, element, link)
	c.waters()
	if len(c.taps) > 0 {
		stored -= c.leaked()
	}
	toLid := out - lost - c.toLid*c.lidMid*c.dt
	lost -= c.toRoom * c.ambient * c.dt
	stored += c.singles(toLid, power*r.pocketSum, power*r.pocket, &lost)
	m.total.In += put + power*r.pocket
	m.total.Ambient += lost
	m.total.Stored += stored
}

// nodes takes the boilers through a window with the given factors of what parts
// put into element and link, all but the temperatures of their waters. It returns
// what was put in and stored, and what of the shells' heat went out, with lid and
// room at 0 °C, and of that to the room, in J.
func (c *Calm) nodes(parts []rhythm, element, link *Lanes) (put, stored, out, lost float64) {
	p, boilers, dt := c.m.now, c.boilers, c.dt
	n := len(boilers)
	parts = parts[:n]
	te, ts, tp, tl := p.Element[:n], p.Shell[:n], p.Probe[:n], p.Link[:n]
	for i := range boilers {
		b, o, s, t := &boilers[i], &parts[i], element[i%Wide], link[i%Wide]
		x, f, g, d, q := &b.x, &b.change, &b.gain, &b.drawn, b.shell
		// One after another, so that all stays in registers.
		g[0] = f[0].x.dot(x) + f[0].shell*q + s*o.element[0] + t*o.link[0] + d[0]
		g[1] = f[1].x.dot(x) + f[1].shell*q + s*o.element[1] + t*o.link[1] + d[1]
		g[2] = f[2].x.dot(x) + f[2].shell*q + s*o.element[2] + t*o.link[2] + d[2]
		g[3] = f[3].x.dot(x) + f[3].shell*q + s*o.element[3] + t*o.link[3] + d[3]
		g[4] = f[4].x.dot(x) + f[4].shell*q + s*o.element[4] + t*o.link[4] + d[4]
		kept := b.capacity.dot(g)
		e, h, u, v := x[elementNode]+g[elementNode], x[shellNode]+g[shellNode], x[probeNode]+g[probeNode], x[linkNode]+g[linkNode]
		x[elementNode], x[shellNode], x[probeNode], x[linkNode] = e, h, u, v
		te[i], ts[i], tp[i], tl[i] = e, h, u, v
		in := s*o.energy + t*o.linkEnergy
		left := in + (q-b.draw)*dt - kept
		put += in
		stored += kept
		out += left
		lost += b.toRoom * left
	}
	return put, stored, out, lost
}

// waters finds the temperatures of the waters from the enthalpies that they have
// gained, by two steps of Newton's method.
func (c *Calm) waters() {
	boilers := c.boilers
	tw := c.m.now.Water[:len(boilers)]
	for i := range boilers {
		b := &boilers[i]
		gained := b.gained(c.ref)
		b.enthalpy += gained
		t := b.water + gained*b.inverseCP
		h, cp := water.HAndCP(t)
		b.inverseCP = 1 / cp
		t += (b.enthalpy - h) * b.inverseCP
		b.water, tw[i] = t, t
	}
}

// gained returns what the water gains in the window in J/kg.
func (b *calmBoiler) gained(ref float64) float64 { return ref*b.gain[waterNode]*b.thin - b.extra }

// singles takes lid and pocket through a window with toLid J from the shells,
// and heat in J that adds sum K s to the integral of the pocket's temperature.
// It returns what they gained and adds what they lost to the room, in J.
func (c *Calm) singles(toLid, sum, heat float64, lost *float64) (stored float64) {
	p := c.m.now
	x := p.x
	lid, pocket := x[c.lid.node], x[c.pocket.node]
	steady := (c.bridge*c.lidMid + c.pocket.air*c.ambient) * c.pocket.inverse
	sum += c.pocketWindow.one*pocket + c.pocketWindow.two*steady
	cross := c.bridge * (c.lidMid*c.dt - sum)
	outLid, outPocket := c.lid.air*(c.lidMid-c.ambient)*c.dt, c.pocket.air*(sum-c.ambient*c.dt)
	intoLid, intoPocket := toLid-cross-outLid, cross+heat-outPocket
	lid += intoLid * c.lid.inverse
	pocket += intoPocket * c.pocket.inverse
	x[c.lid.node], x[c.pocket.node] = lid, pocket
	p.Lid, p.Pocket = lid, pocket
	*lost += outLid + outPocket
	return intoLid + intoPocket
}
