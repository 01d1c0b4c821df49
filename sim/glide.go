package sim

import (
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats"

	"boilwright/sim/heat"
)

// mostGliding is the number of channels up to which windows can be told apart
// by the cycles that each is given, 16 bits, and their heat is taken at once.
const mostGliding = heat.Wide

// mostPlans bounds the plans that a class of temperatures keeps.
const mostPlans = 4096

// plan is a whole window of known half-cycles in which nothing else happens:
// its energies at the temperatures of its class, how they follow the element
// resistances, and what they do to the heat.
type plan struct {
	to                       int     // the node in which it ends
	flip                     bool    // as its mirror image
	source                   float64 // J
	wiring, upstream, square share
	channels                 [mostGliding]planned
	rhythm                   *heat.Rhythm
	fuse                     struct{ keep, add, most float64 }
	earth                    struct{ most, last float64 } // A²s in a half-cycle
	pocket                   float64                      // J
}

// planned is one channel's part of a plan.
type planned struct {
	element, triac      share
	wire, gate, snubber float64   // J; the wire's goes with the square of the element's current
	minor               *[2]share // of gate and snubber, if they follow the resistances
	mixed               float64   // variance of what moved calls z over the pieces
	warm, leak          float64   // see warmth; the latter as a part of the triac's energy
	driven              int64     // half-cycles
	stages              []float64 // K that the triac's stages gain
	late                *lateness // nil where the triac fires early
}

// share is a group's energy in J and how it follows the element resistances,
// d ln E/d ln R by channel.
type share struct {
	energy float64
	slope  [mostGliding]float64
}

// drops sums what the moves of all channels' currents make of the energy.
func (s *share) drops(d *[mostGliding]float64) float64 {
	return s.slope[0]*d[0] + s.slope[1]*d[1] + s.slope[2]*d[2] + s.slope[3]*d[3]
}

// others is what the neighbours of channel k make of its energy.
func (s *share) others(d *[mostGliding]float64, k int) float64 {
	return others(s.drops(d) - s.slope[k]*d[k])
}

// glide takes the whole window that ends at a time at once if nothing happens in it
// but what its plan says, and reports whether it did.
func (r *run) glide(h int64, end time.Duration) (bool, error) {
	m := r.m
	e, ok := m.engine.(*reuse)
	if !ok || m.calm == nil || r.o.HalfCycles != nil || r.guard.open || r.n > mostGliding || !m.calm.Able(float64(h)*r.half) {
		return false, nil
	}
	level := &m.level
	if r.moment.Time >= level.until {
		level.factor, level.until = m.board.Supply.LevelAt(r.moment.Time)
	}
	if r.next < end || level.until < end {
		return false, nil
	}
	factor := level.factor
	r.temperatures()
	e.enter(&r.temps)
	key := planKey{from: e.at().bits(), factor: math.Float64bits(factor)}
	for k, c := range r.counts {
		key.counts |= uint64(c) << (16 * k)
	}
	p := e.cell.plans.find(key)
	if p == nil || !m.calm.Fits(p.rhythm) {
		e.class(r.temps)
		var err error
		if p, err = r.compose(e, factor); err != nil || p == nil {
			return false, err
		}
		key.from = e.at().bits() // in narrower classes perhaps
		if e.cell.plans.many >= mostPlans {
			e.cell.plans.drop()
		}
		e.cell.plans.add(key, p)
	}
	if !r.quiet(p) || !m.calm.Begin(float64(h)*r.half, p.rhythm, 1.1) {
		return false, nil
	}
	r.follow(e, p)
	return true, nil
}

// kept is what a number of half-cycles does to what warms under a constant
// power: what it leaves, exp(−t/τ), and what it adds.
type kept struct {
	left, gain []float64 // of the stages of each triac, channel by channel, and K/W
	fuse       float64
}

// keeps returns what whole cycles do, of a number of half-cycles.
func (r *run) keeps(halfs int64) *kept {
	m := r.m
	if m.kept == nil {
		m.kept = make([]kept, r.window/2+1)
	}
	out := &m.kept[halfs/2]
	if out.left != nil {
		return out
	}
	t := float64(halfs) * r.half
	out.left, out.gain = r.numbers.take(m.stages())[:0], r.numbers.take(m.stages())[:0]
	for k := range m.board.Channels {
		for _, f := range m.board.Channels[k].Triac.Foster {
			x := math.Exp(-t / float64(f.Time))
			out.left, out.gain = append(out.left, x), append(out.gain, (1-x)*float64(f.Resistance))
		}
	}
	if fuse := &m.board.Protection.Fuse; fuse.Fitted {
		out.fuse = math.Exp(-t / settling(fuse))
	}
	return out
}

// stages is the number of stages of all triacs.
func (m *machine) stages() int {
	n := 0
	for k := range m.board.Channels {
		n += len(m.board.Channels[k].Triac.Foster)
	}
	return n
}

// leaves returns what a window leaves of the stages of each triac.
func (r *run) leaves() [][]float64 {
	out := make([][]float64, r.n)
	rest := r.keeps(int64(r.window)).left
	for k := range out {
		stages := len(r.m.board.Channels[k].Triac.Foster)
		out[k], rest = rest[:stages], rest[stages:]
	}
	return out
}

