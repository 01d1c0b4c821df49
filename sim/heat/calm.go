package heat

import (
	"math"
	"time"

	"gonum.org/v1/gonum/mat"

	"boilwright/models/water"
)

// Calm advances a machine by equal windows in which nothing happens: no level
// changes, nothing boils, no link or thermostat comes near its temperature, no
// draw begins or ends.
//
// The five nodes of a boiler (element, water, shell, probe, link) are solved
// exactly in their modes, which never change: the water's state is its
// enthalpy as a temperature of constant heat capacity,
//
//	w = H(T_w)/c,  T_w = w + γ,
//
// and what γ makes of the flows is a forcing like any other. Forcings (γ, draws, the
// room, the lid, the neighbours) are held at their value in the middle of the
// window, found from the rates at its start. What they change within a window
// is of second order in window·rate, which [Machine.Calm] bounds.
//
// Energy is conserved to round-off, H(T) included: each flow between boilers,
// lid, pocket and room is booked once for both its ends.
type Calm struct {
	m       *Machine
	dt      float64 // of a window, s
	boilers []calmBoiler
	entered int // visit of the machine up to which the modes' amplitudes hold
	epoch   int // counts bases: rhythms of another one do not fit
	next    time.Duration
	drawing bool // some draw is running

	lidMid                             float64 // °C, in the middle of the window
	pocketRate, pocketPhi1, pocketPhi2 float64 // of the pocket alone: 1/s, s, s²
}

// calmNodes is the number of nodes of a boiler.
const calmNodes = kinds

// modes5 is a number for each mode of a boiler.
type modes5 [calmNodes]float64

func (a *modes5) dot(b *modes5) float64 {
	return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] + a[3]*b[3] + a[4]*b[4]
}

// calmBoiler is a boiler in its modes: dy/dt = −λ y + Σ in[node]·P(node), and
// the temperature of a node is in[node]·y.
type calmBoiler struct {
	mass, ew        float64
	ref, inverseRef float64 // c, J/(kg K)
	heat            float64 // m·c, J/K
	lambda          modes5
	decay           modes5 // exp(−λ·dt)
	phi1, phi2      modes5 // ∫ of exp(−λt), and of that again
	in, to          [calmNodes]modes5
	gamma           modes5  // input of γ = 1 K
	y, u, sum       modes5  // amplitudes, forcing, and the integral of amplitudes
	enthalpy, cp    float64 // H of the water, J/kg, and its c_p, J/(kg K)
	shellMid        float64
	shellForce      float64 // W into the shell from neighbours, for the books
	middle          float64 // H of the water in the middle of a window with draws, J/kg
	draw, taken     float64 // W out of the water with draws
	steam           float64 // kg/s
}

// Limits of the product of window and rate for what is held at mid-window.
const (
	mostCalm  = 32   // boilers
	calmWeak  = 0.05 // lid, pocket, neighbours, draws
	calmInner = 0.5  // water and shell, whose middle is found from their rates
)

// Calm returns the solution of windows of dt seconds, or nil where the machine
// has an upstream link or parts that exchange heat too fast for it.
func (m *Machine) Calm(dt float64) *Calm {
	p := m.par
	n := len(p.vessels)
	lid, pocket := kinds*n+lidNode, kinds*n+pocketNode
	if p.fitted || !(dt > 0) || n > mostCalm {
		return nil
	}
	toLid := p.air[lid] + p.bridge
	for i := range p.vessels {
		toLid += p.chains[i].sk
	}
	if toLid*dt > calmWeak*p.capacity[lid] || (p.bridge+p.air[pocket])*dt > calmWeak*p.capacity[pocket] {
		return nil
	}
	for _, e := range p.edges {
		if e.g*dt > calmWeak*min(p.capacity[e.a], p.capacity[e.b]) {
			return nil
		}
	}
	for i := range p.vessels {
		v := &p.vessels[i]
		for _, d := range v.draws {
			if 2*float64(d.Flow)*dt > calmWeak*v.start || !d.Steam && d.Refill >= 0 && 2*float64(d.Flow)*dt > calmWeak*p.vessels[d.Refill].start {
				return nil
			}
		}
	}
	c := &Calm{m: m, dt: dt, boilers: make([]calmBoiler, n), entered: -1}
	c.pocketRate = (p.bridge + p.air[pocket]) / p.capacity[pocket]
	c.pocketPhi1, c.pocketPhi2 = phi(c.pocketRate, dt, math.Exp(-c.pocketRate*dt))
	for i := range c.boilers {
		c.boilers[i].mass = -1
	}
	return c
}

