package circuit

import "math"

// finder locates the first instant in a segment at which any atom is true,
// on the exact solution and never on a sample grid. Whatever lies between two
// evaluations is bounded term by term.
type finder struct {
	seg     *Segment
	atoms   []atom
	used    int
	ready   int       // atoms with room for weights
	n, nb   int       // modes and basis functions they have room for
	w       []float64 // the atoms' weights, one row after another
	concave []float64
	fa, fb  []float64 // the atoms' values at the ends of an interval
	q       []float64 // and how they may bend in it
	size    []float64 // magnitudes of the segment's amplitudes
	drift   []float64 // by how much modes and harmonics change at most, up to the horizon
	haste   []float64 // and by how much their rates do, once asked for
	own     *view     // of the segment's own combination
	short   int       // numbers of a probe's sizes: modes and harmonics
	reach   []float64 // by how much its probes change up to there
	most    float64   // the fastest rate of a mode or harmonic, 1/s
	places  []*place
	serial  int   // of the segment, which places belong to
	open    []int // atoms that the interval's ends do not decide
	spans   [8]span
	oldest  int // of the spans
	phiMid  []float64
	mid     float64 // the time of phiMid
	dw      []float64
	rising  *atom   // the one whose root is foreseen: it rises to zero, most likely steadily
	who     int     // the label of the atom whose root was found, −1 for none
	way     float64 // and its sign
	arrived *place  // where the search ended
	sight
}

// minimal steps of the search in seconds.
const (
	nudge   = 5e-13 // how far past a root the solution is taken at most
	past    = nudge / 8
	grazing = 1e-13 // intervals shorter than this are not divided further
)

func (f *finder) reset(seg *Segment) {
	f.seg, f.used, f.mid, f.who, f.rising = seg, 0, math.NaN(), -1, nil
	f.own, f.haste, f.told = nil, f.haste[:0], false
	nb := seg.size()
	f.most = seg.fastest()
	f.serial++
	f.short = seg.c.n + len(seg.src.order)
	if n := seg.c.n; f.n != n || f.nb != nb {
		f.n, f.nb, f.ready = n, nb, 0 // atoms of another size
		f.phiMid, f.dw = resize(f.phiMid, nb), resize(f.dw, nb)
	}
}

// release lets go of what the finder has looked at; its storage stays.
func (f *finder) release() {
	f.seg, f.own, f.arrived, f.rising = nil, nil, nil, nil
	f.then = nil // perhaps that of a combination, see HalfCycle
}

// place is a time with the basis functions there.
type place struct {
	t     float64
	phi   []float64
	of    int  // serial number of the segment
	exact bool // evaluated here, not moved here from close by
}

// at returns the place kept for a depth of the search.
func (f *finder) at(depth int) *place {
	for depth >= len(f.places) {
		f.places = append(f.places, new(place))
	}
	p := f.places[depth]
	if len(p.phi) != f.nb {
		p.phi = resize(p.phi, f.nb)
	}
	return p
}

// put moves a place to the time t.
func (f *finder) put(p *place, t float64) {
	if p.of == f.serial {
		if p.t == t {
			return
		}
		if math.Abs(t-p.t)*f.most <= brief {
			f.seg.advance(p.phi, t-p.t)
			p.t, p.exact = t, false
			return
		}
	}
	f.seg.basis(t, p.phi)
	p.t, p.of, p.exact = t, f.serial, true
}

// values writes the value of every atom at a place.
func (f *finder) values(out []float64, p *place) {
	dots(out, f.w[:f.used*len(p.phi)], p.phi)
}

// first returns the first time in (T0, end] at which an atom is true, and
// whether there is one. guess is how it went the last time, perhaps. The search
// leaves the basis functions at that time, or at the end, in f.arrived.
func (f *finder) first(end float64, guess *leg) (float64, bool) {
	start := f.seg.T0
	if t, ok := f.begin(start, end); ok {
		return t, true
	}
	if guess.who >= 0 && start+guess.lasted < end {
		if t, ok := f.foresee(end, guess); ok {
			return t, true
		}
	}
	return f.search(end, guess.lasted)
}

// from is first, searching from a later start and expecting no atom.
func (f *finder) from(start, end, guess float64) (float64, bool) {
	if t, ok := f.begin(start, end); ok {
		return t, true
	}
	return f.search(end, guess)
}

