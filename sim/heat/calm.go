package heat

import (
	"math"

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
// and γ is held: a window is taken with w + γ in the place of w. γ, draws, the
// room, the lid and the neighbours are held at their value in the middle of the
// window, found from the rates at its start. What they change within a window
// is of second order in window·rate, which [Machine.Calm] bounds. So what
// temperatures gain in a window is a constant matrix times them, and a constant
// vector times each of what is held and put in.
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
	boilers []calmBoiler
	edges   []edge  // from shell to shell, by boiler
	entered int     // visit of the machine up to which the temperatures here hold
	epoch   int     // counts bases: rhythms of another one do not fit
	quiet   float64 // s, up to which no draw changes; +Inf where there are none
	taps    []tap   // draws that run until then
	turns   bool    // a draw changes at the end of the window at hand
	start   float64 // s, of that window

	ref, inverseRef float64 // c, J/(kg K), and 1/c
	ambient, bridge float64 // °C, and W/K from lid to pocket
	lid, pocket     calmSingle
	lidMid          float64 // °C, in the middle of the window
	toLid, toRoom   float64 // W/K from all shells
	pocketRate      float64 // of the pocket alone, 1/s
	pocketWindow    response

	room  *calmRoom
	spare []Rhythm // of it, for the next ones
}

// calmSingle is lid or pocket.
type calmSingle struct {
	node    int     // among all of the machine's
	air     float64 // W/K
	inverse float64 // 1/C, K/J
}

// Wide is the number of boilers that a Calm can take.
const Wide = 4

// Lanes holds a number for each boiler that a Calm can take, side by side.
type Lanes [Wide]float64

// calmNodes is the number of nodes of a boiler.
const calmNodes = kinds

// five is a number for each mode or node of a boiler.
type five [calmNodes]float64

func (a *five) dot(b *five) float64 {
	return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] + a[3]*b[3] + a[4]*b[4]
}

// response is what a rate λ makes of a time d: exp(−λd), the integral of
// exp(−λt) from 0 to d in s, and the integral of that in s².
type response struct{ decay, one, two float64 }

// linear is a number that follows from a boiler's temperatures at the start of a
// window and from what is held in it.
type linear struct {
	x           five
	shell, draw float64
}

func (l *linear) of(b *calmBoiler) float64 {
	return l.x.dot(&b.x) + l.shell*b.shell - l.draw*b.draw
}

// calmBoiler is a boiler in its modes y: dy/dt = −λ y + Σ in[node]·P(node), and
// the temperature of a node is in[node]·y.
type calmBoiler struct {
	// What does not change while nothing happens. The basis is that of mass and
	// conductances; limits are gathered when the machine is entered.
	chain                     // conductances as wet as the element is, W/K
	made              chain   // those of the board that they come from
	mass, air         float64 // kg, and W/K from the shell to the room
	capacity, inverse five    // C and 1/C, J/K and K/J; the water's C is m·c
	toWater           float64 // C of the element per C of the water
	room, toRoom      float64 // W from the room into the shell at 0 °C, and the room's share of what the shell loses
	inlet             float64 // H of the cold supply, J/kg
	limit, melts      float64 // °C that water and shell, and link, must stay below
	safe              float64 // °C below which all of them are sure to
	lambda            five
	in                [calmNodes]five
	byElement, byLink [calmNodes]five   // in[node] times that of element or link, mode by mode
	change            [calmNodes]linear // of temperatures in a window, K
	waterMean         linear            // °C

	// In the middle of the window H is higher by risen·x − rise·draw J/kg, and the
	// shell has midShell·x + midLid·(temperature of the lid) + midRoom °C.
	risen, midShell       five
	rise, midLid, midRoom float64

	// As of now.
	x         five    // temperatures, °C; of the water w + γ of the last window
	water     float64 // temperature of the water, °C
	enthalpy  float64 // H of the water, J/kg
	inverseCP float64 // 1/c_p of the water, kg K/J
	gain      five    // of temperatures in this window, K; that of the water H/c

	// Held in the window.
	shell       float64 // W into the shell from room, lid and neighbours, with it at 0 °C
	shellMid    float64 // °C
	draw, taken float64 // W out of the water with draws, meant at last and by drawn
	drawn       five    // K that draws add to gain
	middle      float64 // H of the water in the middle of a window with draws, J/kg

	// Of a boiler that leaks.
	leak           float64 // kg/s of steam without a feed
	thin           float64 // mass of the basis per that at the window's end
	surplus, extra float64 // W into the water, and J/kg that are not its gain; see thinned
}

// Limits of the product of window and rate for what is held at mid-window.
const (
	calmWeak  = 0.05 // lid, pocket, neighbours, draws
	calmInner = 0.5  // water and shell, whose middle is found from their rates

	calmThin = 0.03 // relative, by which the mass of a boiler that leaks may be off that of its modes
)

