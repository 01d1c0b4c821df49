package circuit

import "math"

// sight is what leap knows of all probes together.
type sight struct {
	parts     []float64 // of the solution at a place
	then      []float64 // what the probes read there
	told      bool      // and that is where the search ended
	far       []float64 // how far modes and harmonics leave their chords up to there
	off       []float64 // how far the probes do
	bows      []bow     // of the modes
	enveloped bool      // a pair is bounded by its envelope: stays does not know it
}

// leap is search where the segment most likely ends as the one like it did: at
// the root of one probe, the others staying in their band, or where the search
// ends anyway. Where it does not, or is like none, all probes are looked over for the
// one that leaves its band. Newton's method goes to the root at once, and all probes
// are bounded together up to there; only those that their bounds do not decide
// become atoms. It answers for nothing else.
func (s *Solver) leap(guess *leg, t, end float64) (float64, bool) {
	c, f := s.seg.c, &s.find
	if !s.quiet || len(c.memo.band.optos) > 0 {
		return 0, false
	}
	f.reset(&s.seg)
	f.start(s.turn)
	f.own = s.seg.view(c, everyProbe)
	b := f.at(1)
	switch {
	case guess == &s.course.none:
	case guess.who < 0:
		f.put(b, end)
		if t1, ok := s.pass(t, end); ok {
			return t1, true
		}
	case t+guess.lasted < end:
		f.recall(b, guess)
		if t1, ok := s.cross(guess.who, guess.way, t, end); ok {
			return t1, true
		}
	}
	if who, way := s.scout(b, end); who >= 0 {
		return s.cross(who, way, t, end)
	}
	return s.pass(t, end)
}

// cross is leap to the root of a probe where it leaves its band in direction way,
// from place 1.
func (s *Solver) cross(who int, way, t, end float64) (float64, bool) {
	f, band := &s.find, s.seg.c.memo.band
	a, b, y := f.at(0), f.at(1), s.readAll(s.seg.c)
	threshold := band.threshold(who, way)
	f.used = 0
	f.add(f.own, who, way, threshold)
	if f.used == 0 {
		return 0, false
	}
	at := &f.atoms[0]
	at.derive(f.seg)
	root, rate, ok := f.converge(at, b, end)
	if !ok || !(dot(at.w, b.phi) > 0) {
		return 0, false
	}
	t1 := b.t
	f.fa = append(f.fa[:0], way*y[who]-threshold)
	f.fb = append(f.fb[:0], -rate*past)
	span := f.newSpan(a, b)
	f.told = true
	if !f.screen(band, y, 1, way, span, b) {
		// The place is just past the root. Others may have crossed since, but not
		// before it.
		f.put(b, root-past)
		f.told = false
		span = f.newSpan(a, b)
		if !f.screen(band, y, 1, way, span, b) {
			return 0, false
		}
	}
	if !s.steady(band, t, b) {
		return 0, false
	}
	f.told = f.told && way*f.then[who] > threshold
	f.rising = &f.atoms[0]
	alone := f.used == 1 && f.stays(who, way, f.fa[0], f.fb[0])
	if !alone && f.interval(a, b, span) { // after all something else before it
		f.told = false
		return f.arrive(b, math.Min(b.t+nudge/2, end)), true
	}
	f.who, f.way = who, way
	return f.arrive(b, t1), true
}

// scouted is how long after a segment's begin scout looks first, in s, and stride
// by how much further each time.
const (
	scouted = 1e-6
	stride  = 32
)

// scout looks at all probes at ever later times, up to end, until one has left its
// band, and moves a place to where that one does so by its chord. It returns the
// probe and which way it goes, −1 for none up to end, where the place is then.
func (s *Solver) scout(b *place, end float64) (who int, way float64) {
	f, band, own := &s.find, s.seg.c.memo.band, s.find.own
	was := s.readAll(s.seg.c)
	low, high := band.low[:len(was)], band.high[:len(was)]
	f.then, f.off = resize(f.then, len(was)), resize(f.off, len(was))
	before := f.seg.T0
	for after := scouted; ; after *= stride {
		t := f.seg.T0 + after
		if !(f.seg.T0+2*after < end) {
			t = end
		}
		f.put(b, t)
		f.partsAt(b)
		dots(f.then, own.rows, f.parts)
		who, soonest := -1, 1.
		for i, y := range f.then {
			x := was[i]
			if y > high[i] {
				if u := (high[i] - x) / (y - x); u < soonest || who < 0 {
					who, way, soonest = i, 1, u
				}
			} else if y < low[i] {
				if u := (low[i] - x) / (y - x); u < soonest || who < 0 {
					who, way, soonest = i, -1, u
				}
			}
		}
		if who >= 0 {
			if at := before + soonest*(t-before); at > before && at < t {
				f.put(b, at)
			}
			return who, way
		}
		if t == end {
			return -1, 0
		}
		before, was = t, append(f.off[:0], f.then...)
	}
}

// pass is leap to where the search ends, place 1 being there.
func (s *Solver) pass(t, end float64) (float64, bool) {
	f, band := &s.find, s.seg.c.memo.band
	a, b := f.at(0), f.at(1)
	span := f.newSpan(a, b)
	f.told = true
	if !f.screen(band, s.readAll(s.seg.c), 0, 0, span, b) || !s.steady(band, t, b) {
		return 0, false
	}
	if f.used > 0 && f.interval(a, b, span) {
		f.told = false
		return f.arrive(b, math.Min(b.t+nudge/2, end)), true
	}
	return f.arrive(b, end), true
}