// Able reports whether the machine as it is can be taken through windows at
// all: nothing holds a boiling point, vents, lies dry or waits to be told.
func (c *Calm) Able() bool { return c.entered == c.m.visits || c.enter() }

// enter brings the modes into line with the machine after others have moved
// it, and reports whether the machine is one that Calm can take.
func (c *Calm) enter() bool {
	m, p := c.m, c.m.now
	if len(m.pending) > 0 {
		return false
	}
	for i := range c.boilers {
		b, v := &c.boilers[i], &m.par.vessels[i]
		if p.Holding[i] || p.Venting[i] || p.Dry[i] || p.Mass[i] < v.wetted {
			return false
		}
		if g := m.par.chains[i].ew; b.mass != p.Mass[i] || b.ew != g {
			if !c.basis(i, p.Mass[i], g) {
				return false
			}
			c.epoch++
		}
		b.enthalpy, b.cp = water.H(p.Water[i]), water.CP(p.Water[i])
		n := len(c.boilers)
		var x modes5
		for k := range x {
			x[k] = p.x[k*n+i]
		}
		x[waterNode] = b.enthalpy * b.inverseRef
		b.y = modes5{}
		for k := range x {
			for j := range b.y {
				b.y[j] += b.to[k][j] * x[k]
			}
		}
	}
	c.entered, c.next = m.visits, 0
	return true
}

// basis finds the modes of boiler i with the given mass and conductance from
// the element.
func (c *Calm) basis(i int, mass, ew float64) bool {
	b, par, n := &c.boilers[i], c.m.par, len(c.boilers)
	g := &par.chains[i]
	b.mass, b.ew = mass, ew
	b.ref = water.CP(60)
	b.inverseRef, b.heat = 1/b.ref, mass*b.ref
	var capacity modes5
	for k := range capacity {
		capacity[k] = par.capacity[k*n+i]
	}
	capacity[waterNode] = b.heat
	var k [calmNodes][calmNodes]float64
	join := func(a, d int, g float64) {
		k[a][a] += g
		k[d][d] += g
		k[a][d] -= g
		k[d][a] -= g
	}
	join(elementNode, waterNode, ew)
	join(waterNode, shellNode, g.ws)
	join(waterNode, probeNode, g.wp)
	join(shellNode, linkNode, g.sl)
	k[shellNode][shellNode] += g.sk + par.air[shellNode*n+i]
	for _, node := range []int{waterNode, shellNode} {
		if k[node][node]*c.dt > calmInner*capacity[node] {
			return false
		}
	}
	s := mat.NewSymDense(calmNodes, nil)
	for a := range k {
		for d := a; d < calmNodes; d++ {
			s.SetSym(a, d, k[a][d]/math.Sqrt(capacity[a]*capacity[d]))
		}
	}
	var es mat.EigenSym
	if !es.Factorize(s, true) {
		return false
	}
	var q mat.Dense
	es.VectorsTo(&q)
	for j, l := range es.Values(nil) {
		b.lambda[j] = max(l, 0)
		b.decay[j] = math.Exp(-b.lambda[j] * c.dt)
		b.phi1[j], b.phi2[j] = phi(b.lambda[j], c.dt, b.decay[j])
		for a := range capacity {
			r := math.Sqrt(capacity[a])
			b.in[a][j], b.to[a][j] = q.At(a, j)/r, q.At(a, j)*r
		}
		b.gamma[j] = 0
		for a := range k {
			b.gamma[j] -= b.in[a][j] * k[a][waterNode]
		}
	}
	return true
}

// phi returns ∫ exp(−λt) dt from 0 to d and the integral of that again, given
// exp(−λd).
func phi(lambda, d, decay float64) (one, two float64) {
	x := lambda * d
	if x < 1e-3 {
		one = d * (1 - x/2*(1-x/3*(1-x/4*(1-x/5))))
		two = d * d / 2 * (1 - x/3*(1-x/4*(1-x/5*(1-x/6))))
		return one, two
	}
	one = (1 - decay) / lambda
	return one, (d - one) / lambda
}

