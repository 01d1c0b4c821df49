package circuit

import (
	"math"

	"boilwright/models"
)

// settle brings the discrete state at time t to rest: piecewise-linear parts
// first, then one demand at a time in the order of the switching rules, until
// nothing is demanded.
func (s *Solver) settle(t float64) error {
	for range 1000 {
		c, err := s.resolve(t)
		if err != nil {
			return err
		}
		s.seg.c = c
		changed, err := s.demand(c, t)
		if err != nil {
			return err
		}
		if !changed {
			s.seg.c, err = s.par.modal(s.key)
			return err
		}
		s.rec.Switchings++
	}
	return s.fail(t, "the switching rules do not come to rest")
}

// resolve flips junctions and one-way paths, the least index first, until all
// are consistent (K. G. Murty, Linear Algebra and its Applications 7 (1974)
// 65: the least-index rule ends for the P-matrices of passive networks).
func (s *Solver) resolve(t float64) (*combination, error) {
	k, c, err := s.resolveFrom(s.key, t, everyValve)
	if err != nil {
		return nil, err
	}
	s.key = k
	return c, nil
}

// everyValve is the set of all valves, one bit each.
const everyValve = ^uint64(0)

// resolveFrom resolves the given valves of key k at time t.
func (s *Solver) resolveFrom(k key, t float64, which uint64) (key, *combination, error) {
	for range 400 {
		c, err := s.par.combination(k)
		if err != nil {
			return k, nil, err
		}
		next, ok := s.net.consistent(c, k, s.zAt(c, t), which)
		if ok {
			return k, c, nil
		}
		k = next
	}
	return k, nil, s.fail(t, "junctions and one-way paths do not come to rest")
}

// consistent reports whether the junctions and one-way paths of key k agree
// with the solution z of its combination c; if not, it returns the key with the
// first that does not agree changed. Only the valves in which are looked at.
func (n *netlist) consistent(c *combination, k key, z []float64, which uint64) (key, bool) {
	for v, i := range n.valves {
		if which>>v&1 == 0 {
			continue
		}
		b := &n.branches[i]
		if b.kind != junction && b.kind != diode {
			continue
		}
		l := k.level(v)
		if l != off {
			if l.sign()*dot(c.row(n.sigCurrent(i)), z) < -tolAmpere {
				return k.with(v, off), false
			}
			continue
		}
		u := dot(c.row(n.sigVolt(i)), z)
		if u > b.volts+tolVolt {
			return k.with(v, positive), false
		}
		if !b.oneWay && u < -b.volts-tolVolt {
			return k.with(v, negative), false
		}
	}
	return k, true
}

// signal returns the value of a signal of combination c at time t.
func (s *Solver) signal(c *combination, sig int, t float64) float64 {
	return dot(c.row(sig), s.zAt(c, t))
}

// demand carries out the first change that the switching rules demand in
// combination c at time t.
func (s *Solver) demand(c *combination, t float64) (bool, error) {
	net := s.net
	if s.openLinks(c, t) {
		return true, nil
	}
	cur := func(branch int) float64 { return s.signal(c, net.sigCurrent(branch), t) }
	for k := range s.chans { // opto off
		p := &net.channels[k]
		v := net.branches[p.opto].valve
		if l := s.key.level(v); l != off && l.sign()*cur(p.opto) < s.lim[k].optoHold-tolAmpere {
			s.key = s.key.with(v, off)
			s.event(OptoOff, k, s.half, t)
			return true, nil
		}
	}
	for k := range s.chans { // latch or unlatch
		ch, p := &s.chans[k], &net.channels[k]
		if ch.triac == blocking {
			continue
		}
		v := net.branches[p.main].valve
		i := s.key.level(v).sign() * cur(p.main)
		switch {
		case ch.triac == gated && i >= s.lim[k].latch+tolAmpere:
			ch.triac = latched
			return true, nil
		case ch.triac == latched && i < s.lim[k].hold-tolAmpere, ch.triac == gated && i < -tolAmpere:
			s.unlatch(k, t)
			return true, nil
		}
	}
	for k := range s.chans { // loss of gate
		ch, p := &s.chans[k], &net.channels[k]
		if ch.triac != gated {
			continue
		}
		g := cur(p.junction)
		if math.Abs(g) < s.triggerOf(k, s.key, g)-tolAmpere {
			s.unlatch(k, t)
			return true, nil
		}
	}
	for k := range s.chans { // opto on
		for _, sg := range [2]float64{1, -1} {
			if ok, err := s.optoOn(c, k, sg, t); err != nil || ok {
				if ok {
					s.key = s.key.with(net.branches[net.channels[k].opto].valve, levelOf(sg))
					s.event(OptoOn, k, s.half, t)
				}
				return ok, err
			}
		}
	}
	for k := range s.chans { // fire
		if ok, err := s.fire(c, k, t); err != nil || ok {
			return ok, err
		}
	}
	for k := range s.chans { // break over
		if ok, err := s.breakOver(c, k, t); err != nil || ok {
			return ok, err
		}
	}
	return false, nil
}