// temperatures sets those of the circuit from the machine.
func (r *run) temperatures() {
	s := r.heat.State()
	r.temps.Board = min(s.Pocket, destroyed)
	junction := r.moment.Junction
	element, to, hot := s.Element[:len(junction)], r.temps.Element[:len(junction)], r.temps.Junction[:len(junction)]
	for k, tj := range junction {
		to[k], hot[k] = element[k], min(tj, destroyed)
	}
}

// compose makes the plan of the window whose counts of cycles are set; nil
// where half-cycles turn out not to be served again.
func (r *run) compose(e *reuse, factor float64) (*plan, error) {
	r.schedule()
	e.mark()
	defer e.rewind()
	if err := r.walk(0, int64(r.window), factor); err != nil {
		return nil, err
	}
	if r.m.engine != engine(e) {
		r.m.engine.rewind()
		return nil, nil
	}
	p := r.newPlan()
	p.to, p.flip = e.node, e.flip
	r.plan = slices.Grow(r.plan[:0], r.used)[:r.used]
	passed := 0.0 // s of the window
	clear(r.total.all)
	for i := range r.pieces[:r.used] {
		pc := &r.pieces[i]
		b, does := &pc.block, r.keeps(pc.halfs)
		floats.Add(r.total.all[:b.used], b.all[:b.used])
		r.join(e, p, pc, &r.plan[i], does)
		passed += r.plan[i].Duration
		if b.used > common(r.n) {
			collect(e, p, b, passed)
		}
		r.strain(p, pc, does)
	}
	r.share(e, p)
	p.rhythm = r.m.calm.Rhythm(r.plan)
	return p, nil
}

// join adds a piece to a plan, and sets w to its powers.
func (r *run) join(e *reuse, p *plan, pc *piece, w *heat.Piece, does *kept) {
	b, d := &pc.block, float64(pc.halfs)*r.half
	w.Duration = d
	if len(w.Element) != r.n {
		w.Element, w.Link = make([]float64, r.n), make([]float64, r.n)
	}
	r.power(&w.Powers, b.energy, d)
	rate, at := 1/d, 0
	left, gain := does.left, does.gain
	for k := range r.n {
		c, own := &p.channels[k], (*[tPerChannel]float64)(b.energy.channel(k))
		if heat := own[tElement]; heat > e.noise {
			// z²·heat, with z = (1 + slope/heat)/2
			twice := heat + b.slope[k].channel(k)[tElement]
			c.mixed += twice * twice / (4 * heat)
		}
		if pc.drives>>k&1 == 1 {
			c.driven += pc.halfs
		}
		power, stages := own[tTriac]*rate, c.stages
		for i, t := range stages {
			stages[i] = t*left[at] + power*gain[at]
			at++
		}
	}
}

// share sets s to group g of an account, noise being the energy in J below
// which it is rounding.
func (a *account) share(s *share, g int, noise float64) {
	s.energy = a.energy[g]
	if !(s.energy > noise) {
		return
	}
	per, slope := 1/s.energy, s.slope[:len(a.slope)]
	for k := range slope {
		slope[k] = a.slopes[g] * per
		g += len(a.energy)
	}
}

// share divides the energies of a plan among those who take them.
func (r *run) share(e *reuse, p *plan) {
	total := &r.total
	p.source = total.energy[tSource]
	total.share(&p.wiring, tWiring, e.noise)
	total.share(&p.upstream, tUpstream, e.noise)
	total.share(&p.square, tSquare, e.noise)
	for k := range r.n {
		c, own, at := &p.channels[k], total.energy.channel(k), tShared+k*tPerChannel
		total.share(&c.element, at+tElement, e.noise)
		total.share(&c.triac, at+tTriac, e.noise)
		c.wire, c.gate, c.snubber = own[tWire], own[tGate], own[tSnubber]
		if leak := total.leak[k]; leak > 0 {
			c.leak = leak / c.triac.energy
		}
		if e.minor && total.follows(at+tGate, at+tSnubber) {
			c.minor = new([2]share)
			total.share(&c.minor[0], at+tGate, e.noise)
			total.share(&c.minor[1], at+tSnubber, e.noise)
		}
		p.pocket += own[tTriac] + own[tGate] + own[tSnubber]
		if c.late != nil {
			c.late.warm(&r.m.board.Channels[k].Triac, own[tTriac])
		}
		if x := own[tElement]; x > e.noise {
			z := (1 + c.element.slope[k]) / 2
			c.warm, c.mixed = total.warm[k]/x, max(0, c.mixed/x-z*z)
		} else {
			c.mixed = 0
		}
	}
	p.pocket = max(p.pocket, math.SmallestNonzeroFloat64)
}

// newPlan returns an empty plan.
func (r *run) newPlan() *plan {
	const many = 16 // in a piece of memory at first
	p := &r.plans.Take(1, many)[0]
	stages := r.numbers.take(r.m.stages())
	for k := range r.n {
		own := len(r.m.board.Channels[k].Triac.Foster)
		p.channels[k].stages, stages = stages[:own:own], stages[own:]
	}
	p.fuse.keep = 1
	return p
}