// Rhythm is what a window's pieces of power do to each boiler, per unit of
// their own powers. It belongs to the Calm that made it.
type Rhythm struct {
	epoch     int
	boilers   []rhythm
	pocket    float64 // J
	pocketSum float64 // what its energy adds to the integral of the pocket's temperature, K s
}

type rhythm struct {
	element, link       modes5 // amplitudes at the window's end
	elementSum, linkSum modes5 // and their integrals over it
	free, forced        modes5 // the element's mean temperature while it is heated
	self                float64
	energy, linkEnergy  float64 // J
}

// Rhythm works out the pieces of a window, which together last as long as one.
func (c *Calm) Rhythm(pieces []Piece) *Rhythm {
	r := &Rhythm{epoch: c.epoch, boilers: make([]rhythm, len(c.boilers))}
	c.fill(r, pieces)
	return r
}

// Fits reports whether r was made for the boilers as they are.
func (c *Calm) Fits(r *Rhythm) bool { return r.epoch == c.epoch }

func (c *Calm) fill(r *Rhythm, pieces []Piece) {
	above := 0.0 // K, by the pieces before
	pocket := c.m.par.capacity[kinds*len(c.boilers)+pocketNode]
	for i := range pieces {
		w := &pieces[i]
		decay := math.Exp(-c.pocketRate * w.Duration)
		one, two := phi(c.pocketRate, w.Duration, decay)
		r.pocket += w.Pocket * w.Duration
		r.pocketSum += above*one + w.Pocket/pocket*two
		above = above*decay + w.Pocket/pocket*one
	}
	for k := range c.boilers {
		b, o := &c.boilers[k], &r.boilers[k]
		for i := range pieces {
			w := &pieces[i]
			o.energy += w.Element[k] * w.Duration
			o.linkEnergy += w.Link[k] * w.Duration
		}
		for j, l := range b.lambda {
			in, inLink := b.in[elementNode][j], b.in[linkNode][j]
			passed, before := 1.0, 0.0 // exp(−λt) and its integral, t the start of the piece
			for i := range pieces {
				w := &pieces[i]
				d := w.Duration
				decay := math.Exp(-l * d)
				one, two := phi(l, d, decay)
				p, q := w.Element[k]*in, w.Link[k]*inLink
				sum := o.element[j]*one + p*two
				o.elementSum[j] += sum
				o.linkSum[j] += o.link[j]*one + q*two
				weigh := w.Element[k] * in
				o.self += weigh * sum
				o.free[j] += weigh * passed * one
				o.forced[j] += weigh * (two + one*before)
				o.element[j] = o.element[j]*decay + p*one
				o.link[j] = o.link[j]*decay + q*one
				before += passed * one
				passed *= decay
			}
		}
		if o.energy > 0 {
			x := 1 / o.energy
			o.self *= x
			for j := range o.free {
				o.free[j] *= x
				o.forced[j] *= x
			}
		}
	}
}

// margin keeps windows in which something might just happen away, in kelvin.
const calmMargin = 0.05

// Begin looks at the window that starts at t0 with the powers of r, at most
// factor times those, and reports whether nothing will happen in it. If so it
// must be followed by Advance.
func (c *Calm) Begin(t0 float64, r *Rhythm, factor float64) bool {
	m, p := c.m, c.m.now
	if !c.Able() || r.epoch != c.epoch {
		return false
	}
	n := len(c.boilers)
	for i := range c.boilers {
		b, v, o := &c.boilers[i], &m.par.vessels[i], &r.boilers[i]
		te, tw, ts, tl := p.x[i], p.x[n+i], p.x[2*n+i], p.x[4*n+i]
		top := max(ts, tw+(m.par.capacity[i]*max(0, te-tw)+o.energy*factor)/b.heat) + calmMargin
		if top >= v.boiling {
			return false
		}
		if v.melts && !p.opened[i] && max(top, tl)+o.linkEnergy*factor/m.par.capacity[4*n+i] >= v.link {
			return false
		}
		if v.moves && (p.Cut[i] || top >= v.opens) {
			return false
		}
	}
	if m.par.draws > 0 && !c.draws(t0) {
		return false
	}
	c.force(p)
	return true
}

