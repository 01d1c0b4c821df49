package circuit

import (
	"math"
	"slices"

	"boilwright/models"
)

// alike returns by how much the voltages and currents of two states may differ
// that count as the same, 1e-7 of the supply's peak.
func (s *Solver) alike() (volts, amps float64) {
	least := math.Inf(1)
	for k := range s.ch {
		least = math.Min(least, float64(s.ch[k].Element.Resistance))
	}
	volts = 1e-7 * math.Sqrt2 * float64(s.board.Supply.Voltage)
	return volts, volts / math.Max(1, least)
}

// Settle advances the solver by whole cycles until one ends as it began, to
// 1e-7 of the supply's peak, and reports whether that came about within the
// given number of cycles.
func (s *Solver) Settle(cycles int, in func(half int64) Input) (bool, error) {
	volts, amps := s.alike()
	var a, b Snapshot
	s.Snapshot(&a)
	for range cycles {
		for range 2 {
			if _, err := s.HalfCycle(in(s.half)); err != nil {
				return false, err
			}
		}
		s.Snapshot(&b)
		if s.Near(&a, &b, volts, amps) {
			return true, nil
		}
		a, b = b, a
	}
	return false, nil
}

// SettleMoments advances the solver by half-cycles of the same input until two
// of them end as they began, to 1e-7 of the supply's peak, and returns the time
// means of a signal over these two; those of magnitudes are zero unless abs asks
// for them. Where mirror images of solutions are solutions, half-cycles of one
// polarity stand for all, and one that ends as the mirror image of its beginning
// for both. ok is false where that did not come about within the given number of
// cycles.
func (s *Solver) SettleMoments(cycles int, in Input, sig Signal, abs bool) (m models.Moments, ok bool, err error) {
	volts, amps := s.alike()
	mirrors := s.mirrors()
	w := s.net.work
	states := &w.states // the last ones between half-cycles
	last, now := &w.passes[0], &w.passes[1]
	last.clear()
	old := s.onSegment
	defer func() { s.onSegment = old }()
	s.onSegment = func(seg *Segment) {
		if old != nil {
			old(seg)
		}
		if seg.T1 > seg.T0 {
			now.add(seg)
			now.note(s, seg.T0)
			s.leave = mirrors && now.meets(s, seg.T1, last, volts, amps)
		}
	}
	s.Snapshot(&states[0])
	for h := range 2 * cycles {
		now.clear()
		if _, err := s.HalfCycle(in); err != nil {
			return m, false, err
		}
		begin, end := &states[h%3], &states[(h+1)%3]
		if now.met {
			s.Restore(begin)
			return now.moments(s, sig, abs), true, nil
		}
		s.Snapshot(end)
		if mirrors {
			s.Mirror(end)
			// Half the tolerance a half-cycle is the whole one a cycle.
			if s.Near(begin, end, volts/2, amps/2) {
				return now.moments(s, sig, abs), true, nil
			}
			s.Restore(end)
		} else if h > 0 && s.Near(&states[(h-1)%3], end, volts, amps) {
			r := Recording{half: s.period, first: s.half - 2}
			r.segments = append(append(r.segments, last.segments...), now.segments...)
			return r.moments(sig, &w.integrator, abs), true, nil
		}
		last, now = now, last
	}
	return m, false, nil
}

// pass is the solution in one half-cycle of several with the same input.
type pass struct {
	segments []Segment
	triacs   []triacState // of every channel during each
	bound    []bool       // whether more than the state then tells how each goes on
	next     int          // of the half-cycle before, the segment that may be met
	met      bool         // see meets
	x        []float64    // room for a state
}

func (p *pass) clear() {
	p.segments, p.triacs, p.bound, p.next, p.met = p.segments[:0], p.triacs[:0], p.bound[:0], 0, false
}

// forget leaves a pass nothing but its room, and that only where it is no more than
// usual.
func (p *pass) forget() {
	p.clear()
	if cap(p.segments) > 200 {
		*p = pass{}
	}
	segments := p.segments[:cap(p.segments)]
	for i := range segments {
		if s := &segments[i]; s.c != nil {
			*s = Segment{xi: s.xi}
		}
	}
}

// add adds a copy of a segment and returns it.
func (p *pass) add(seg *Segment) *Segment {
	n := len(p.segments)
	p.segments = slices.Grow(p.segments, 1)[:n+1]
	to := &p.segments[n]
	xi := append(to.xi[:0], seg.xi...)
	*to = *seg
	to.xi = xi
	return to
}

