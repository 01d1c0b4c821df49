package heat

import (
	"math"
	"sync"
)

// Rhythm is what a window's pieces of power do to each boiler, per unit of
// their own powers. It belongs to the Calm that made it.
type Rhythm struct {
	rhythm
	epoch int
	_     [1]float64 // so that the next one's lanes are in place; see calmLanes
}

// rhythm is what kernels see of it, boilers side by side.
type rhythm struct {
	element, link      fives   // K at the window's end
	mean               linears // the element's mean temperature while it is heated, °C
	self               Lanes   // and what its own heat adds to that, K
	water, waterLink   Lanes   // K that the water's mean temperature gains
	energy, linkEnergy Lanes   // J
	pocket             float64 // J
	pocketSum          float64 // what its energy adds to the integral of the pocket's temperature, K s
}

// spans are the responses to durations. Pieces last a whole number of half-cycles,
// so that few are needed, and each has a slot of its own in a window of up to
// spanSlots half-cycles.
type spans struct {
	slots     []uint16 // 1 + the place of the last duration with that slot, or 0
	durations []float64
	responses []calmSpan // to each duration
}

// calmSpan is the responses to a duration, of the boilers' modes and of the pocket.
type calmSpan struct {
	decay, one, two fives // see response
	pocket          response
	_               [1]float64 // as in Rhythm
}

const (
	spanSlots = 1 << 10
	mostSpans = 1 << 12 // that are remembered, before the pieces at hand
)

func (s *spans) forget() {
	clear(s.slots)
	s.durations, s.responses = s.durations[:0], s.responses[:0]
}

// calmStep is a piece as the boilers see it, powers in W.
type calmStep struct {
	element, link Lanes
	duration      float64    // s
	at            int        // where its responses are
	_             [2]float64 // as in Rhythm
}

// calmSums is what becomes a rhythm, mode by mode as if each node's input to it were 1.
type calmSums struct {
	heats, totals fives // amplitudes at the window's end, and their integrals
	keeps, drives fives // integrals, weighed with the element's power, of exp(−λt) and of the integral of that
	selves        fives // and of what the element's heat has made of the amplitude
	share, weight Lanes // see rhythmTotalsPlain
}

// Rhythm works out the pieces of a window, which together last as long as one.
func (c *Calm) Rhythm(pieces []Piece) *Rhythm {
	if len(c.spare) == 0 {
		c.spare = c.room.slab()
	}
	r := &c.spare[0]
	c.spare = c.spare[1:]
	r.epoch = c.epoch
	c.fill(r, pieces)
	return r
}

// calmRoom is what rhythms and the responses to durations lie in.
type calmRoom struct {
	slabs []*calmSlab
	used  int // of them
	spans
	steps []calmStep
	sums  *calmSums
}

// calmSlab is some rhythms.
type calmSlab [16]Rhythm

// mostSlabs bounds how many slabs a room keeps.
const mostSlabs = 64

var spareRooms = sync.Pool{New: func() any { return newCalmRoom() }}

func newCalmRoom() *calmRoom { return &calmRoom{sums: new(calmSums)} }

// slab returns rhythms to be worked out.
func (r *calmRoom) slab() []Rhythm {
	var s *calmSlab
	if r.used < len(r.slabs) {
		s = r.slabs[r.used]
	} else if s = new(calmSlab); r.used < mostSlabs {
		r.slabs = append(r.slabs, s)
	}
	r.used++
	return s[:]
}

// Release hands back what the rhythms lie in, which then serves another Calm. Neither
// c nor a Rhythm that it made may be used thereafter. Calling it is never necessary.
func (c *Calm) Release() {
	r := c.room
	c.room, c.spare = nil, nil
	r.empty()
	spareRooms.Put(r)
}

// empty takes back all that was handed out.
func (r *calmRoom) empty() {
	r.used = 0
	r.forget()
}

// Fits reports whether r was made for the boilers as they are.
func (c *Calm) Fits(r *Rhythm) bool { return r.epoch == c.epoch }

// span returns where the responses to d seconds are.
func (c *Calm) span(d float64) int {
	s := &c.room.spans
	slot := 0
	if u := d / c.dt * (spanSlots - 1); u > 0 && u < spanSlots {
		slot = int(u)
	}
	if s.slots == nil {
		s.slots = make([]uint16, spanSlots)
	}
	if k := int(s.slots[slot]) - 1; k >= 0 && s.durations[k] == d {
		return k
	}
	at := len(s.responses)
	s.responses = append(s.responses, calmSpan{pocket: respond(c.pocketRate, d)})
	all := &s.responses[at]
	for i := range c.boilers {
		for j, l := range c.boilers[i].lambda {
			r := respond(l, d)
			all.decay[j][i], all.one[j][i], all.two[j][i] = r.decay, r.one, r.two
		}
	}
	s.durations = append(s.durations, d)
	if k := len(s.durations); k <= math.MaxUint16 {
		s.slots[slot] = uint16(k)
	}
	return at
}

func (c *Calm) fill(r *Rhythm, pieces []Piece) {
	room, n := c.room, len(c.boilers)
	if len(room.durations) >= mostSpans {
		room.forget()
	}
	if len(room.steps) < len(pieces) {
		room.steps = make([]calmStep, len(pieces))
	}
	steps := room.steps[:len(pieces)]
	heat, sum := 0.0, 0.0
	above := 0.0 // K, by the pieces before
	for i := range pieces {
		w, s := &pieces[i], &steps[i]
		s.at, s.duration, s.element, s.link = c.span(w.Duration), w.Duration, Lanes{}, Lanes{}
		element, link := w.Element[:n], w.Link[:n]
		for l := range element {
			s.element[l], s.link[l] = element[l], link[l]
		}
		e, power := &room.responses[s.at].pocket, w.Pocket*c.lanes.single.pocketInverse
		heat += w.Pocket * w.Duration
		sum += above*e.one + power*e.two
		above = above*e.decay + power*e.one
	}
	r.pocket, r.pocketSum = heat, sum
	together := rhythmTotals(c.lanes, &r.rhythm, room.sums, steps)
	rhythmRespond(room.sums, steps, room.responses)
	rhythmGather(c.lanes, &r.rhythm, room.sums)
	if together != 1<<Wide-1 {
		for l := range n {
			if together>>l&1 == 0 {
				c.alone(&r.rhythm, l, steps)
			}
		}
	}
	for l, energy := range r.energy {
		if energy == 0 {
			r.mean.x[elementNode][l] = 1 // the mean is that at the start
		}
	}
}

// calmSame is by how much temperatures of links may be off, in kelvin, for their
// heat to count as a share of their elements', for one current heats both: rounding,
// at the temperatures that they have.
const calmSame = 5e-11

// alone works out what the heat of a link does where it is no share of its element's.
func (c *Calm) alone(p *rhythm, l int, steps []calmStep) {
	var heats, totals fives
	for j := range heats {
		heat, total := 0.0, 0.0
		for i := range steps {
			e, q := &c.room.responses[steps[i].at], steps[i].link[l]
			total += heat*e.one[j][l] + q*e.two[j][l]
			heat = heat*e.decay[j][l] + q*e.one[j][l]
		}
		heats[j][l], totals[j][l] = heat, total
	}
	for k := range p.link {
		p.link[k][l] = c.lanes.byLink[k].dot(&heats, l)
	}
	p.waterLink[l] = c.lanes.byLink[waterNode].dot(&totals, l) / c.dt
}
