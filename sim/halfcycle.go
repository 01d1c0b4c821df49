package sim

import (
	"math"

	"boilwright/models"
)

// HalfCycle is one half-cycle of a run as its supply sees it.
type HalfCycle struct {
	Index int64 // from 0 at the start of the run; even ones are positive
	// Board is the version of the board in force, not to be changed: equal
	// pointers are equal edits.
	Board *models.Board
	// Drives and Open are bits, bit k of channel k: it is driven; its thermal
	// link has opened.
	Drives, Open uint32
	Upstream     bool    // the upstream link has opened
	Voltage      float64 // V rms between L and N on the board
	Current      float64 // A rms in the supply lead
}

// terminal is what a block keeps of one of its half-cycles.
type terminal struct {
	volts, amps float64 // ∫v² dt and ∫i² dt, V²s and A²s
}

// tellEach makes blocks keep their half-cycles apart. What little current a
// channel's end of conduction leaves to the next half-cycle hangs on its
// resistance more than energies do.
func (r *reuse) tellEach() {
	r.each = true
	for k := range r.widths {
		r.widths[k].resistance = narrowResistance
	}
}

// keep notes each of the first n half-cycles of a series.
func (b *block) keep(s *series, n int64) {
	b.halves = b.halves[:0]
	known := int64(len(s.known)) - 1
	for i := range n {
		for i >= known {
			i -= 2
		}
		e := s.known[i+1].last.energy
		b.halves = append(b.halves, terminal{e[tVolts], e[tSquare]})
	}
}

// tell hands the half-cycles of the stretch that begins at half-cycle h to the
// one who asked. Those of a piece are scaled to its sums at the temperatures
// of the plan.
func (r *run) tell(h int64) {
	if r.o.HalfCycles == nil || r.guard.open {
		return
	}
	up := r.m.board.Upstream
	out := HalfCycle{Board: r.m.board, Upstream: r.upstreamOut || up != nil && up.Open}
	for k, open := range r.linkOut {
		if open {
			out.Open |= 1 << k
		}
	}
	for i := range r.pieces[:r.used] {
		pc := &r.pieces[i]
		out.Drives = pc.drives
		v, a := pc.scale(tVolts, r.half), pc.scale(tSquare, r.half)
		for _, x := range pc.block.halves {
			out.Index = h
			out.Voltage, out.Current = math.Sqrt(x.volts*v), math.Sqrt(x.amps*a)
			r.o.HalfCycles(out)
			h++
		}
	}
}

// scale turns an integral over a half-cycle of the piece's block into a mean
// at the temperatures of the plan.
func (pc *piece) scale(group int, half float64) float64 {
	if e := pc.block.energy[group]; e > 0 {
		return pc.sum[group] / e / half
	}
	return 1 / half
}
