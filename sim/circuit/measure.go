package circuit

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"boilwright/models"
)

// Signal is a quantity of the circuit's solution: a voltage between two nodes
// or the current of a branch. Get one from the Solver whose segments it is
// to be evaluated on.
type Signal struct {
	plus, minus int // rows; −1 is zero
}

// Voltage returns the signal v(a) − v(b) in volts. A node that the board's
// network lacks (a snubber that is not fitted) is an error.
func (s *Solver) Voltage(a, b models.Node) (Signal, error) {
	var sig Signal
	for i, n := range []models.Node{a, b} {
		row := -1
		if n.Place != models.SupplyNeutral {
			k, ok := s.net.index.find(n)
			if !ok {
				return sig, fmt.Errorf("found node %v, expected one of %v", n, s.Nodes())
			}
			row = s.net.sigNode(k)
		}
		if i == 0 {
			sig.plus = row
		} else {
			sig.minus = row
		}
	}
	return sig, nil
}

// Current returns the signal of a branch's current in amperes. Branches lists
// the names.
func (s *Solver) Current(branch string) (Signal, error) {
	i, ok := s.net.named(branch)
	if !ok {
		return Signal{}, fmt.Errorf("found branch %q, expected one of %v", branch, s.Branches())
	}
	return Signal{s.net.sigCurrent(i), -1}, nil
}

// BranchVoltage returns the signal of a branch's voltage in volts.
func (s *Solver) BranchVoltage(branch string) (Signal, error) {
	i, ok := s.net.named(branch)
	if !ok {
		return Signal{}, fmt.Errorf("found branch %q, expected one of %v", branch, s.Branches())
	}
	return Signal{s.net.sigVolt(i), -1}, nil
}

// Nodes lists the named nodes of the network.
func (s *Solver) Nodes() []models.Node {
	nodes := []models.Node{{Place: models.SupplyNeutral}}
	for _, n := range s.net.nodes {
		if n.Place >= 0 {
			nodes = append(nodes, n)
		}
	}
	return nodes
}

// Branches lists the branch names in network order.
func (s *Solver) Branches() []string {
	names := make([]string, len(s.net.branches))
	for i := range s.net.branches {
		names[i] = s.net.branches[i].name
	}
	return names
}

// Ends returns the nodes between which a branch lies; its current flows from
// the first to the second. An internal node has place −1.
func (s *Solver) Ends(branch string) (a, b models.Node, err error) {
	i, ok := s.net.named(branch)
	if !ok {
		return a, b, fmt.Errorf("found branch %q, expected one of %v", branch, s.Branches())
	}
	name := func(k int) models.Node {
		if k < 0 {
			return models.Node{}
		}
		return s.net.nodes[k]
	}
	return name(s.net.branches[i].a), name(s.net.branches[i].b), nil
}

// signalRow writes the coefficients of sig in the segment's combination.
func (s *Segment) signalRow(sig Signal, row []float64) {
	if sig.plus >= 0 {
		s.c.write(sig.plus, row)
	} else {
		clear(row)
	}
	if sig.minus >= 0 {
		var buf [32]float64
		minus := room(buf[:], len(row))
		s.c.write(sig.minus, minus)
		less(row, 1, minus)
	}
}

// Value returns the signal at t seconds from the start of the half-cycle,
// T0 ≤ t ≤ T1.
func (s *Segment) Value(sig Signal, t float64) float64 {
	nb := s.size()
	buf := make([]float64, s.c.width+2*nb)
	row, w, phi := buf[:s.c.width], buf[s.c.width:s.c.width+nb], buf[s.c.width+nb:]
	s.signalRow(sig, row)
	s.weights(row, w)
	s.basis(t, phi)
	return dot(w, phi)
}

// Source returns the ideal source's voltage at t.
func (s *Segment) Source(t float64) float64 { return s.src.at(t) }

// Recording keeps the exact solution over some half-cycles, to be measured
// and sampled afterwards.
type Recording struct {
	segments []Segment
	half     float64 // seconds a half-cycle
	first    int64
	Events   []Event
}

// Record advances the solver by n half-cycles with the input of each given by
// in, and keeps the solution.
func (s *Solver) Record(n int, in func(half int64) Input) (*Recording, error) {
	r := &Recording{half: s.board.Supply.HalfCycle(), first: s.half}
	r.segments = make([]Segment, 0, max(0, min(6*n, 24))) // more where much switches
	old := s.onSegment
	defer func() { s.onSegment = old }()
	s.onSegment = func(seg *Segment) {
		if seg.T1 > seg.T0 {
			r.segments = append(r.segments, seg.clone())
		}
		if old != nil {
			old(seg)
		}
	}
	for range n {
		rec, err := s.HalfCycle(in(s.half))
		if err != nil {
			return nil, err
		}
		r.Events = append(r.Events, rec.Events...)
	}
	return r, nil
}

