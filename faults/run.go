package faults

import (
	"math/rand/v2"
	"slices"
	"time"

	"boilwright/models"
)

// Run is one run of a [Set]: what has set in so far, and where each course
// stands. It must be shown the moments of one run in the order of time. To try
// a moment that may be taken back, show it to a Clone.
//
// A Run is not safe for concurrent use.
type Run struct {
	set    Set
	states []state
}

// state is where one injection stands.
type state struct {
	// An onset that has not come: whether its conditions besides the time are
	// met, and since when without a break.
	met   bool
	since time.Duration

	begun bool          // the conditions have held for long enough
	start time.Duration // when it begins to act; valid once begun

	// The dwell of an intermittent course: acting until end, or resting.
	acting bool
	end    time.Duration
	source rand.PCG

	film film // of a film that wets and dries
}

// level is what one injection does at a moment: 0 nothing, otherwise 1 plus
// the step of its severity. It stays so until next if only time passes; sharp
// tells that next is an onset with a delay.
type level struct {
	number int
	next   time.Duration
	sharp  bool
}

// Version returns a number for what the injections make of the board at
// moment m: equal versions mean equal edits, in this run and in any other run
// of the same set, and 0 is the healthy board. While only time passes the
// version stays until next, the next instant at which time alone changes it;
// [time.Duration] of math.MaxInt64 is never. Temperatures, gate powers,
// counts of half-cycles and the wetness of films can change it at any moment
// unless [Run.Timed] excludes that, so it must be asked often enough to see them: the
// wetness goes on with time, and next does not announce its steps.
//
// A change takes effect at the first zero of the supply at or after its
// instant, except one that [Run.Sharp] tells.
func (r *Run) Version(m models.Moment) (version uint64, next time.Duration) {
	next = never
	for i := range r.set {
		l := r.level(i, &m)
		version = version*r.set[i].Course.levels() + uint64(l.number)
		next = min(next, l.next)
	}
	return version, next
}

// Timed reports whether nothing but time changes the version any more: every
// injection has begun, and none is a film that wets and dries.
func (r *Run) Timed() bool {
	for i := range r.set {
		if !r.states[i].begun || r.set[i].Course.Wetting.wets() {
			return false
		}
	}
	return true
}

// Sharp returns the next instant at which an onset with a delay changes the
// board, there and then and not at the next zero of the supply; math.MaxInt64
// is never.
func (r *Run) Sharp(m models.Moment) time.Duration {
	next := time.Duration(never)
	for i := range r.set {
		if l := r.level(i, &m); l.sharp {
			next = min(next, l.next)
		}
	}
	return next
}

// Edit puts into b, a fresh clone of the healthy board, the faults that act
// at moment m, in the order of the set. The error tells what is wrong with
// the set for this board; b is then not to be used.
func (r *Run) Edit(b *models.Board, m models.Moment) error {
	if err := r.set.Check(b); err != nil {
		return err
	}
	for i, s := range r.Severities(m) {
		if err := r.set[i].apply(b, s); err != nil {
			return err
		}
	}
	return nil
}

// Severities returns the severity of each injection of the set at moment m,
// 0 for one that does not act: the ground truth of a run. That of a film that
// wets and dries is the one at which the film would have the conductance of
// its wetness.
func (r *Run) Severities(m models.Moment) []float64 {
	s := make([]float64, len(r.set))
	for i := range r.set {
		s[i] = r.set[i].severityAt(r.level(i, &m).number)
	}
	return s
}

// Set returns the injections of the run.
func (r *Run) Set() Set { return slices.Clone(r.set) }

// Clone returns a copy that can be shown moments without r knowing of them.
func (r *Run) Clone() *Run {
	return &Run{set: r.set, states: slices.Clone(r.states)}
}

// level brings the state of injection i to moment m.
func (r *Run) level(i int, m *models.Moment) level {
	j, s := &r.set[i], &r.states[i]
	c := &j.Course
	if !s.begun && !s.begin(j, m) {
		return level{next: never}
	}
	end := j.ends(s.start)
	switch {
	case m.Time >= end || s.start >= end:
		return level{next: never}
	case m.Time < s.start:
		// Not begun yet, if the conditions break before it.
		return level{next: s.start, sharp: j.Onset.Delay > 0}
	}
	l := level{number: 1, next: end}
	if c.intermittent() {
		for m.Time >= s.end {
			s.acting = !s.acting
			s.end = later(s.end, s.dwell(c))
		}
		if !s.acting {
			if s.end >= end { // it ends at rest
				return level{next: never}
			}
			return level{next: s.end}
		}
		l.next = min(l.next, s.end)
	}
	if c.Wetting.wets() {
		s.film.show(j, s.start, m)
		l.number = 1 + s.film.step
		return l
	}
	elapsed := m.Time - s.start
	for k := 1; k <= c.steps(); k++ {
		t := c.stepTime(k)
		if t > elapsed {
			l.next = min(l.next, later(s.start, t))
			break
		}
		l.number = 1 + k
	}
	return l
}

// begin follows the conditions of an onset. It reports whether they are met,
// and sets start to when the injection would begin if they stay so.
func (s *state) begin(j *Injection, m *models.Moment) bool {
	o := &j.Onset
	if !o.met(m, j.Channel) {
		s.met = false
		return false
	}
	if !s.met {
		s.met, s.since = true, m.Time
		if o.Spot == NoSpot && o.GatePower == 0 && o.HalfCycles == 0 {
			s.since = 0 // nothing but the time: met from the start
		}
	}
	held := later(max(o.From, s.since), o.Hold)
	s.start = later(held, o.Delay)
	if m.Time >= held {
		s.begun = true
		s.acting = true
		s.end = later(s.start, s.dwell(&j.Course))
	}
	return true
}

// ends returns when an injection that starts at the given time ends.
func (j *Injection) ends(start time.Duration) time.Duration {
	end := time.Duration(never)
	if j.Course.For > 0 {
		end = later(start, j.Course.For)
	}
	if j.Course.Until > 0 {
		end = min(end, j.Course.Until)
	}
	return end
}

// dwell returns how long the dwell lasts that the state is in.
func (s *state) dwell(c *Course) time.Duration {
	if !c.intermittent() {
		return never
	}
	mean := c.Off
	if s.acting {
		mean = c.On
	}
	if c.Fixed {
		return mean
	}
	d := rand.New(&s.source).ExpFloat64() * float64(mean)
	return max(1, time.Duration(min(d, float64(longest)*4)))
}

// later adds two times that are not negative, ending at never.
func later(t, d time.Duration) time.Duration {
	if d > never-t {
		return never
	}
	return t + d
}