// note notes in which discrete state the solver was in a segment that began at t.
func (p *pass) note(s *Solver, t float64) {
	for k := range s.chans {
		p.triacs = append(p.triacs, s.chans[k].triac)
	}
	p.bound = append(p.bound, s.bound(t))
}

// instant is by how much times may differ that count as the same, a little more
// than roots do.
const instant = 1e-12

// meets reports whether the state of the solver at time t, the end of a segment, is
// that in which a segment of the half-cycle before ended at the same time. What
// follows then is what followed there, and meets adds it.
func (p *pass) meets(s *Solver, t float64, before *pass, volts, amps float64) bool {
	for p.next < len(before.segments) && before.segments[p.next].T1 < t-instant {
		p.next++
	}
	i, n := p.next, len(s.chans)
	if i >= len(before.segments) || before.segments[i].T1 > t+instant || before.bound[i] || s.bound(t) {
		return false
	}
	seg := &before.segments[i]
	for k, is := range before.triacs[i*n : (i+1)*n] {
		if s.chans[k].triac != is {
			return false
		}
	}
	const part = 1e-5 // of the tolerance for half-cycles: no more than rounding
	if seg.c.key != s.key || !p.near(s, seg, part*volts, part*amps) {
		return false
	}
	for i++; i < len(before.segments); i++ {
		p.add(&before.segments[i]).Half = s.half
	}
	p.met = true
	return true
}

// bound reports whether something that happened before time t matters after it
// besides the state then: a triac has just turned off, or a contact is to open.
func (s *Solver) bound(t float64) bool {
	for k := range s.chans {
		c := &s.chans[k]
		if c.everOff && float64(s.half-c.offHalf)*s.period+t-c.offTime < s.lim[k].turnOff-instant {
			return true
		}
	}
	return s.opening()
}

// near reports whether the solver's state is that in which a segment ended.
func (p *pass) near(s *Solver, seg *Segment, volts, amps float64) bool {
	p.x = resize(p.x, len(s.x))
	seg.state(seg.T1, p.x)
	for i, at := range s.net.states {
		tol := volts
		if s.net.branches[at].kind == inductor {
			tol = amps
		}
		if !(math.Abs(s.x[i]-p.x[i]) <= tol) {
			return false
		}
	}
	return true
}

// moments returns the time means over a cycle of which the half-cycle is one half
// and its mirror image the other.
func (p *pass) moments(s *Solver, sig Signal, abs bool) models.Moments {
	r := Recording{segments: p.segments, half: s.period, first: p.segments[0].Half}
	m := r.direct(sig, &s.net.work.integrator, abs)
	m.Mean, m.MeanAbsCoupled = 0, m.MeanAbs
	return m
}

// mirrors reports whether the mirror image of every solution is exactly a
// solution too, half a cycle later.
func (s *Solver) mirrors() bool {
	if !s.polarless() {
		return false
	}
	for k := range s.ch {
		t := &s.ch[k].Triac.Trigger
		if t[models.QuadrantI] != t[models.QuadrantIII] || t[models.QuadrantII] != t[models.QuadrantIV] && !s.net.fedByOwn(k) {
			return false
		}
	}
	return true
}

// fedByOwn reports whether nothing but resistances between its own terminals
// leads to the gate of channel k, from MT2 to MT1. Its potential then lies
// between theirs, so that gate current and voltage have one sign: the triac is
// fired in quadrants I and III alone.
func (n *netlist) fedByOwn(k int) bool {
	p := &n.channels[k]
	inside := func(node int) bool { return node == p.gate || node == p.optoNode }
	alone := func(b *branch) bool {
		if !inside(b.a) && !inside(b.b) {
			return true
		}
		for _, e := range [2]int{b.a, b.b} {
			if !inside(e) && e != p.mt1 && e != p.mt2 {
				return false
			}
		}
		return b.kind != capacitor
	}
	if own := n.owner[p.gate]; own >= 0 && own == n.owner[p.optoNode] {
		for _, at := range n.blocks[own].branches {
			if !alone(&n.branches[at]) {
				return false
			}
		}
		return true
	}
	for i := range n.branches {
		if !alone(&n.branches[i]) {
			return false
		}
	}
	return true
}