// steady adds an atom for every rate of rise that might reach its limit between
// the segment's begin, at t, and place b, and reports whether all stay below it
// at both.
func (s *Solver) steady(band *band, t float64, b *place) bool {
	if len(band.rising) == 0 {
		return true
	}
	f, a := &s.find, s.find.at(0)
	f.drifts(b.t)
	for _, k := range band.rising {
		limit := s.rateLimit(k, t)
		if !finite(limit) {
			continue
		}
		limit *= 1 + 1e-12
		rate, err := s.rise(s.seg.c, k, t)
		if err != nil || !(math.Abs(rate) <= limit) {
			return false
		}
		before := f.used
		f.watchRate(f.own, s.gears[k].main, rate, limit)
		for i := before; i < f.used; i++ {
			w := f.atoms[i].w
			fa, fb := dot(w, a.phi), dot(w, b.phi)
			if fa > 0 || fb > 0 {
				return false
			}
			f.fa, f.fb = append(f.fa, fa), append(f.fb, fb)
		}
	}
	return true
}

// threshold returns what sign·y of a probe's reading y stays below.
func (b *band) threshold(probe int, sign float64) float64 {
	if sign > 0 {
		return b.high[probe]
	}
	return -b.low[probe]
}

// partsAt sets the parts of the solution at a place.
func (f *finder) partsAt(p *place) {
	f.parts = resize(f.parts, len(p.phi))
	f.seg.parts(p.phi, f.parts)
}

// partsThere returns the parts of the solution where the search ended.
func (f *finder) partsThere() []float64 {
	if !f.told {
		f.partsAt(f.arrived)
	}
	return f.parts
}

// screen adds an atom for every bound that a probe might reach between the
// segment's begin, where the readings are y, and place b, to the first few that are
// kept, and reports whether all bounds hold at b. The one that the first of all
// watches, in the direction of sign, is left to it. No probe is further from its
// chord than its modes and harmonics can bend together.
func (f *finder) screen(band *band, y []float64, kept int, sign float64, span *span, b *place) bool {
	f.used, f.fa, f.fb = kept, f.fa[:kept], f.fb[:kept]
	own, first := f.own, -1
	if kept > 0 {
		first = f.atoms[0].label
	}
	f.partsAt(b)
	f.bow(span)
	f.then, f.off = resize(f.then, len(y)), resize(f.off, len(y))
	dots(f.then, own.rows, f.parts)
	dots(f.off, own.size, f.far)
	low, high, then, off := band.low[:len(y)], band.high[:len(y)], f.then[:len(y)], f.off[:len(y)]
	for i, now := range y {
		next, far := then[i], off[i]
		if top := high[i] - far; (now > top || next > top) && !(i == first && sign > 0) {
			top = high[i]
			if next > top {
				return false
			}
			f.suspect(i, 1, top, now-top, next-top)
		}
		if bottom := low[i] + far; (now < bottom || next < bottom) && !(i == first && sign < 0) {
			bottom = low[i]
			if next < bottom {
				return false
			}
			f.suspect(i, -1, -bottom, bottom-now, bottom-next)
		}
	}
	return true
}

// bow sets by how much modes and harmonics leave their chords in a span at most,
// and for suspect what their bends and lifts come to.
func (f *finder) bow(span *span) {
	s := f.seg
	n, rates := s.c.n, s.src.rates
	f.far = resize(f.far, f.short)
	f.bows = resize(f.bows, n)
	far, bend, lift, bows := f.far[:n], span.bend[:n], span.lift[:n], f.bows
	for k, xi := range s.xi[:n] {
		size, b, l := f.size[k], bend[k]/2, lift[k]/2
		far[k] = size * (b/2 + 2*l) // one of the two is zero
		bows[k] = bow{size * b, size * l, xi * b, xi * l}
	}
	f.enveloped = false
	if s.c.paired {
		for k, pair := range s.c.pair {
			if pair {
				far[k] += f.size[k] * lift[k] // as far from its envelope as its chord is
				b := &bows[k]
				b.bend, b.lift, b.bent, b.lifted = 2*b.bend, 2*b.lift, 0, 0
				bows[k+1] = bow{}
				f.enveloped = f.enveloped || lift[k] > 0
			}
		}
	}
	for h, r := range rates {
		f.far[n+h] = s.src.level[h] * r * r * span.half / 4
	}
}

// bow is what a mode's bend and lift in a span come to for a probe: its size times
// the first two, less its coefficient times the last two. Those are for modes
// whose sign is known, which bend one way.
type bow struct{ bend, lift, bent, lifted float64 }

// suspect adds the atom of sign·y − threshold for a probe of the segment's own,
// its values being fa and fb at the ends of a span, unless a closer look shows
// that it stays below zero between.
func (f *finder) suspect(i int, sign, threshold, fa, fb float64) {
	if f.stays(i, sign, fa, fb) {
		return
	}
	before := f.used
	f.add(f.own, i, sign, threshold)
	if f.used > before {
		f.fa, f.fb = append(f.fa, fa), append(f.fb, fb)
	}
}

// stays reports whether sign·y − threshold of a probe y is known to stay below
// zero in the span of the bows, fa and fb being its values at the ends: see under.
func (f *finder) stays(i int, sign, fa, fb float64) bool {
	if f.enveloped {
		return false
	}
	bows := f.bows
	n := len(bows)
	size, row := f.own.size[i*f.short:][:f.short], f.own.rows[i*f.nb:][:n]
	of, q, up := size[:n], 0.0, 0.0
	for k := range bows {
		b, y, x := &bows[k], of[k], sign*row[k]
		q += y*b.bend - x*b.bent
		up += y*b.lift - x*b.lifted
	}
	for h, x := range size[n:] {
		q += 4 * x * f.far[n+h]
	}
	return clears(fa+up, fb, q)
}
