package sim

import (
	"math"

	"boilwright/models"
	"boilwright/sim/heat"
)

// mostGliding is the number of channels up to which windows can be told apart
// by the cycles that each is given.
const mostGliding = 4

// mostPlans bounds the plans that a class of temperatures keeps.
const mostPlans = 4096

// planKey tells windows of a class apart: the state in which they begin, the
// supply level and the cycles given to each channel.
type planKey struct {
	node   int
	flip   bool
	factor float64
	counts [mostGliding]uint16
}

// plan is a whole window of known half-cycles in which nothing else happens:
// its energies at the temperatures of its class, how they follow the element
// resistances, and what they do to the heat.
type plan struct {
	to     int      // the node in which it ends
	flip   bool     // as its mirror image
	source float64  // J
	shared [3]share // wiring, upstream link, square
	driven []int64  // half-cycles, by channel
	rhythm *heat.Rhythm
	stages [][]float64 // K that the triacs' stages gain, by channel
	fuse   struct{ keep, add, most float64 }
	earth  struct{ most, last float64 } // A²s in a half-cycle
	pocket float64                      // J
	// own holds, channel by channel, the groups that are followed.
	own []share
	warmth
}

// share is a group's energy in J and how it follows the element resistances,
// d ln E/d ln R by channel.
type share struct {
	energy float64
	slope  [mostGliding]float64
}

// drops sums what the moves of all channels' currents make of the energy.
func (s *share) drops(m *[mostGliding]moved) float64 {
	return s.slope[0]*m[0].drop + s.slope[1]*m[1].drop + s.slope[2]*m[2].drop + s.slope[3]*m[3].drop
}

// others is what the neighbours of channel k make of its energy.
func (s *share) others(m *[mostGliding]moved, k int) float64 {
	return others(s.drops(m) - s.slope[k]*m[k].drop)
}

// glide takes a whole window at once if nothing happens in it but what its
// plan says, and reports whether it did.
func (r *run) glide(h int64) (bool, error) {
	m := r.m
	e, ok := m.engine.(*reuse)
	if !ok || m.calm == nil || r.o.HalfCycles != nil || r.guard.open || r.n > mostGliding || !m.calm.Able() {
		return false, nil
	}
	from, to := r.at(h), r.at(h+int64(r.window))
	if r.next < to {
		return false, nil
	}
	sup := &m.board.Supply
	for i := range sup.Events {
		if ev := &sup.Events[i]; ev.From > from && ev.From < to || ev.To > from && ev.To < to {
			return false, nil
		}
	}
	r.temperatures()
	e.class(r.temps)
	key := planKey{node: e.node, flip: e.flip, factor: sup.FactorAt(from)}
	for k, c := range r.counts {
		key.counts[k] = uint16(c)
	}
	p := e.cell.plans[key]
	if p == nil || !m.calm.Fits(p.rhythm) {
		var err error
		if p, err = r.compose(e, key.factor); err != nil || p == nil {
			return false, err
		}
		key.node, key.flip = e.node, e.flip // in narrower classes perhaps
		if len(e.cell.plans) >= mostPlans {
			clear(e.cell.plans)
		}
		e.cell.plans[key] = p
	}
	if !r.quiet(p) || !m.calm.Begin(float64(h)*r.half, p.rhythm, 1.1) {
		return false, nil
	}
	r.follow(e, p)
	return true, nil
}

// keep returns what a window leaves of the stages of each triac.
func (r *run) keep(b *models.Board) [][]float64 {
	out := make([][]float64, r.n)
	for k := range out {
		for _, f := range b.Channels[k].Triac.Foster {
			out[k] = append(out[k], math.Exp(-float64(r.window)*r.half/float64(f.Time)))
		}
	}
	return out
}