// begin puts the left end of the search to start, and reports whether an atom
// is true there already.
func (f *finder) begin(start, end float64) (float64, bool) {
	a := f.at(0)
	f.put(a, start)
	f.fa, f.fb = resize(f.fa, f.used), resize(f.fb, f.used)
	f.values(f.fa, a)
	if anyAbove(f.fa) {
		// True by rounding only: the discrete state has settled at T0.
		return f.arrive(a, math.Min(start+2*nudge, end)), true
	}
	return 0, false
}

// anyAbove reports whether any of some values is above zero.
func anyAbove(values []float64) bool {
	for _, x := range values {
		if x > 0 {
			return true
		}
	}
	return false
}

// arrive ends the search at t, near place p.
func (f *finder) arrive(p *place, t float64) float64 {
	f.put(p, t)
	f.arrived = p
	return t
}

// foresee tries whether the first root is that of the guess: Newton's method goes
// there at once, and what lies before is bounded. It answers for nothing else.
func (f *finder) foresee(end float64, guess *leg) (float64, bool) {
	a, b := f.at(0), f.at(1)
	f.recall(b, guess)
	x := f.likely(b, guess.who)
	if x < 0 {
		return 0, false
	}
	at := &f.atoms[x]
	at.derive(f.seg)
	root, rate, ok := f.converge(at, b, end)
	if !ok {
		return 0, false
	}
	t := b.t
	// The place is just past the root. Others may have crossed since, but not
	// before it.
	f.values(f.fb, b)
	if !(f.fb[x] > 0) {
		return 0, false
	}
	f.fb[x] = -rate * past
	f.rising = at
	if anyAbove(f.fb) {
		f.put(b, root-past)
		f.values(f.fb, b)
		if anyAbove(f.fb) {
			return 0, false
		}
	}
	if f.interval(a, b, f.newSpan(a, b)) { // after all something else before it
		return f.arrive(b, math.Min(b.t+nudge/2, end)), true
	}
	f.who, f.way = guess.who, guess.way
	return f.arrive(b, t), true
}

// converge moves a place to just past the root of an atom by Newton's method, and
// returns the root and the rate of the atom's value there. ok is false where the
// method does not arrive before end.
func (f *finder) converge(at *atom, b *place, end float64) (root, rate float64, ok bool) {
	for range 8 {
		if rate = dot(at.dw, b.phi); !(rate > 0) {
			break
		}
		root = b.t - dot(at.w, b.phi)/rate
		if !(root-past > f.seg.T0 && root+nudge < end) {
			break
		}
		t := root + past + nudge/2
		if math.Abs(t-b.t) < past/256 { // to the last digit
			return root, rate, true
		}
		f.put(b, t)
	}
	return 0, 0, false
}

// recall moves a place to where the segment like this one was evaluated, or to
// where it ended.
func (f *finder) recall(p *place, guess *leg) {
	s, n := f.seg, f.seg.c.n
	if !f.recalls(guess, guess.lasted) {
		f.put(p, s.T0+guess.lasted)
		guess.phi = append(guess.phi[:0], p.phi...)
		guess.at, guess.tau = p.t, guess.lasted
		return
	}
	t := s.T0 + guess.tau
	copy(p.phi, guess.phi)
	if d := t - guess.at; math.Abs(d)*f.most <= brief {
		s.src.advance(p.phi[n:], d)
	} else {
		s.src.turn(t, p.phi[n:])
	}
	p.t, p.of, p.exact = t, f.serial, false
}

// recalls reports whether what is known of the segment like this one serves as
// a start to a place that long after the begin.
func (f *finder) recalls(guess *leg, after float64) bool {
	return len(guess.phi) > 0 && math.Abs(guess.tau-after)*f.most <= brief
}

// likely returns the atom labelled who that has come furthest at a place, −1 for
// none.
func (f *finder) likely(p *place, who int) int {
	best, most := -1, math.Inf(-1)
	for i := range f.atoms[:f.used] {
		if x := &f.atoms[i]; x.label == who {
			if v := dot(x.w, p.phi); v > most {
				best, most = i, v
			}
		}
	}
	return best
}

// search goes through the time up to end, interval by interval.
func (f *finder) search(end, guess float64) (float64, bool) {
	a, b := f.at(0), f.at(1)
	for start := a.t; a.t < end; {
		t := end
		if a.t == start && guess > 0 {
			t = a.t + max(1.1*guess, grazing)
		}
		if t > end-grazing || f.used == 0 {
			t = end
		}
		f.put(b, t)
		f.values(f.fb, b)
		if f.interval(a, b, f.newSpan(a, b)) {
			// Far enough past the root that rounding cannot hide the demand:
			// at a root found to the last digit it may still read as not met.
			return f.arrive(b, math.Min(b.t+nudge/2, end)), true
		}
		f.fa, f.fb = f.fb, f.fa
		*a, *b = *b, *a
	}
	return f.arrive(a, end), false
}

