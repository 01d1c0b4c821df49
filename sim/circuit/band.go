package circuit

import (
	"math"

	"boilwright/models"
)

// band is the readings at which a combination is at rest: while every probe
// stays between its bounds no junction flips and no rule that looks at probes
// alone demands a change. What remains is rules that form a trial or look at a
// rate.
type band struct {
	serial    uint64 // of the limits it was made of
	status    uint64 // see Solver.status
	low, high []float64
	optos     []candidate // that may turn on, if a trial says so
	rising    []int       // channels whose voltage may rise too fast
	always    uint64      // the channels of these, one bit each
}

// candidate is an opto that may turn on, and which way.
type candidate struct {
	channel int
	sign    float64
}

// status packs what the rules depend on besides the valves: which LEDs are lit,
// and which triacs conduct by their gate only.
func (s *Solver) status() uint64 {
	x := uint64(0)
	for k := range s.chans {
		c := &s.chans[k]
		x <<= 2
		if c.led {
			x |= 1
		}
		if c.triac == gated {
			x |= 2
		}
	}
	return x
}

// band returns that of combination c, which is the present one.
func (s *Solver) band(c *combination) *band {
	b, status := c.memo.band, s.status()
	if b == nil {
		n := len(s.net.probes)
		bounds := s.net.work.lend(2 * n)
		b = &s.net.work.bands.Lend(1, 8)[0]
		b.low, b.high = bounds[:n], bounds[n:]
		c.memo.band = b
	} else if b.status == status && b.serial == s.limSerial {
		return b
	}
	b.serial, b.status = s.limSerial, status
	b.optos, b.rising, b.always = b.optos[:0], b.rising[:0], 0
	s.fillBand(b)
	return b
}

// outside returns the probes that do not read between their bounds, one bit each.
// Its loop is faster with registers of its own.
//
//go:noinline
func (b *band) outside(y []float64) uint64 {
	low, high, out := b.low[:len(y)], b.high[:len(y)], uint64(0)
	bit := uint64(1)
	for i, x := range y {
		if !(x > low[i] && x < high[i]) {
			out |= bit
		}
		bit <<= 1
	}
	return out
}

// try has the opto of a channel tried each time.
func (b *band) try(k int, sign float64) {
	b.optos, b.always = append(b.optos, candidate{k, sign}), b.always|1<<k
}

// floor keeps sign·y of a probe above least.
func (b *band) floor(probe int, sign, least float64) {
	if sign > 0 {
		b.low[probe] = max(b.low[probe], least)
	} else {
		b.high[probe] = min(b.high[probe], -least)
	}
}

// ceiling keeps it below most.
func (b *band) ceiling(probe int, sign, most float64) { b.floor(probe, -sign, -most) }

// within keeps the magnitude below most.
func (b *band) within(probe int, most float64) {
	b.ceiling(probe, 1, most)
	b.ceiling(probe, -1, most)
}

// fillBand sets the bounds of the present state.
func (s *Solver) fillBand(b *band) {
	for i := range b.low {
		b.low[i], b.high[i] = math.Inf(-1), math.Inf(1)
	}
	for i := range s.prober.edges {
		e := &s.prober.edges[i]
		switch l := s.key.level(e.valve); {
		case l != off:
			b.floor(e.probe, l.sign(), -tolAmpere)
		case e.branch.oneWay:
			b.ceiling(e.probe, 1, e.branch.volts+tolVolt)
		default:
			b.within(e.probe, e.branch.volts+tolVolt)
		}
	}
	for k := range s.chans {
		s.fillChannel(b, k)
	}
}

// fillChannel sets the bounds of what switches in a channel.
func (s *Solver) fillChannel(b *band, k int) {
	l, g := &s.lim[k], &s.gears[k]
	if lv := s.key.level(g.optoValve); lv != off {
		b.floor(g.opto, lv.sign(), l.optoHold-tolAmpere)
	}
	for _, sg := range [2]float64{1, -1} {
		if s.optoReady(k, sg) {
			b.ceiling(g.opto, sg, g.least)
		}
	}
	main, gate := s.key.level(g.mainValve).sign(), 0.0
	if g.junction >= 0 {
		gate = s.key.level(g.junctionValve).sign()
	}
	switch s.chans[k].triac {
	case latched:
		b.floor(g.main, main, l.hold-tolAmpere)
	case gated:
		b.ceiling(g.main, main, l.latch+tolAmpere)
		b.floor(g.main, main, -tolAmpere)
		if gate == 0 {
			b.floor(g.main, main, math.Inf(1)) // it has lost its gate
		} else {
			b.floor(g.junction, gate, max(0, l.trigger[models.QuadrantOf(main, gate)]-tolAmpere))
		}
	case blocking:
		if l.open {
			break
		}
		if gate != 0 {
			for _, sg := range [2]float64{1, -1} {
				b.ceiling(g.junction, gate, l.trigger[models.QuadrantOf(sg, gate)]+tolAmpere)
			}
		}
		b.within(g.main, l.breakover+tolVolt)
		if finite(l.static) || l.turnOff > 0 {
			b.rising, b.always = append(b.rising, k), b.always|1<<k
		}
	}
}

