package sim

import "boilwright/sim/heat"

// ledger is what a plan needs of an account, in lanes, one a channel.
type ledger [ledgerLanes]heat.Lanes

// The lanes of a ledger. What energies follow by is d E/d ln R in J, by channel of R.
const (
	inElement   = iota // J
	inTriac            // J
	inGate             // J
	inSnubber          // J
	inWire             // J
	ofWarm             // J/K, see warmth
	ofLeak             // J
	ofMixed            // J, z²·E of the element: see moved
	ofDriven           // half-cycles
	inShared           // J and A²s: see ofWiring; the last is the source's
	byElement          // of elements
	byTriac     = byElement + heat.Wide
	byShared    = byTriac + heat.Wide
	ledgerLanes = byShared + heat.Wide
)

// ofSource is the source's lane of what is shared.
const ofSource = ofSquare + 1

// sharedGroups are the groups of a tally in those lanes.
var sharedGroups = [...]int{ofWiring: tWiring, ofUpstream: tUpstream, ofSquare: tSquare, ofSource: tSource}

// part is a number of half-cycles of a series as plans have them.
type part struct {
	ledger
	end    place
	piece  heat.Piece   // its powers
	does   *kept        // what it leaves of what warms
	gain   []heat.Lanes // K that the triacs' stages gain
	steady float64      // heat of the fuse that it tends to, A²s
	earth  float64      // A²s in a half-cycle
	rest   []float64    // the account, where gates, snubbers or late firings follow by it
}

// part takes a number of half-cycles of the same input.
func (r *run) part(e *reuse, in input, halfs int64) (*part, error) {
	s, i := e.from(in), int(halfs/2)
	if more := i + 1 - len(s.parts); more > 0 {
		s.parts = append(s.parts, make([]*part, more)...)
	}
	if p := s.parts[i]; p != nil {
		e.node, e.flip = int(p.end.node), p.end.flip == 1
		return p, nil
	}
	if err := e.advance(in, halfs, &r.whole); err != nil {
		return nil, err
	}
	p := r.newPart(e, in.drives, halfs)
	s.parts[i] = p
	return p, nil
}

// newPart makes a part of the half-cycles at hand.
func (r *run) newPart(e *reuse, drives uint32, halfs int64) *part {
	const many = 32 // in a piece of memory at first
	p, b, d := &r.parts.Take(1, many)[0], &r.whole, float64(halfs)*r.half
	p.end, p.does = e.at(), r.keeps(halfs)
	p.enter(&b.account, drives, float64(halfs), e.noise)
	powers := r.numbers.take(2 * r.n)
	p.piece.Duration = d
	p.piece.Element, p.piece.Link = powers[:r.n:r.n], powers[r.n:]
	r.power(&p.piece.Powers, b.energy, d)
	p.gain = r.banks.Take(r.deep, manyLanes)
	rate := 1 / d
	for i := range p.gain {
		for k, x := range p.ledger[inTriac] {
			p.gain[i][k] = x * rate * p.does.gain[i][k]
		}
	}
	if fuse := &r.m.board.Protection.Fuse; fuse.Fitted {
		p.steady = b.energy[tSquare] / d * settling(fuse)
	}
	p.earth = b.energy[tEarth] / float64(halfs)
	if e.minor || b.used > common(r.n) {
		p.rest = r.numbers.take(b.used)
		copy(p.rest, b.all)
	}
	return p
}

// enter sets the ledger to an account, of half-cycles with the given drives; energies
// in J up to noise are rounding.
func (l *ledger) enter(a *account, drives uint32, halfs, noise float64) {
	for lane, g := range sharedGroups {
		l[inShared][lane] = a.energy[g]
	}
	for j, slope := range a.slope {
		shared, element, triac := &l[byShared+j], &l[byElement+j], &l[byTriac+j]
		for lane, g := range sharedGroups {
			shared[lane] = slope[g]
		}
		for k := range a.warm {
			own := (*[tPerChannel]float64)(slope.channel(k))
			element[k], triac[k] = own[tElement], own[tTriac]
		}
	}
	for k, warm := range a.warm {
		own := (*[tPerChannel]float64)(a.energy.channel(k))
		l[inElement][k], l[inTriac][k], l[inGate][k], l[inSnubber][k], l[inWire][k] = own[tElement], own[tTriac], own[tGate], own[tSnubber], own[tWire]
		l[ofWarm][k], l[ofLeak][k] = warm, a.leak[k]
		if x := own[tElement]; x > noise {
			// z²·x, with z = (1 + slope/x)/2
			twice := x + l[byElement+k][k]
			l[ofMixed][k] = twice * twice / (4 * x)
		}
		if drives>>k&1 == 1 {
			l[ofDriven][k] = halfs
		}
	}
}

// addLedgerPlain is addLedger for every processor: it adds a ledger to another.
func addLedgerPlain(to, from *ledger) {
	for i := range to {
		for k := range heat.Wide {
			to[i][k] += from[i][k]
		}
	}
}
