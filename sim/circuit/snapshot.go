package circuit

import (
	"math"

	"boilwright/models"
)

// Snapshot is the complete state of a circuit between two half-cycles:
// capacitor voltages, inductor currents and discrete states.
type Snapshot struct {
	odd      bool // parity of the half-cycle that comes next
	x        []float64
	key      key
	chans    []channelState // half-cycle indices relative to the next half-cycle
	contacts []contact
}

// Snapshot copies the solver's state into sn.
func (s *Solver) Snapshot(sn *Snapshot) {
	sn.odd = s.half&1 == 1
	sn.x = append(sn.x[:0], s.x...)
	sn.key = s.key
	sn.chans = append(sn.chans[:0], s.chans...)
	sn.contacts = append(sn.contacts[:0], s.contacts...)
	T := s.board.Supply.HalfCycle()
	for k := range sn.chans {
		c := &sn.chans[k]
		c.fired -= s.half
		c.offHalf -= s.half
		if c.triac == blocking {
			c.fired = 0
		}
		// A commutation that has been over for longer than t_q has no effect.
		if !c.everOff || float64(-c.offHalf)*T-c.offTime > s.lim[k].turnOff {
			c.everOff, c.offHalf, c.offTime, c.offSlope = false, 0, 0, 0
		}
		c.led = false // set anew by each half-cycle's drive
	}
}

// Restore puts the solver into the state sn; the next half-cycle keeps the
// solver's own count, moved by one where the parity asks for it.
func (s *Solver) Restore(sn *Snapshot) {
	if (s.half&1 == 1) != sn.odd {
		s.half++
	}
	copy(s.x, sn.x)
	s.key = sn.key
	copy(s.chans, sn.chans)
	copy(s.contacts, sn.contacts)
	for k := range s.chans {
		s.chans[k].fired += s.half
		s.chans[k].offHalf += s.half
	}
	s.have = false
}

// Symmetric reports whether the mirror image of every solution is a solution
// too, half a cycle later: no direct component, no even harmonic and no part
// that tells one polarity from the other, but that the currents which trigger a
// triac in either may differ up to the ratio unlike.
func (s *Solver) Symmetric(unlike float64) bool {
	if !s.polarless() {
		return false
	}
	for k := range s.ch {
		t := &s.ch[k].Triac.Trigger
		alike := func(a, b models.Quadrant) bool {
			return float64(max(t[a], t[b])) <= unlike*float64(min(t[a], t[b]))
		}
		// Without a path to feed the gate otherwise only I and III occur.
		if !alike(models.QuadrantI, models.QuadrantIII) || !alike(models.QuadrantII, models.QuadrantIV) && len(s.board.Bridges) > 0 {
			return false
		}
	}
	return true
}

// polarless reports whether nothing tells one polarity from the other but,
// perhaps, the currents that trigger a triac.
func (s *Solver) polarless() bool {
	if s.board.Supply.DC != 0 {
		return false
	}
	for _, h := range s.board.Supply.Harmonics {
		if h.Order&1 == 0 {
			return false
		}
	}
	for i := range s.net.branches {
		if s.net.branches[i].oneWay {
			return false
		}
	}
	for k := range s.ch {
		if s.ch[k].Opto.Fires != 0 {
			return false
		}
	}
	return true
}

// Mirror turns the state sn into its mirror image, half a cycle on.
func (s *Solver) Mirror(sn *Snapshot) {
	sn.odd = !sn.odd
	for i := range sn.x {
		sn.x[i] = -sn.x[i]
	}
	sn.key = s.net.mirror(sn.key)
	for i := range sn.contacts {
		sn.contacts[i].sign = -sn.contacts[i].sign
	}
}

// Near reports whether two states are the same: all discrete states equal,
// and every capacitor voltage within volts and inductor current within
// amperes.
func (s *Solver) Near(a, b *Snapshot, volts, amperes float64) bool {
	return s.Alike(a, b, volts, amperes, volts)
}

