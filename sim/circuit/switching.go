package circuit

import (
	"math"
	"math/bits"

	"boilwright/models"
)

// combination returns that of key k at the present temperatures. Those met last
// are found without their map, in either of two slots.
func (s *Solver) combination(k key) (*combination, error) {
	h, n := k.hash(), uint64(len(s.recent))
	slot, other := &s.recent[h%n], &s.recent[h/n%n]
	if c := *slot; c != nil && c.key == k {
		return c, nil
	}
	if c := *other; c != nil && c.key == k {
		return c, nil
	}
	c, err := s.par.combination(k)
	if err == nil {
		s.prober.prepare(c)
		if *slot != nil && *other == nil {
			slot = other
		}
		*slot = c
	}
	return c, err
}

// signal returns the value of a signal of combination c at time t.
func (s *Solver) signal(c *combination, sig int, t float64) float64 {
	return dot(c.row(sig), s.zAt(c, t))
}

// readAll takes the values of all probes of combination c at once.
func (s *Solver) readAll(c *combination) []float64 {
	m := &c.memo
	if m.serial != s.zSerial {
		dots(m.values, m.probes, s.z)
		m.serial = s.zSerial
	}
	return m.values
}

// read returns the value of a probe of combination c: the current of a valve
// that conducts in it, the voltage of one that blocks.
func (s *Solver) read(c *combination, probe int) float64 {
	m := &c.memo
	if m.serial == s.zSerial {
		return m.values[probe]
	}
	return dot(m.probes[probe*c.width:(probe+1)*c.width], s.z)
}

// demand carries out the first change that the switching rules demand in
// combination c at time t, b being the present band and out the probes outside
// it. A channel whose probes are inside demands nothing.
func (s *Solver) demand(c *combination, b *band, out uint64, t float64) (bool, error) {
	if s.opening() && s.openLinks(c, t) {
		return true, nil
	}
	busy := b.always
	for ; out != 0; out &= out - 1 {
		busy |= s.prober.owner[bits.TrailingZeros64(out)]
	}
	y := s.readAll(c)
	for rest := busy; rest != 0; rest &= rest - 1 { // opto off
		k := bits.TrailingZeros64(rest)
		g := &s.gears[k]
		if l := s.key.level(g.optoValve); l != off && l.sign()*y[g.opto] < s.lim[k].optoHold-tolAmpere {
			s.key = g.ungated(s.key.with(g.optoValve, off))
			s.event(OptoOff, k, s.half, t)
			return true, nil
		}
	}
	for rest := busy; rest != 0; rest &= rest - 1 { // latch or unlatch
		k := bits.TrailingZeros64(rest)
		ch, g, l := &s.chans[k], &s.gears[k], &s.lim[k]
		if ch.triac == blocking {
			continue
		}
		i := s.key.level(g.mainValve).sign() * y[g.main]
		switch {
		case ch.triac == gated && i >= l.latch+tolAmpere:
			ch.triac = latched
			return true, nil
		case ch.triac == latched && i < l.hold-tolAmpere, ch.triac == gated && i < -tolAmpere:
			s.unlatch(k, t)
			return true, nil
		}
	}
	for rest := busy; rest != 0; rest &= rest - 1 { // loss of gate
		k := bits.TrailingZeros64(rest)
		if s.chans[k].triac != gated {
			continue
		}
		g := s.gateCurrent(c, k)
		if math.Abs(g) < s.triggerOf(k, s.key, g)-tolAmpere {
			s.unlatch(k, t)
			return true, nil
		}
	}
	for rest := busy; rest != 0; rest &= rest - 1 { // opto on
		k := bits.TrailingZeros64(rest)
		for _, sg := range [2]float64{1, -1} {
			if ok, err := s.optoOn(c, k, sg, t); err != nil || ok {
				return ok, err
			}
		}
	}
	for rest := busy; rest != 0; rest &= rest - 1 { // fire
		k := bits.TrailingZeros64(rest)
		if s.chans[k].triac != blocking {
			continue
		}
		if ok, err := s.fire(c, k, t); err != nil || ok {
			return ok, err
		}
	}
	for rest := busy; rest != 0; rest &= rest - 1 { // break over
		k := bits.TrailingZeros64(rest)
		if s.chans[k].triac != blocking {
			continue
		}
		if ok, err := s.breakOver(c, k, t); err != nil || ok {
			return ok, err
		}
	}
	return false, nil
}

func (s *Solver) event(kind EventKind, k int, half int64, t float64) {
	T := s.period
	deg := (float64(s.half-half)*T + t) / T * 180
	s.rec.Events = append(s.rec.Events, Event{Kind: kind, Channel: k, Half: half, Degrees: deg})
}

