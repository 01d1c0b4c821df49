package sim

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"boilwright/sim/heat"
)

// plan is a whole window of known half-cycles in which nothing else happens:
// its energies at the temperatures of its class, how they follow the element
// resistances, and what they do to the heat.
type plan struct {
	to   int  // the node in which it ends
	flip bool // as its mirror image
	course
	rhythm *heat.Rhythm
	pocket float64 // J into the pocket at the temperatures of the class, above 0
	fuse   struct{ keep, add, most float64 }
	earth  struct{ most, last float64 } // A²s in a half-cycle
	rare   *rarities                    // nil for most
}

// rarities is what few plans have, by channel.
type rarities struct {
	minor [mostGliding]*[2]share // of gate and snubber, if they follow the resistances
	late  [mostGliding]*lateness // where the triac fires late
}

// rarely returns the plan's rarities.
func (p *plan) rarely() *rarities {
	if p.rare == nil {
		p.rare = new(rarities)
	}
	return p.rare
}

// share is a group's energy in J and how it follows the element resistances,
// d ln E/d ln R by channel.
type share struct {
	energy float64
	slope  [mostGliding]float64
}

// others is what the neighbours of channel k make of the energy by drops.
func (s *share) others(drops *heat.Lanes, k int) float64 {
	x := 0.0
	for j, drop := range drops {
		if j != k {
			x += s.slope[j] * drop
		}
	}
	return others(x)
}

// kept is what a number of half-cycles does to what warms under a constant
// power: what it leaves, exp(−t/τ), and what it adds.
type kept struct {
	left, gain []heat.Lanes // of the stages of each triac, and K/W
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
	out.left, out.gain, out.fuse = r.banks.Take(r.deep, manyLanes), r.banks.Take(r.deep, manyLanes), 1
	for k := range m.board.Channels {
		for i, f := range m.board.Channels[k].Triac.Foster {
			x := math.Exp(-t / float64(f.Time))
			out.left[i][k], out.gain[i][k] = x, (1-x)*float64(f.Resistance)
		}
	}
	if fuse := &m.board.Protection.Fuse; fuse.Fitted {
		out.fuse = math.Exp(-t / settling(fuse))
	}
	return out
}

// compose makes the plan of the window whose counts of cycles are set; nil
// where half-cycles turn out not to be served again.
func (r *run) compose(e *reuse, factor float64) (*plan, error) {
	r.schedule()
	e.mark()
	defer e.rewind()
	if err := r.collect(e, factor); err != nil {
		return nil, err
	}
	if !r.stands() {
		if r.m.engine != engine(e) {
			return nil, nil
		}
		if err := r.collect(e, factor); err != nil {
			return nil, err
		}
	}
	const many = 16 // in a piece of memory at first
	p := &r.plans.Take(1, many)[0]
	p.to, p.flip, p.fuse.keep = e.node, e.flip, 1
	p.gain = r.banks.Take(r.deep, manyLanes)
	if len(r.paces) < len(r.made) {
		r.paces = make([]heat.Piece, len(r.made))
	}
	var total ledger
	rest := false
	for i, pt := range r.made {
		addLedger(&total, &pt.ledger)
		p.join(pt)
		r.paces[i] = pt.piece
		rest = rest || pt.rest != nil
	}
	p.share(&total, e)
	if rest {
		r.rarely(e, p, &total)
	}
	p.rhythm = r.m.calm.Rhythm(r.paces[:len(r.made)])
	return p, nil
}

// collect goes through the drives of a window, part by part.
func (r *run) collect(e *reuse, factor float64) error {
	r.made = r.made[:0]
	from := int64(0)
	for _, d := range r.drives {
		p, err := r.part(e, input{d.drives, factor}, d.end-from)
		if err != nil {
			return err
		}
		r.made = append(r.made, p)
		from = d.end
	}
	return nil
}

// join adds what a part does to the triacs and to the supply's protection.
func (p *plan) join(pt *part) {
	left, gain := pt.does.left[:len(p.gain)], pt.gain[:len(p.gain)]
	for i := range p.gain {
		st, l, g := &p.gain[i], &left[i], &gain[i]
		st[0], st[1], st[2], st[3] = st[0]*l[0]+g[0], st[1]*l[1]+g[1], st[2]*l[2]+g[2], st[3]*l[3]+g[3]
	}
	p.fuse.add = pt.steady + (p.fuse.add-pt.steady)*pt.does.fuse
	p.fuse.keep *= pt.does.fuse
	p.fuse.most = max(p.fuse.most, pt.steady)
	p.earth.last = pt.earth
	p.earth.most = max(p.earth.most, pt.earth)
}