func (s *Solver) event(kind EventKind, k int, half int64, t float64) {
	T := s.board.Supply.HalfCycle()
	deg := (float64(s.half-half)*T + t) / T * 180
	s.rec.Events = append(s.rec.Events, Event{Kind: kind, Channel: k, Half: half, Degrees: deg})
}

func (s *Solver) unlatch(k int, t float64) {
	ch, p := &s.chans[k], &s.net.channels[k]
	ch.offSlope = 0
	if s.have && s.prev.T1 == t && s.prev.Half == s.half || s.have && t == 0 {
		at := s.prev.T1
		ch.offSlope = math.Abs(s.prev.rate(s.net.sigCurrent(p.main), at))
	}
	ch.triac, ch.everOff, ch.offHalf, ch.offTime = blocking, true, s.half, t
	s.key = s.key.with(s.net.branches[p.main].valve, off)
	s.event(Extinguished, k, ch.fired, t)
}

func (s *Solver) conduct(k int, state triacState, sign float64, t float64) {
	ch := &s.chans[k]
	ch.triac, ch.fired = state, s.half
	s.key = s.key.with(s.net.branches[s.net.channels[k].main].valve, levelOf(sign))
	s.event(Fired, k, s.half, t)
}

// triggerOf returns I_GT for the polarity in which the triac of channel k
// conducts in key kk, and the gate current g.
func (s *Solver) triggerOf(k int, kk key, g float64) float64 {
	l := kk.level(s.net.branches[s.net.channels[k].main].valve)
	return s.lim[k].trigger[models.QuadrantOf(l.sign(), g)]
}

// withOpto is the key in which the opto of channel k conducts with sign sg,
// its gate junction resolved.
func (s *Solver) withOpto(k int, sg, t float64) (key, *combination, error) {
	p := &s.net.channels[k]
	kk := s.key.with(s.net.branches[p.opto].valve, levelOf(sg))
	return s.hypothesis(kk, p, t)
}

// withMain is the key in which the triac of channel k conducts with sign sg
// and its junction is resolved, its opto off or kept.
func (s *Solver) withMain(k int, sg, t float64, keepOpto bool) (key, *combination, error) {
	p := &s.net.channels[k]
	kk := s.key.with(s.net.branches[p.main].valve, levelOf(sg))
	if !keepOpto {
		kk = kk.with(s.net.branches[p.opto].valve, off)
	}
	return s.hypothesis(kk, p, t)
}

// hypothesis resolves what the trial of a change touches: the channel's own
// junction, and every one-way path, which could else lend the trial a current
// that it will not have.
func (s *Solver) hypothesis(kk key, p *channelParts, t float64) (key, *combination, error) {
	which := s.net.oneWays
	if p.junction >= 0 {
		which |= 1 << s.net.branches[p.junction].valve
	}
	return s.resolveFrom(kk, t, which)
}

// optoReady reports whether the opto of channel k may turn on at all.
func (s *Solver) optoReady(k int, sg float64) bool {
	l := &s.lim[k]
	return s.chans[k].led && (l.fires == 0 || float64(l.fires)*sg > 0) &&
		s.key.level(s.net.branches[s.net.channels[k].opto].valve) == off
}

// optoLeast is a voltage across the blocking output of channel k below which
// the output could not carry its latching current: it would drop
// V_P0 + r_P·I_LP itself, and whatever lies in series only adds to that.
func (s *Solver) optoLeast(k int) float64 {
	b := &s.net.branches[s.net.channels[k].opto]
	return b.volts + b.ohms*s.lim[k].optoLatch - tolVolt
}