// RecordRepeats is Record for long recordings: a cycle that begins as the one
// before it did, to 1e-7 of the supply's peak, and has the same input is not
// solved again but is that cycle once more.
func (s *Solver) RecordRepeats(n int, in func(half int64) Input) (*Recording, error) {
	volts, amps := s.alike()
	var before, now Snapshot
	var input, last [2]Input
	out := &Recording{half: s.board.Supply.HalfCycle(), first: s.half}
	keep := func(to, from *Input) {
		to.Factor = from.Factor
		to.Drive = append(to.Drive[:0], from.Drive...)
		to.Changes = append(to.Changes[:0], from.Changes...)
	}
	segments, events, started := 0, 0, false // where the last cycle begins in out
	for n > 0 {
		halves := min(n, 2)
		for i := range halves {
			x := in(s.half + int64(i))
			keep(&input[i], &x)
		}
		s.Snapshot(&now)
		again := started && halves == 2 && s.Near(&before, &now, volts, amps)
		for i := 0; again && i < 2; i++ {
			again = input[i].Factor == last[i].Factor && slices.Equal(input[i].Drive, last[i].Drive) && slices.Equal(input[i].Changes, last[i].Changes)
		}
		from, fromEvent := len(out.segments), len(out.Events)
		if again {
			// Most likely it goes on like this.
			if more := (from - segments) * (n / 2); cap(out.segments)-from < from-segments {
				out.segments = slices.Grow(out.segments, more)
				out.Events = slices.Grow(out.Events, (fromEvent-events)*(n/2))
			}
			for i := segments; i < from; i++ {
				seg := out.segments[i]
				seg.Half += 2
				out.segments = append(out.segments, seg)
			}
			for i := events; i < fromEvent; i++ {
				e := out.Events[i]
				e.Half += 2
				out.Events = append(out.Events, e)
			}
			s.half += 2
			s.Restore(&now)
		} else {
			i := -1
			r, err := s.Record(halves, func(int64) Input { i++; return input[i] })
			if err != nil {
				return nil, err
			}
			out.segments = append(out.segments, r.segments...)
			out.Events = append(out.Events, r.Events...)
			before, now = now, before
			input, last = last, input
		}
		segments, events, started = from, fromEvent, true
		n -= halves
	}
	return out, nil
}

// Duration returns the recorded time in seconds.
func (r *Recording) Duration() float64 {
	if len(r.segments) == 0 {
		return 0
	}
	last := &r.segments[len(r.segments)-1]
	return r.start(last) + last.T1
}

// start is the time at which a segment's half-cycle starts, in seconds from
// the start of the recording.
func (r *Recording) start(s *Segment) float64 { return float64(s.Half-r.first) * r.half }

// Sample returns the signal at n equally spaced instants from from to to
// (seconds from the start of the recording), both included. Where the signal
// jumps the later value is taken.
func (r *Recording) Sample(sig Signal, from, to float64, n int) (t, v []float64) {
	t = make([]float64, n)
	for i := range t {
		t[i] = from
		if n > 1 {
			t[i] = from + (to-from)*float64(i)/float64(n-1)
		}
	}
	return t, r.At(sig, t)
}

// At returns the signal at the given instants, which must rise.
func (r *Recording) At(sig Signal, times []float64) []float64 {
	v := make([]float64, len(times))
	if len(r.segments) == 0 {
		return v
	}
	var row, w, phi []float64
	cur := -1
	for i, t := range times {
		k := sort.Search(len(r.segments), func(j int) bool {
			s := &r.segments[j]
			return r.start(s)+s.T1 > t
		})
		k = min(k, len(r.segments)-1)
		s := &r.segments[k]
		if k != cur {
			cur = k
			row, w, phi = resize(row, s.c.width), resize(w, s.size()), resize(phi, s.size())
			s.signalRow(sig, row)
			s.weights(row, w)
		}
		s.basis(t-r.start(s), phi)
		v[i] = dot(w, phi)
	}
	return v
}

// Instants returns the solver's own instants: the ends of all segments, with
// each switching twice (just before and just after) so that a jump shows.
func (r *Recording) Instants(sig Signal) (t, v []float64) {
	for i := range r.segments {
		s := &r.segments[i]
		for _, x := range [2]float64{s.T0, s.T1} {
			t = append(t, r.start(s)+x)
			v = append(v, s.Value(sig, x))
		}
	}
	return t, v
}

// Angles is the conduction of a channel in the half-cycle in which it fired.
// Angles are in degrees; NaN where there is none.
type Angles struct {
	Half       int64
	Firing     float64 // the first
	Extinction float64 // the last; may pass 180°
	Firings    int
}

// Conduction collects the events of a recording into the angles of one
// channel, by half-cycle; half-cycles without conduction are left out.
func Conduction(events []Event, channel int) []Angles {
	by := map[int64]*Angles{}
	var order []int64
	for _, e := range events {
		if e.Channel != channel || (e.Kind != Fired && e.Kind != Extinguished) {
			continue
		}
		a := by[e.Half]
		if a == nil {
			a = &Angles{Half: e.Half, Firing: math.NaN(), Extinction: math.NaN()}
			by[e.Half] = a
			order = append(order, e.Half)
		}
		if e.Kind == Fired {
			if a.Firings == 0 {
				a.Firing = e.Degrees
			}
			a.Firings++
		} else {
			a.Extinction = e.Degrees
		}
	}
	slices.Sort(order)
	out := make([]Angles, len(order))
	for i, h := range order {
		out[i] = *by[h]
	}
	return out
}