func (s *Solver) unlatch(k int, t float64) {
	ch, p := &s.chans[k], &s.net.channels[k]
	ch.offSlope = 0
	if s.have && s.prev.T1 == t && s.prev.Half == s.half || s.have && t == 0 {
		if g := &s.gears[k]; s.prev.c.key.level(g.mainValve) != off {
			ch.offSlope = math.Abs(s.prev.probeRate(g.main, s.find.arrived.phi))
		} else { // it has conducted for no time
			ch.offSlope = math.Abs(s.prev.rate(s.net.sigCurrent(p.main), s.prev.T1))
		}
	}
	ch.triac, ch.everOff, ch.offHalf, ch.offTime = blocking, true, s.half, t
	s.key = s.key.with(s.net.branches[p.main].valve, off)
	s.event(Extinguished, k, ch.fired, t)
}

func (s *Solver) conduct(k int, state triacState, sign float64, t float64) {
	ch := &s.chans[k]
	ch.triac, ch.fired = state, s.half
	g := &s.gears[k]
	s.key = s.key.with(g.mainValve, levelOf(sign))
	if state == latched { // by itself: its gate is most likely bypassed
		s.key = g.ungated(s.key)
	}
	s.event(Fired, k, s.half, t)
}

// triggerOf returns I_GT for the polarity in which the triac of channel k
// conducts in key kk, and the gate current g.
func (s *Solver) triggerOf(k int, kk key, g float64) float64 {
	l := kk.level(s.gears[k].mainValve)
	return s.lim[k].trigger[models.QuadrantOf(l.sign(), g)]
}

// withOpto is the key in which the opto of channel k conducts with sign sg,
// its gate junction resolved.
func (s *Solver) withOpto(k int, sg, t float64) (key, *combination, error) {
	g := &s.gears[k]
	return s.hypothesis(s.key.with(g.optoValve, levelOf(sg)), g, t)
}

// withMain is the key in which the triac of channel k conducts with sign sg
// and its junction is resolved, its opto off or kept.
func (s *Solver) withMain(k int, sg, t float64, keepOpto bool) (key, *combination, error) {
	g := &s.gears[k]
	kk := s.key.with(g.mainValve, levelOf(sg))
	if !keepOpto {
		kk = g.ungated(kk.with(g.optoValve, off))
	}
	return s.hypothesis(kk, g, t)
}

// hypothesis resolves what the trial of a change touches: the channel's own
// junction, and every one-way path, which could else lend the trial a current
// that it will not have. The rules and their watch ask for the same trials, so
// the last are kept.
func (s *Solver) hypothesis(kk key, g *gear, t float64) (key, *combination, error) {
	which := s.net.oneWays
	if g.junction >= 0 {
		which |= 1 << g.junctionValve
	}
	h := &s.trials[kk.hash()%uint64(len(s.trials))]
	if h.serial == s.zSerial && h.from == kk && h.which == which {
		return h.to, h.c, nil
	}
	to, c, err := s.resolveFrom(kk, t, which)
	if err == nil {
		*h = trialOf{s.zSerial, kk, which, to, c}
	}
	return to, c, err
}

// trialOf is a hypothesis that was resolved.
type trialOf struct {
	serial uint64 // of the (x, e, 1) it was resolved at
	from   key
	which  uint64
	to     key
	c      *combination
}

// optoReady reports whether the opto of channel k may turn on at all.
func (s *Solver) optoReady(k int, sg float64) bool {
	l := &s.lim[k]
	return s.chans[k].led && (l.fires == 0 || float64(l.fires)*sg > 0) &&
		s.key.level(s.gears[k].optoValve) == off
}

// optoOn turns the opto of channel k on if that is demanded.
func (s *Solver) optoOn(c *combination, k int, sg, t float64) (bool, error) {
	if !s.optoReady(k, sg) {
		return false, nil
	}
	g, l := &s.gears[k], &s.lim[k]
	v := sg * s.read(c, g.opto)
	if v < g.least || v > l.inhibit+tolVolt {
		return false, nil
	}
	_, hc, err := s.withOpto(k, sg, t)
	if err != nil {
		return false, err
	}
	s.learn(c, hc, k, sg)
	if !(sg*s.read(hc, g.opto) >= l.optoLatch+tolAmpere) {
		return false, nil
	}
	s.key = s.key.with(g.optoValve, levelOf(sg))
	s.event(OptoOn, k, s.half, t)
	return true, nil
}

// gateCurrent returns the junction current of channel k, zero if it is open.
func (s *Solver) gateCurrent(c *combination, k int) float64 {
	g := &s.gears[k]
	if g.junction < 0 || c.key.level(g.junctionValve) == off {
		return 0
	}
	return s.read(c, g.junction)
}