func (s *Solver) optoOn(c *combination, k int, sg, t float64) (bool, error) {
	if !s.optoReady(k, sg) {
		return false, nil
	}
	p, l := &s.net.channels[k], &s.lim[k]
	v := sg * s.signal(c, s.net.sigVolt(p.opto), t)
	if v < s.optoLeast(k) || v > l.inhibit+tolVolt {
		return false, nil
	}
	_, hc, err := s.withOpto(k, sg, t)
	if err != nil {
		return false, err
	}
	return sg*s.signal(hc, s.net.sigCurrent(p.opto), t) >= l.optoLatch+tolAmpere, nil
}

// gateCurrent returns the junction current of channel k, zero if it is open.
func (s *Solver) gateCurrent(c *combination, k int, t float64) float64 {
	j := s.net.channels[k].junction
	if j < 0 {
		return 0
	}
	return s.signal(c, s.net.sigCurrent(j), t)
}

func (s *Solver) fire(c *combination, k int, t float64) (bool, error) {
	ch, l, p := &s.chans[k], &s.lim[k], &s.net.channels[k]
	if ch.triac != blocking || l.open || p.junction < 0 {
		return false, nil
	}
	g := s.gateCurrent(c, k, t)
	if g == 0 {
		return false, nil
	}
	v := s.signal(c, s.net.sigVolt(p.main), t)
	sg := levelOf(v).sign()
	q := models.QuadrantOf(sg, g)
	if math.Abs(g) < l.trigger[q]+tolAmpere || math.Abs(v) < tolVolt {
		return false, nil
	}
	_, hc, err := s.withMain(k, sg, t, false)
	if err != nil {
		return false, err
	}
	if sg*s.signal(hc, s.net.sigCurrent(p.main), t) >= l.latch+tolAmpere {
		s.conduct(k, latched, sg, t)
		s.gateOf(k, g, l.trigger[q], t)
		return true, nil
	}
	_, hc, err = s.withMain(k, sg, t, true)
	if err != nil {
		return false, err
	}
	hg := s.gateCurrent(hc, k, t)
	ho := s.signal(hc, s.net.sigCurrent(p.opto), t)
	// With a threshold above that of its gate path a triac could drive a
	// current backwards: its own must flow forwards.
	forward := sg*s.signal(hc, s.net.sigCurrent(p.main), t) >= tolAmpere
	if forward && math.Abs(hg) >= l.trigger[models.QuadrantOf(sg, hg)]+tolAmpere && math.Abs(ho) >= l.optoHold+tolAmpere {
		s.conduct(k, gated, sg, t)
		s.gateOf(k, g, l.trigger[q], t)
		return true, nil
	}
	return false, nil
}

// gateOf notes what fired the triac of channel k: the gate current g at time t,
// limit being what triggers.
func (s *Solver) gateOf(k int, g, limit, t float64) {
	e := &s.rec.Events[len(s.rec.Events)-1]
	e.Gate = math.Abs(g) / limit
	sig := s.net.sigCurrent(s.net.channels[k].junction)
	if s.have && s.prev.T1 == t && s.prev.Half == s.half && e.Gate < 1+1e-6 {
		e.Rise = math.Abs(s.prev.rate(sig, t)) / limit
	}
}

// rateLimit returns the permitted dv/dt of channel k at time t.
func (s *Solver) rateLimit(k int, t float64) float64 {
	ch, l := &s.chans[k], &s.lim[k]
	if ch.everOff {
		since := float64(s.half-ch.offHalf)*s.board.Supply.HalfCycle() + t - ch.offTime
		if since < l.turnOff {
			return s.ch[k].Triac.CommutatingRateAt(ch.offSlope, s.temps.Junction[k])
		}
	}
	return l.static
}

