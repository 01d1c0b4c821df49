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
	factor float64
	counts [mostGliding]uint16
}

// plan is a whole window of known half-cycles in which nothing else happens:
// its energies at the temperatures of its class, how they follow the element
// resistances, and what they do to the heat.
type plan struct {
	to     int   // the node in which it ends
	energy tally // J
	slope  []tally
	driven []int64 // half-cycles, by channel
	rhythm *heat.Rhythm
	stages [][]float64 // K that the triacs' stages gain, by channel
	fuse   struct{ keep, add, most float64 }
	earth  struct{ most, last float64 } // A²s in a half-cycle
	pocket float64                      // J

	// How often it was used since the last flush, and the sums of the
	// deviations δ of ln R and of their products.
	used    float64
	first   []float64
	second  []float64
	waiting bool
}

// glide takes a whole window at once if nothing happens in it but what its
// plan says, and reports whether it did.
func (r *run) glide(h int64) (bool, error) {
	m := r.m
	e, ok := m.engine.(*reuse)
	if !ok || m.calm == nil || r.o.HalfCycles != nil || r.guard.open || r.n > mostGliding {
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
	r.warm()
	e.class(r.temps)
	key := planKey{node: e.node, factor: sup.FactorAt(from)}
	for k, c := range r.counts {
		key.counts[k] = uint16(c)
	}
	p := e.cell.plans[key]
	if p == nil || !m.calm.Fits(p.rhythm) {
		var err error
		if p, err = r.compose(e, key.factor); err != nil {
			return false, err
		}
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

// warm sets the temperatures of the circuit from the machine.
func (r *run) warm() {
	s := r.heat.State()
	copy(r.temps.Element, s.Element)
	r.temps.Board = math.Min(s.Pocket, destroyed)
	for k, tj := range r.moment.Junction {
		r.temps.Junction[k] = math.Min(tj, destroyed)
	}
}

// compose makes the plan of the window whose counts of cycles are set.
func (r *run) compose(e *reuse, factor float64) (*plan, error) {
	r.schedule()
	e.mark()
	defer e.rewind()
	if err := r.walk(0, int64(r.window), factor); err != nil {
		return nil, err
	}
	size := tallySize(r.n)
	p := &plan{
		to: e.node, energy: make(tally, size), slope: make([]tally, r.n),
		driven: make([]int64, r.n), stages: make([][]float64, r.n),
		first: make([]float64, r.n), second: make([]float64, r.n*r.n),
	}
	all := make(tally, size*r.n)
	for k := range p.slope {
		p.slope[k] = all[k*size : (k+1)*size]
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
			p.energy[g] += x
			for k, s := range b.slope {
				if s != nil {
					p.slope[k][g] += s[g] * x
				}
			}
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
		c := p.energy.channel(k)
		p.pocket += c[tTriac] + c[tGate] + c[tSnubber]
	}
	p.pocket = math.Max(p.pocket, math.SmallestNonzeroFloat64)
	for k := range p.slope {
		for g := range p.slope[k] {
			if p.energy[g] > e.noise {
				p.slope[k][g] /= p.energy[g]
			} else {
				p.slope[k][g] = 0
			}
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

// follows returns the factor by which deviations d of ln R move the energies of
// group g: to second order, like the sums from which the energies are booked.
func (p *plan) follows(g int, d []float64) float64 {
	x := 0.0
	for k, s := range p.slope {
		x += s[g] * d[k]
	}
	return 1 + x + x*x/2
}

// follow carries out a plan.
func (r *run) follow(e *reuse, p *plan) {
	b, calm, d := r.m.board, r.m.calm, r.lnR
	for k := range r.n {
		t := calm.Mean(p.rhythm, k, r.scale[k])
		d[k] = ln1(b.Channels[k].Element.ResistanceAt(t)/e.cell.ohms[k] - 1)
	}
	pocket := 0.0
	for k := range r.n {
		c := tShared + k*tPerChannel
		r.scale[k] = p.follows(c+tElement, d)
		r.linkScale[k] = p.follows(c+tLink, d)
		triac, gate := p.follows(c+tTriac, d), p.energy[c+tGate]*p.follows(c+tGate, d)
		pocket += p.energy[c+tTriac]*triac + gate + p.energy[c+tSnubber]*p.follows(c+tSnubber, d)
		st := r.stages[k]
		for i, keep := range r.m.keep[k] {
			st[i] = st[i]*keep + triac*p.stages[k][i]
		}
		r.moment.Cycles[k] += p.driven[k]
		r.gate[k] = gate
	}
	calm.Advance(p.rhythm, r.scale, r.linkScale, pocket/p.pocket)
	p.used++
	for k, x := range d {
		p.first[k] += x
		for j := 0; j <= k; j++ {
			p.second[k*len(d)+j] += x * d[j]
		}
	}
	if !p.waiting {
		p.waiting = true
		r.waiting = append(r.waiting, p)
	}
	g := &r.guard
	g.heat = g.heat*p.fuse.keep + p.fuse.add
	g.cycle, g.above = p.earth.last, 0
	e.node = p.to
}

// book adds the energies of the plans carried out since the last time to the
// running sums, the shared groups as in [reuse.sum].
func (r *run) book() {
	for _, p := range r.waiting {
		n := len(p.first)
		for g, e := range p.energy {
			if e == 0 {
				continue
			}
			x, square, own := 0.0, 0.0, 0.0
			for k := range n {
				s := p.slope[k][g]
				x += s * p.first[k]
				own += s * p.second[k*n+k]
				square += s * s * p.second[k*n+k]
				for j := range k {
					square += 2 * s * p.slope[j][g] * p.second[k*n+j]
				}
			}
			switch g {
			case tSource:
				x -= own / 2
			case tWiring, tSquare:
				x += square/4 - own/2
			default:
				x += square / 2
			}
			e *= p.used + x
			r.acc[g] += e
			switch g {
			case tSource:
				r.res.Supply.Source += e
			case tWiring:
				r.res.Supply.Wiring += e
			}
		}
		r.accTime += p.used * float64(r.window) * r.half
		for k, h := range p.driven {
			r.driven[k] += h * int64(p.used)
		}
		p.used, p.waiting = 0, false
		clear(p.first)
		clear(p.second)
	}
	r.waiting = r.waiting[:0]
}

// ln1 is ln(1+x), by its series where that is exact to 1e-12.
func ln1(x float64) float64 {
	if math.Abs(x) > 0.02 {
		return math.Log1p(x)
	}
	return x * (1 - x*(1./2-x*(1./3-x*(1./4-x*(1./5-x*(1./6-x/7))))))
}