// fire lets the triac of channel k conduct, which blocks, if its gate demands it.
func (s *Solver) fire(c *combination, k int, t float64) (bool, error) {
	l, p := &s.lim[k], &s.net.channels[k]
	if l.open || p.junction < 0 {
		return false, nil
	}
	g := s.gateCurrent(c, k)
	if g == 0 {
		return false, nil
	}
	v := s.read(c, s.gears[k].main)
	sg := levelOf(v).sign()
	q := models.QuadrantOf(sg, g)
	if math.Abs(g) < l.trigger[q]+tolAmpere || math.Abs(v) < tolVolt {
		return false, nil
	}
	_, hc, err := s.withMain(k, sg, t, false)
	if err != nil {
		return false, err
	}
	if sg*s.read(hc, s.gears[k].main) >= l.latch+tolAmpere {
		across := s.read(hc, s.gears[k].opto)
		s.conduct(k, latched, sg, t)
		s.gateOf(k, g, l.trigger[q], t)
		s.bypass(k, across, t)
		return true, nil
	}
	_, hc, err = s.withMain(k, sg, t, true)
	if err != nil {
		return false, err
	}
	hg := s.gateCurrent(hc, k)
	ho := s.signal(hc, s.net.sigCurrent(p.opto), t)
	// With a threshold above that of its gate path a triac could drive a
	// current backwards: its own must flow forwards.
	forward := sg*s.read(hc, s.gears[k].main) >= tolAmpere
	if forward && math.Abs(hg) >= l.trigger[models.QuadrantOf(sg, hg)]+tolAmpere && math.Abs(ho) >= l.optoHold+tolAmpere {
		s.conduct(k, gated, sg, t)
		s.gateOf(k, g, l.trigger[q], t)
		return true, nil
	}
	return false, nil
}

// bypass turns the opto of channel k off if the triac, which has fired, leaves it too
// little to hold: across is the voltage at its output were it off.
func (s *Solver) bypass(k int, across, t float64) {
	g := &s.gears[k]
	if l := s.key.level(g.optoValve); l != off && l.sign()*across < g.leastHeld {
		s.rec.Switchings++
		s.key = g.ungated(s.key.with(g.optoValve, off))
		s.event(OptoOff, k, s.half, t)
	}
}

// gateOf notes what fired the triac of channel k: the gate current g at time t,
// limit being what triggers.
func (s *Solver) gateOf(k int, g, limit, t float64) {
	e := &s.rec.Events[len(s.rec.Events)-1]
	e.Gate = math.Abs(g) / limit
	if !s.have || s.prev.T1 != t || s.prev.Half != s.half || e.Gate >= 1+1e-6 {
		return
	}
	if gear := &s.gears[k]; s.prev.c.key.level(gear.junctionValve) != off {
		e.Rise = math.Abs(s.prev.probeRate(gear.junction, s.find.arrived.phi)) / limit
	}
}

// window is the rate of rise in V/s that a triac withstands after turning off at
// a slope of its current in A/s, at a temperature of its junction.
type window struct{ slope, celsius, rate float64 }

// rateLimit returns the permitted dv/dt of channel k at time t.
func (s *Solver) rateLimit(k int, t float64) float64 {
	ch, l := &s.chans[k], &s.lim[k]
	if ch.everOff {
		since := float64(s.half-ch.offHalf)*s.period + t - ch.offTime
		if since < l.turnOff {
			if w, tj := &s.windows[k], s.temps.Junction[k]; w.slope != ch.offSlope || w.celsius != tj {
				*w = window{ch.offSlope, tj, s.ch[k].Triac.CommutatingRateAt(ch.offSlope, tj)}
			}
			return s.windows[k].rate
		}
	}
	return l.static
}

// breakOver latches a triac that blocks without its gate, where voltage or rate of
// rise exceed what it withstands.
func (s *Solver) breakOver(c *combination, k int, t float64) (bool, error) {
	l := &s.lim[k]
	if l.open {
		return false, nil
	}
	v := s.read(c, s.gears[k].main)
	over := math.Abs(v) > l.breakover+tolVolt
	if !over {
		limit := s.rateLimit(k, t)
		if math.IsInf(limit, 1) {
			return false, nil
		}
		rate, err := s.rise(c, k, t)
		if err != nil {
			return false, err
		}
		s.strain[k] = max(s.strain[k], math.Abs(rate)/limit)
		over = math.Abs(rate) > limit*(1+1e-12)
	}
	if !over || math.Abs(v) < tolVolt {
		return false, nil
	}
	sg := levelOf(v).sign()
	_, hc, err := s.withMain(k, sg, t, true)
	if err != nil {
		return false, err
	}
	if sg*s.read(hc, s.gears[k].main) < l.latch+tolAmpere {
		return false, nil
	}
	s.conduct(k, latched, sg, t)
	return true, nil
}

// openLinks opens a contact whose time has come once its current is zero.
func (s *Solver) openLinks(c *combination, t float64) bool {
	for i := range s.contacts {
		o := &s.contacts[i]
		if !o.opening {
			continue
		}
		b := &s.net.branches[o.branch]
		if s.key.level(b.valve) != off {
			o.opening = false // it is open already
			continue
		}
		y := s.signal(c, s.net.sigCurrent(o.branch), t)
		if o.sign == 0 && math.Abs(y) > 1e-9 {
			o.sign = math.Copysign(1, y)
			continue
		}
		if o.sign*y > tolAmpere {
			continue
		}
		o.opening = false
		s.key = s.key.with(b.valve, positive)
		s.event(LinkOpened, b.channel, s.half, t)
		return true
	}
	return false
}