// Calm returns the solution of windows of dt seconds, or nil where the machine
// has an upstream link or parts that exchange heat too fast for it.
func (m *Machine) Calm(dt float64) *Calm {
	p := m.par
	n := len(p.vessels)
	lid, pocket := kinds*n+lidNode, kinds*n+pocketNode
	if p.fitted || !(dt > 0) || n > Wide {
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
		m: m, dt: dt, boilers: make([]calmBoiler, n), entered: -1, ref: water.CP(60), room: spareRooms.Get().(*calmRoom),
		ambient: p.ambient, bridge: p.bridge,
		lid:    calmSingle{lid, p.air[lid], 1 / p.capacity[lid]},
		pocket: calmSingle{pocket, p.air[pocket], 1 / p.capacity[pocket]},
	}
	c.inverseRef = 1 / c.ref
	c.pocketRate = (p.bridge + p.air[pocket]) * c.pocket.inverse
	c.pocketWindow = respond(c.pocketRate, dt)
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
	for i := range c.boilers {
		c.boilers[i].undraw()
	}
	if c.m.par.draws == 0 { // of a version of the board with some perhaps
		c.taps, c.turns, c.quiet = c.taps[:0], false, math.Inf(1)
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
		b.inlet = v.hInlet
		b.limit, b.melts = v.boiling-calmMargin, math.Inf(1)
		if v.moves {
			b.limit = min(b.limit, v.opens-calmMargin)
		}
		if v.melts && !p.opened[i] {
			b.melts = v.link
		}
		b.safe = min(b.limit, b.melts-calmMargin)
		if b.es > 0 {
			b.safe = math.Inf(-1) // what the element has may go to the shell
		}
		for k := range b.x {
			b.x[k] = p.x[k*len(c.boilers)+i]
		}
		h, cp := water.HAndCP(p.Water[i])
		b.water, b.enthalpy, b.inverseCP = p.Water[i], h, 1/cp
	}
	c.toLid, c.toRoom = 0, 0
	for i := range c.boilers {
		c.toLid += c.boilers[i].sk
		c.toRoom += c.boilers[i].air
	}
	c.edges = append(c.edges[:0], m.par.edges...)
	for i := range c.edges {
		c.edges[i].a -= shellNode * len(c.boilers)
		c.edges[i].b -= shellNode * len(c.boilers)
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

// basis finds the modes of boiler i with the given mass in kg.
func (c *Calm) basis(i int, mass float64) bool {
	b, par, n := &c.boilers[i], c.m.par, len(c.boilers)
	b.mass, b.made, b.air = mass, par.chains[i], par.air[shellNode*n+i]
	v := &par.vessels[i]
	wet := 1.0
	if mass < v.wetted {
		wet = mass / v.wetted
	}
	b.chain = b.made
	b.ew, b.es = wet*v.wet, (1-wet)*v.dry
	for k := range b.capacity {
		b.capacity[k] = par.capacity[k*n+i]
	}
	b.capacity[waterNode] = mass * c.ref
	for k, capacity := range b.capacity {
		b.inverse[k] = 1 / capacity
	}
	b.toWater = b.capacity[elementNode] * b.inverse[waterNode]
	b.room, b.toRoom = b.air*c.ambient, 0
	if b.air > 0 {
		b.toRoom = b.air / (b.air + b.sk)
	}
	var k [calmNodes][calmNodes]float64
	join := func(a, d int, g float64) {
		k[a][a] += g
		k[d][d] += g
		k[a][d] -= g
		k[d][a] -= g
	}
	join(elementNode, waterNode, b.ew)
	join(elementNode, shellNode, b.es)
	join(waterNode, shellNode, b.ws)
	join(waterNode, probeNode, b.wp)
	join(shellNode, linkNode, b.sl)
	k[shellNode][shellNode] += b.sk + b.air
	for _, node := range []int{waterNode, shellNode} {
		if k[node][node]*c.dt > calmInner*b.capacity[node] {
			return false
		}
	}
	b.rise = c.dt / 2 / mass
	half := c.dt / 2 * b.inverse[shellNode]
	b.midLid, b.midRoom = half*b.sk, half*b.room
	for node := range k {
		b.risen[node], b.midShell[node] = -b.rise*k[waterNode][node], -half*k[shellNode][node]
	}
	b.midShell[shellNode]++
	s := mat.NewSymDense(calmNodes, nil)
	for a := range k {
		for d := a; d < calmNodes; d++ {
			s.SetSym(a, d, k[a][d]/math.Sqrt(b.capacity[a]*b.capacity[d]))
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
		for a, capacity := range b.capacity {
			b.in[a][j] = q.At(a, j) / math.Sqrt(capacity)
		}
	}
	for a := range b.in {
		for j, in := range b.in[a] {
			b.byElement[a][j], b.byLink[a][j] = in*b.in[elementNode][j], in*b.in[linkNode][j]
		}
	}
	c.window(b)
	return true
}

// window works out what a window makes of temperatures and of what is held:
//
//	y ← y − λφ₁ y + φ₁ u,  ∫y = φ₁ y + φ₂ u,  u the forcing
func (c *Calm) window(b *calmBoiler) {
	var change, one, mean, meanOf five
	for j, l := range b.lambda {
		r := respond(l, c.dt)
		change[j], one[j], mean[j], meanOf[j] = -l*r.one, r.one, r.one/c.dt, r.two/c.dt
	}
	for k := range b.change {
		b.change[k] = b.follow(k, &change, &one)
	}
	b.waterMean = b.follow(waterNode, &mean, &meanOf)
}

// follow returns what the temperature of a node is if each mode's amplitude is
// y times that at the start and u times its forcing.
func (b *calmBoiler) follow(node int, y, u *five) (l linear) {
	for j, in := range b.in[node] {
		for k, capacity := range b.capacity {
			l.x[k] += in * y[j] * b.in[k][j] * capacity
		}
		l.shell += in * u[j] * b.in[shellNode][j]
		l.draw += in * u[j] * b.in[waterNode][j]
	}
	return l
}

// respond returns the response of a rate in 1/s to a time of d seconds.
func respond(rate, d float64) response {
	x := rate * d
	decay := math.Exp(-x)
	if x < 1e-3 {
		one := d * (1 - x/2*(1-x/3*(1-x/4*(1-x/5))))
		two := d * d / 2 * (1 - x/3*(1-x/4*(1-x/5*(1-x/6))))
		return response{decay, one, two}
	}
	one := (1 - decay) / rate
	return response{decay, one, (d - one) / rate}
}
