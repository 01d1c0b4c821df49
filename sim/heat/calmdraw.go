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
	steam        bool
}

// draws reports whether no draw changes in the window that starts at t0 but at
// its end, and notes those that run.
func (c *Calm) draws(t0 float64) bool {
	m, p := c.m, c.m.now
	now, end := time.Duration(math.Round(t0*1e9)), time.Duration(math.Round((t0+c.dt)*1e9))
	next := time.Duration(math.MaxInt64)
	c.taps, c.turns, c.start = c.taps[:0], false, t0
	for i := range c.boilers {
		c.boilers[i].draw, c.boilers[i].steam = 0, 0
	}
	for i := range m.par.vessels {
		v := &m.par.vessels[i]
		for k := range v.draws {
			d := &v.draws[k]
			active, then := d.Active(now)
			if active != p.drawing[v.first+k] || then > now && then < end || active && d.Steam && !v.feed {
				c.quiet = math.Inf(-1)
				return false
			}
			c.turns = c.turns || then == end
			if active {
				c.taps = append(c.taps, tap{i, d.Refill, float64(d.Flow), d.Steam})
			}
			if then > now {
				next = min(next, then)
			}
		}
	}
	c.quiet = next.Seconds() - 1e-6 // well before, so that rounding is no matter
	return true
}

// Turn begins and ends the draws that change at the end of the window that
// Advance went through, and returns what is to be told of them; it is valid
// until the machine moves on.
func (c *Calm) Turn() []Event {
	if !c.turns {
		return nil
	}
	c.turns = false
	m := c.m
	m.events = m.events[:0]
	m.turn(m.now, c.start, c.dt, true)
	return m.events
}

// drawn finds the heat that draws take with the water at the middle of the
// window: first with the enthalpies at the start, for the rates, then with those
// that the rates lead to.
func (c *Calm) drawn() {
	for i := range c.boilers {
		c.boilers[i].middle = c.boilers[i].enthalpy
	}
	c.draw()
	for i := range c.boilers {
		b := &c.boilers[i]
		b.middle += b.intoWater() / b.mass * c.dt / 2
	}
	c.draw()
}

// draw adds up what draws take from each boiler with its water at the middle
// enthalpy.
func (c *Calm) draw() {
	for i := range c.boilers {
		c.boilers[i].draw, c.boilers[i].steam = 0, 0
	}
	for i := range c.taps {
		t := &c.taps[i]
		b := &c.boilers[t.boiler]
		switch {
		case t.steam:
			b.steam += t.flow
			b.draw += t.flow * (water.Hfg(b.x[waterNode]+(b.middle-b.enthalpy)*c.inverseRef) + b.middle - b.inlet)
		case t.from < 0:
			b.draw += t.flow * (b.middle - b.inlet)
		default:
			from := &c.boilers[t.from]
			b.draw += t.flow * (b.middle - from.middle)
			from.draw += t.flow * (from.middle - from.inlet)
		}
	}
}

// redraw takes the heat of draws out of the amplitudes, corrected for the mean
// enthalpy that the water came to have: the correction at the end of the window.
func (c *Calm) redraw(p *State) {
	for i := range c.boilers {
		b := &c.boilers[i]
		b.taken, b.middle = b.draw, b.mean*c.ref
	}
	c.draw()
	for i := range c.boilers {
		b := &c.boilers[i]
		if b.draw == 0 && b.taken == 0 {
			continue
		}
		late := (b.draw - b.taken) * c.dt
		for j, in := range b.in[waterNode] {
			b.y[j] -= in * (b.one[j]*b.taken + late)
		}
		c.m.total.Carried += b.draw * c.dt
		p.Steam[i] += b.steam * c.dt
	}
}
