package sim

import "boilwright/sim/heat"

// ledger is what parts and plans need of an account, in lanes, one a channel.
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
	inLink      = byShared + heat.Wide // J
	ofBoard     = inLink + 1           // J and A²s: see ofPocket
	ledgerLanes = ofBoard + 1
)

// ofSource is the source's lane of what is shared.
const ofSource = ofSquare + 1

// The lanes of the board.
const (
	ofPocket = iota // J
	ofEarth         // A²s
)

// shared returns those groups of a tally in their lanes.
func shared(t tally) heat.Lanes {
	all := (*[tShared]float64)(t)
	return heat.Lanes{ofWiring: all[tWiring], ofUpstream: all[tUpstream], ofSquare: all[tSquare], ofSource: all[tSource]}
}

// part is a number of half-cycles of a series as plans have them.
type part struct {
	ledger
	power  heat.Lanes // W in the triacs
	pace   heat.Pace
	does   *kept     // what it leaves of what warms
	steady float64   // heat of the fuse that it tends to, A²s
	earth  float64   // A²s in a half-cycle
	rest   []float64 // the account, where gates, snubbers or late firings follow by it
	end    place
	_      [1]float64 // so that the next one's lanes are in place
}

// part returns that of a number of half-cycles, nil if it has not been made.
func (s *series) part(halfs int64) *part {
	if i := uint64(halfs) / 2; i < uint64(len(s.parts)) {
		return s.parts[i]
	}
	return nil
}

// newPart makes the part of a number of half-cycles of a series.
func (r *run) newPart(e *reuse, s *series, halfs int64) (*part, error) {
	first, cycles, err := e.through(s, halfs)
	if err != nil {
		return nil, err
	}
	const many = 32 // in a piece of memory at first
	p := &r.parts.Lend(1, many)[0]
	p.end, p.rest = e.at(), nil
	rate := 1 / (float64(halfs) * r.half)
	if cycles > 0 {
		if s.first == nil {
			both := r.ledgers.Lend(2, 32)
			s.first, s.each = &both[0], &both[1]
			r.enter(s.first, s, first.sum, halfs-2*cycles)
			r.enter(s.each, s, s.cycle, 2)
		}
		fill(p, s.first, s.each, float64(cycles), e.noise, rate)
	} else {
		r.enter(&p.ledger, s, first.sum, halfs)
		fill(p, &p.ledger, &p.ledger, 0, e.noise, rate)
	}
	p.pace.Pocket, p.pace.Beats = p.ledger[ofBoard][ofPocket]*rate, int(halfs/2)
	p.does = r.keeps(halfs)
	p.steady = 0
	if fuse := &r.m.board.Protection.Fuse; fuse.Fitted {
		p.steady = p.ledger[inShared][ofSquare] * rate * settling(fuse)
	}
	p.earth = p.ledger[ofBoard][ofEarth] / float64(halfs)
	used := len(first.sum)
	if cycles > 0 {
		used = max(used, len(s.cycle))
	}
	if e.minor || used > common(r.n) {
		b := &r.whole
		b.set(first.sum, s.cycle, float64(cycles))
		p.rest = r.numbers.Lend(b.used, manyNumbers)
		copy(p.rest, b.all)
	}
	r.remember(s, p)
	return p, nil
}

// remember lets a series have a part.
func (r *run) remember(s *series, p *part) {
	at := p.pace.Beats
	if at >= len(s.parts) {
		more := r.parted.Take(min(r.window/2+1, max(64, 2*at)), 1024)
		copy(more, s.parts)
		s.parts = more
	}
	s.parts[at] = p
}

// enter sets a ledger to the account of some half-cycles of a series.
func (r *run) enter(l *ledger, s *series, account []float64, halfs int64) {
	r.whole.set(account, nil, 0)
	l.enter(&r.whole.account, s.in.drives, float64(halfs))
}

// enter sets the ledger, but for what is mixed, to an account of half-cycles with the
// given drives.
func (l *ledger) enter(a *account, drives uint32, halfs float64) {
	*l = ledger{}
	board := &l[ofBoard]
	board[ofEarth] = a.energy[tEarth]
	l[inShared] = shared(a.energy)
	for j, slope := range a.slope {
		l[byShared+j] = shared(slope)
		element, triac := &l[byElement+j], &l[byTriac+j]
		for k := range a.warm {
			own := (*[tPerChannel]float64)(slope.channel(k))
			element[k], triac[k] = own[tElement], own[tTriac]
		}
	}
	for k, warm := range a.warm {
		own := (*[tPerChannel]float64)(a.energy.channel(k))
		l[inElement][k], l[inTriac][k], l[inGate][k], l[inSnubber][k] = own[tElement], own[tTriac], own[tGate], own[tSnubber]
		l[inWire][k], l[inLink][k] = own[tWire], own[tLink]
		board[ofPocket] += own[tTriac] + own[tGate] + own[tSnubber]
		l[ofWarm][k], l[ofLeak][k] = warm, a.leak[k]
		if drives>>k&1 == 1 {
			l[ofDriven][k] = halfs
		}
	}
}

// fillPlain is fill for every processor: it sets a part's ledger to one and so many times
// another, and what it adds to all that warms, with energies in J times rate the powers
// in W. Energies up to noise are rounding.
func fillPlain(p *part, first, each *ledger, times, noise, rate float64) {
	l := &p.ledger
	for i := range l {
		for k := range heat.Wide {
			l[i][k] = first[i][k] + float64(each[i][k]*times)
		}
	}
	for k, x := range l[inElement] {
		l[ofMixed][k] = 0
		if x > noise {
			// z²·x, with z = (1 + slope/x)/2
			twice := x + l[byElement+k][k]
			l[ofMixed][k] = twice * twice / (4 * x)
		}
		p.power[k], p.pace.Element[k], p.pace.Link[k] = l[inTriac][k]*rate, x*rate, l[inLink][k]*rate
	}
}

// sumPartsPlain is sumParts for every processor: it adds up the ledgers of parts that
// follow one another, and what the triacs' stages gain in them.
func sumPartsPlain(total *ledger, gain []heat.Lanes, parts []*part) {
	*total = ledger{}
	for _, p := range parts {
		for i := range total {
			for k := range heat.Wide {
				total[i][k] += p.ledger[i][k]
			}
		}
	}
	for i := range gain {
		for k := range heat.Wide {
			above := 0.0
			for _, p := range parts {
				above = float64(above*p.does.left[i][k]) + float64(p.power[k]*p.does.gain[i][k])
			}
			gain[i][k] = above
		}
	}
}