// breakOver latches a triac without its gate, where voltage or rate of rise
// exceed what it withstands.
func (s *Solver) breakOver(c *combination, k int, t float64) (bool, error) {
	ch, l, p := &s.chans[k], &s.lim[k], &s.net.channels[k]
	if ch.triac != blocking || l.open {
		return false, nil
	}
	v := s.signal(c, s.net.sigVolt(p.main), t)
	over := math.Abs(v) > l.breakover+tolVolt
	if !over {
		limit := s.rateLimit(k, t)
		if math.IsInf(limit, 1) {
			return false, nil
		}
		rate, err := s.rateNow(c, p.main, t)
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
	if sg*s.signal(hc, s.net.sigCurrent(p.main), t) < l.latch+tolAmpere {
		return false, nil
	}
	s.conduct(k, latched, sg, t)
	return true, nil
}

// rateNow returns dv/dt of a branch in combination c at the current state,
// jumps left out: the rate of y = C x + d·e + h is C·(A x + b·e + k) + d·de/dt.
func (s *Solver) rateNow(c *combination, branch int, t float64) (float64, error) {
	sig := s.net.sigVolt(branch)
	if c.bound > jump {
		m, err := s.par.modal(c.key)
		if err != nil {
			return 0, err
		}
		seg := &s.trial
		*seg = Segment{c: m, net: s.net, src: s.src, T0: t, xi: seg.xi, ps: seg.ps, pc: seg.pc, p0: seg.p0}
		seg.begin(s.x)
		nb := seg.size()
		buf := make([]float64, 3*nb)
		w, d, phi := buf[:nb], buf[nb:2*nb], buf[2*nb:]
		seg.signal(sig, w)
		seg.deriveSmooth(w, d)
		seg.basis(t, phi)
		return dot(d, phi), nil
	}
	row, z := c.row(sig), s.zAt(c, t)
	n := c.n
	sum := row[n] * s.src.rate(t)
	for i := range n {
		if row[i] != 0 {
			sum += row[i] * (dot(c.a[i*n:(i+1)*n], z[:n]) + c.be[i]*z[n] + c.kc[i])
		}
	}
	return sum, nil
}

// openLinks opens a contact whose time has come once its current is zero.
func (s *Solver) openLinks(c *combination, t float64) bool {
	for i := range s.contacts {
		o := &s.contacts[i]
		b := &s.net.branches[o.branch]
		if !o.opening {
			continue
		}
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

// watchList fills the finder with every threshold whose crossing could bring
// about a change: of each demand that is a conjunction, one term that is not
// met now, since the demand cannot be met before that term is.
func (s *Solver) watchList(t float64) error {
	f, net, c := &s.find, s.net, s.seg.c
	f.reset(&s.seg)
	for v, i := range net.valves {
		s.watchConsistency(c, v, i, s.key)
	}
	for k := range s.chans {
		ch, l, p := &s.chans[k], &s.lim[k], &net.channels[k]
		if lv := s.key.level(net.branches[p.opto].valve); lv != off {
			f.watch(c, net.sigCurrent(p.opto), -lv.sign(), -l.optoHold+tolAmpere)
		}
		main := net.sigCurrent(p.main)
		switch ch.triac {
		case latched:
			f.watch(c, main, -s.mainSign(k), -l.hold+tolAmpere)
		case gated:
			f.watch(c, main, s.mainSign(k), l.latch+tolAmpere)
			f.watch(c, main, -s.mainSign(k), tolAmpere)
			if p.junction >= 0 {
				g := s.gateCurrent(c, k, t)
				f.watch(c, net.sigCurrent(p.junction), -math.Copysign(1, g), -s.triggerOf(k, s.key, g)+tolAmpere)
			}
		}
		for _, sg := range [2]float64{1, -1} {
			if err := s.watchOpto(c, k, sg, t); err != nil {
				return err
			}
		}
		if ch.triac == blocking && !l.open {
			if err := s.watchFire(c, k, t); err != nil {
				return err
			}
			if err := s.watchBreakOver(c, k, t); err != nil {
				return err
			}
		}
	}
	for i := range s.contacts {
		if o := &s.contacts[i]; o.opening {
			f.watch(c, net.sigCurrent(o.branch), -o.sign, -tolAmpere)
		}
	}
	return nil
}

func (s *Solver) mainSign(k int) float64 {
	return s.key.level(s.net.branches[s.net.channels[k].main].valve).sign()
}

// watchConsistency watches the edge at which valve v, as it stands in key kk
// of combination c, stops being consistent.
func (s *Solver) watchConsistency(c *combination, v, i int, kk key) {
	b := &s.net.branches[i]
	if b.kind != junction && b.kind != diode {
		return
	}
	l := kk.level(v)
	if l != off {
		s.find.watch(c, s.net.sigCurrent(i), -l.sign(), tolAmpere)
		return
	}
	s.find.watch(c, s.net.sigVolt(i), 1, b.volts+tolVolt)
	if !b.oneWay {
		s.find.watch(c, s.net.sigVolt(i), -1, b.volts+tolVolt)
	}
}

// watchHypothesis watches what a hypothetical combination was resolved by: the
// channel's junction and the one-way paths. Beyond their edges the hypothesis
// must be formed anew.
func (s *Solver) watchHypothesis(hc *combination, p *channelParts, kk key) {
	if p.junction >= 0 {
		s.watchConsistency(hc, s.net.branches[p.junction].valve, p.junction, kk)
	}
	if s.net.oneWays == 0 {
		return
	}
	for v, i := range s.net.valves {
		if s.net.oneWays>>v&1 == 1 {
			s.watchConsistency(hc, v, i, kk)
		}
	}
}

func (s *Solver) watchOpto(c *combination, k int, sg, t float64) error {
	if !s.optoReady(k, sg) {
		return nil
	}
	p, l := &s.net.channels[k], &s.lim[k]
	row := s.net.sigVolt(p.opto)
	v := sg * s.signal(c, row, t)
	if v > l.inhibit+tolVolt {
		s.find.watch(c, row, -sg, -l.inhibit-tolVolt)
		return nil
	}
	if least := s.optoLeast(k); v < least {
		s.find.watch(c, row, sg, least)
		return nil
	}
	hk, hc, err := s.withOpto(k, sg, t)
	if err != nil {
		return err
	}
	s.watchHypothesis(hc, p, hk)
	s.find.watch(hc, s.net.sigCurrent(p.opto), sg, l.optoLatch+tolAmpere)
	return nil
}

func (s *Solver) watchFire(c *combination, k int, t float64) error {
	p, l := &s.net.channels[k], &s.lim[k]
	if p.junction < 0 {
		return nil
	}
	lv := s.key.level(s.net.branches[p.junction].valve)
	if lv == off {
		return nil // no gate current before the junction conducts
	}
	g := lv.sign()
	gate, volt := s.net.sigCurrent(p.junction), s.net.sigVolt(p.main)
	gNow, vNow := g*s.signal(c, gate, t), s.signal(c, volt, t)
	for _, sg := range [2]float64{1, -1} {
		limit := l.trigger[models.QuadrantOf(sg, g)]
		if gNow < limit+tolAmpere {
			s.find.watch(c, gate, g, limit+tolAmpere)
			continue
		}
		if sg*vNow < tolVolt {
			s.find.watch(c, volt, sg, tolVolt)
			continue
		}
		hk, hc, err := s.withMain(k, sg, t, false)
		if err != nil {
			return err
		}
		s.find.watch(hc, s.net.sigCurrent(p.main), sg, l.latch+tolAmpere)
		s.watchHypothesis(hc, p, hk)
		hk, hc, err = s.withMain(k, sg, t, true)
		if err != nil {
			return err
		}
		s.watchHypothesis(hc, p, hk)
		if hl := hk.level(s.net.branches[p.junction].valve); hl != off {
			hg := s.net.sigCurrent(p.junction)
			lim := l.trigger[models.QuadrantOf(sg, hl.sign())] + tolAmpere
			if hl.sign()*s.signal(hc, hg, t) < lim {
				s.find.watch(hc, hg, hl.sign(), lim)
			} else if ol := hk.level(s.net.branches[p.opto].valve); ol != off {
				io := s.net.sigCurrent(p.opto)
				if hold := l.optoHold + tolAmpere; ol.sign()*s.signal(hc, io, t) < hold {
					s.find.watch(hc, io, ol.sign(), hold)
				} else {
					s.find.watch(hc, s.net.sigCurrent(p.main), sg, tolAmpere)
				}
			}
		}
	}
	return nil
}

func (s *Solver) watchBreakOver(c *combination, k int, t float64) error {
	p, l := &s.net.channels[k], &s.lim[k]
	volt := s.net.sigVolt(p.main)
	v := s.signal(c, volt, t)
	hold := false // a cause is present, only the latching current is missing
	if finite(l.breakover) {
		if math.Abs(v) > l.breakover+tolVolt {
			hold = true
		} else {
			s.find.watch(c, volt, 1, l.breakover+tolVolt)
			s.find.watch(c, volt, -1, l.breakover+tolVolt)
		}
	}
	if limit := s.rateLimit(k, t); finite(limit) {
		limit *= 1 + 1e-12
		rate, err := s.rateNow(c, p.main, t)
		if err != nil {
			return err
		}
		if math.Abs(rate) > limit {
			hold = true
		} else {
			s.find.watchRate(c, volt, 1, limit)
			s.find.watchRate(c, volt, -1, limit)
		}
	}
	if !hold {
		return nil
	}
	for _, sg := range [2]float64{1, -1} {
		hk, hc, err := s.withMain(k, sg, t, true)
		if err != nil {
			return err
		}
		s.find.watch(hc, s.net.sigCurrent(p.main), sg, l.latch+tolAmpere)
		s.watchHypothesis(hc, p, hk)
	}
	return nil
}
