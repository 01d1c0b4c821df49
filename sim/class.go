package sim

import (
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// Widths of the classes within which a half-cycle's solution serves again.
const (
	// classResistance is the width of a class of element resistance, as a
	// natural logarithm: 3 % is about 175 K of a common element alloy. Inside
	// it energies follow the resistances by their slopes, whose curvature
	// leaves less than 3e-6 of the energy.
	classResistance = 0.03
	// wideJunction is the width of a class of junction temperature in kelvins
	// where nothing is near a threshold: there a triac's temperature moves the
	// instant of firing by a small angle, which energies follow, and its
	// leakage, whose loss follows its law.
	wideJunction = 100.0
	// narrowJunction is the width where a triac leaks much, or one that blocks
	// is near what it withstands. Triggering currents differ by a tenth at most
	// inside it.
	narrowJunction = 25.0
	// lateJunction is the width where a triac fires late, or a gate path or a
	// snubber carries the load's current: there half a kelvin can move a firing
	// by degrees.
	lateJunction = 5.0
	// early is the angle in degrees up to which a firing is an early one: at
	// the cold end of a wide class it could come at 1.6 times that.
	early = 8.0
	// strained is the part of a triac's withstood rate of rise above which
	// heat could make it fire, failing the part above which a few kelvins could.
	strained = 0.2
	failing  = 0.8
	// unlike is the ratio up to which the triggering currents of a triac's two
	// polarities count as the same where it fires early: firing at 1.9° instead
	// of 1.7° costs a half-cycle 2e-6 of its energy.
	unlike = 1.5
	// leaky is the part of its heating power above which what leaks through a
	// blocking channel counts.
	leaky = 1e-4
	// classBoard is the width of a class of board temperature, which only
	// optos with a temperature law of their own feel.
	classBoard = 5.0
	// sameState is the part of the supply's peak by which the state at the
	// start of a half-cycle may differ from one already solved: a few
	// millivolts, which move a firing by some 1e-4 of its angle and hold less
	// than a picojoule. What a snubber has left of a charge dies away over
	// hundreds of half-cycles.
	sameState = 1e-5
	// stepLn is the change of ln R by which sensitivities are measured.
	stepLn = 0.001
	// countsFrom is the part of the source's energy below which a group has no
	// slope: the difference of two such energies is rounding, and as a
	// logarithm could be of any size.
	countsFrom = 1e-9
)

// cell is a class of temperatures.
type cell struct {
	temps  circuit.Temperatures
	lnR    []float64 // ln of the element resistances of the class
	nodes  []*node
	blocks map[blockKey]*block
	plans  map[planKey]*plan
	ohms   []float64 // the element resistances of the class
	// The class: lower and upper ends of element, junction and board temperatures.
	low, high circuit.Temperatures
}

// class sets the cell for the given temperatures, carrying the state over.
func (r *reuse) class(t circuit.Temperatures) {
	if r.cell == nil || r.narrowed || !r.cell.holds(&t) {
		r.place(t)
	}
	for k, x := range t.Junction {
		r.shift[k] = x - r.cell.temps.Junction[k]
	}
}

// place finds or makes the cell for the given temperatures.
func (r *reuse) place(t circuit.Temperatures) {
	if r.narrowed {
		r.narrowed = false
		clear(r.cells)
	}
	r.id = r.id[:0]
	put := func(i int) { r.id = append(r.id, byte(i), byte(i>>8)) }
	for k := range r.board.Channels {
		put(resistanceClass(&r.board.Channels[k].Element, t.Element[k]))
		put(int(math.Floor(t.Junction[k] / r.span)))
	}
	board := 25.0
	if r.heated {
		put(int(math.Floor(t.Board / classBoard)))
		board = classBoard * (math.Floor(t.Board/classBoard) + 0.5)
	}
	c, ok := r.cells[string(r.id)]
	if !ok {
		n := len(r.board.Channels)
		c = &cell{temps: circuit.Uniform(n, 25), lnR: make([]float64, n), blocks: map[blockKey]*block{}, plans: map[planKey]*plan{}}
		c.ohms = make([]float64, n)
		c.low, c.high = circuit.Uniform(n, math.Inf(-1)), circuit.Uniform(n, math.Inf(1))
		c.temps.Board = board
		if r.heated {
			c.low.Board, c.high.Board = board-classBoard/2, board+classBoard/2
		}
		for k := range r.board.Channels {
			e := &r.board.Channels[k].Element
			c.temps.Element[k] = classTemperature(e, resistanceClass(e, t.Element[k]))
			c.temps.Junction[k] = r.span * (math.Floor(t.Junction[k]/r.span) + 0.5)
			c.ohms[k] = e.ResistanceAt(c.temps.Element[k])
			c.lnR[k] = math.Log(c.ohms[k])
			c.low.Junction[k], c.high.Junction[k] = c.temps.Junction[k]-r.span/2, c.temps.Junction[k]+r.span/2
			c.low.Element[k], c.high.Element[k] = classEnds(e, resistanceClass(e, t.Element[k]))
		}
		r.cells[string(r.id)] = c
	}
	switch {
	case r.cell == nil:
		r.flip = false
		r.take()
	case r.flip && !r.mirror: // no longer
		r.scratch = r.cell.nodes[r.node].snap.Clone()
		r.sol.Mirror(&r.scratch)
		r.flip = false
	default:
		r.scratch = r.cell.nodes[r.node].snap
	}
	r.cell = c
	r.node = r.find(&r.scratch)
	r.scratch = circuit.Snapshot{}
}

// resistanceClass numbers the class of an element at t °C; class 0 runs from
// a little below 20 °C.
func resistanceClass(e *models.Element, t float64) int {
	ratio := 1 + float64(e.Coefficient)*(t-20)
	if !(ratio > 0.1) {
		ratio = 0.1
	}
	return int(math.Floor(math.Log(ratio)/classResistance + 0.1))
}

// classEnds returns temperatures between which a class lies for sure; it goes
// on a little beyond them.
func classEnds(e *models.Element, class int) (low, high float64) {
	a := float64(e.Coefficient)
	if a == 0 {
		return math.Inf(-1), math.Inf(1)
	}
	low = 20 + math.Expm1((float64(class)-0.1+1e-9)*classResistance)/a
	high = 20 + math.Expm1((float64(class)+0.9-1e-9)*classResistance)/a
	return min(low, high), max(low, high)
}

// holds reports whether temperatures lie well inside a class.
func (c *cell) holds(t *circuit.Temperatures) bool {
	for k, e := range t.Element {
		j := t.Junction[k]
		if !(e > c.low.Element[k] && e < c.high.Element[k] && j >= c.low.Junction[k] && j < c.high.Junction[k]) {
			return false
		}
	}
	return t.Board >= c.low.Board && t.Board < c.high.Board
}

func classTemperature(e *models.Element, class int) float64 {
	a := float64(e.Coefficient)
	if a == 0 {
		return 20
	}
	return 20 + math.Expm1((float64(class)+0.4)*classResistance)/a
}
