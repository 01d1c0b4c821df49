package sim

import (
	"math"

	"boilwright/models"
)

// What the supply's protection does.
const (
	FuseMelted     EventKind = "supply fuse melted"
	ResidualTrip   EventKind = "residual-current device tripped"
	ResidualUnsure EventKind = "residual current that a device of type AC is not assured to trip on"
)

// guard is the state of the supply's fuse and residual-current device.
type guard struct {
	open   bool    // the supply is cut off
	heat   float64 // of the fuse, A²s
	above  float64 // s for which the residual current has been at its threshold
	cycle  float64 // A²s of residual current in the half-cycle before
	unsure bool    // ResidualUnsure has been told
	why    EventKind
}

// safe returns the heat of a fuse, and ∫i² of the residual current in a half-cycle of half
// seconds, both in A²s, below which the supply's protection is sure not to act; +Inf
// where there is none.
func safe(p *models.Protection, half float64) (heat, earth float64) {
	heat, earth = math.Inf(1), math.Inf(1)
	if p.Fuse.Fitted {
		heat = float64(p.Fuse.Melt)
	}
	if p.Residual.Fitted {
		least := float64(p.Residual.Threshold) * float64(p.Residual.Rated)
		earth = least * least * half
	}
	return heat, earth
}

// fusing is the current, as a multiple of the rated current, that a fuse
// carries without ever melting: the conventional fusing current of IEC 60269
// (from memory).
const fusing = 1.6

// melt advances the fuse's heat q by one half-cycle of dt seconds with ∫i² of
// square:
//
//	dq/dt = i² − q/τ,  τ = Melt/(fusing·Rated)²
//
// A short overload melts it at ∫i² = Melt, a long one at fusing times the
// rated current. It reports whether it has melted.
func melt(f *models.Fuse, q, square, dt float64) (float64, bool) {
	steady, kept := settles(f, square, dt)
	q = steady + (q-steady)*kept
	return q, q >= float64(f.Melt)
}

// settles returns the q of a fuse, in A²s, that a current with the given integral
// of its square over dt tends to, and the part of another that is left after dt.
func settles(f *models.Fuse, square, dt float64) (steady, kept float64) {
	tau := settling(f)
	return square / dt * tau, math.Exp(-dt / tau)
}

// settling is the time constant τ of a fuse in s.
func settling(f *models.Fuse) float64 {
	rated := fusing * float64(f.Rated)
	return float64(f.Melt) / (rated * rated)
}

// breakTime is the longest time in seconds for which a residual-current
// device of general type may let a residual current pass that is x times its
// rated one: IEC 61008-1 Table 1 (0.3 s at 1, 0.04 s at 5; 0.15 s at 2 from
// memory). It is taken to need that time.
func breakTime(x float64) float64 {
	switch {
	case x >= 5:
		return 0.04
	case x >= 2:
		return 0.15
	}
	return 0.3
}

// trip returns after how many half-cycles of the stretch just walked the
// supply is cut off, or a number beyond its end.
func (r *run) trip() int64 {
	if !r.guarded() {
		return math.MaxInt32
	}
	g := r.guard
	halfs := int64(0)
	for i := range r.pieces[:r.used] {
		halfs += r.pass(&g, &r.pieces[i])
		if g.open {
			return halfs
		}
	}
	return math.MaxInt32
}

func (r *run) guarded() bool {
	p := &r.m.board.Protection
	return !r.guard.open && (p.Fuse.Fitted || p.Residual.Fitted)
}

// pass takes the protection through a piece and returns the half-cycles after
// which the supply is cut off, or all of them.
func (r *run) pass(g *guard, pc *piece) int64 {
	p := &r.m.board.Protection
	e, n := pc.block.energy, float64(pc.halfs)
	square, earth := e[tSquare]/n, e[tEarth]/n
	rms := math.Sqrt(math.Max(earth, g.cycle) / r.half) // an upper bound over any cycle
	if least := float64(p.Residual.Threshold) * float64(p.Residual.Rated); !p.Residual.Fitted || rms < least {
		q, gone := g.heat, false
		if p.Fuse.Fitted {
			q, gone = melt(&p.Fuse, g.heat, square*n, n*r.half)
		}
		if !gone {
			g.heat, g.cycle, g.above = q, earth, 0
			return pc.halfs
		}
	}
	mean := math.Abs(e[tCharge]) / (n * r.half)
	for h := int64(1); h <= pc.halfs; h++ {
		if r.halfCycle(g, square, earth, mean); g.open {
			return h
		}
	}
	return pc.halfs
}

// halfCycle takes the protection through one half-cycle.
func (r *run) halfCycle(g *guard, square, earth, mean float64) {
	p := &r.m.board.Protection
	if p.Fuse.Fitted {
		var gone bool
		if g.heat, gone = melt(&p.Fuse, g.heat, square, r.half); gone {
			g.open, g.why = true, FuseMelted
			return
		}
	}
	if !p.Residual.Fitted {
		return
	}
	rms := math.Sqrt((earth + g.cycle) / (2 * r.half)) // over the last cycle
	g.cycle = earth
	x := rms / float64(p.Residual.Rated)
	switch {
	case x < float64(p.Residual.Threshold):
		g.above = 0
	case p.Residual.TypeAC && mean > pulsating*rms:
		g.unsure = true
	default:
		if g.above += r.half; g.above >= breakTime(x)-1e-9 {
			g.open, g.why = true, ResidualTrip
		}
	}
}

// pulsating is the part of the rms value above which the mean of a residual
// current makes it a pulsating direct one: a half-wave has 0.64.
const pulsating = 0.3

// protect takes the protection through the stretch that begins at half-cycle
// h, for good, and tells what it did.
func (r *run) protect(h int64) {
	if !r.guarded() {
		return
	}
	was := r.guard.unsure
	for i := range r.pieces[:r.used] {
		h += r.pass(&r.guard, &r.pieces[i])
		if r.guard.open {
			r.event(r.at(h), -1, r.guard.why, "")
			return
		}
	}
	if r.guard.unsure && !was {
		r.event(r.at(h), -1, ResidualUnsure, "")
	}
}