// interval looks for the first root between two places at which the atoms'
// values are known, f(a) ≤ 0, and moves b there. span is the one between them.
func (f *finder) interval(a, b *place, span *span) bool {
	f.open = f.open[:0]
	soonest, best := b.t, -1
	f.q = resize(f.q, f.used)
	dots(f.q, f.concave[:f.used*len(span.bend)], span.bend)
	for i := range f.atoms[:f.used] {
		x, fa, fb := &f.atoms[i], f.fa[i], f.fb[i]
		if fb <= 0 {
			if !f.under(x, span, a, b, fa, fb, f.q[i]) {
				f.open = append(f.open, i)
			}
			continue
		}
		f.open = append(f.open, i)
		// The one that crosses first by its chord goes first, and leaves the
		// others less to search.
		if est := a.t - fa*(b.t-a.t)/(fb-fa); est < soonest || best < 0 {
			soonest, best = est, len(f.open)-1
		}
	}
	if best > 0 {
		f.open[0], f.open[best] = f.open[best], f.open[0]
	} else if best < 0 && len(f.open) > 0 {
		f.halve(a, b)
	}
	hit := false
	for _, i := range f.open {
		x, fa, fb := &f.atoms[i], f.fa[i], f.fb[i]
		if hit {
			if fb = dot(x.w, b.phi); fb <= 0 && f.below(x, a, b, fa, fb) {
				continue
			}
		}
		if root, ok := f.seek(x, a, b, fa, fb, 2); ok {
			hit = true
			f.who, f.way = x.label, x.sign
			f.put(b, root)
		}
	}
	return hit
}

// seek finds the first root of an atom in (a, b], given f(a) ≤ 0 and f(b). An
// interval is left out where f stays below zero, searched by Newton's
// method where its rate has one sign, and divided elsewhere.
func (f *finder) seek(x *atom, a, b *place, fa, fb float64, depth int) (float64, bool) {
	h := b.t - a.t
	if fb <= 0 {
		if h < grazing {
			return 0, false
		}
		if depth > 2 && f.below(x, a, b, fa, fb) { // at 2 it has been asked already
			return 0, false
		}
	} else if h < 2*grazing {
		return b.t, true
	}
	if fb > 0 || x == f.rising {
		x.derive(f.seg)
		if f.monotone(x, a, b) {
			if fb <= 0 {
				return 0, false
			}
			return f.refine(x, a.t, b.t, fa, fb), true
		}
	}
	t, c := f.between(a, b), f.at(depth)
	f.put(c, t)
	fc := dot(x.w, c.phi)
	if root, ok := f.seek(x, a, c, fa, fc, depth+1); ok {
		return root, true
	}
	if fc > 0 {
		return t, true
	}
	return f.seek(x, c, b, fc, fb, depth+1)
}

// value returns f(t) of the weights w.
func (f *finder) value(w []float64, t float64) float64 {
	f.middle(t)
	return dot(w, f.phiMid)
}

// middle sets phiMid to the basis functions at t; atoms that share an interval
// ask for the same instants.
func (f *finder) middle(t float64) {
	if d := t - f.mid; math.Abs(d)*f.most <= brief {
		f.seg.advance(f.phiMid, d)
	} else {
		f.seg.basis(t, f.phiMid)
	}
	f.mid = t
}

// refine narrows the bracket f(a) ≤ 0 < f(b) of a monotone f by Newton's
// method kept inside the bracket, and returns a time just past the root at
// which f > 0.
func (f *finder) refine(at *atom, a, b, fa, fb float64) float64 {
	w, end := at.w, b
	x := a - fa*(b-a)/(fb-fa)
	for range 100 {
		if b-a < past {
			break
		}
		if !(x > a && x < b) {
			x = a + (b-a)/2
		}
		f.middle(x)
		fx := dot(w, f.phiMid)
		d := dot(at.dw, f.phiMid)
		if fx > 0 {
			b = x
		} else {
			a = x
		}
		step := fx / d
		if math.Abs(step) < nudge/4 {
			// Converged: end on the true side, as far past the root whichever way
			// led there.
			x -= step
			for delta := past; x+delta < end; delta *= 2 {
				if f.value(w, x+delta) > 0 {
					return x + delta
				}
			}
			return end
		}
		x -= step
	}
	return b
}
