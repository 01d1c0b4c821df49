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
	entered int     // visit of the machine up to which the modes' amplitudes hold
	epoch   int     // counts bases: rhythms of another one do not fit
	quiet   float64 // s, up to which no draw changes
	taps    []tap   // draws that run until then
	turns   bool    // a draw changes at the end of the window at hand
	start   float64 // s, of that window

	ref, inverseRef float64 // c, J/(kg K), and 1/c
	ambient, bridge float64 // °C, and W/K from lid to pocket
	lid, pocket     calmSingle
	lidMid          float64 // °C, in the middle of the window
	pocketRate      float64 // of the pocket alone, 1/s
	pocketWindow    response

	spans map[uint64]*span // by the bits of a duration, for Rhythm
	along []*span          // of the pieces at hand
	steps []calmStep       // the pieces as one boiler sees them
	spare []rhythm         // for the next ones
}

// calmSingle is lid or pocket.
type calmSingle struct {
	node    int     // among all of the machine's
	air     float64 // W/K
	inverse float64 // 1/C, K/J
}

// calmNodes is the number of nodes of a boiler.
const calmNodes = kinds

// modes5 is a number for each mode of a boiler.
type modes5 [calmNodes]float64

func (a *modes5) dot(b *modes5) float64 {
	return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] + a[3]*b[3] + a[4]*b[4]
}

// response is what a rate λ makes of a time d: exp(−λd), the integral of
// exp(−λt) from 0 to d in s, and the integral of that in s².
type response struct{ decay, one, two float64 }

// linear is a number that follows from a boiler's amplitudes at the start of a
// window and from what is held in it.
type linear struct {
	y                  modes5
	gamma, shell, draw float64
}

func (l *linear) of(b *calmBoiler) float64 {
	return l.y.dot(&b.y) + l.gamma*b.gamma + l.shell*b.shell - l.draw*b.draw
}

// calmBoiler is a boiler in its modes: dy/dt = −λ y + Σ in[node]·P(node), and
// the temperature of a node is in[node]·y.
type calmBoiler struct {
	// What does not change while nothing happens. The basis is that of mass and
	// conductances; limits are gathered when the machine is entered.
	chain                                // conductances as wet as the element is, W/K
	made              chain              // those of the board that they come from
	mass, air         float64            // kg, and W/K from the shell to the room
	capacity, inverse [calmNodes]float64 // C and 1/C, J/K and K/J; the water's C is m·c
	toWater           float64            // C of the element per C of the water
	inlet             float64            // H of the cold supply, J/kg
	limit, melts      float64            // °C that water and shell, and link, must stay below

	lambda                modes5
	in, to                [calmNodes]modes5
	gammaIn               modes5 // input of γ = 1 K
	decay                 modes5 // exp(−λ·dt)
	byGamma, byShell, one modes5 // amplitudes at the window's end per K, W, and unit of input
	shellSum, waterSum    linear // integrals of temperatures over the window, K s

	// As of now.
	y         modes5             // amplitudes
	x         [calmNodes]float64 // temperatures, °C
	enthalpy  float64            // H of the water, J/kg
	gained    float64            // by it in this window, J/kg
	inverseCP float64            // 1/c_p of the water, kg K/J

	// Held in the window.
	gamma       float64 // K
	shell       float64 // W into the shell from room, lid and neighbours, with it at 0 °C
	shellMid    float64 // °C
	draw, taken float64 // W out of the water with draws
	middle      float64 // H of the water in the middle of a window with draws, J/kg
	steam       float64 // kg/s
	mean        float64 // temperature of the water in its modes over the window, K
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
	c := &Calm{
		m: m, dt: dt, boilers: make([]calmBoiler, n), entered: -1, ref: water.CP(60),
		ambient: p.ambient, bridge: p.bridge,
		lid:    calmSingle{lid, p.air[lid], 1 / p.capacity[lid]},
		pocket: calmSingle{pocket, p.air[pocket], 1 / p.capacity[pocket]},
		spans:  map[uint64]*span{},
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
// dry or waits to be told, no draw begins or ends in it but at its end, and none
// takes steam that is not fed again.
func (c *Calm) Able(t0 float64) bool {
	known := c.entered == c.m.visits
	if c.m.par.draws > 0 && !(known && t0+c.dt < c.quiet) && !c.draws(t0) {
		return false
	}
	return known || c.enter()
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
			if !c.basis(i, p.Mass[i]) {
				b.mass = -1 // so that it is tried again
				return false
			}
			c.epoch++
			clear(c.spans)
		}
		b.inlet, b.draw = v.hInlet, 0
		b.limit, b.melts = v.boiling-calmMargin, math.Inf(1)
		if v.moves {
			b.limit = min(b.limit, v.opens-calmMargin)
		}
		if v.melts && !p.opened[i] {
			b.melts = v.link
		}
		for k := range b.x {
			b.x[k] = p.x[k*len(c.boilers)+i]
		}
		h, cp := water.HAndCP(p.Water[i])
		b.enthalpy, b.inverseCP = h, 1/cp
		w := b.x
		w[waterNode] = h * c.inverseRef
		b.y = modes5{}
		for k := range w {
			for j := range b.y {
				b.y[j] += b.to[k][j] * w[k]
			}
		}
	}
	c.entered = m.visits
	if m.par.draws == 0 { // of a version of the board with some perhaps
		c.taps = c.taps[:0]
	}
	return true
}

// stale reports whether the modes of boiler i are those of another mass or of
// other conductances.
func (c *Calm) stale(i int) bool {
	b := &c.boilers[i]
	return b.mass != c.m.now.Mass[i] || b.made != c.m.par.chains[i]
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
			r := math.Sqrt(capacity)
			b.in[a][j], b.to[a][j] = q.At(a, j)/r, q.At(a, j)*r
		}
		b.gammaIn[j] = 0
		for a := range k {
			b.gammaIn[j] -= b.in[a][j] * k[a][waterNode]
		}
	}
	c.window(b)
	return true
}

// window works out what a window makes of amplitudes and of what is held:
//
//	y ← exp(−λdt) y + φ₁ u,  ∫y = φ₁ y + φ₂ u,  u the forcing
func (c *Calm) window(b *calmBoiler) {
	var two modes5
	for j, l := range b.lambda {
		r := respond(l, c.dt)
		b.decay[j], b.one[j], two[j] = r.decay, r.one, r.two
		b.byGamma[j] = r.one * b.gammaIn[j]
		b.byShell[j] = r.one * b.in[shellNode][j]
	}
	sum := func(node int) linear {
		var y, u modes5
		for j, in := range b.in[node] {
			y[j], u[j] = in*b.one[j], in*two[j]
		}
		return b.follow(y, u)
	}
	b.shellSum, b.waterSum = sum(shellNode), sum(waterNode)
}

// follow returns y·(amplitudes) + u·(forcing) in terms of what is held.
func (b *calmBoiler) follow(y, u modes5) linear {
	return linear{y, u.dot(&b.gammaIn), u.dot(&b.in[shellNode]), u.dot(&b.in[waterNode])}
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
