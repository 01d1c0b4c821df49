package circuit

import (
	"math"

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
// means of a signal over these two. Where mirror images of solutions are
// solutions, half-cycles of one polarity stand for all, and one that ends as the
// mirror image of its beginning for both. ok is false where that did not come
// about within the given number of cycles.
func (s *Solver) SettleMoments(cycles int, in Input, sig Signal) (m models.Moments, ok bool, err error) {
	volts, amps := s.alike()
	mirrors := s.mirrors()
	input := func(int64) Input { return in }
	var states [3]Snapshot // the last ones between half-cycles
	var last *Recording
	s.Snapshot(&states[0])
	for h := range 2 * cycles {
		r, err := s.Record(1, input)
		if err != nil {
			return m, false, err
		}
		begin, end := &states[h%3], &states[(h+1)%3]
		s.Snapshot(end)
		if mirrors {
			s.Mirror(end)
			// Half the tolerance a half-cycle is the whole one a cycle.
			if s.Near(begin, end, volts/2, amps/2) {
				m = r.direct(sig, &s.net.work.integrator)
				m.Mean, m.MeanAbsCoupled = 0, m.MeanAbs
				return m, true, nil
			}
			s.Restore(end)
			continue
		}
		if h > 0 && s.Near(&states[(h-1)%3], end, volts, amps) {
			last.segments = append(last.segments, r.segments...)
			return last.moments(sig, &s.net.work.integrator), true, nil
		}
		last = r
	}
	return m, false, nil
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
	for i := range n.branches {
		b := &n.branches[i]
		if !inside(b.a) && !inside(b.b) {
			continue
		}
		for _, e := range [2]int{b.a, b.b} {
			if !inside(e) && e != p.mt1 && e != p.mt2 {
				return false
			}
		}
		if b.kind == capacitor {
			return false
		}
	}
	return true
}
