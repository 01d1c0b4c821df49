package heat

import "math"

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
	element, link        modes5  // amplitudes at the window's end
	shell, shellLink     float64 // integral of the shell's temperature, K s
	water, waterLink     float64 // and of the water's
	mean                 linear  // the element's mean temperature while it is heated, °C
	self                 float64 // and what its own heat adds to that, K
	energy, linkEnergy   float64 // J
	warmWater, warmsLink float64 // K, if all the energy went into the water, and into the link
}

// span is a duration's responses: of the modes of each boiler, and of the
// pocket. Pieces last a whole number of half-cycles, so that few are needed.
type span struct {
	boilers [][calmNodes]response
	pocket  response
}

// mostSpans bounds the durations that are remembered.
const mostSpans = 4096

// calmStep is a piece as one boiler sees it, powers in W.
type calmStep struct {
	modes         *[calmNodes]response
	element, link float64
}

// Rhythm works out the pieces of a window, which together last as long as one.
func (c *Calm) Rhythm(pieces []Piece) *Rhythm {
	n := len(c.boilers)
	if len(c.spare) < n {
		c.spare = make([]rhythm, 16*n)
	}
	r := &Rhythm{epoch: c.epoch, boilers: c.spare[:n:n]}
	c.spare = c.spare[n:]
	c.fill(r, pieces)
	return r
}

// Fits reports whether r was made for the boilers as they are.
func (c *Calm) Fits(r *Rhythm) bool { return r.epoch == c.epoch }

// span returns the responses to d seconds.
func (c *Calm) span(d float64) *span {
	bits := math.Float64bits(d)
	s := c.spans[bits]
	if s == nil {
		s = &span{make([][calmNodes]response, len(c.boilers)), respond(c.pocketRate, d)}
		for k := range c.boilers {
			for j, l := range c.boilers[k].lambda {
				s.boilers[k][j] = respond(l, d)
			}
		}
		if len(c.spans) >= mostSpans {
			clear(c.spans)
		}
		c.spans[bits] = s
	}
	return s
}

func (c *Calm) fill(r *Rhythm, pieces []Piece) {
	c.along = c.along[:0]
	above := 0.0 // K, by the pieces before
	for i := range pieces {
		w := &pieces[i]
		s := c.span(w.Duration)
		c.along = append(c.along, s)
		e, power := s.pocket, w.Pocket*c.pocket.inverse
		r.pocket += w.Pocket * w.Duration
		r.pocketSum += above*e.one + power*e.two
		above = above*e.decay + power*e.one
	}
	for k := range c.boilers {
		o := &r.boilers[k]
		c.steps = c.steps[:0]
		for i := range pieces {
			w := &pieces[i]
			o.energy += w.Element[k] * w.Duration
			o.linkEnergy += w.Link[k] * w.Duration
			c.steps = append(c.steps, calmStep{&c.along[i].boilers[k], w.Element[k], w.Link[k]})
		}
		if o.energy != 0 || o.linkEnergy != 0 {
			o.respond(&c.boilers[k], c.steps)
		}
	}
}

// respond works out what the powers of a boiler's steps do to its modes: per
// mode first, as if each node's input to it were 1.
func (o *rhythm) respond(b *calmBoiler, steps []calmStep) {
	var sum, sumLink, free, forced modes5 // integrals of amplitudes; the mean by amplitudes and by forcing
	weight := 0.0
	if o.energy > 0 {
		weight = 1 / o.energy
	}
	for j := range sum {
		heat, heatLink := 0.0, 0.0       // amplitudes so far
		passed, before := 1.0, 0.0       // exp(−λt) and its integral, t the start of the step
		total, totalLink := 0.0, 0.0     // integrals of the amplitudes
		self, kept, driven := 0., 0., 0. // the element's integral, weighed with its power: of heat, passed and before
		for i := range steps {
			w := &steps[i]
			e, p, q := &w.modes[j], w.element, w.link
			integral := heat*e.one + p*e.two
			total += integral
			totalLink += heatLink*e.one + q*e.two
			self += p * integral
			left := passed * e.one
			kept += p * left
			driven += p * (e.two + e.one*before)
			heat = heat*e.decay + p*e.one
			heatLink = heatLink*e.decay + q*e.one
			before += left
			passed *= e.decay
		}
		in, inLink := b.in[elementNode][j], b.in[linkNode][j]
		o.element[j], o.link[j] = in*heat, inLink*heatLink
		sum[j], sumLink[j] = in*total, inLink*totalLink
		free[j], forced[j] = in*kept*weight, in*driven*weight
		o.self += in * in * self * weight
	}
	o.mean = b.follow(free, forced)
	o.shell, o.shellLink = b.in[shellNode].dot(&sum), b.in[shellNode].dot(&sumLink)
	o.water, o.waterLink = b.in[waterNode].dot(&sum), b.in[waterNode].dot(&sumLink)
	o.warmWater = o.energy * b.inverse[waterNode]
	o.warmsLink = o.linkEnergy * b.inverse[linkNode]
}
