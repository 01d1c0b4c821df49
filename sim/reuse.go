package sim

import (
	"math"
	"slices"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// reuse solves each distinct half-cycle of a board once. A half-cycle is
// distinct by the state in which it begins, its supply level and drives, and
// the class of its temperatures.
type reuse struct {
	sol    *circuit.Solver
	board  *models.Board
	levels [2][]float64 // drive voltages off, on
	cells  map[string]*cell
	like   map[string]*family // of cells
	sloped map[slopeKey][]tally
	cell   *cell
	node   int // state in its family from which the next half-cycle begins
	// How far the states of a node may be apart, see circuit.Solver.Alike.
	volts, amps, stranded float64

	noise float64   // J, energies below which are rounding
	rated []float64 // J, what each element takes in a half-cycle, cold
	// bridged tells that another path's losses are booked with a triac's.
	bridged []bool
	heated  bool // some opto's trigger current depends on the board's temperature
	each    bool // blocks keep their half-cycles apart
	// mirror tells that a half-cycle's mirror image is its successor: nodes are
	// then states before an even half-cycle, and flip tells that the present
	// state is the mirror image of its node.
	mirror, flip bool
	measure      bool // slopes are always measured
	minor        bool // the losses of some gate or snubber follow the resistances
	// widths are those of the classes of each channel's temperatures; narrowed
	// tells that some have changed since the state was last placed in a class.
	widths   []widths
	narrowed bool
	failing  bool    // a triac was near what it withstands
	strain   float64 // the largest part of that so far
	tails    tails
	shift    []float64 // junction temperatures above those of the class, K
	leaks    []leakage // by how much more they leak there
	late     []float64 // what that moves late firings by
	found    []found   // leaks that are hardest to follow
	ending   uint32    // channels whose current ended in the half-cycle solved last
	angles   []float64 // degrees at which channels last fired late

	room      *memory // for what blocks and steps hold
	scratched account
	id        []byte
	scratch   circuit.Snapshot
	drive     []float64
	drops     tally // of sum

	// Solved counts half-cycles that were solved, sensitivities included;
	// Served those taken from memory.
	Solved, Served int64

	marked struct {
		cell *cell
		node int
		flip bool
	}
}

// place is a state between half-cycles: a node of the cell, or its mirror image.
type place struct{ node, flip int32 }

// bits returns the place as one number.
func (p place) bits() uint64 { return uint64(uint32(p.node))<<1 | uint64(p.flip) }

// at returns the present place.
func (r *reuse) at() place {
	p := place{node: int32(r.node)}
	if r.flip {
		p.flip = 1
	}
	return p
}

// block is a run of half-cycles of the same input.
type block struct {
	account
	used   int        // numbers of the account that may not be zero
	halves []terminal // each half-cycle's part, if asked for
}

// node is a state between half-cycles.
type node struct {
	snap  circuit.Snapshot
	next  map[input]*step // the last solved; see step.other
	after uint32          // drives of the half-cycle that first led to it
}

// input is what acts on a half-cycle: drives by bit, and the supply level.
type input struct {
	drives uint32
	factor float64
}

// step is a solved half-cycle.
type step struct {
	energy tally
	// slope holds d ln E/d ln R of every group for each channel that carries
	// current; nil for the others.
	slope []tally
	// late is what energies gain by each channel's late firing, for what that
	// moves by 1; nil where none is late.
	late []tally
	// leaking is what energies gain by each channel's leak; nil where none tells.
	leaking []leaking
	warmth
	account []float64 // see row, once asked for
	to      int
	flips   bool   // it ends in the mirror image of that node
	cell    *cell  // in which it was solved
	idle    []idle // by channel; nil if it serves only there
	other   *step  // solved in another cell, from the same node with the same input
	// Room for slope and idle.
	slopes [mostGliding]tally
	idles  [mostGliding]idle
	// The first firing and the last extinction, in s from the start: +Inf and
	// −Inf where there is none.
	fires, ends float64
}

func newReuse(b *models.Board, sol *circuit.Solver, room *memory) *reuse {
	r := &reuse{sol: sol, board: b, room: room, cells: map[string]*cell{}, like: map[string]*family{}, sloped: map[slopeKey][]tally{}, mirror: sol.Symmetric(unlike)}
	n := len(b.Channels)
	r.shift, r.leaks, r.late, r.angles = make([]float64, n), leakages(n), make([]float64, n), make([]float64, n)
	r.widths = slices.Repeat([]widths{widest}, n)
	r.levels[0], r.levels[1] = make([]float64, n), make([]float64, n)
	r.drive, r.found = make([]float64, n), make([]found, n)
	r.drops = make(tally, tallySize(n))
	least := math.Inf(1)
	for k := range b.Channels {
		r.levels[0][k], r.levels[1][k] = float64(b.Channels[k].Drive.Off), float64(b.Channels[k].Drive.On)
		least = math.Min(least, float64(b.Channels[k].Element.Resistance))
		r.heated = r.heated || !math.IsInf(float64(b.Channels[k].Opto.TriggerScale), 1)
	}
	peak := math.Sqrt2 * float64(b.Supply.Voltage)
	r.volts, r.stranded = sameState*peak, strandedState*peak
	r.amps = closeState * peak / math.Min(least, 1000)
	for k := range b.Channels {
		r.rated = append(r.rated, peak*peak/2/float64(b.Channels[k].Element.Resistance)*b.Supply.HalfCycle())
	}
	r.bridged = make([]bool, n)
	for i := range b.Bridges {
		if x := &b.Bridges[i]; x.Part == models.TriacPart {
			r.bridged[x.Channel] = true
		}
	}
	r.noise = 1e-12 * peak * peak / math.Min(least, 1000) * b.Supply.HalfCycle()
	return r
}

// take leaves the solver's state, or its mirror image, in scratch.
func (r *reuse) take() {
	r.sol.Snapshot(&r.scratch)
	if r.mirror && r.scratch.Odd() {
		r.sol.Mirror(&r.scratch)
		r.flip = !r.flip
	}
}

// put gives the solver the present state.
func (r *reuse) put() {
	sn := r.cell.family.nodes[r.node].snap
	if r.flip {
		sn = sn.Clone()
		r.sol.Mirror(&sn)
	}
	r.sol.Restore(&sn)
	r.flip = false
}

// find returns the node of a state, adding it if it is new.
func (r *reuse) find(sn *circuit.Snapshot) int {
	for i, n := range r.cell.family.nodes {
		if r.sol.Alike(&n.snap, sn, r.volts, r.amps, r.stranded) {
			return i
		}
	}
	n := &node{next: map[input]*step{}}
	n.snap = sn.Clone()
	r.cell.family.nodes = append(r.cell.family.nodes, n)
	return len(r.cell.family.nodes) - 1
}

// step takes one half-cycle.
func (r *reuse) step(in input) (*step, error) {
	if st := r.known(r.cell.family.nodes[r.node], in); st != nil {
		r.Served++
		r.arrive(st)
		return st, nil
	}
	st, err := r.superpose(r.node, in)
	if err != nil {
		return nil, err
	}
	r.arrive(st)
	return st, nil
}

// reach returns the half-cycle from a node of the cell, solved once.
func (r *reuse) reach(at int, in input) (*step, error) {
	from := r.cell.family.nodes[at]
	if st := r.known(from, in); st != nil {
		return st, nil
	}
	rec, err := r.solve(from, in, r.cell.temps)
	if err != nil {
		return nil, err
	}
	n := len(r.board.Channels)
	st := &r.room.steps.Take(1, 16)[0]
	st.energy, st.slope, st.warmth = r.room.numbers.take(tallySize(n)), places(st.slopes[:], n), r.newWarmth()
	st.energy.from(rec, r.board)
	st.fires, st.ends = span(rec)
	r.feel(st, rec, in.factor)
	r.idle(st, in)
	flip := r.flip
	r.flip = false
	r.take()
	st.flips, r.flip = r.flip, flip
	many := len(r.cell.family.nodes)
	if st.to = r.find(&r.scratch); st.to == many {
		r.cell.family.nodes[many].after = in.drives
	}
	if err := r.slopes(st, from, in); err != nil {
		return nil, err
	}
	if r.narrowed {
		st.leaking = nil // it is solved again
	} else {
		if err := r.measureLate(st, from, in); err != nil {
			return nil, err
		}
		if err := r.measureLeaks(st, from, in); err != nil {
			return nil, err
		}
	}
	r.keep(from, in, st)
	return st, nil
}

func (r *reuse) arrive(st *step) {
	r.node = st.to
	r.flip = r.flip != st.flips
}

// solve runs the circuit from a state.
func (r *reuse) solve(from *node, in input, t circuit.Temperatures) (*circuit.Record, error) {
	r.sol.SetTemperatures(t)
	r.sol.Restore(&from.snap)
	for k := range r.drive {
		r.drive[k] = r.levels[in.drives>>k&1][k]
	}
	r.Solved++
	return r.sol.HalfCycle(circuit.Input{Factor: in.factor, Drive: r.drive})
}

func (r *reuse) mark() {
	r.marked.cell, r.marked.node, r.marked.flip = r.cell, r.node, r.flip
}

func (r *reuse) rewind() {
	r.cell, r.node, r.flip = r.marked.cell, r.marked.node, r.marked.flip
}

func (r *reuse) settle() {
	if r.cell != nil {
		flip := r.flip
		r.put()
		r.flip = flip
	}
}

func (r *reuse) restart() { r.cell = nil }

func (r *reuse) solved() int64 { return r.Solved }

// change lets do act on the solver in the present state.
func (r *reuse) change(do func(*circuit.Solver)) {
	if r.cell == nil {
		do(r.sol)
		return
	}
	r.put()
	do(r.sol)
	r.take()
	r.tails.failed = 0 // what failed may have been cut off
	r.node = r.find(&r.scratch)
}
