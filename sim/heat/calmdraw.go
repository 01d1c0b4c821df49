package heat

import (
	"math"
	"time"

	"boilwright/models/water"
)

// tap is a draw that runs.
type tap struct {
	boiler, from int     // from is the one that refills it, or −1
	flow         float64 // kg/s
	steam, fed   bool
}

// draws reports whether no draw changes in the window that starts at t0 but at
// its end, and notes those that run.
func (c *Calm) draws(t0 float64) bool {
	m, p := c.m, c.m.now
	now, end := time.Duration(math.Round(t0*1e9)), time.Duration(math.Round((t0+c.dt)*1e9))
	next := time.Duration(math.MaxInt64)
	c.taps, c.turns, c.start = c.taps[:0], false, t0
	c.quiet = math.Inf(-1)
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
				c.taps = append(c.taps, tap{i, d.Refill, float64(d.Flow), d.Steam, v.feed})
				if d.Steam && !v.feed {
					b.leak += float64(d.Flow)
				}
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

// undraw makes nothing be drawn.
func (b *calmBoiler) undraw() {
	b.draw, b.drawn = 0, five{}
	b.leak, b.thin, b.surplus, b.extra = 0, 1, 0, 0
}

// drawn finds the heat that draws take with the water at the middle of the
// window: first with the enthalpies at the start, for the rates, then with those
// that the rates lead to.
func (c *Calm) drawn() {
	boilers := c.boilers
	for i := range boilers {
		b := &boilers[i]
		b.middle, b.draw = b.enthalpy, 0
	}
	c.draw()
	for i := range boilers {
		b := &boilers[i]
		b.x[waterNode] = b.water
		b.middle += b.risen.dot(&b.x) - b.rise*b.draw
		b.draw = 0
	}
	c.draw()
}

// draw adds up what draws take from each boiler with its water at the middle
// enthalpy.
func (c *Calm) draw() {
	boilers := c.boilers
	for i := range c.taps {
		t := &c.taps[i]
		b := &boilers[t.boiler]
		switch {
		case t.steam:
			b.draw += t.flow * water.Hfg(b.water+(b.middle-b.enthalpy)*c.inverseRef)
			if t.fed {
				b.draw += t.flow * (b.middle - b.inlet)
			}
		case t.from < 0:
			b.draw += t.flow * (b.middle - b.inlet)
		default:
			from := &boilers[t.from]
			b.draw += t.flow * (b.middle - from.middle)
			from.draw += t.flow * (from.middle - from.inlet)
		}
	}
}

// redraw corrects what draws take for the mean enthalpy that the water comes to
// have: the heat is taken all window long as if it were what drawn found, and the
// correction at the end.
func (c *Calm) redraw(parts []rhythm, element, link *Lanes) {
	boilers := c.boilers
	parts = parts[:len(boilers)]
	for i := range boilers {
		b, o := &boilers[i], &parts[i]
		mean := b.waterMean.of(b) + element[i]*o.water + link[i]*o.waterLink // w + γ
		b.middle = b.enthalpy + c.ref*(mean-b.x[waterNode])
		if b.leak > 0 {
			b.thinned(c.m.now.Mass[i], c.dt, b.change[waterNode].of(b)+element[i]*o.element[waterNode]+link[i]*o.link[waterNode])
		}
		b.taken, b.draw = b.draw, 0
	}
	c.draw()
	carried := 0.0 // W
	for i := range boilers {
		b := &boilers[i]
		late := (b.draw - b.taken) * c.dt * b.inverse[waterNode]
		carried += b.draw
		b.taken -= b.surplus
		b.draw -= b.surplus
		b.drawOff(late)
	}
	c.m.total.Carried += carried * c.dt
	for i := range c.taps {
		if t := &c.taps[i]; t.steam {
			c.m.now.Steam[t.boiler] += t.flow * c.dt
		}
	}
}

// drawOff sets what draws make temperatures gain: by the heat taken all window
// long, and late K less in the water at its end.
func (b *calmBoiler) drawOff(late float64) {
	f, d, q := &b.change, &b.drawn, -b.taken
	d[0], d[1], d[2], d[3], d[4] = f[0].draw*q, f[1].draw*q, f[2].draw*q, f[3].draw*q, f[4].draw*q
	d[waterNode] -= late
}

// thinned works out a window of dt seconds that begins with the given mass in kg
// and loses steam without a feed, where the mass of the basis would gain so many
// kelvins. The less there is the more it warms up, as if by a surplus of heat into
// the basis's: so the other nodes see it. The enthalpy at the end follows from the
// heat without that, and from steam that goes with the mean enthalpy:
//
//	m′ H′ = m H + heat − (m − m′) H_mean
func (b *calmBoiler) thinned(mass, dt, gain float64) {
	gone := b.leak * dt
	left := mass - gone
	b.surplus = b.capacity[waterNode] * gain / dt * (b.mass/(mass-gone/2) - 1)
	b.thin = b.mass / left
	b.extra = (b.surplus*dt + gone*(b.middle-b.enthalpy)) / left
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
		c.m.total.Carried += gone * b.middle
		less += gone*b.middle + b.surplus*c.dt
		p.Mass[i] -= gone
		if c.stale(i) {
			c.entered = -1
		}
	}
	return less
}
