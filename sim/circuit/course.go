package circuit

// course remembers the segments of the last half-cycle of either sign, which
// the next one most likely repeats.
type course struct {
	legs [2][]leg // by sign
	old  []leg    // of the half-cycle that is repeated
	at   int      // where in it
	side int
	none leg // what an unknown segment is expected to be like
}

// leg is a segment as a guess at the next one like it.
type leg struct {
	key    key
	serial uint64 // of its combination
	lasted float64
	who    int     // label of the atom that ended it, −1 for none
	way    float64 // sign of that atom
	// phi are the basis functions near its end, if known: evaluated at the time
	// at, tau after it began.
	phi     []float64
	at, tau float64
}

// turn begins a half-cycle.
func (c *course) turn(odd bool) {
	c.side = 0
	if odd {
		c.side = 1
	}
	c.old, c.legs[c.side] = c.legs[c.side], c.old[:0]
	c.at = 0
}

// expect returns the segment that one in a combination is going to be like,
// perhaps.
func (c *course) expect(in *combination) *leg {
	for i := c.at; i < len(c.old); i++ {
		if l := &c.old[i]; l.key == in.key {
			c.at = i + 1
			if l.serial != in.serial { // at another temperature
				l.serial, l.phi = in.serial, l.phi[:0]
			}
			return l
		}
	}
	c.none = leg{key: in.key, serial: in.serial, lasted: in.lasted, who: -1, phi: c.none.phi[:0]}
	return &c.none
}

// note keeps a segment that lasted from start until the finder arrived, and
// takes over what is known from the guess at it.
func (c *course) note(guess *leg, start float64, f *finder) {
	p, in, legs := f.arrived, f.seg.c, c.legs[c.side]
	if len(legs) < cap(legs) {
		legs = legs[:len(legs)+1] // with the room of an older one
	} else {
		legs = append(legs, leg{})
	}
	c.legs[c.side] = legs
	l := &legs[len(legs)-1]
	l.key, l.serial = in.key, in.serial
	l.lasted, l.who, l.way = p.t-start, f.who, f.way
	in.lasted = l.lasted
	l.phi, guess.phi = guess.phi, l.phi
	l.at, l.tau = guess.at, guess.tau
	if !f.recalls(l, l.lasted) && p.exact {
		l.phi = append(l.phi[:0], p.phi...)
		l.at, l.tau = p.t, l.lasted
	}
}

// search returns the end of the segment that begins at t: the first instant at
// which something may be demanded, or end. It looks a little further than the
// segment lasts by experience, where few thresholds matter, before it looks all
// the way.
func (s *Solver) search(t, end float64) (float64, error) {
	guess := s.course.expect(s.seg.c)
	if t1, ok := s.leap(guess, t, end); ok {
		s.course.note(guess, t, &s.find)
		return t1, nil
	}
	horizon := end
	if t+1.1*guess.lasted < end && guess.lasted > 0 {
		horizon = t + 1.1*guess.lasted + nudge
	}
	if err := s.watchList(t, horizon); err != nil {
		return 0, err
	}
	t1, ok := s.find.first(horizon, guess)
	if !ok && horizon < end {
		if err := s.watchList(t, end); err != nil {
			return 0, err
		}
		t1, _ = s.find.from(horizon, end, 0)
	}
	s.course.note(guess, t, &s.find)
	return t1, nil
}
