package sim

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// What leaks through a blocked triac flows on through its loop, most of it through its
// element, and makes less of what goes beside the triac. With R of the loop, conductances
// G of the leak and G' of what goes beside it, v = R·G and u = R·(G + G'), the voltage V
// leaves
//
//	V²/R·u²/(1 + u)²,  V²/R·v/(1 + u)²,  V²/R·(u − v)/(1 + u)²
//
// in the loop, in the leak and beside it. If G grows by the part d, all of these are of
// the second degree in
//
//	w = d/(1 + b·d),  b = v/(1 + u)
//
// The second degree is taken from there, and the first is what is then left to what is
// solved at the warm end of a class.

// leaking is what energies gain by the first and second power of w, in J.
type leaking [2]tally

// bent is w for a leak that has grown by d, in a family of bend b.
func bent(d, b float64) float64 { return d / (1 + b*d) }

// add adds what they gain by a leak that has grown by more, in a family of that bend.
func (l *leaking) add(to tally, more, bend float64) {
	w := bent(more, bend)
	square := w * w
	for g, x := range l[0] {
		to[g] += x*w + l[1][g]*square
	}
}

// heats is what the triac of channel k gains.
func (l *leaking) heats(k int, more, bend float64) float64 {
	w := bent(more, bend)
	return w * (l[0].channel(k)[tTriac] + l[1].channel(k)[tTriac]*w)
}

// leak is that of a triac as part of its loop's conductance, see above.
type leak struct {
	full float64 // V²/R in J
	u, v float64
}

// newLeak takes it from what is left in the loop, in the triac and beside it, in J.
func newLeak(loop, triac, beside float64) leak {
	u := loop / (triac + beside)
	return leak{(triac + beside) * (1 + u) * (1 + u) / u, u, u * triac / (triac + beside)}
}

// grown is the leak grown by d.
func (l leak) grown(d float64) leak { return leak{l.full, l.u + l.v*d, l.v * (1 + d)} }

// bend is b.
func (l leak) bend() float64 { return l.v / (1 + l.u) }

// bends returns what loop, triac and what is beside it gain by the second power of
// w where b is that of another leak, up to the third power of what these differ by.
func (l leak) bends(b float64) (loop, triac, beside float64) {
	s, a := 1/(1+l.u), l.bend()
	e := a - b
	full := l.full * s * s
	loop = full * (a*a - 2*l.u*a*e)
	triac = full * l.v * (a*a + 2*a*e - 2*a + b)
	beside = full * (l.u - l.v) * (a*a + 2*a*e)
	return loop, triac, beside
}

// Parts of the second degree that may follow another law: of a current that is none
// of the leak's, and of any. They are estimates, which TestLeaksAgainstSolved bears out.
const (
	unlawful      = 0.1
	leastUnlawful = 1e-3
)

// strays is what may go wrong with the square of b·w, as part of V²/R: between the
// middle of a class and its end, where it is measured, a quarter of it.
func (l leak) strays() float64 { return 0.25 * (unlawful*(l.u-l.v) + leastUnlawful) }

// follows reports whether that stays below sameLeak in a class of the given width in K.
func (l leak) follows(width float64) bool {
	x := l.bend() * bent(math.Expm1(width/2*leakageLaw), l.bend())
	return x*x*l.strays() <= sameLeak
}

// fitting returns the width of the class of a temperature of the junction in which the
// leak follows, found at another; not above the given one.
func (l leak) fitting(width, at, junction float64) float64 {
	for width > leastLeakage && !l.grown(math.Expm1(leakageLaw*(middle(junction, width)-at))).follows(width) {
		width /= 2
	}
	return width
}

// found is a leak as it was at a temperature in °C.
type found struct {
	leak
	at float64
}

// spare narrows the classes in which a leak that has been found would not follow.
func (r *reuse) spare(junction []float64) {
	for k := range r.found {
		if f := &r.found[k]; f.v > 0 && junction[k] < destroyed {
			r.widths[k].leakage = f.fitting(r.widths[k].leakage, f.at, junction[k])
		}
	}
}

// endingLeak is the part of its element's power that a leak may grow by in a class and
// not be followed in half-cycles in which the channel's current ends: once in a run of
// half-cycles, of a hundred or so: 1e-5 of what the run takes.
const endingLeak = 1e-3

