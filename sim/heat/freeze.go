package heat

import (
	"math"
	"time"

	"boilwright/models/water"
)

// frozen is what a window keeps constant of a channel.
type frozen struct {
	t   float64 // the temperature at which it was taken, °C
	c   float64 // c_p there, J/(kg K)
	h   float64 // H there, J/kg
	hfg float64 // J/kg, where steam may be drawn

	mass     float64 // kg, before anything boiled off in the window
	boiled   float64 // of the state at its start, kg
	capacity float64 // of the water, J/K, set by compose
}

// drawn is the heat that draws take from the water of a channel:
//
//	out·T + fixed in W, and steam in kg/s
type drawn struct{ out, fixed, steam float64 }

// freeze takes the coefficients of a window between two states: c_p, H, mass
// and wet fraction half-way between its start and its predicted end.
//
//	w = min(1, m/m_min),  G_ew = w G/s,  G_es = (1 − w) G_es0
//
// What boils off does so at constant temperature. So the heat capacity for
// the rest of the window has the mass before boiling, then the mass after,
// and only steam that is drawn counts by half.
func (m *Machine) freeze(a, b *State) {
	for i := range m.frozen {
		f, v := &m.frozen[i], &m.par.vessels[i]
		f.t = (a.Water[i] + b.Water[i]) / 2
		mass := (a.Mass[i] + b.Mass[i]) / 2
		f.c = water.CP(f.t)
		f.boiled = a.boiled[i]
		f.mass = mass
		if !v.feed {
			f.mass += (b.boiled[i] - a.boiled[i]) / 2
		}
		if m.par.draws > 0 {
			f.h = water.H(f.t)
			f.hfg = water.Hfg(f.t)
		}
		wet := 1.0
		if mass < v.wetted {
			wet = mass / v.wetted
		}
		m.net.chains[i].ew = wet * v.wet
		m.net.chains[i].es = (1 - wet) * v.dry
	}
}

// compose sets the network for the modes that p is in, without powers.
func (m *Machine) compose(p *State) {
	net, par := m.net, m.par
	copy(net.sink, par.air)
	for i, g := range par.air {
		m.base[i] = g * par.ambient
	}
	net.inflows = net.inflows[:0]
	clear(m.draws)
	n := len(par.vessels)
	if par.draws > 0 {
		for i := range par.vessels {
			for k := range par.vessels[i].draws {
				if p.drawing[par.vessels[i].first+k] {
					m.draw(p, i, k)
				}
			}
		}
	}
	for i := range m.draws {
		w := waterNode*n + i
		net.sink[w] += m.draws[i].out
		m.base[w] -= m.draws[i].fixed
		f := &m.frozen[i]
		f.capacity = f.mass * f.c
		if !par.vessels[i].feed {
			f.capacity -= (p.boiled[i] - f.boiled) * f.c
		}
		net.inverse[w] = 1 / f.capacity
		if p.Holding[i] {
			net.inverse[w] = 0
		}
	}
	net.measure()
}

// draw adds draw k of channel i. Within a window H(T) is the straight line
// of slope c_p through the frozen temperature, so that what is carried out
// and what is stored agree.
//
//	water: f (H(T) − H_in); the boiler that refills it gives H_in = H of its
//	own water and takes the same flow from the cold supply at its own inlet
//	steam: f h_fg, with a feed f (h_fg + H(T) − H_in)
func (m *Machine) draw(p *State, i, k int) {
	v, a, d := &m.par.vessels[i], &m.frozen[i], &m.draws[i]
	order := &v.draws[k]
	flow := float64(order.Flow)
	line := func(a *frozen) float64 { return flow * (a.h - a.c*a.t) } // H at 0 °C on the line
	if order.Steam {
		if p.Dry[i] {
			return
		}
		d.steam += flow
		d.fixed += flow * a.hfg
		if v.feed {
			d.out += flow * a.c
			d.fixed += line(a) - flow*v.hInlet
		}
		return
	}
	d.out += flow * a.c
	d.fixed += line(a)
	j := order.Refill
	if j < 0 {
		d.fixed -= flow * v.hInlet
		return
	}
	n := len(m.par.vessels)
	from, e := &m.frozen[j], &m.draws[j]
	d.fixed -= line(from)
	m.net.inflows = append(m.net.inflows, inflow{waterNode*n + j, waterNode*n + i, flow * from.c})
	e.out += flow * from.c
	e.fixed += line(from) - flow*m.par.vessels[j].hInlet
}

// turn opens and closes draws at the instant t0 + t in s and returns when, in
// s after t0, the next of them changes, and whether any did now. A change
// within a nanosecond, or within what t0 can tell apart, counts as now.
func (m *Machine) turn(p *State, t0, t float64, final bool) (next float64, changed bool) {
	next = math.Inf(1)
	if m.par.draws == 0 {
		return next, false
	}
	now := time.Duration(math.Round((t0 + t) * 1e9))
	soon := t + 1e-9 + math.Abs(t0)*0x1p-50
	for i := range m.par.vessels {
		v := &m.par.vessels[i]
		for k := range v.draws {
			active, then := v.draws[k].Active(now)
			if then > now && then.Seconds()-t0 <= soon {
				active, then = v.draws[k].Active(then)
			}
			if then > now {
				next = min(next, then.Seconds()-t0)
			}
			if was := &p.drawing[v.first+k]; *was != active {
				*was, changed = active, true
				if final {
					kind := DrawStop
					if active {
						kind = DrawStart
					}
					m.events = append(m.events, Event{t0 + t, i, kind})
				}
			}
		}
	}
	return next, changed
}

// load puts a piece's powers on top of the base.
func (m *Machine) load(piece *Piece) {
	net, n := m.net, len(m.par.vessels)
	copy(net.drive, m.base)
	m.power = piece.Pocket + piece.Upstream
	for i, w := range piece.Element {
		net.drive[elementNode*n+i] += w
		m.power += w
	}
	for i, w := range piece.Link {
		net.drive[linkNode*n+i] += w
		m.power += w
	}
	net.drive[kinds*n+pocketNode] += piece.Pocket
	net.drive[kinds*n+upstreamNode] += piece.Upstream
}
