package heat

import "math"

// Within slack seconds two events count as one instant; a surplus below
// still watts is round-off and counts as none.
const (
	slack = 1e-12
	still = 1e-9
)

// hit is an event ahead, at the fraction s of the step.
type hit struct {
	s    float64
	kind Kind
	ch   int
}

// first looks through the step just expanded for what changes a mode or must
// be told, leaves the earliest in m.hits, all that fall together, and returns
// its fraction of the step; 1 where there is none.
func (m *Machine) first(p *State, final bool) float64 {
	net, n := m.net, len(m.par.vessels)
	m.hits = m.hits[:0]
	tail := 0.0
	for k := 2; k <= net.order; k++ {
		tail += net.norm[k]
	}
	for i := range m.par.vessels {
		v := &m.par.vessels[i]
		w := waterNode*n + i
		if final && v.melts && !p.opened[i] {
			m.watchNode(LinkReached, i, linkNode*n+i, v.link, 1, tail)
		}
		if final && v.moves {
			if p.Cut[i] {
				m.watchNode(ThermostatCloses, i, shellNode*n+i, v.closes, -1, tail)
			} else {
				m.watchNode(ThermostatOpens, i, shellNode*n+i, v.opens, 1, tail)
			}
		}
		switch {
		case p.Holding[i]:
			m.watchSurplus(i)
		case !p.Dry[i]:
			m.watchNode(m.boilKind(i), i, w, v.boiling, 1, tail)
		}
		if p.Venting[i] && !p.Holding[i] {
			m.watchNode(ReliefReseat, i, w, v.reseat, -1, tail)
		}
		if !v.feed && !p.Dry[i] && (p.Holding[i] || m.draws[i].steam > 0) {
			if !p.low[i] && v.wetted > v.floor {
				m.watchMass(LowLevel, p, i, v.wetted)
			}
			m.watchMass(RanDry, p, i, v.floor)
		}
	}
	if final && m.par.fitted && m.par.melts && !p.opened[n] {
		m.watchNode(LinkReached, AllChannels, kinds*n+upstreamNode, m.par.upstream, 1, tail)
	}
	if len(m.hits) == 0 {
		return 1
	}
	s := 1.0
	for _, h := range m.hits {
		s = min(s, h.s)
	}
	kept := m.hits[:0]
	for _, h := range m.hits {
		if (h.s-s)*net.step <= slack {
			kept = append(kept, h)
		}
	}
	m.hits = kept
	return s
}

func (m *Machine) boilKind(i int) Kind {
	if m.par.vessels[i].open {
		return BoilStart
	}
	return ReliefOpen
}

// watchNode looks for node j passing limit, upward for sign 1, downward for
// sign -1.
func (m *Machine) watchNode(kind Kind, ch, j int, limit, sign, tail float64) {
	net := m.net
	size := len(net.inverse)
	start := sign * (net.term[j] - limit)
	if start < 0 && -start >= math.Abs(net.term[size+j])+tail {
		return // out of reach
	}
	a := m.poly[:net.order+1]
	for k := range a {
		a[k] = sign * net.term[k*size+j]
	}
	a[0] = start
	// At the boiling point exactly, the surplus decides, and the same
	// surplus on which holding would end.
	if start == 0 && (kind == BoilStart || kind == ReliefOpen || kind == ReliefReseat) && math.Abs(net.surplus[ch]) <= still {
		a[1] = 0
	}
	m.note(kind, ch, a)
}

// watchSurplus looks for the end of holding: the surplus falling below zero.
func (m *Machine) watchSurplus(ch int) {
	net := m.net
	c := len(net.chains)
	a := m.poly[:net.order]
	for k := range a {
		a[k] = -net.surplus[k*c+ch]
	}
	if math.Abs(a[0]) <= still {
		a[0] = 0
	}
	m.note(BoilStop, ch, a)
}

// watchMass looks for the mass of channel ch falling to limit.
//
//	m(s) = m − h s f − (h/L) Σ s^(k+1) surplus_k/(k+1)
func (m *Machine) watchMass(kind Kind, p *State, ch int, limit float64) {
	net := m.net
	c := len(net.chains)
	a := m.poly[:net.order+1]
	clear(a)
	a[0] = limit - p.Mass[ch]
	if p.Holding[ch] {
		g := net.step / m.par.vessels[ch].latent
		for k := 1; k < len(a); k++ {
			a[k] = g * net.surplus[(k-1)*c+ch] / float64(k)
		}
	}
	a[1] += net.step * m.draws[ch].steam
	m.note(kind, ch, a)
}

func (m *Machine) note(kind Kind, ch int, a []float64) {
	if s, ok := rise(a); ok {
		m.hits = append(m.hits, hit{s, kind, ch})
	}
}

// apply changes the modes for the hits at the instant t in s, tells the
// events, and reports whether a link stops the window.
func (m *Machine) apply(p *State, t float64, final bool) (stop bool) {
	for _, h := range m.hits {
		i, tell := h.ch, final
		switch h.kind {
		case LinkReached:
			k := i
			if k == AllChannels {
				k = len(m.par.vessels)
			}
			p.opened[k] = true
			stop = true
		case ThermostatOpens, ThermostatCloses:
			p.Cut[i] = h.kind == ThermostatOpens
			stop = true
		case BoilStart, ReliefOpen:
			p.Holding[i] = true
			p.Water[i] = m.par.vessels[i].boiling
			if h.kind == ReliefOpen {
				tell = tell && !p.Venting[i]
				p.Venting[i] = true
			}
		case BoilStop:
			p.Holding[i] = false
			tell = tell && m.par.vessels[i].open
		case ReliefReseat:
			p.Venting[i] = false
		case LowLevel:
			p.low[i] = true
		case RanDry:
			p.Dry[i] = true
			p.Holding[i] = false
			p.Mass[i] = m.par.vessels[i].floor
		}
		if tell {
			m.events = append(m.events, Event{t, i, h.kind})
		}
	}
	return stop
}
