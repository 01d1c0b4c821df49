package heat

import (
	"math"
	"sync"
)

// Rhythm is what a window's pieces of power do to each boiler, per unit of
// their own powers. It belongs to the Calm that made it.
type Rhythm struct {
	epoch     int
	boilers   []rhythm
	pocket    float64 // J
	pocketSum float64 // what its energy adds to the integral of the pocket's temperature, K s
}

// rhythm is the part of one boiler.
type rhythm struct {
	element, link      five    // K at the window's end
	mean               linear  // the element's mean temperature while it is heated, °C
	self               float64 // and what its own heat adds to that, K
	water, waterLink   float64 // K that the water's mean temperature gains
	energy, linkEnergy float64 // J
	reach              float64 // K, if all of it went into the water, and into the link
}

// spans are the responses to durations, of the modes of each boiler and of the
// pocket. Pieces last a whole number of half-cycles, so that few are needed, and
// each has a slot of its own in a window of up to spanSlots half-cycles.
type spans struct {
	slots     []uint16 // 1 + the place of the last duration with that slot, or 0
	durations []float64
	responses []response // boiler after boiler, then the pocket's, one duration after another
}

const (
	spanSlots = 1 << 10
	mostSpans = 1 << 12 // that are remembered, before the pieces at hand
)

func (s *spans) forget() {
	clear(s.slots)
	s.durations, s.responses = s.durations[:0], s.responses[:0]
}

// calmStep is a piece as one boiler sees it, powers in W.
type calmStep struct {
	element, link float64
	duration      float64 // s
	at            int     // where its responses are
}