// Alike is Near where voltages of a channel that its open link cuts off may differ
// by stranded.
func (s *Solver) Alike(a, b *Snapshot, volts, amperes, stranded float64) bool {
	if a.odd != b.odd || a.key != b.key {
		return false
	}
	for i := range a.contacts {
		if a.contacts[i].opening != b.contacts[i].opening {
			return false
		}
	}
	for k := range a.chans {
		x, y := a.chans[k], b.chans[k]
		if x.triac != y.triac || x.everOff != y.everOff || x.fired != y.fired {
			return false
		}
		if x.everOff && (math.Abs(x.offTime-y.offTime) > 1e-9 || math.Abs(x.offSlope-y.offSlope) > 1e-3*math.Abs(x.offSlope)) {
			return false
		}
	}
	for i, st := range s.net.states {
		tol, br := volts, &s.net.branches[st]
		switch {
		case br.kind == inductor:
			tol = amperes
		case s.stranded(br.channel, a.key):
			tol = stranded
		}
		if math.Abs(a.x[i]-b.x[i]) > tol {
			return false
		}
	}
	return true
}

// stranded reports whether the open link of a channel cuts it off in key k.
func (s *Solver) stranded(channel int, k key) bool {
	return channel >= 0 && s.net.severed>>channel&1 == 1 && k.level(s.net.branches[s.net.channels[channel].link].valve) != off
}

// cutOff reports whether the open link of channel k leaves its triac's side hanging
// from its rail: no bridge goes from there to anything else.
func (n *netlist) cutOff(b *models.Board, k int) bool {
	p := &n.channels[k]
	rail := p.mt1
	if b.Channels[k].MT1 == models.MT1Load {
		rail = p.mt2
	}
	own := func(m models.Node) bool {
		return m.Place.PerChannel() && m.Channel == k && m.Place != models.Load && m.Place != models.Midpoint
	}
	for i := range b.Bridges {
		x, y := b.Bridges[i].From, b.Bridges[i].To
		if own(y) {
			x, y = y, x
		}
		if own(x) && !own(y) && n.node(y) != rail {
			return false
		}
	}
	return true
}

// Adopt takes over the state of a solver for another version of the same
// board: states and switching parts are matched by name, what is new starts
// as in New. The half-cycle count goes on.
func (s *Solver) Adopt(old *Solver) {
	if (s.half^old.half)&1 == 1 || s.half != old.half {
		s.half = old.half
	}
	for i, st := range s.net.states {
		name := s.net.branches[st].name
		if j, ok := old.net.named(name); ok && old.net.branches[j].state >= 0 {
			s.x[i] = old.x[old.net.branches[j].state]
		}
	}
	for v, i := range s.net.valves {
		b := &s.net.branches[i]
		j, ok := old.net.named(b.name)
		if !ok || old.net.branches[j].valve < 0 {
			continue
		}
		if b.kind == linkPath && (s.key.level(v) != off || b.channel >= 0 && s.net.channels[b.channel].thermostat == i && s.ch[b.channel].Thermostat.Stuck != models.Free) {
			continue // this version's board says what it is
		}
		s.key = s.key.with(v, old.key.level(old.net.branches[j].valve))
	}
	for i := range s.contacts {
		name := s.net.branches[s.contacts[i].branch].name
		for _, o := range old.contacts {
			if old.net.branches[o.branch].name == name {
				s.contacts[i].opening, s.contacts[i].sign = o.opening, o.sign
			}
		}
	}
	for k := range s.chans {
		if k < len(old.chans) {
			s.chans[k] = old.chans[k]
		}
		// A junction that is gone cannot carry a gate.
		if s.net.channels[k].junction < 0 && s.chans[k].triac == gated {
			s.chans[k].triac = blocking
			s.key = s.key.with(s.net.branches[s.net.channels[k].main].valve, off)
		}
	}
	s.have = false
}

// Clone returns a copy of sn that shares nothing with it.
func (sn *Snapshot) Clone() Snapshot {
	c := *sn
	c.x = append([]float64(nil), sn.x...)
	c.chans = append([]channelState(nil), sn.chans...)
	c.contacts = append([]contact(nil), sn.contacts...)
	return c
}

// Odd reports whether the half-cycle that comes next is an odd one.
func (sn *Snapshot) Odd() bool { return sn.odd }
