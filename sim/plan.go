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
	course
	to     int  // the node in which it ends
	flip   bool // as its mirror image
	rhythm *heat.Rhythm
	pocket float64 // J into the pocket at the temperatures of the class, above 0
	fuse   struct{ keep, add, most float64 }
	earth  struct{ most, last float64 } // A²s in a half-cycle
	rare   *rarities                    // nil for most
	_      [1]float64                   // so that the next one's lanes are in place
}

// rarities is what few plans have, by channel.
type rarities struct {
	minor [mostGliding]*[2]share  // of gate and snubber, if they follow the resistances
	late  [mostGliding]*lateness  // where the triac fires late
	leaks [mostGliding]*leakiness // where what leaks through it tells
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
	m, cycles := r.m, halfs/2
	if m.kept == nil {
		m.kept = make([]kept, r.window/2+1)
	}
	out := &m.kept[cycles]
	if out.left != nil {
		return out
	}
	out.left, out.gain = r.banks.Take(r.deep, manyLanes), r.banks.Take(r.deep, manyLanes)
	if cycles <= 1 {
		r.keep(out, float64(halfs)*r.half)
		return out
	}
	// As some do after others.
	first, then := r.keeps(cycles/2*2), r.keeps((cycles+1)/2*2)
	for i := range out.left {
		left, gain, before, then, gained, more := &out.left[i], &out.gain[i], &first.left[i], &then.left[i], &first.gain[i], &then.gain[i]
		for k, x := range then {
			left[k], gain[k] = before[k]*x, gained[k]*x+more[k]
		}
	}
	out.fuse = first.fuse * then.fuse
	return out
}

// keep sets out to what t seconds do.
func (r *run) keep(out *kept, t float64) {
	out.fuse = 1
	for k := range r.m.board.Channels {
		for i, f := range r.m.board.Channels[k].Triac.Foster {
			x := -t / float64(f.Time)
			out.left[i][k], out.gain[i][k] = math.Exp(x), -math.Expm1(x)*float64(f.Resistance)
		}
	}
	if fuse := &r.m.board.Protection.Fuse; fuse.Fitted {
		out.fuse = math.Exp(-t / settling(fuse))
	}
}

// compose makes the plan of the window whose counts of cycles are set; nil
// where half-cycles turn out not to be served again.
func (r *run) compose(e *reuse, factor float64) (*plan, error) {
	r.schedule()
	e.mark()
	ok, err := r.gather(e, factor)
	end := e.at()
	e.rewind()
	if !ok || err != nil {
		return nil, err
	}
	const many = 16 // in a piece of memory at first
	p := &r.plans.Lend(1, many)[0]
	p.to, p.flip, p.rare = int(end.node), end.flip == 1, nil
	p.gain = r.banks.Lend(r.deep, manyLanes)
	total := &r.ledger
	sumParts(total, p.gain, r.made)
	p.pocket = max(divide(&p.course, total, &e.cell.growth, e.noise), math.SmallestNonzeroFloat64)
	if r.join(p) {
		r.rarely(e, p, total)
	}
	return p, nil
}

// gather makes up the list of a plan's parts, and reports whether there is one.
func (r *run) gather(e *reuse, factor float64) (ok bool, err error) {
	if err := r.collect(e, factor); err != nil || r.stands() {
		return true, err
	}
	if r.m.engine != engine(e) {
		return false, nil
	}
	return true, r.collect(e, factor)
}

// collect goes through the drives of a window, part by part.
func (r *run) collect(e *reuse, factor float64) error {
	r.made = r.made[:0]
	from := int64(0)
	for _, d := range r.drives {
		halfs := d.end - from
		s := e.from(input{d.drives, factor})
		p := s.part(halfs)
		if p == nil {
			var err error
			if p, err = r.newPart(e, s, halfs); err != nil {
				return err
			}
		}
		e.goTo(p.end)
		r.made = append(r.made, p)
		from = d.end
	}
	return nil
}

// join puts the parts of a plan one after the other, as the supply's protection and
// boilers see them, and reports whether some have what few have.
func (r *run) join(p *plan) (rare bool) {
	made := r.made
	if len(r.paces) < len(made) {
		r.paces = make([]heat.Pace, 2*len(made))
	}
	paces := r.paces[:len(made)]
	keep, sum, most, last, earth := 1.0, 0.0, 0.0, 0.0, 0.0
	for i, pt := range made {
		left := pt.does.fuse
		sum = pt.steady + (sum-pt.steady)*left
		keep *= left
		if pt.steady > most {
			most = pt.steady
		}
		if last = pt.earth; last > earth {
			earth = last
		}
		paces[i] = pt.pace
		rare = rare || pt.rest != nil
	}
	p.fuse.keep, p.fuse.add, p.fuse.most = keep, sum, most
	p.earth.most, p.earth.last = earth, last
	p.rhythm = r.m.calm.Rhythm(paces)
	return rare
}

// rarely sets what few plans have.
func (r *run) rarely(e *reuse, p *plan, sum *ledger) {
	total := &r.total
	clear(total.all)
	passed := 0.0 // s of the window
	for _, pt := range r.made {
		passed += 2 * float64(pt.pace.Beats) * r.half
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
		if l := r.leakiness(e, p, k); l != nil {
			p.rarely().leaks[k] = l
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