// temperatures sets those of the circuit from the machine.
func (r *run) temperatures() {
	s := r.heat.State()
	copy(r.temps.Element, s.Element)
	r.temps.Board = math.Min(s.Pocket, destroyed)
	for k, tj := range r.moment.Junction {
		r.temps.Junction[k] = math.Min(tj, destroyed)
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
	size := tallySize(r.n)
	p := &plan{
		to: e.node, flip: e.flip, driven: make([]int64, r.n), stages: make([][]float64, r.n),
		own: make([]share, r.n*len(followed)), warmth: newWarmth(r.n),
	}
	clear(r.sums)
	energy, slope := r.sums[:size], func(k int) tally { return r.sums[(k+1)*size:][:size] }
	for k := range r.n {
		p.stages[k] = make([]float64, len(r.stages[k]))
	}
	if cap(r.plan) < r.used {
		r.plan = make([]heat.Piece, r.used)
	}
	r.plan = r.plan[:r.used]
	fuse, residual := &r.m.board.Protection.Fuse, 0.0
	p.fuse.keep = 1
	for i := range r.pieces[:r.used] {
		pc := &r.pieces[i]
		b, d := pc.block, float64(pc.halfs)*r.half
		for g, x := range b.energy {
			energy[g] += x
			for k, s := range b.slope {
				if s != nil {
					slope(k)[g] += s[g] * x
				}
			}
		}
		for k := range r.n {
			p.warm[k] += b.warm[k] * b.energy.channel(k)[tElement]
			p.leak[k] += b.leak[k]
		}
		w := &r.plan[i]
		w.Duration = d
		if len(w.Element) != r.n {
			w.Element, w.Link = make([]float64, r.n), make([]float64, r.n)
		}
		r.power(&w.Powers, b.energy, d)
		for k := range r.n {
			if pc.drives>>k&1 == 1 {
				p.driven[k] += pc.halfs
			}
			r.m.board.Channels[k].Triac.FosterStep(p.stages[k], b.energy.channel(k)[tTriac]/d, d)
		}
		if fuse.Fitted {
			tau := fuseTime(fuse)
			p.fuse.add, _ = melt(fuse, p.fuse.add, b.energy[tSquare], d)
			p.fuse.keep *= math.Exp(-d / tau)
			p.fuse.most = math.Max(p.fuse.most, b.energy[tSquare]/d*tau)
		}
		residual = b.energy[tEarth] / float64(pc.halfs)
		p.earth.most = math.Max(p.earth.most, residual)
	}
	p.earth.last = residual
	for k := range r.n {
		c := energy.channel(k)
		p.pocket += c[tTriac] + c[tGate] + c[tSnubber]
	}
	p.pocket = math.Max(p.pocket, math.SmallestNonzeroFloat64)
	of := func(g int) share {
		s := share{energy: energy[g]}
		if s.energy > e.noise {
			for k := range r.n {
				s.slope[k] = slope(k)[g] / s.energy
			}
		}
		return s
	}
	p.source = energy[tSource]
	for i, g := range [...]int{tWiring, tUpstream, tSquare} {
		p.shared[i] = of(g)
	}
	for k := range r.n {
		if x := energy.channel(k)[tElement]; x > e.noise {
			p.warm[k] /= x
		} else {
			p.warm[k] = 0
		}
		for i, g := range followed {
			p.own[k*len(followed)+i] = of(tShared + k*tPerChannel + g)
		}
	}
	p.rhythm = r.m.calm.Rhythm(r.plan)
	return p, nil
}

// quiet reports whether the supply's protection is sure to let a plan pass.
func (r *run) quiet(p *plan) bool {
	g, dev := &r.guard, &r.m.board.Protection
	if dev.Fuse.Fitted && math.Max(g.heat, p.fuse.most) >= float64(dev.Fuse.Melt) {
		return false
	}
	if !dev.Residual.Fitted {
		return true
	}
	least := float64(dev.Residual.Threshold) * float64(dev.Residual.Rated)
	return math.Max(p.earth.most, g.cycle)/r.half < least*least
}

// followed are the groups of a channel that a plan keeps, in this order.
var followed = [...]int{tElement, tLink, tTriac, tGate, tSnubber, tWire}

// follow carries out a plan.
func (r *run) follow(e *reuse, p *plan) {
	b, calm := r.m.board, r.m.calm
	var m [mostGliding]moved
	for k := range r.n {
		ohms := b.Channels[k].Element.ResistanceAt(calm.Mean(p.rhythm, k, r.scale[k]))
		m[k] = move(ohms, e.cell.ohms[k], p.own[k*len(followed)].slope[k])
	}
	// J, into the pocket, and more than the source gives at the temperatures of
	// the class.
	pocket, more := 0.0, 0.0
	for k := range r.n {
		own, x := p.own[k*len(followed):][:len(followed)], &m[k]
		r.scale[k] = x.element() * own[0].others(&m, k) * (1 + p.warm[k]*e.shift[k])
		r.linkScale[k] = x.wire() * own[1].others(&m, k)
		triac := x.triac(own[2].slope[k]) * own[2].others(&m, k)
		if p.leak[k] > 0 {
			triac += p.leak[k] * (math.Exp(e.leaks[k]*leakLaw) - 1) / own[2].energy
		}
		gate := own[3].energy * x.power(own[3].slope[k]) * own[3].others(&m, k)
		snubber := own[4].energy * x.power(own[4].slope[k]) * own[4].others(&m, k)
		element := own[0].energy * r.scale[k]
		pocket += own[2].energy*triac + gate + snubber
		more += element - own[0].energy + own[5].energy*(r.linkScale[k]-1)
		st := r.stages[k]
		for i, keep := range r.m.keep[k] {
			st[i] = st[i]*keep + triac*p.stages[k][i]
		}
		r.moment.Cycles[k] += p.driven[k]
		r.driven[k] += p.driven[k]
		r.gate[k] = gate
		r.acc.channel(k)[tElement] += element
	}
	calm.Advance(p.rhythm, r.scale, r.linkScale, pocket/p.pocket)
	wiring := p.shared[0].energy * others(p.shared[0].drops(&m))
	upstream := p.shared[1].energy * others(p.shared[1].drops(&m))
	source := p.source + more + pocket - p.pocket + wiring - p.shared[0].energy + upstream - p.shared[1].energy
	r.acc[tSource] += source
	r.acc[tWiring] += wiring
	r.acc[tSquare] += p.shared[2].energy * others(p.shared[2].drops(&m))
	r.res.Supply.Source += source
	r.res.Supply.Wiring += wiring
	r.accTime += float64(r.window) * r.half
	g := &r.guard
	g.heat = g.heat*p.fuse.keep + p.fuse.add
	g.cycle, g.above = p.earth.last, 0
	e.node, e.flip = p.to, p.flip
}
