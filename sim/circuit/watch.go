package circuit

import (
	"math"

	"boilwright/models"
)

// watchList fills the finder with every threshold whose crossing could bring
// about a change: of each demand that is a conjunction, one term that is not
// met now, since the demand cannot be met before that term is. Thresholds that
// cannot be crossed up to the horizon are left out.
func (s *Solver) watchList(t, horizon float64) error {
	f, net, c := &s.find, s.net, s.seg.c
	f.reset(&s.seg)
	f.origin(s.turn, horizon)
	own := s.seg.view(c, everyProbe)
	f.look(own)
	if s.quiet {
		return s.watchBand(own, c.memo.band, t)
	}
	y := s.readAll(c)
	for i := range s.prober.edges {
		e := &s.prober.edges[i]
		s.watchConsistency(own, e, y[e.probe])
	}
	for k := range s.chans {
		ch, l, g := &s.chans[k], &s.lim[k], &s.gears[k]
		if lv := s.key.level(g.optoValve); lv != off {
			f.watch(own, g.opto, y[g.opto], -lv.sign(), -l.optoHold+tolAmpere)
		}
		switch ch.triac {
		case latched:
			f.watch(own, g.main, y[g.main], -s.key.level(g.mainValve).sign(), -l.hold+tolAmpere)
		case gated:
			f.watch(own, g.main, y[g.main], s.key.level(g.mainValve).sign(), l.latch+tolAmpere)
			f.watch(own, g.main, y[g.main], -s.key.level(g.mainValve).sign(), tolAmpere)
			if g.junction >= 0 {
				i := s.gateCurrent(c, k)
				f.watch(own, g.junction, y[g.junction], -math.Copysign(1, i), -s.triggerOf(k, s.key, i)+tolAmpere)
			}
		}
		for _, sg := range [2]float64{1, -1} {
			if !s.optoReady(k, sg) {
				continue
			}
			if err := s.watchOpto(own, k, sg, t); err != nil {
				return err
			}
		}
		if ch.triac == blocking && !l.open {
			if err := s.watchFire(own, k, t); err != nil {
				return err
			}
			if err := s.watchBreakOver(own, k, t, false); err != nil {
				return err
			}
		}
	}
	for i := range s.contacts {
		if o := &s.contacts[i]; o.opening {
			f.watchRow(c.row(net.sigCurrent(o.branch)), -o.sign, -tolAmpere)
		}
	}
	return nil
}

// watchConsistency watches where a junction or one-way path stops being
// consistent in the combination of a view, now being its probe's value.
func (s *Solver) watchConsistency(v *view, e *edge, now float64) {
	if l := v.of.key.level(e.valve); l != off {
		s.find.watch(v, e.probe, now, -l.sign(), tolAmpere)
	} else if e.branch.oneWay {
		s.find.watch(v, e.probe, now, 1, e.branch.volts+tolVolt)
	} else {
		s.find.watchBoth(v, e.probe, now, e.branch.volts+tolVolt)
	}
}

// watchHypothesis watches what a hypothetical combination was resolved by: the
// channel's junction and the one-way paths. Beyond their edges the hypothesis
// must be formed anew.
func (s *Solver) watchHypothesis(v *view, g *gear) {
	for i := range s.prober.edges {
		if e := &s.prober.edges[i]; e.probe == g.junction || s.net.oneWays>>e.valve&1 == 1 {
			s.watchConsistency(v, e, s.read(v.of, e.probe))
		}
	}
}

func (s *Solver) watchOpto(own *view, k int, sg, t float64) error {
	g, l := &s.gears[k], &s.lim[k]
	now := s.read(own.of, g.opto)
	v := sg * now
	if v > l.inhibit+tolVolt {
		s.find.watch(own, g.opto, now, -sg, -l.inhibit-tolVolt)
		return nil
	}
	if v < g.least {
		s.find.watch(own, g.opto, now, sg, g.least)
		return nil
	}
	_, hc, err := s.withOpto(k, sg, t)
	if err != nil {
		return err
	}
	trial := s.seg.view(hc, g.probes)
	s.watchHypothesis(trial, g)
	s.find.watch(trial, g.opto, s.read(hc, g.opto), sg, l.optoLatch+tolAmpere)
	return nil
}

func (s *Solver) watchFire(own *view, k int, t float64) error {
	g, l := &s.gears[k], &s.lim[k]
	if g.junction < 0 {
		return nil
	}
	lv := s.key.level(g.junctionValve)
	if lv == off {
		return nil // no gate current before the junction conducts
	}
	sign := lv.sign()
	i, v := s.read(own.of, g.junction), s.read(own.of, g.main)
	for _, sg := range [2]float64{1, -1} {
		limit := l.trigger[models.QuadrantOf(sg, sign)]
		if sign*i < limit+tolAmpere {
			if sg == 1 || limit != l.trigger[models.QuadrantOf(1, sign)] { // else it is watched already
				s.find.watch(own, g.junction, i, sign, limit+tolAmpere)
			}
			continue
		}
		if sg*v < tolVolt {
			s.find.watch(own, g.main, v, sg, tolVolt)
			continue
		}
		_, hc, err := s.withMain(k, sg, t, false)
		if err != nil {
			return err
		}
		trial := s.seg.view(hc, g.probes)
		s.find.watch(trial, g.main, s.read(hc, g.main), sg, l.latch+tolAmpere)
		s.watchHypothesis(trial, g)
		hk, hc, err := s.withMain(k, sg, t, true)
		if err != nil {
			return err
		}
		trial = s.seg.view(hc, g.probes)
		s.watchHypothesis(trial, g)
		hl := hk.level(g.junctionValve)
		if hl == off {
			continue
		}
		lim := l.trigger[models.QuadrantOf(sg, hl.sign())] + tolAmpere
		if now := s.read(hc, g.junction); hl.sign()*now < lim {
			s.find.watch(trial, g.junction, now, hl.sign(), lim)
		} else if ol := hk.level(g.optoValve); ol != off {
			now := s.read(hc, g.opto)
			if hold := l.optoHold + tolAmpere; ol.sign()*now < hold {
				s.find.watch(trial, g.opto, now, ol.sign(), hold)
			} else {
				s.find.watch(trial, g.main, s.read(hc, g.main), sg, tolAmpere)
			}
		}
	}
	return nil
}

// watchBreakOver watches what latches the blocking triac of channel k without its
// gate; bounded tells that its voltage is watched already.
func (s *Solver) watchBreakOver(own *view, k int, t float64, bounded bool) error {
	g, l := &s.gears[k], &s.lim[k]
	hold := false // a cause is present, only the latching current is missing
	if finite(l.breakover) && !bounded {
		now := s.read(own.of, g.main)
		if math.Abs(now) > l.breakover+tolVolt {
			hold = true
		} else {
			s.find.watchBoth(own, g.main, now, l.breakover+tolVolt)
		}
	}
	if limit := s.rateLimit(k, t); finite(limit) {
		limit *= 1 + 1e-12
		rate, err := s.rise(own.of, k, t)
		if err != nil {
			return err
		}
		if math.Abs(rate) > limit {
			hold = true
		} else {
			s.find.watchRate(own, g.main, rate, limit)
		}
	}
	if !hold {
		return nil
	}
	for _, sg := range [2]float64{1, -1} {
		_, hc, err := s.withMain(k, sg, t, true)
		if err != nil {
			return err
		}
		trial := s.seg.view(hc, g.probes)
		s.find.watch(trial, g.main, s.read(hc, g.main), sg, l.latch+tolAmpere)
		s.watchHypothesis(trial, g)
	}
	return nil
}