// learn raises the bound on the voltage of the blocking opto of channel k in
// combination c, the present one, to where the opto latches, hc being the trial of
// that. In the trial its current follows that voltage alone,
//
//	i = ratio·v + rest
//
// unless the gate junction conducts; and up to the latching current the junction
// does not, if its own voltage stays low enough. Where that is not so the trial
// has to be formed each time.
func (s *Solver) learn(c, hc *combination, k int, sg float64) {
	b, g, l := c.memo.band, &s.gears[k], &s.lim[k]
	bound := &b.high[g.opto]
	if sg < 0 {
		bound = &b.low[g.opto]
	}
	if *bound != sg*g.least {
		return // known already
	}
	*bound = math.Inf(int(sg))
	row := func(c *combination, probe int) []float64 { return c.memo.probes[probe*c.width : (probe+1)*c.width] }
	v := row(c, g.opto)
	ratio, rest, ok := affine(v, row(hc, g.opto), nil)
	latch := (l.optoLatch + tolAmpere - sg*rest) / ratio
	if !ok || !(ratio > 0) || !(latch > g.least && latch < l.inhibit) ||
		s.net.oneWays != 0 || hc.key != c.key.with(g.optoValve, levelOf(sg)) {
		b.try(k, sg)
		return
	}
	if g.junction >= 0 {
		ratio, rest, ok := affine(v, row(hc, g.junction), row(c, g.junction))
		most := max(math.Abs(ratio*sg*g.least+rest), math.Abs(ratio*sg*latch+rest))
		free := s.net.branches[s.net.probes[g.junction]].volts - most
		if !ok || c.key.level(g.junctionValve) != off || !(free > 0) {
			b.try(k, sg)
			return
		}
		b.within(g.junction, free)
	}
	*bound = sg * latch
}

// affine finds the numbers in to − base = ratio·from + rest for rows of
// coefficients, rest being with the constant, and reports whether there are any.
func affine(from, to, base []float64) (ratio, rest float64, ok bool) {
	last := len(from) - 1
	difference := func(i int) float64 {
		if base == nil {
			return to[i]
		}
		return to[i] - base[i]
	}
	best := 0
	for i, x := range from[:last] {
		if math.Abs(x) > math.Abs(from[best]) {
			best = i
		}
	}
	ratio = difference(best) / from[best]
	small := 1e-13 * math.Abs(difference(best))
	for i, x := range from[:last] {
		if !(math.Abs(difference(i)-ratio*x) <= small+1e-11*math.Abs(ratio*x)) {
			return 0, 0, false
		}
	}
	return ratio, difference(last) - ratio*from[last], true
}

// opening reports whether a contact is about to open.
func (s *Solver) opening() bool {
	for i := range s.contacts {
		if s.contacts[i].opening {
			return true
		}
	}
	return false
}

// pending carries out the first change that is demanded where the probes demand
// none.
func (s *Solver) pending(c *combination, b *band, t float64) (bool, error) {
	for _, o := range b.optos {
		if ok, err := s.optoOn(c, o.channel, o.sign, t); err != nil || ok {
			return ok, err
		}
	}
	for _, k := range b.rising {
		if ok, err := s.breakOver(c, k, t); err != nil || ok {
			return ok, err
		}
	}
	return false, nil
}

// watchBand is watchList where the probes demand nothing: it watches the bounds
// of their band, and what pending looks at.
func (s *Solver) watchBand(own *view, b *band, t float64) error {
	f, y := &s.find, s.readAll(own.of)
	low, high, reach := b.low[:len(y)], b.high[:len(y)], f.reach[:len(y)]
	for i, x := range y {
		if x+reach[i] > high[i] {
			f.add(own, i, 1, high[i])
		}
		if x-reach[i] < low[i] {
			f.add(own, i, -1, -low[i])
		}
	}
	for _, o := range b.optos {
		if err := s.watchOpto(own, o.channel, o.sign, t); err != nil {
			return err
		}
	}
	for _, k := range b.rising {
		if err := s.watchBreakOver(own, k, t, true); err != nil {
			return err
		}
	}
	return nil
}