// strain books what a piece does to the supply's protection.
func (r *run) strain(p *plan, pc *piece, does *kept) {
	if fuse := &r.m.board.Protection.Fuse; fuse.Fitted {
		steady := pc.block.energy[tSquare] / (float64(pc.halfs) * r.half) * settling(fuse)
		p.fuse.add = steady + (p.fuse.add-steady)*does.fuse
		p.fuse.keep *= does.fuse
		p.fuse.most = max(p.fuse.most, steady)
	}
	p.earth.last = pc.block.energy[tEarth] / float64(pc.halfs)
	p.earth.most = max(p.earth.most, p.earth.last)
}

// quiet reports whether the supply's protection is sure to let a plan pass.
func (r *run) quiet(p *plan) bool {
	g, dev := &r.guard, &r.m.board.Protection
	if dev.Fuse.Fitted && max(g.heat, p.fuse.most) >= float64(dev.Fuse.Melt) {
		return false
	}
	if !dev.Residual.Fitted {
		return true
	}
	least := float64(dev.Residual.Threshold) * float64(dev.Residual.Rated)
	return max(p.earth.most, g.cycle)/r.half < least*least
}

// follow carries out a plan.
func (r *run) follow(e *reuse, p *plan) {
	calm, cell := r.m.calm, e.cell
	n := r.n
	scale, linkScale := r.scale[:n], r.linkScale[:n]
	growth, junction := cell.growth[:n], cell.temps.Junction[:n]
	var m [mostGliding]moved
	var drops [mostGliding]float64
	means := calm.Means(p.rhythm, &r.scale)
	for k, g := range growth {
		m[k].move(g.base+g.rate*means[k], p.channels[k].element.slope[k])
		drops[k] = m[k].drop
	}
	late := r.lateness(e, p)
	// J, into the pocket, and more than the source gives at the temperatures of
	// the class.
	pocket, more := 0.0, 0.0
	if r.m.whole == nil {
		r.m.whole = r.leaves()
	}
	stages, whole, warmer := r.stages[:n], r.m.whole[:n], r.warmer[:n]
	cycles, driven, gates := r.moment.Cycles[:n], r.driven[:n], r.gate[:n]
	now := r.temps.Junction[:n]
	for k := range scale {
		c, x := &p.channels[k], &m[k]
		neighbours := c.element.others(&drops, k)
		// To second order (1 − y)/(1 − z·y)² is linear in z and z².
		s := (x.element() + 3*c.mixed*x.y*x.y) * neighbours * (1 + c.warm*(now[k]-junction[k]))
		link := x.wire() * neighbours
		triac := x.triac(c.triac.slope[k]) * c.triac.others(&drops, k)
		if c.leak > 0 {
			leak := &e.leaks[k]
			leak.move(now[k] - cell.temps.Leakage[k])
			triac += c.leak * leak.more
		}
		gate, snubber := c.gate, c.snubber
		if c.minor != nil {
			g, s := &c.minor[0], &c.minor[1]
			gate *= x.carried(g.slope[k]) * g.others(&drops, k)
			snubber *= x.carried(s.slope[k]) * s.others(&drops, k)
		}
		if d := late.channel(k); d[tElement] != 0 {
			s += d[tElement] / c.element.energy
			triac += d[tTriac] / c.triac.energy
			gate += d[tGate]
			snubber += d[tSnubber]
			more += d[tWire]
		}
		scale[k], linkScale[k] = s, link
		element := c.element.energy * s
		pocket += c.triac.energy*triac + gate + snubber
		more += element - c.element.energy + c.wire*(link-1)
		st, above := stages[k], 0.0
		left, gain := whole[k][:len(st)], c.stages[:len(st)]
		for i := range st {
			st[i] = st[i]*left[i] + triac*gain[i]
			above += st[i]
		}
		warmer[k] = above
		cycles[k] += c.driven
		driven[k] += c.driven
		gates[k] = gate
		r.acc.channel(k)[tElement] += element
	}
	calm.Advance(p.rhythm, &r.scale, &r.linkScale, pocket/p.pocket)
	r.heatEvents(calm.Turn())
	wiring := p.wiring.energy*others(p.wiring.drops(&drops)) + late[tWiring]
	upstream := p.upstream.energy*others(p.upstream.drops(&drops)) + late[tUpstream]
	source := p.source + more + pocket - p.pocket + wiring - p.wiring.energy + upstream - p.upstream.energy
	r.acc[tSource] += source
	r.acc[tWiring] += wiring
	r.acc[tSquare] += p.square.energy*others(p.square.drops(&drops)) + late[tSquare]
	r.res.Supply.Source += source
	r.res.Supply.Wiring += wiring
	r.accTime += float64(r.window) * r.half
	g := &r.guard
	g.heat = g.heat*p.fuse.keep + p.fuse.add
	g.cycle, g.above = p.earth.last, 0
	e.node, e.flip = p.to, p.flip
}
