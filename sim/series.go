package sim

import "math"

// account is the energies of half-cycles and what they follow by, laid out in
// one row so that accounts of several add up number by number.
type account struct {
	all    []float64
	energy tally   // J
	slope  []tally // d E/d ln R of every group, J, by channel of R
	warm   []float64
	leak   []float64 // see warmth, warm times the element's energy, J/K
	late   []tally   // see step
}

// common is the length of an account without what follows late firings.
func common(channels int) int { return tallySize(channels)*(1+channels) + 2*channels }

// newAccount returns an empty account of a number of channels.
func newAccount(channels int) account {
	size := tallySize(channels)
	a := account{all: make([]float64, common(channels)+size*channels)}
	rest := a.all
	take := func(n int) []float64 {
		x := rest[:n:n]
		rest = rest[n:]
		return x
	}
	a.energy = take(size)
	for range channels {
		a.slope = append(a.slope, take(size))
	}
	a.warm, a.leak = take(channels), take(channels)
	for range channels {
		a.late = append(a.late, take(size))
	}
	return a
}

// addTo adds times the numbers of a row to another that is no shorter.
func addTo(sum, row []float64, times float64) {
	sum = sum[:len(row)]
	for i, x := range row {
		sum[i] += times * x
	}
}

// row is the account of a step, without the late part where nothing is late.
func (r *reuse) row(s *step) []float64 {
	n := len(r.board.Channels)
	a := &r.scratched
	if a.all == nil {
		*a = newAccount(n)
	}
	clear(a.all)
	copy(a.energy, s.energy)
	for k, sl := range s.slope {
		for g, x := range sl {
			a.slope[k][g] = x * s.energy[g]
		}
	}
	for k := range n {
		a.warm[k], a.leak[k] = s.warm[k]*s.energy.channel(k)[tElement], s.leak[k]
	}
	length := common(n)
	for k, d := range s.late {
		if d != nil {
			copy(a.late[k], d)
			length = len(a.all)
		}
	}
	out := r.room.take(length)
	copy(out, a.all)
	return out
}

// series is the half-cycles of one input from one place on, as far as they have
// been asked for; from some point on each second one is the same.
type series struct {
	sums  [][]float64 // accounts of the first 0, 1, 2, … of them
	ends  []place     // where those end
	steps []*step
	cycle []float64 // account of two that end where they began, if found
}

// extend adds a half-cycle.
func (r *reuse) extend(s *series, in input) error {
	end := s.ends[len(s.ends)-1]
	r.node, r.flip = int(end.node), end.flip == 1
	st, err := r.step(in)
	if err != nil {
		return err
	}
	if st.account == nil {
		st.account = r.row(st)
	}
	last := s.sums[len(s.sums)-1]
	sum := r.room.take(max(len(last), len(st.account)))
	copy(sum, last)
	addTo(sum, st.account, 1)
	if end.flip == 1 { // in its mirror image the charge has the other sign
		sum[tCharge] -= 2 * st.account[tCharge]
	}
	s.sums, s.ends, s.steps = append(s.sums, sum), append(s.ends, r.at()), append(s.steps, st)
	if i := len(s.ends) - 3; i >= 0 && s.ends[i] == r.at() {
		s.cycle = r.room.take(len(sum))
		copy(s.cycle, sum)
		addTo(s.cycle, s.sums[i], -1)
	}
	return nil
}

// advance takes n half-cycles of the same input and sets b to them.
func (r *reuse) advance(in input, n int64, b *block) error {
	key := seriesKey{r.at(), math.Float64bits(in.factor), uint64(in.drives)}
	s := r.cell.series[key]
	if s == nil {
		s = &series{sums: [][]float64{nil}, ends: []place{r.at()}}
		r.cell.series[key] = s
	}
	for int64(len(s.steps)) < n && s.cycle == nil {
		if err := r.extend(s, in); err != nil {
			return err
		}
	}
	known := int64(len(s.steps))
	first, cycles := n, int64(0)
	if n > known {
		cycles = (n - known + 1) / 2
		first = n - 2*cycles
	}
	b.set(s.sums[first], s.cycle, float64(cycles))
	end := s.ends[first]
	r.node, r.flip = int(end.node), end.flip == 1
	r.keep(b, s, n)
	return nil
}

// set makes the block a row and times another, which is no shorter.
func (b *block) set(row, other []float64, times float64) {
	used := len(row)
	copy(b.all, row)
	if times > 0 {
		clear(b.all[used:len(other)])
		used = len(other)
		addTo(b.all, other, times)
	}
	if used < b.used {
		clear(b.all[used:b.used])
	}
	b.used = used
}

// seriesKey tells the series of a cell apart. Like planKey it is made of
// integers that leave no gap, which maps find soonest.
type seriesKey struct {
	from           place
	factor, drives uint64 // the former the bits of the supply level
}