// draws reports whether no draw changes in the window that starts at t0.
func (c *Calm) draws(t0 float64) bool {
	end := time.Duration(math.Round((t0 + c.dt) * 1e9))
	if c.next > end {
		return true
	}
	m, p := c.m, c.m.now
	now := time.Duration(math.Round(t0 * 1e9))
	next := time.Duration(math.MaxInt64)
	c.drawing = false
	for i := range c.boilers {
		c.boilers[i].draw, c.boilers[i].steam = 0, 0
	}
	for i := range m.par.vessels {
		v := &m.par.vessels[i]
		for k := range v.draws {
			active, then := v.draws[k].Active(now)
			if active != p.drawing[v.first+k] || then > now && then <= end {
				return false
			}
			if active {
				if v.draws[k].Steam && !v.feed {
					return false
				}
				c.drawing = true
			}
			if then > now {
				next = min(next, then)
			}
		}
	}
	c.next = next
	return true
}

// force finds what is held at its value in the middle of the window.
func (c *Calm) force(p *State) {
	m, n := c.m, len(c.boilers)
	par := m.par
	lid, pocket := kinds*n+lidNode, kinds*n+pocketNode
	half := c.dt / 2
	tk, tb := p.x[lid], p.x[pocket]
	toLid := -par.air[lid]*(tk-par.ambient) - par.bridge*(tk-tb)
	for i := range c.boilers {
		toLid += par.chains[i].sk * (p.x[2*n+i] - tk)
	}
	c.lidMid = tk + half*toLid/par.capacity[lid]
	if c.drawing {
		c.drawn(p)
	}
	for i := range c.boilers {
		b, g := &c.boilers[i], &par.chains[i]
		te, tw, ts, tp, tl := p.x[i], p.x[n+i], p.x[2*n+i], p.x[3*n+i], p.x[4*n+i]
		air := par.air[2*n+i]
		toShell := g.ws*(tw-ts) - g.sl*(ts-tl) - g.sk*(ts-tk) - air*(ts-par.ambient)
		b.shellMid = ts + half*toShell/par.capacity[2*n+i]
		into := (b.ew*(te-tw) - g.ws*(tw-ts) - g.wp*(tw-tp) - b.draw) / b.mass * half
		gamma := tw - b.enthalpy*b.inverseRef + into*(1/b.cp-b.inverseRef)
		shell := air*par.ambient + g.sk*c.lidMid
		b.shellForce = 0
		in, is := &b.in[waterNode], &b.in[shellNode]
		for j := range b.u {
			b.u[j] = b.gamma[j]*gamma + is[j]*shell - in[j]*b.draw
		}
	}
	for _, e := range par.edges {
		i, j := e.a-2*n, e.b-2*n
		q := e.g * (c.boilers[i].shellMid - c.boilers[j].shellMid)
		c.boilers[i].shellForce -= q
		c.boilers[j].shellForce += q
	}
	if len(par.edges) > 0 {
		for i := range c.boilers {
			b := &c.boilers[i]
			for j := range b.u {
				b.u[j] += b.in[shellNode][j] * b.shellForce
			}
		}
	}
}

// drawn finds the heat that draws take with the water at the middle of the
// window: first with the enthalpies at the start, for the rates, then with those
// that the rates lead to.
func (c *Calm) drawn(p *State) {
	m, n := c.m, len(c.boilers)
	for i := range c.boilers {
		c.boilers[i].middle = c.boilers[i].enthalpy
	}
	c.draw(p)
	for i := range c.boilers {
		b, g := &c.boilers[i], &m.par.chains[i]
		te, tw, ts, tp := p.x[i], p.x[n+i], p.x[2*n+i], p.x[3*n+i]
		b.middle += (b.ew*(te-tw) - g.ws*(tw-ts) - g.wp*(tw-tp) - b.draw) / b.mass * c.dt / 2
	}
	c.draw(p)
}

// draw adds up what draws take from each boiler with its water at the middle
// enthalpy.
func (c *Calm) draw(p *State) {
	m, n := c.m, len(c.boilers)
	for i := range c.boilers {
		c.boilers[i].draw, c.boilers[i].steam = 0, 0
	}
	for i := range m.par.vessels {
		v, b := &m.par.vessels[i], &c.boilers[i]
		for k := range v.draws {
			if !p.drawing[v.first+k] {
				continue
			}
			d := &v.draws[k]
			flow := float64(d.Flow)
			switch {
			case d.Steam:
				b.steam += flow
				b.draw += flow * (water.Hfg(p.x[n+i]+(b.middle-b.enthalpy)/b.ref) + b.middle - v.hInlet)
			case d.Refill < 0:
				b.draw += flow * (b.middle - v.hInlet)
			default:
				from := &c.boilers[d.Refill]
				b.draw += flow * (b.middle - from.middle)
				from.draw += flow * (from.middle - m.par.vessels[d.Refill].hInlet)
			}
		}
	}
}

