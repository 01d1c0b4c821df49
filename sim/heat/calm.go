package heat

import "math"

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
// and γ is held: a window is taken with w + γ in the place of w. γ, draws, the
// room, the lid and the neighbours are held at their value in the middle of the
// window, found from the rates at its start. What they change within a window
// is of second order in window·rate, which [Machine.Calm] bounds. So what
// temperatures gain in a window is a constant matrix times them, and a constant
// vector times each of what is held and put in.
//
// The equations are those of calmkernel.go, for all boilers side by side. What pieces
// of power do in a window is worked out beforehand: a [Rhythm].
//
// A boiler that loses steam without a feed keeps its modes for some per cent of
// its mass. What they lack is put in as heat; see thinned.
//
// Energy is conserved to round-off, H(T) included: each flow between boilers,
// lid, pocket and room is booked once for both its ends, and what a boiler gives
// to lid and room is all that it got and did not keep.
type Calm struct {
	m       *Machine
	dt      float64 // of a window, s
	beats   int     // of a window
	boilers []calmBoiler
	lanes   *calmLanes // what windows touch
	entered int        // visit of the machine up to which the temperatures here hold
	epoch   int        // counts bases: rhythms of another one do not fit
	quiet   float64    // s, up to which no draw changes; +Inf where there are none
	taps    []tap      // draws that run until then
	leaks   bool       // some of them are of steam without a feed
	turns   bool       // a draw changes at the end of the window at hand
	start   float64    // s, of that window

	pocketRate float64 // of the pocket alone, 1/s

	room  *calmRoom
	spare []Rhythm // of it, for the next ones
}

// five is a number for each mode or node of a boiler.
type five [calmNodes]float64

// calmBoiler is a boiler in its modes y, and what is seldom looked at of it:
// dy/dt = −λ y + Σ in[node]·P(node), and the temperature of a node is in[node]·y.
// The basis is that of mass and conductances; limits are gathered when the machine
// is entered. [calmLanes] has the rest.
type calmBoiler struct {
	chain             // conductances as wet as the element is, W/K
	made      chain   // those of the board that they come from
	mass, air float64 // kg, and W/K from the shell to the room
	leak      float64 // kg/s of steam without a feed
	surplus   float64 // W into the water; see thinned
	lambda    five    // 1/s
	in        [calmNodes]five
}

// Limits of the product of window and rate for what is held at mid-window.
const (
	calmWeak  = 0.05 // lid, pocket, neighbours, draws
	calmInner = 0.5  // water and shell, whose middle is found from their rates

	calmThin = 0.03 // relative, by which the mass of a boiler that leaks may be off that of its modes
)

// Calm returns the solution of windows of dt seconds, or nil where the machine
// has an upstream link or parts that exchange heat too fast for it. Powers change
// only at beats, of which a window has the given number.
func (m *Machine) Calm(dt float64, beats int) *Calm {
	p := m.par
	n := len(p.vessels)
	lid, pocket := kinds*n+lidNode, kinds*n+pocketNode
	if p.fitted || !(dt > 0) || beats < 1 || n > Wide {
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
	c := &Calm{
		m: m, dt: dt, beats: beats, boilers: make([]calmBoiler, n), lanes: newCalmLanes(n, dt, beats), entered: -1, room: spareRooms.Get().(*calmRoom),
	}
	inverse := 1 / p.capacity[pocket]
	c.pocketRate = (p.bridge + p.air[pocket]) * inverse
	r := respond(c.pocketRate, dt)
	c.lanes.single = calmSingles{
		ambient: p.ambient, ambientSum: p.ambient * dt, bridge: p.bridge,
		lidAir: p.air[lid], lidInverse: 1 / p.capacity[lid], lidHalf: dt / 2 / p.capacity[lid],
		pocketAir: p.air[pocket], pocketInverse: inverse,
		own: r.one, byLid: r.two * p.bridge * inverse / dt, byRoom: r.two * p.air[pocket] * p.ambient * inverse,
	}
	for i := range c.boilers {
		c.boilers[i].mass = -1
	}
	return c
}

// Able reports whether the machine as it is can be taken through the window that
// starts at t0, in seconds, at all: nothing holds a boiling point, vents, lies
// dry or waits to be told, and no draw begins or ends but at its end, or lets the
// level down to a mark.
func (c *Calm) Able(t0 float64) bool {
	return c.entered == c.m.visits && t0+c.dt < c.quiet || c.look(t0)
}

// look is Able where others have moved the machine or a draw may change.
func (c *Calm) look(t0 float64) bool {
	c.undraw()
	if c.m.par.draws == 0 { // of a version of the board with some perhaps
		c.taps, c.leaks, c.turns, c.quiet = c.taps[:0], false, false, math.Inf(1)
	} else if !c.draws(t0) {
		return false
	}
	return c.entered == c.m.visits || c.enter()
}

// enter brings the modes into line with the machine after others have moved
// it, and reports whether the machine is one that Calm can take.
func (c *Calm) enter() bool {
	m, p := c.m, c.m.now
	if len(m.pending) > 0 {
		return false
	}
	for i := range c.boilers {
		v := &m.par.vessels[i]
		if p.Holding[i] || p.Venting[i] || p.Dry[i] || p.Cut[i] && v.moves || p.low[i] != (p.Mass[i] < v.wetted) {
			return false
		}
		// One that has just lost steam boils again sooner than its modes pay.
		if c.stale(i) && p.Water[i] > v.boiling-calmBoiling {
			return false
		}
	}
	g := c.lanes
	for i := range c.boilers {
		b, v := &c.boilers[i], &m.par.vessels[i]
		if c.stale(i) {
			mass := p.Mass[i]
			if b.leak > 0 {
				mass = max(v.wetted, mass*(1-0.9*calmThin)) // so that it holds for twice as long
			}
			if !c.basis(i, mass) {
				b.mass = -1 // so that it is tried again
				return false
			}
			c.epoch++
			c.room.forget()
		}
		g.limit[i], g.melts[i] = v.boiling-calmMargin, math.Inf(1)
		if v.moves {
			g.limit[i] = min(g.limit[i], v.opens-calmMargin)
		}
		if v.melts && !p.opened[i] {
			g.melts[i] = v.link
		}
		g.softens[i] = g.melts[i] - calmMargin
		for k := range g.x {
			g.x[k][i] = p.x[k*len(c.boilers)+i]
		}
		g.wet(i, p.Water[i])
	}
	g.single.toLid, g.single.roomHeat = 0, 0
	for i := range c.boilers {
		g.single.toLid += c.boilers[i].sk
		g.single.roomHeat += c.boilers[i].air * g.single.ambientSum
	}
	g.beside = [Wide]Lanes{}
	for _, e := range m.par.edges {
		a, b := e.a-shellNode*len(c.boilers), e.b-shellNode*len(c.boilers)
		g.beside[a][b] += e.g
		g.beside[b][a] += e.g
	}
	c.entered = m.visits
	return true
}

// stale reports whether the modes of boiler i are those of another mass or of
// other conductances.
func (c *Calm) stale(i int) bool {
	b, mass := &c.boilers[i], c.m.now.Mass[i]
	fits := b.mass == mass || b.leak > 0 && math.Abs(b.mass-mass) <= calmThin*mass
	return !fits || b.made != c.m.par.chains[i]
}
