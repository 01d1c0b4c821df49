package heat

import (
	"math"
	"time"

	"boilwright/models"
)

// tap is a draw that runs.
type tap struct {
	boiler int
	flow   float64 // kg/s
	steam  bool
}

// draws reports whether no draw changes in the window that starts at t0 but at
// its end, and notes those that run.
func (c *Calm) draws(t0 float64) bool {
	m, p := c.m, c.m.now
	now, end := time.Duration(math.Round(t0*1e9)), time.Duration(math.Round((t0+c.dt)*1e9))
	next := time.Duration(math.MaxInt64)
	c.taps, c.leaks, c.turns, c.start = c.taps[:0], false, false, t0
	c.quiet = math.Inf(-1)
	g := c.lanes
	g.flows, g.cold, g.steam = [Wide]Lanes{}, Lanes{}, Lanes{}
	level := math.Inf(1) // s, up to which levels stay above their marks
	for i := range m.par.vessels {
		v, b := &m.par.vessels[i], &c.boilers[i]
		for k := range v.draws {
			d := &v.draws[k]
			active, then := d.Active(now)
			if active != p.drawing[v.first+k] || then > now && then < end {
				return false
			}
			c.turns = c.turns || then == end
			if active {
				c.open(i, d)
			}
			if then > now {
				next = min(next, then)
			}
		}
		if b.leak > 0 {
			spare := (p.Mass[i] - max(v.wetted, v.floor)) / b.leak
			if !(spare > 2*c.dt) || 2*b.leak*c.dt > calmWeak*p.Mass[i] {
				return false
			}
			level = min(level, t0+spare-c.dt)
		}
	}
	c.quiet = min(level, next.Seconds()-1e-6) // well before, so that rounding is no matter
	return true
}

// Turn begins and ends the draws that change at the end of the window that
// Advance went through, and returns what is to be told of them; it is valid
// until the machine moves on.
func (c *Calm) Turn() []Event {
	if !c.turns {
		return nil
	}
	c.turns, c.entered = false, -1 // modes may be those of a mass that leaked
	m := c.m
	m.events = m.events[:0]
	m.turn(m.now, c.start, c.dt, true)
	return m.events
}

// open adds a draw from boiler i to those that run.
func (c *Calm) open(i int, d *models.Draw) {
	flow, g := float64(d.Flow), c.lanes
	c.taps = append(c.taps, tap{i, flow, d.Steam})
	cold := func(i int) { // water of boiler i for water of the supply
		g.flows[i][i] += flow
		g.cold[i] += flow * c.m.par.vessels[i].hInlet
	}
	switch {
	case d.Steam:
		g.steam[i] += flow
		if c.m.par.vessels[i].feed {
			cold(i)
		} else {
			c.boilers[i].leak += flow
			c.leaks = true
		}
	case d.Refill < 0:
		cold(i)
	default:
		g.flows[i][i] += flow
		g.flows[d.Refill][i] -= flow
		cold(d.Refill)
	}
}

// undraw makes nothing be drawn.
func (c *Calm) undraw() {
	g := c.lanes
	g.draw, g.drawn = Lanes{}, fives{}
	g.thin, g.extra = Lanes{1, 1, 1, 1}, Lanes{}
	for i := range c.boilers {
		c.boilers[i].leak, c.boilers[i].surplus = 0, 0
	}
}

// redraw settles what draws take in the window, before Advance.
func (c *Calm) redraw(p *rhythm, element, link *Lanes) {
	m := c.m
	m.total.Carried += calmRedraw(c.lanes, p, element, link) * c.dt
	for i := range c.taps {
		if t := &c.taps[i]; t.steam {
			m.now.Steam[t.boiler] += t.flow * c.dt
		}
	}
	if c.leaks {
		for i := range c.boilers {
			if c.boilers[i].leak > 0 {
				c.thinned(i, p, element[i], link[i])
			}
		}
	}
}

// thinned works out a window in which boiler i loses steam without a feed. The less
// there is than the basis has the more it warms up, as if by a surplus of heat into the
// basis's: so the other nodes see it. The enthalpy at the end follows from the heat
// without that, and from steam that goes with the mean enthalpy:
//
//	m′ H′ = m H + heat − (m − m′) H_mean
func (c *Calm) thinned(i int, p *rhythm, element, link float64) {
	b, g, f := &c.boilers[i], c.lanes, &c.lanes.change[waterNode]
	gain := f.x.dot(&g.x, i) + f.shell[i]*g.shell[i] - f.draw[i]*g.taken[i] + element*p.element[waterNode][i] + link*p.link[waterNode][i]
	mass, gone := c.m.now.Mass[i], b.leak*c.dt
	left := mass - gone
	surplus := g.capacity[waterNode][i] * gain / c.dt * (b.mass/(mass-gone/2) - 1) // W
	b.surplus, g.thin[i] = surplus, b.mass/left
	g.extra[i] = (surplus*c.dt + gone*(g.middle[i]-g.enthalpy[i])) / left
	g.draw[i] -= surplus
	for k := range g.drawn {
		g.drawn[k][i] += g.change[k].draw[i] * surplus
	}
}

// leaked takes the steam that boilers lost without a feed off their masses, and
// returns what less they stored, in J: its enthalpy, and no surplus.
func (c *Calm) leaked() (less float64) {
	p := c.m.now
	for i := range c.boilers {
		b := &c.boilers[i]
		if b.leak == 0 {
			continue
		}
		gone := b.leak * c.dt
		c.m.total.Carried += gone * c.lanes.middle[i]
		less += gone*c.lanes.middle[i] + b.surplus*c.dt
		p.Mass[i] -= gone
		if c.stale(i) {
			c.entered = -1
		}
	}
	return less
}
