package heat

import "sync"

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

// Pace is a stretch of constant power in a window as the boilers see it, side by side.
type Pace struct {
	Element, Link Lanes      // W
	Pocket        float64    // W
	Beats         int        // how many it lasts; see [Machine.Calm]
	_             [2]float64 // as in Rhythm
}

// spans are the responses to numbers of beats, from none to a window's.
type spans struct {
	known     bool // they have been found
	responses []calmSpan
}

// calmSpan is the responses to a time, of the boilers' modes and of the pocket.
type calmSpan struct {
	decay, one, two fives // see response
	pocket          response
	_               [1]float64 // as in Rhythm
}

func (s *spans) forget() { s.known = false }

// calmSums is what becomes a rhythm, mode by mode as if each node's input to it were 1.
type calmSums struct {
	heats, totals fives // amplitudes at the window's end, and their integrals
	keeps, drives fives // integrals, weighed with the element's power, of exp(−λt) and of the integral of that
	selves        fives // and of what the element's heat has made of the amplitude
	share, weight Lanes // see rhythmTotalsPlain
}

// Rhythm works out the paces of a window, which together last as long as one.
func (c *Calm) Rhythm(paces []Pace) *Rhythm {
	if len(c.spare) == 0 {
		c.spare = c.room.slab()
	}
	r := &c.spare[0]
	c.spare = c.spare[1:]
	r.epoch = c.epoch
	c.fill(r, paces)
	return r
}

// calmRoom is what rhythms and the responses to durations lie in.
type calmRoom struct {
	slabs []*calmSlab
	used  int // of them
	spans
	sums *calmSums
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

// learn finds the responses to all numbers of beats, those to many by joining those to
// half of them.
func (c *Calm) learn() {
	s := &c.room.spans
	if len(s.responses) <= c.beats {
		s.responses = make([]calmSpan, c.beats+1)
	}
	all := s.responses[:c.beats+1]
	all[0], all[1] = c.spanOf(0), c.spanOf(c.lanes.beat)
	for n := 2; n < len(all); n++ {
		first, then, d := &all[n/2], &all[n-n/2], float64(n-n/2)*c.lanes.beat
		spanJoin(&all[n], first, then, d)
		all[n].pocket = first.pocket.join(then.pocket, d)
	}
	s.known = true
}

// spanOf returns the responses to a time of d seconds.
func (c *Calm) spanOf(d float64) calmSpan {
	all := calmSpan{pocket: respond(c.pocketRate, d)}
	for i := range c.boilers {
		for j, l := range c.boilers[i].lambda {
			r := respond(l, d)
			all.decay[j][i], all.one[j][i], all.two[j][i] = r.decay, r.one, r.two
		}
	}
	return all
}

func (c *Calm) fill(r *Rhythm, paces []Pace) {
	room, inverse := c.room, c.lanes.single.pocketInverse
	if !room.known {
		c.learn()
	}
	responses := room.responses
	heat, sum := 0.0, 0.0
	above, beats := 0.0, 0 // K, by the paces before, and how long they last
	for i := range paces {
		w := &paces[i]
		beats += w.Beats
		e, power := &responses[w.Beats].pocket, w.Pocket*inverse
		heat += w.Pocket * float64(w.Beats)
		sum += above*e.one + power*e.two
		above = above*e.decay + power*e.one
	}
	_ = responses[beats] // kernels trust that there are so many
	r.pocket, r.pocketSum = heat*c.lanes.beat, sum
	together := rhythmTotals(c.lanes, &r.rhythm, room.sums, paces)
	rhythmRespond(room.sums, paces, responses)
	rhythmGather(c.lanes, &r.rhythm, room.sums)
	if together != 1<<Wide-1 {
		for l := range c.boilers {
			if together>>l&1 == 0 {
				c.alone(&r.rhythm, l, paces)
			}
		}
	}
}

// calmSame is by how much temperatures of links may be off, in kelvin, for their
// heat to count as a share of their elements', for one current heats both: rounding,
// at the temperatures that they have.
const calmSame = 5e-11

// alone works out what the heat of a link does where it is no share of its element's.
func (c *Calm) alone(p *rhythm, l int, paces []Pace) {
	var heats, totals fives
	for j := range heats {
		heat, total := 0.0, 0.0
		for i := range paces {
			e, q := &c.room.responses[paces[i].Beats], paces[i].Link[l]
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
