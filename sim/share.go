package sim

import "math"

// The network does not know the temperatures of the junctions; what fires, holds
// and withstands does. Classes that differ in nothing else therefore have their
// states in common, and a half-cycle in which a triac neither conducts nor comes
// near to it is the same whatever the temperature of its junction.

// family is what such classes have in common.
type family struct {
	nodes  []*node
	firing map[firingKey]*firing
	// leaking is what energies gain by leaks, see step, and bends how these go on,
	// by channel.
	leaking map[leakKey]tally
	bends   []float64
}

// firingKey is a channel and the temperature of its junction in the middle of a
// class.
type firingKey struct {
	channel  int
	junction float64
}

// firingOf returns how channel k fires late at a temperature of its junction.
func (f *family) firingOf(k int, junction float64) *firing {
	id := firingKey{k, junction}
	x, ok := f.firing[id]
	if !ok {
		x = new(firing)
		f.firing[id] = x
	}
	return x
}

// idle is how near the triac of a channel came to conducting in a half-cycle in
// which it did not: gate current and rate of rise as parts of what triggers it
// and what it withstands.
type idle struct {
	blocks       bool
	urge, strain float64
}

// idle notes which triacs only blocked in the half-cycle solved last. One that
// is driven may have had a short gate current, unless its link is open.
func (r *reuse) idle(st *step, in input) {
	st.idle = places(st.idles[:], len(r.board.Channels))
	for k := range st.idle {
		if !r.sol.Conducted(k) && (in.drives>>k&1 == 0 || r.sol.LinkOpen(k)) {
			st.idle[k] = idle{true, r.sol.Urge(k), r.sol.Strain(k)}
		}
	}
}

// serves reports whether a half-cycle that was solved in some class of the
// family serves in the present one.
func (r *reuse) serves(st *step) bool {
	if st.cell == r.cell {
		return true
	}
	if st.idle == nil {
		return false
	}
	for k, t := range r.cell.temps.Junction {
		if solved := st.cell.temps.Junction[k]; t != solved && !r.blocks(k, &st.idle[k], t-solved) {
			return false
		}
	}
	return true
}

// blocks reports whether the triac of channel k, idle as given, only blocks in
// the whole of a class of junction temperature warmer by t K too, with the
// margins that a class of its own would ask for.
func (r *reuse) blocks(k int, x *idle, t float64) bool {
	triac := &r.board.Channels[k].Triac
	warmer, half := max(t, 0), r.widths[k].junction/2
	gate := x.urge * gateMargin * math.Exp((warmer+half)/float64(triac.TriggerScale))
	strain := x.strain * math.Exp(warmer/float64(triac.RateScale))
	return x.blocks && gate < 1 && strain < failing && strain*strainMargin*math.Exp(half/float64(triac.RateScale)) < 1
}

// known returns the half-cycle from a node that serves for an input, or nil.
func (r *reuse) known(from *node, in input) *step {
	st := from.next[in]
	for st != nil && !r.serves(st) {
		st = st.other
	}
	return st
}

// keep adds a half-cycle from a node, of the present class.
func (r *reuse) keep(from *node, in input, st *step) {
	st.cell, st.other = r.cell, from.next[in]
	from.next[in] = st
}