// redraw corrects the heat that draws took for the mean enthalpy that the
// water came to have, at the end of the window.
func (c *Calm) redraw(p *State) {
	for i := range c.boilers {
		b := &c.boilers[i]
		b.taken = b.draw
		b.middle = b.in[waterNode].dot(&b.sum) * b.ref / c.dt
	}
	c.draw(p)
	for i := range c.boilers {
		b := &c.boilers[i]
		late := (b.draw - b.taken) * c.dt
		for j := range b.y {
			b.y[j] -= b.in[waterNode][j] * late
		}
	}
}

// Mean returns the temperature in °C of the element of channel ch, meant over
// the window with the power of r as the weight, scale times which is what it
// takes.
func (c *Calm) Mean(r *Rhythm, ch int, scale float64) float64 {
	b, o := &c.boilers[ch], &r.boilers[ch]
	if o.energy == 0 {
		return c.m.now.x[ch]
	}
	return o.free.dot(&b.y) + o.forced.dot(&b.u) + o.self*scale
}

// Advance takes the machine through the window that Begin looked at, with the
// powers of r for element and link of each channel and for the pocket times
// the given factors.
func (c *Calm) Advance(r *Rhythm, element, link []float64, power float64) {
	m, p, n := c.m, c.m.now, len(c.boilers)
	par := m.par
	lid, pocket := kinds*n+lidNode, kinds*n+pocketNode
	toLid, stored := 0.0, 0.0
	for i := range c.boilers {
		b, o := &c.boilers[i], &r.boilers[i]
		s, t := element[i], link[i]
		for j := range b.y {
			y, u := b.y[j], b.u[j]
			b.sum[j] = b.phi1[j]*y + b.phi2[j]*u + s*o.elementSum[j] + t*o.linkSum[j]
			b.y[j] = b.decay[j]*y + b.phi1[j]*u + s*o.element[j] + t*o.link[j]
		}
		shell := b.in[shellNode].dot(&b.sum)
		m.total.In += s*o.energy + t*o.linkEnergy
		m.total.Ambient += par.air[2*n+i] * (shell - par.ambient*c.dt)
		toLid += par.chains[i].sk * (shell - c.lidMid*c.dt)
	}
	if c.drawing {
		c.redraw(p)
	}
	for i := range c.boilers {
		b := &c.boilers[i]
		if b.draw != 0 {
			m.total.Carried += b.draw * c.dt
			if b.steam != 0 {
				p.Steam[i] += b.steam * c.dt
			}
		}
		for _, k := range [4]int{elementNode, shellNode, probeNode, linkNode} {
			x := b.in[k].dot(&b.y)
			stored += par.capacity[k*n+i] * (x - p.x[k*n+i])
			p.x[k*n+i] = x
		}
		h := b.in[waterNode].dot(&b.y) * b.ref
		stored += b.mass * (h - b.enthalpy)
		tw := p.x[n+i]
		tw += (h - b.enthalpy) / b.cp
		b.cp = water.CP(tw)
		tw += (h - water.H(tw)) / b.cp
		b.enthalpy, p.x[n+i] = h, tw
	}
	steady := (par.bridge*c.lidMid + par.air[pocket]*par.ambient) / par.capacity[pocket]
	sum := c.pocketPhi1*p.x[pocket] + c.pocketPhi2*steady + power*r.pocketSum
	cross := par.bridge * (c.lidMid*c.dt - sum)
	outLid, outPocket := par.air[lid]*(c.lidMid-par.ambient)*c.dt, par.air[pocket]*(sum-par.ambient*c.dt)
	intoLid, intoPocket := toLid-cross-outLid, cross+power*r.pocket-outPocket
	p.x[lid] += intoLid / par.capacity[lid]
	p.x[pocket] += intoPocket / par.capacity[pocket]
	m.total.In += power * r.pocket
	m.total.Ambient += outLid + outPocket
	m.total.Stored += stored + intoLid + intoPocket
	p.sync()
}