// blocked sees to what leaks through the triac of channel k, which blocked in a step but
// for the end of the last one's current, if it ends there. Where a leak adds to the
// current in the element so much that this is not the same throughout the class, what
// energies gain by it is to be measured, and the classes are narrowed until that holds.
func (r *reuse) blocked(st *step, k int, factor float64, ends bool) {
	c := st.energy.channel(k)
	if !ends {
		st.leak[k] = c[tTriac]
	}
	at := r.cell.temps.Leakage[k]
	if at >= destroyed || !(c[tTriac] > r.noise && c[tElement] > 0 && factor > 0) {
		return // nothing leaks, or no more
	}
	var l leak
	if !ends && r.carries(st, k) {
		l = newLeak(c[tElement]+c[tWire], c[tTriac], c[tGate]+c[tSnubber])
	} else { // most in the loop is of a current's end, or of a snubber
		full := r.rated[k] * factor * factor * float64(r.board.Channels[k].Element.Resistance) / r.cell.ohms[k]
		x := c[tTriac] / full
		l = leak{full, x, x}
	}
	width := r.widths[k].leakage
	if x := l.v * math.Expm1(width/2*leakageLaw); x*(2*l.u-l.v+x) <= sameLeak && !(ends && x > endingLeak) {
		return
	}
	if f := &r.found[k]; f.v*f.v*f.strays() < l.v*l.v*l.strays() {
		*f = found{l, at}
	}
	to := widest
	to.leakage = l.fitting(width, at, r.cell.temps.Junction[k]+r.shift[k])
	r.narrow(k, to)

	bend := &r.cell.family.bends[k]
	if *bend == 0 {
		*bend = l.bend()
	}
	loop, triac, beside := l.bends(*bend)
	if st.leaking == nil {
		st.leaking = make([]leaking, len(r.board.Channels))
	}
	of := &st.leaking[k]
	for i := range of {
		of[i] = r.room.numbers.take(len(st.energy))
	}
	square, own := of[1], of[1].channel(k)
	part := loop / (c[tElement] + c[tWire])
	own[tElement], own[tWire], own[tLink] = part*c[tElement], part*c[tWire], part*c[tLink]
	own[tTriac] = triac
	if c[tGate] > c[tSnubber] {
		own[tGate] = beside
	} else {
		own[tSnubber] = beside
	}
	square[tSquare] = own[tElement] / r.cell.ohms[k]
	if all := st.energy[tSquare]; all > 0 {
		part = square[tSquare] / all
		square[tWiring], square[tUpstream] = part*st.energy[tWiring], part*st.energy[tUpstream]
	}
	square[tSource] = loop + triac + beside + square[tWiring] + square[tUpstream]
}

// leakKey tells apart the half-cycles of a family in which energies gain in different
// ways by what leaks in a channel.
type leakKey struct {
	in      input
	odd     bool
	conduct uint32
	ending  uint32 // channels whose current ends, by bit
	channel int
}

// measureLeaks solves a half-cycle again with what leaks as at the warm end of its
// class, for each channel where that tells, unless one like it has been.
func (r *reuse) measureLeaks(st *step, from *node, in input) error {
	f := r.cell.family
	for k := range st.leaking {
		l := &st.leaking[k]
		if l[0] == nil {
			continue
		}
		st.leak[k] = 0 // it is followed once
		id := leakKey{in, from.snap.Odd(), r.conducting(st), r.ending, k}
		if like, ok := f.leaking[id]; ok {
			copy(l[0], like)
			continue
		}
		t := r.cell.temps
		t.Leakage = slices.Clone(t.Leakage)
		t.Leakage[k] += r.widths[k].leakage / 2
		rec, err := r.solve(from, in, t)
		if err != nil {
			return err
		}
		w := bent(math.Expm1(leakageLaw*r.widths[k].leakage/2), f.bends[k])
		first := l[0]
		first.from(rec, r.board)
		for g := range first {
			first[g] = (first[g]-st.energy[g])/w - l[1][g]*w
		}
		if f.leaking == nil {
			f.leaking = map[leakKey]tally{}
		}
		f.leaking[id] = first
	}
	return nil
}

// leakiness is what a channel's leak adds to a plan.
type leakiness struct {
	leaking
	// The mean temperature of the junction while it leaks, see run.mean.
	kept []float64
	rise float64
	// warms is what a joule more of the leak leaves in each stage, beyond what the
	// plan takes of a joule more of the triac, in K/J.
	warms []float64
}

// leakiness returns that of channel k over the parts of a plan; nil if nothing is
// measured of it.
func (r *run) leakiness(e *reuse, p *plan, k int) *leakiness {
	size, triac := tallySize(r.n), tShared+k*tPerChannel+tTriac
	at := common(r.n) + (r.n+2*k)*size
	tells := func(pt *part) float64 {
		if first := portion(pt.rest, at, size); len(first) > triac {
			return first[triac]
		}
		return 0
	}
	if !slices.ContainsFunc(r.made, func(pt *part) bool { return tells(pt) > 0 }) {
		return nil
	}
	foster := r.m.board.Channels[k].Triac.Foster
	take := e.room.numbers.take
	l := &leakiness{kept: take(len(foster)), warms: take(len(foster))}
	for i := range l.leaking {
		l.leaking[i] = take(size)
	}
	// Of the stages at the start of a part, parts kept of those at the start of the
	// window, and rises in K.
	kept, rise, weights := take(len(foster)), take(len(foster)), 0.0
	for i := range kept {
		kept[i] = 1
	}
	for _, pt := range r.made {
		for i, gain := range l.leaking {
			more := portion(pt.rest, at+i*size, size)
			floats.Add(gain[:len(more)], more)
		}
		weight, t := tells(pt), float64(2*pt.pace.Beats)*r.half
		for i, f := range foster {
			left, final := pt.does.left[i][k], pt.power[k]*float64(f.Resistance)
			mean := (1 - left) * float64(f.Time) / t
			l.kept[i] += weight * mean * kept[i]
			l.rise += weight * (final + mean*(rise[i]-final))
			l.warms[i] = l.warms[i]*left + weight/t*pt.does.gain[i][k]
			kept[i] *= left
			rise[i] = final + left*(rise[i]-final)
		}
		weights += weight
	}
	l.rise /= weights
	floats.Scale(1/weights, l.kept)
	for i := range l.warms {
		l.warms[i] = l.warms[i]/weights - p.gain[i][k]/p.triac[k]
	}
	return l
}
