package sim

import "gonum.org/v1/gonum/floats"

// account is the energies of half-cycles and what they follow by, laid out in
// one row so that accounts of several add up number by number.
type account struct {
	all     []float64
	energy  tally // J
	warm    []float64
	leak    []float64 // see warmth, warm times the element's energy, J/K
	slope   []tally   // d E/d ln R of every group, J, by channel of R
	slopes  []float64 // all of those
	late    []tally   // see step
	leaking []leaking // of each channel
}

// common is the length of an account without what follows late firings and leaks.
func common(channels int) int { return tallySize(channels)*(1+channels) + 2*channels }

// whole is that of all of it.
func whole(channels int) int { return common(channels) + 3*tallySize(channels)*channels }

// newAccount returns an empty account of a number of channels.
func newAccount(channels int) account {
	size := tallySize(channels)
	a := account{all: make([]float64, whole(channels))}
	rest := a.all
	take := func(n int) []float64 {
		x := rest[:n:n]
		rest = rest[n:]
		return x
	}
	tallies := make([]tally, 2*channels)
	a.slope, a.late = tallies[:channels:channels], tallies[channels:]
	a.energy = take(size)
	a.warm, a.leak = take(channels), take(channels)
	a.slopes = rest[:size*channels]
	for k := range tallies {
		tallies[k] = take(size)
	}
	a.leaking = make([]leaking, channels)
	for k := range a.leaking {
		for i := range a.leaking[k] {
			a.leaking[k][i] = take(size)
		}
	}
	return a
}

// row is the account of a step, without the zeros at its end: the slopes of
// channels that carry no current, and what follows late firings and leaks where
// nothing does.
func (r *reuse) row(s *step) []float64 {
	n := len(r.board.Channels)
	a := &r.scratched
	if a.all == nil {
		*a = newAccount(n)
	}
	clear(a.all)
	copy(a.energy, s.energy)
	used := a.all[:common(n)]
	for k, sl := range s.slope {
		to, energy := a.slope[k][:len(sl)], s.energy[:len(sl)]
		for g, x := range sl {
			to[g] = x * energy[g]
		}
	}
	for k := range n {
		a.warm[k], a.leak[k] = s.warm[k]*s.energy.channel(k)[tElement], s.leak[k]
	}
	for k, d := range s.late {
		used = a.all
		copy(a.late[k], d)
	}
	for k, l := range s.leaking {
		used = a.all
		for i, gain := range l {
			copy(a.leaking[k][i], gain)
		}
	}
	for k := range n {
		at := tShared + k*tPerChannel
		r.minor = r.minor || a.follows(at+tGate, at+tSnubber)
	}
	used = trimmed(used, len(a.energy))
	out := r.room.numbers.Lend(len(used), manyNumbers)
	copy(out, used)
	return out
}

// follows reports whether one of two groups follows some resistance.
func (a *account) follows(g, h int) bool {
	for _, slope := range a.slope {
		if slope[g] != 0 || slope[h] != 0 {
			return true
		}
	}
	return false
}

// trimmed returns a row without the zeros at its end, no shorter than least.
func trimmed(row []float64, least int) []float64 {
	for len(row) > least && row[len(row)-1] == 0 {
		row = row[:len(row)-1]
	}
	return row
}

// series is the half-cycles of one input from one place on, as far as they have
// been asked for; from some point on each second one is the same.
type series struct {
	in    input
	flip  bool      // from the mirror image of its node
	next  *series   // another from that node
	known []reached // after the first 0, 1, 2, … of them
	cycle []float64 // account of two that end where they began, if found
	parts []*part   // of 0, 1, 2, … cycles, as far as plans have them
	// Those of many cycles are so many times each after the first half-cycles.
	first, each *ledger
}

// reached is how far some half-cycles of a series come.
type reached struct {
	sum  []float64 // their account
	end  place
	last *step
}

// from returns the series of an input from the present place on, which it
// begins if it is new. A node sees few inputs.
func (r *reuse) from(in input) *series {
	first := r.cell.first(r.node)
	for s := *first; s != nil; s = s.next {
		if s.in == in && s.flip == r.flip {
			return s
		}
	}
	s := &r.room.series.Take(1, 16)[0]
	s.in, s.flip, s.next = in, r.flip, *first
	s.known = append(r.room.known.Take(6, 96)[:0], reached{end: r.at()})
	*first = s
	return s
}

// goTo sets the present place.
func (r *reuse) goTo(p place) { r.node, r.flip = int(p.node), p.flip == 1 }

// extend adds a half-cycle.
func (r *reuse) extend(s *series) error {
	last := &s.known[len(s.known)-1]
	r.goTo(last.end)
	st, err := r.step(s.in)
	if err != nil {
		return err
	}
	if st.account == nil {
		st.account = r.row(st)
	}
	sum := r.room.numbers.Lend(max(len(last.sum), len(st.account)), manyNumbers)
	clear(sum[copy(sum, last.sum):])
	floats.Add(sum[:len(st.account)], st.account)
	if last.end.flip == 1 { // in its mirror image the charge has the other sign
		sum[tCharge] -= 2 * st.account[tCharge]
	}
	s.known = append(s.known, reached{sum, r.at(), st})
	if i := len(s.known) - 3; i >= 0 && s.known[i].end == r.at() {
		cycle := r.room.numbers.Lend(len(sum), manyNumbers)
		copy(cycle, sum)
		floats.Sub(cycle[:len(s.known[i].sum)], s.known[i].sum)
		s.cycle = trimmed(cycle, tallySize(len(r.board.Channels)))
	}
	return nil
}

// advance takes n half-cycles of the same input and sets b to them.
func (r *reuse) advance(in input, n int64, b *block) error {
	s := r.from(in)
	first, cycles, err := r.through(s, n)
	if err != nil {
		return err
	}
	b.set(first.sum, s.cycle, float64(cycles))
	if r.each {
		b.keep(s, n)
	}
	return nil
}

// through takes n half-cycles of a series, which are some first ones and so many cycles.
func (r *reuse) through(s *series, n int64) (first *reached, cycles int64, err error) {
	for int64(len(s.known)) <= n && s.cycle == nil {
		if err := r.extend(s); err != nil {
			return nil, 0, err
		}
	}
	if known := int64(len(s.known)) - 1; n > known {
		cycles = (n - known + 1) / 2
	}
	first = &s.known[n-2*cycles]
	r.goTo(first.end)
	return first, cycles, nil
}

// set makes the block a row and times another, either of which may be the
// longer one.
func (b *block) set(row, other []float64, times float64) {
	used := len(row)
	if times == 0 {
		copy(b.all, row)
	} else {
		both := min(used, len(other))
		floats.AddScaledTo(b.all[:both], row[:both], times, other[:both])
		copy(b.all[both:], row[both:])
		if rest := other[both:]; len(rest) > 0 {
			floats.ScaleTo(b.all[both:len(other)], times, rest)
			used = len(other)
		}
	}
	if used < b.used {
		clear(b.all[used:b.used])
	}
	b.used = used
}