// Rhythm works out the pieces of a window, which together last as long as one.
func (c *Calm) Rhythm(pieces []Piece) *Rhythm {
	if len(c.spare) == 0 {
		c.spare = c.room.slab(len(c.boilers))
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
	steps []calmStep // the pieces as one boiler sees them
}

// calmSlab is room for some rhythms.
type calmSlab struct {
	rhythms [16]Rhythm
	parts   []rhythm
}

// mostSlabs bounds how many slabs a room keeps.
const mostSlabs = 64

var spareRooms = sync.Pool{New: func() any { return new(calmRoom) }}

// slab returns rhythms of n boilers, all zero.
func (r *calmRoom) slab(n int) []Rhythm {
	var s *calmSlab
	if r.used < len(r.slabs) {
		s = r.slabs[r.used]
	} else if s = new(calmSlab); r.used < mostSlabs {
		r.slabs = append(r.slabs, s)
	}
	r.used++
	if many := n * len(s.rhythms); many > len(s.parts) {
		s.parts = make([]rhythm, many)
	} else {
		clear(s.parts[:many])
	}
	for i := range s.rhythms {
		s.rhythms[i] = Rhythm{boilers: s.parts[i*n : (i+1)*n : (i+1)*n]}
	}
	return s.rhythms[:]
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
	s, size := &c.room.spans, calmNodes*len(c.boilers)+1
	slot := 0
	if u := d / c.dt * (spanSlots - 1); u > 0 && u < spanSlots {
		slot = int(u)
	}
	if s.slots == nil {
		s.slots = make([]uint16, spanSlots)
	}
	if k := int(s.slots[slot]) - 1; k >= 0 && s.durations[k] == d {
		return k * size
	}
	at := len(s.responses)
	for k := range c.boilers {
		for _, l := range c.boilers[k].lambda {
			s.responses = append(s.responses, respond(l, d))
		}
	}
	s.responses = append(s.responses, respond(c.pocketRate, d))
	s.durations = append(s.durations, d)
	if k := len(s.durations); k <= math.MaxUint16 {
		s.slots[slot] = uint16(k)
	}
	return at
}

func (c *Calm) fill(r *Rhythm, pieces []Piece) {
	room := c.room
	if len(room.durations) >= mostSpans {
		room.forget()
	}
	if len(room.steps) < len(pieces) {
		room.steps = make([]calmStep, len(pieces))
	}
	steps := room.steps[:len(pieces)]
	pocket := calmNodes * len(c.boilers)
	above := 0.0 // K, by the pieces before
	for i := range pieces {
		w := &pieces[i]
		at := c.span(w.Duration)
		steps[i].at, steps[i].duration = at, w.Duration
		e, power := &room.responses[at+pocket], w.Pocket*c.pocket.inverse
		r.pocket += w.Pocket * w.Duration
		r.pocketSum += above*e.one + power*e.two
		above = above*e.decay + power*e.one
	}
	for k := range c.boilers {
		o, b := &r.boilers[k], &c.boilers[k]
		energy, linkEnergy := 0.0, 0.0
		for i := range steps {
			w, s := &pieces[i], &steps[i]
			p, q := w.Element[k], w.Link[k]
			s.element, s.link = p, q
			energy += p * w.Duration
			linkEnergy += q * w.Duration
		}
		o.energy, o.linkEnergy = energy, linkEnergy
		o.reach = energy*b.inverse[waterNode] + linkEnergy*b.inverse[linkNode]
		responses := room.responses[k*calmNodes:]
		share, together := o.share(b, steps)
		if energy != 0 {
			o.respond(b, steps, responses, share, c.dt)
		}
		if !together {
			o.respondLink(b, steps, responses, c.dt)
		}
	}
}

// calmSame is by how much temperatures of links may be off, in kelvin, for their
// heat to count as a share of their elements': rounding, at the temperatures that
// they have.
const calmSame = 5e-11

// share returns the link's share of the element's energy, and whether that is its
// share all along, for one current heats both.
func (o *rhythm) share(b *calmBoiler, steps []calmStep) (share float64, together bool) {
	if o.energy > 0 {
		share = o.linkEnergy / o.energy
	}
	apart := 0.0
	for i := range steps {
		w := &steps[i]
		apart += math.Abs(w.link-share*w.element) * w.duration
	}
	return share, apart*b.inverse[linkNode] <= calmSame
}

// respond works out what the powers of a boiler's steps, one or more, do to its
// temperatures in a window of dt seconds, with the link heated by a share of them:
// per mode first, as if each node's input to it were 1.
func (o *rhythm) respond(b *calmBoiler, steps []calmStep, responses []response, share, dt float64) {
	var heats, totals, keeps, drives, selves five
	first, rest := &steps[0], steps[1:]
	for j := range heats {
		e, p := &responses[first.at+j], first.element
		heat, total := p*e.one, p*e.two            // amplitude so far, and its integral
		passed, before := e.decay, e.one           // exp(−λt) and its integral, t the start of the step
		self, kept, driven := p*total, heat, total // the element's integral, weighed with its power: of heat, passed and before
		for i := range rest {
			w := &rest[i]
			e, p := &responses[w.at+j], w.element
			driven += p * (e.two + e.one*before)
			integral := heat*e.one + p*e.two
			total += integral
			self += p * integral
			heat = heat*e.decay + p*e.one
			left := passed * e.one
			kept += p * left
			before += left
			passed *= e.decay
		}
		heats[j], totals[j], keeps[j], drives[j], selves[j] = heat, total, kept, driven, self
	}
	weight := 0.0
	if o.energy > 0 {
		weight = 1 / o.energy
	}
	for k := range o.element {
		own := &b.byElement[k]
		o.element[k] = own.dot(&heats)
		o.mean.x[k] = own.dot(&keeps) * b.capacity[k] * weight
		o.link[k] = share * b.byLink[k].dot(&heats)
	}
	o.mean.shell = b.byElement[shellNode].dot(&drives) * weight
	o.mean.draw = b.byElement[waterNode].dot(&drives) * weight
	o.self = b.byElement[elementNode].dot(&selves) * weight
	o.water = b.byElement[waterNode].dot(&totals) / dt
	o.waterLink = share * b.byLink[waterNode].dot(&totals) / dt
}

// respondLink works out what the heat of the link does where it is no share of the
// element's.
func (o *rhythm) respondLink(b *calmBoiler, steps []calmStep, responses []response, dt float64) {
	var heats, totals five
	for j := range heats {
		heat, total := 0.0, 0.0
		for i := range steps {
			w := &steps[i]
			e := &responses[w.at+j]
			total += heat*e.one + w.link*e.two
			heat = heat*e.decay + w.link*e.one
		}
		heats[j], totals[j] = heat, total
	}
	for k := range o.link {
		o.link[k] = b.byLink[k].dot(&heats)
	}
	o.waterLink = b.byLink[waterNode].dot(&totals) / dt
}
