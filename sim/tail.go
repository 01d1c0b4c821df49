package sim

import (
	"math"

	"boilwright/sim/circuit"
)

// A channel's current ends a little after the zero of the supply: its tail
// belongs to the next half-cycle, whose drives it knows nothing of. Where tails
// are over before anything fires, a half-cycle is therefore the sum of two: one
// from rest with its drives, and what its tails add to one without any. Of n
// channels in 2ⁿ states each, few need be solved.

// tails is what is known of that.
type tails struct {
	sure   uint32 // channels for which a sum was found equal to what was solved
	nearly uint32 // and those for which it was nearly so
	failed int    // sums that were not, or could not be taken
}

const (
	// mostFailed is the number of failures after which no more sums are tried.
	mostFailed = 2
	// mostStrain is the part of what a triac withstands up to which one may still
	// be recovering when another fires.
	mostStrain = 0.6
	// sameSum is the part of the source's energy up to which a sum counts as
	// equal, nearSum that up to which it serves where drives change: once in a
	// run of half-cycles.
	sameSum, nearSum = 1e-6, 3e-5
	// sameEarth is the same of the earth conductor's current, in A s and A²s:
	// a thousandth of what would trip a residual-current device.
	sameEarth = 1e-9
)

// superpose returns the half-cycle from a node as such a sum where that is sure,
// else solves it.
func (r *reuse) superpose(at int, in input) (*step, error) {
	if in.drives == 0 || r.tails.failed >= mostFailed {
		return r.reach(at, in)
	}
	from := r.cell.family.nodes[at]
	known, tried := r.tails.sure, r.tails.sure|r.tails.nearly
	if from.after != in.drives {
		known = tried
	}
	if r.near() && in.drives&^known != 0 && in.drives&^tried == 0 {
		return r.reach(at, in) // narrow classes see few half-cycles each: no sum is put to the test again
	}
	sum, channels, err := r.sumOf(at, in)
	if err != nil {
		return nil, err
	}
	if sum != nil && channels&^known == 0 {
		r.keep(from, in, sum)
		return sum, nil
	}
	st, err := r.reach(at, in)
	if err != nil || sum == nil {
		return st, err
	}
	switch {
	case sum.equals(st, sameSum):
		r.tails.sure |= channels
	case sum.equals(st, nearSum):
		r.tails.nearly |= channels
	default:
		r.tails.failed++
	}
	return st, nil
}

// sumOf returns the sum of two half-cycles that stands for one, and the channels
// that take part; nil where tails meet what comes after them, or there are none.
func (r *reuse) sumOf(at int, in input) (*step, uint32, error) {
	idle := input{0, in.factor}
	tail, err := r.reach(at, idle)
	if err != nil {
		return nil, 0, err
	}
	next, err := r.reach(tail.to, idle)
	if err != nil {
		return nil, 0, err
	}
	// The rest is where half-cycles without drives come to, and stay.
	rest := next.to
	if rest == at || r.cell.family.nodes[rest].snap.Odd() != r.cell.family.nodes[at].snap.Odd() {
		return nil, 0, nil
	}
	still, err := r.reach(rest, idle)
	if err != nil {
		return nil, 0, err
	}
	if still.to != tail.to || still.flips != tail.flips {
		r.tails.failed++
		return nil, 0, nil
	}
	main, err := r.reach(rest, in)
	if err != nil {
		return nil, 0, err
	}
	recovers := 0.0
	for k := range r.board.Channels {
		recovers = math.Max(recovers, float64(r.board.Channels[k].Triac.TurnOffTime))
	}
	// While a triac recovers, a neighbour's firing strains it the most: that is
	// then known from half-cycles that were solved.
	if main.fires < tail.ends || main.fires < tail.ends+recovers && r.strain > mostStrain {
		r.tails.failed++
		return nil, 0, nil
	}
	sum := &r.room.steps.Lend(1, 16)[0]
	*sum = *main
	sum.account, sum.idle = nil, nil
	sum.energy = r.room.numbers.take(len(main.energy))
	channels := in.drives
	for g := range sum.energy {
		sum.energy[g] = main.energy[g] + tail.energy[g] - still.energy[g]
	}
	for k := range r.board.Channels {
		if tail.energy.channel(k)[tElement] != still.energy.channel(k)[tElement] {
			channels |= 1 << k
		}
	}
	return sum, channels, nil
}

// equals reports whether two half-cycles are the same up to a part of the
// source's energy.
func (s *step) equals(o *step, part float64) bool {
	if s.to != o.to || s.flips != o.flips {
		return false
	}
	for g, e := range s.energy {
		bound := part * math.Abs(o.energy[tSource])
		switch g {
		case tSquare, tVolts:
			bound = 10 * part * o.energy[g]
		case tEarth, tCharge:
			bound = sameEarth
		}
		if math.Abs(e-o.energy[g]) > bound {
			return false
		}
	}
	return true
}

// span returns when the first triac fired and the last one ceased to conduct, in
// s from the start of the half-cycle.
func span(rec *circuit.Record) (fires, ends float64) {
	fires, ends = math.Inf(1), math.Inf(-1)
	for _, e := range rec.Events {
		t := (e.Degrees/180 - float64(rec.Half-e.Half)) * rec.Duration
		switch e.Kind {
		case circuit.Fired:
			fires = math.Min(fires, t)
		case circuit.Extinguished:
			ends = math.Max(ends, t)
		}
	}
	return fires, ends
}
