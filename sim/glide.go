package sim

import (
	"math"
	"time"

	"boilwright/sim/heat"
)

// mostGliding is the number of channels up to which windows can be told apart
// by the cycles that each is given, 16 bits, and their heat is taken at once.
const mostGliding = heat.Wide

// mostPlans bounds the plans that a class of temperatures keeps.
const mostPlans = 4096

// glide takes the whole window that ends at a time at once if nothing happens in it
// but what its plan says, and reports whether it did.
func (r *run) glide(h int64, end time.Duration) (bool, error) {
	m := r.m
	e, t0 := m.glides, float64(h)*r.half
	if e == nil || r.guard.open || !m.calm.Able(t0) {
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
	if s := r.heat.State(); !e.stays(s.Element, r.temps.Junction, bearable(s.Pocket)) {
		r.temperatures()
		e.enter(&r.temps)
	}
	key := planKey{from: e.at().bits(), factor: math.Float64bits(factor), counts: r.asked}
	p := e.cell.plans.find(key)
	if p == nil || !m.calm.Fits(p.rhythm) {
		r.temperatures() // in case that something is solved
		e.offset(r.temps.Junction)
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
	if !r.quiet(p) || !m.calm.Begin(t0, p.rhythm, 1.1) {
		return false, nil
	}
	r.follow(e, p)
	return true, nil
}

// temperatures sets those of the circuit from the machine; look has set the junctions'.
func (r *run) temperatures() {
	s := r.heat.State()
	r.temps.Board = bearable(s.Pocket)
	copy(r.temps.Element, s.Element)
}

// bearable is a temperature in °C up to where the semiconductors' laws end.
func bearable(t float64) float64 {
	if t > destroyed {
		return destroyed
	}
	return t
}

// quiet reports whether the supply's protection is sure to let a plan pass.
func (r *run) quiet(p *plan) bool {
	g, heat, earth := &r.guard, r.m.safe.heat, r.m.safe.earth
	return g.heat < heat && p.fuse.most < heat && p.earth.most < earth && g.cycle < earth
}