// share divides the energies of a plan among those who take them.
func (p *plan) share(total *ledger, e *reuse) {
	ones := heat.Lanes{1, 1, 1, 1}
	p.base, p.early, p.less, p.still = ones, ones, ones, ones
	p.near = heat.Lanes{math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1)}
	p.element, p.triac, p.wire, p.gate, p.shared = total[inElement], total[inTriac], total[inWire], total[inGate], total[inShared]
	p.rest = p.shared[ofSource] - p.shared[ofWiring] - p.shared[ofUpstream]
	p.shared[ofSource] = 0
	for lane, x := range p.shared {
		spread(&p.byShared, (*[heat.Wide]heat.Lanes)(total[byShared:]), lane, x, e.noise)
	}
	for k := range e.cell.growth {
		p.divide(total, e, k)
	}
	p.pocket = max(p.pocket, math.SmallestNonzeroFloat64)
}

// divide sets what a plan has of channel k.
func (p *plan) divide(total *ledger, e *reuse, k int) {
	element, triac, minor := p.element[k], p.triac[k], p.gate[k]+total[inSnubber][k]
	p.rest -= element + p.wire[k] + triac
	p.minor += minor
	p.pocket += triac + minor
	p.driven[k] = int64(total[ofDriven][k])
	if element > e.noise {
		per, slope := 1/element, total[byElement+k][k]
		z := (1 + slope*per) / 2
		p.mixed[k] = 3 * max(0, total[ofMixed][k]*per-z*z)
		p.warm[k] = total[ofWarm][k] * per
		p.early[k] = 1 - p.warm[k]*e.cell.temps.Junction[k]
		if slope != 0 {
			g := &e.cell.growth[k]
			p.base[k], p.rate[k], p.z[k], p.less[k] = g.base, g.rate, z, 1-z
		}
		spread(&p.byElement, (*[heat.Wide]heat.Lanes)(total[byElement:]), k, element, e.noise)
		p.byElement[k][k] = 0
	}
	if triac > e.noise {
		spread(&p.byTriac, (*[heat.Wide]heat.Lanes)(total[byTriac:]), k, triac, e.noise)
		p.byTriac[k][k] = 0
		p.still[k], p.slope[k], p.linear[k], p.square[k] = triacParts(total[byTriac+k][k]/triac, p.less[k])
	}
	if leak := total[ofLeak][k]; leak > 0 {
		p.leak[k], p.leaksAt[k], p.near[k] = leak/triac, e.cell.temps.Leakage[k], 1
	}
}

// spread sets a lane of what the drops of channels make of an energy in J, given
// d E/d ln R: half of d ln E/d ln R, by channel; nothing if it is noise.
func spread(by, of *[heat.Wide]heat.Lanes, lane int, energy, noise float64) {
	if !(energy > noise) {
		return
	}
	half := 0.5 / energy
	for j := range by {
		by[j][lane] = of[j][lane] * half
	}
}

// rarely sets what few plans have.
func (r *run) rarely(e *reuse, p *plan, sum *ledger) {
	total := &r.total
	clear(total.all)
	passed := 0.0 // s of the window
	for _, pt := range r.made {
		passed += pt.piece.Duration
		floats.Add(total.all[:len(pt.rest)], pt.rest)
		collect(e, p, pt.rest, passed)
	}
	for k := range r.n {
		at := tShared + k*tPerChannel
		total.energy[at+tGate], total.energy[at+tSnubber] = sum[inGate][k], sum[inSnubber][k]
		if total.follows(at+tGate, at+tSnubber) {
			minor := new([2]share)
			total.share(&minor[0], at+tGate, e.noise)
			total.share(&minor[1], at+tSnubber, e.noise)
			p.rarely().minor[k] = minor
		}
		if p.rare != nil && p.rare.late[k] != nil {
			p.rare.late[k].warm(&r.m.board.Channels[k].Triac, p.triac[k])
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
