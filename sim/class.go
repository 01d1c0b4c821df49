package sim

import (
	"math"
	"slices"

	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/heat"
)

// Widths of the classes within which a half-cycle's solution serves again.
const (
	// wideResistance is the width of a class of element resistance, as a natural
	// logarithm, where energies follow the resistances by the response of the
	// network: 12 % is about 700 K of a common element alloy. What they follow
	// by is exact for a load behind an impedance.
	wideResistance = 0.12
	// narrowResistance is the width where channels feel each other's resistance,
	// or the currents of single half-cycles are asked for.
	narrowResistance = 0.03
	// coupled is the slope of a channel's energy with another's resistance above
	// which classes of resistance are narrow.
	coupled = 0.08
	// wideJunction is the width of a class of junction temperature in kelvins
	// where nothing is near a threshold: there a triac's temperature moves the
	// instant of firing by a small angle, which energies follow.
	wideJunction = 100.0
	// followedJunction is the width where a triac fires late and energies follow
	// its firing.
	followedJunction = 25.0
	// lateJunction is the width where they cannot, or a gate path carries the
	// load's current: there half a kelvin can move a firing by degrees.
	lateJunction = 5.0
	// gateMargin is by how much the gate current that a firing jumped to may
	// differ within a class of temperatures.
	gateMargin = 1.05
	// wideLeakage is the width of a class of the temperature at which triacs
	// leak: the loss of what leaks follows its law. narrowLeakage is the width
	// where it counts and another path's losses are booked with it, so that it
	// cannot be told.
	wideLeakage   = 75.0
	narrowLeakage = 25.0
	// leastLeakage is the narrowest of those, where what a blocking channel takes
	// cannot be followed to sameLeak of its heating energy.
	leastLeakage = 2.0
	sameLeak     = 1e-6
	// early is the angle in degrees up to which a firing is an early one: at
	// the cold end of a wide class it could come at 1.6 times that.
	early = 8.0
	// failing is the part of a triac's withstood rate of rise above which a few
	// kelvins could make it fire by itself.
	failing = 0.8
	// strainMargin is by how much the rate of rise across a triac may differ
	// within a class of temperatures.
	strainMargin = 1.15
	// unlike is the ratio up to which the triggering currents of a triac's two
	// polarities count as the same where it fires early: firing at 1.9° instead
	// of 1.7° costs a half-cycle 2e-6 of its energy.
	unlike = 1.5
	// leaky is the part of its heating power above which what leaks through a
	// blocking channel, with another path's losses, counts.
	leaky = 1e-4
	// classBoard is the width of a class of board temperature, which only
	// optos with a temperature law of their own feel.
	classBoard = 5.0
	// sameState is the part of the supply's peak by which the state at the start
	// of a half-cycle may differ from one already solved where every triac fires
	// early: a third of a volt, which moves a firing by a few per cent of its angle
	// and costs less than 1e-6 of the energy of one half-cycle in many. What a
	// snubber has left of a charge dies away over hundreds of half-cycles.
	sameState = 1e-3
	// closeState is the same where one fires late: a few millivolts, and of
	// currents in any case.
	closeState = 1e-5
	// strandedState is the same of a channel that its open link cuts off: what is
	// left in its snubber and across the link, a microjoule, dies away over dozens
	// of half-cycles and reaches nothing.
	strandedState = 1e-2
	// stepLn is the change of ln R by which sensitivities are measured.
	stepLn = 1e-4
	// countsFrom is the part of the source's energy below which a group has no
	// slope: the difference of two such energies is rounding, and as a
	// logarithm could be of any size.
	countsFrom = 1e-8
)

// widths are those of the classes of one channel's temperatures.
type widths struct {
	resistance        float64 // of ln R
	junction, leakage float64 // K
	late              bool    // its triac fires late, or not at all
}

var widest = widths{wideResistance, wideJunction, wideLeakage, false}

// narrow keeps the classes of channel k to the given widths.
func (r *reuse) narrow(k int, to widths) {
	w := &r.widths[k]
	to = widths{min(w.resistance, to.resistance), min(w.junction, to.junction), min(w.leakage, to.leakage), w.late || to.late}
	if *w == to {
		return
	}
	if to.late && !w.late {
		r.tails = tails{} // what was found does not hold for late firings
	}
	*w, r.narrowed = to, true
	if to.late {
		r.mirror = r.sol.Symmetric(1)
		r.volts = closeState * math.Sqrt2 * float64(r.board.Supply.Voltage)
	}
}

// near reports whether a triac was near a threshold, or a load's current went
// another way than its own.
func (r *reuse) near() bool {
	return slices.ContainsFunc(r.widths, func(w widths) bool { return w.late || w.junction <= lateJunction })
}

// sparing returns the width in K of the widest classes of junction temperature,
// by halves, within which something stays below a limit that it comes to the
// part x of in the middle, and that changes by exp(±T/scale).
func sparing(x, scale float64) float64 {
	width := wideJunction
	for width > lateJunction && x*math.Exp(width/2/scale) >= 1 {
		width /= 2
	}
	return max(width, lateJunction)
}

// number returns that of the class of a temperature. Where the semiconductors' laws
// end, what is hotter is a class of its own.
func number(t, width float64) float64 {
	if t >= destroyed {
		return math.Ceil(destroyed / width)
	}
	return math.Floor(t / width)
}

// middle returns the middle of the class of a temperature.
func middle(t, width float64) float64 {
	if t >= destroyed {
		return destroyed
	}
	return width * (number(t, width) + 0.5)
}

// bounds returns the ends of the class of a temperature.
func bounds(t, width float64) ends {
	if t >= destroyed {
		return ends{math.Nextafter(destroyed, 0), math.Inf(1)}
	}
	n := number(t, width)
	return ends{n * width, min((n+1)*width, destroyed)}
}

// cell is a class of temperatures.
type cell struct {
	temps  circuit.Temperatures
	family *family
	series []*series // the first of those that begin at each node
	plans  planTable
	ohms   []float64 // the element resistances of the class
	growth growth    // of those, and more
	firing []*firing // of channels that fire late
	gains  map[lateKey]lateGain
	// The class: ends of the elements' and junctions' temperatures, and of the
	// board's.
	channels []struct{ element, junction ends }
	board    ends
}

// ends are those of a range of temperatures in °C.
type ends struct{ low, high float64 }

func (e *ends) hold(t float64) bool { return t > e.low && t < e.high }

// class sets the cell for the given temperatures, carrying the state over, and
// how far the temperatures are from it.
func (r *reuse) class(t circuit.Temperatures) {
	r.enter(&t)
	r.offset(t.Junction)
	for k, x := range t.Junction {
		r.leaks[k/heat.Wide].move(k%heat.Wide, x-r.cell.temps.Leakage[k])
		r.late[k] = r.cell.firing[k].moves(r.shift[k])
	}
}

// offset sets how far the junctions' temperatures are from the cell's.
func (r *reuse) offset(junction []float64) {
	for k, x := range r.cell.temps.Junction {
		r.shift[k] = junction[k] - x
	}
}

// enter sets the cell for the given temperatures.
func (r *reuse) enter(t *circuit.Temperatures) {
	if !r.stays(t.Element, t.Junction, t.Board) {
		r.place(t)
	}
}

// stays reports whether the cell is that of the given temperatures too.
func (r *reuse) stays(element, junction []float64, board float64) bool {
	return r.cell != nil && !r.narrowed && r.cell.holds(element, junction, board)
}

// place finds or makes the cell for the given temperatures.
func (r *reuse) place(t *circuit.Temperatures) {
	r.spare(t.Junction)
	r.narrowed = false
	board := 25.0
	if r.heated {
		board = middle(t.Board, classBoard)
	}
	r.id = r.identify(r.id[:0], t)
	family := len(r.id)
	for k, t := range t.Junction {
		r.id = put(put(r.id, math.Round(100*r.widths[k].junction)), number(t, r.widths[k].junction))
	}
	c, ok := r.cells[string(r.id)]
	if !ok {
		c = r.newCell(t, board, r.familyOf(r.id[:family]))
		r.cells[string(r.id)] = c
	}
	switch {
	case r.cell == nil:
		r.flip = false
		r.take()
	case r.cell.family == c.family:
		r.cell = c
		return
	case r.flip && !r.mirror: // no longer
		r.scratch = r.cell.family.nodes[r.node].snap.Clone()
		r.sol.Mirror(&r.scratch)
		r.flip = false
	default:
		r.scratch = r.cell.family.nodes[r.node].snap
	}
	r.cell = c
	r.node = r.find(&r.scratch)
	r.scratch = circuit.Snapshot{}
}

// identify appends what the class of the given temperatures has in common with
// its family.
func (r *reuse) identify(id []byte, t *circuit.Temperatures) []byte {
	for k := range r.board.Channels {
		w := &r.widths[k]
		id = put(id, math.Round(w.resistance*100))
		id = put(id, float64(resistanceClass(&r.board.Channels[k].Element, t.Element[k], w.resistance)))
		id = put(id, math.Round(100*w.leakage))
		id = put(id, number(t.Junction[k], w.leakage))
		late := 0.0
		if w.late {
			late = 1
		}
		id = put(id, late)
	}
	if r.heated {
		id = put(id, number(t.Board, classBoard))
	}
	return id
}

// put appends a whole number to what identifies something.
func put(id []byte, x float64) []byte {
	i := int(x)
	return append(id, byte(i), byte(i>>8))
}

// familyOf finds or makes a family.
func (r *reuse) familyOf(id []byte) *family {
	f, ok := r.like[string(id)]
	if !ok {
		f = &family{firing: map[firingKey]*firing{}, bends: make([]float64, len(r.board.Channels))}
		r.like[string(id)] = f
	}
	return f
}

// first is the head of the list of series that begin at a node.
func (c *cell) first(node int) **series {
	if more := node + 1 - len(c.series); more > 0 {
		c.series = append(c.series, make([]*series, more)...)
	}
	return &c.series[node]
}

// newCell makes the class of the given temperatures.
func (r *reuse) newCell(t *circuit.Temperatures, board float64, f *family) *cell {
	n := len(r.board.Channels)
	c := &cell{
		family: f,
		temps:  circuit.Uniform(n, 25),
		ohms:   make([]float64, n), firing: make([]*firing, n),
		plans: planTable{room: &r.room.keyed},
	}
	c.channels = make([]struct{ element, junction ends }, n)
	c.temps.Leakage, c.temps.Board = make([]float64, n), board
	c.board = ends{math.Inf(-1), math.Inf(1)}
	if r.heated {
		c.board = ends{board - classBoard/2, board + classBoard/2}
	}
	for k := range r.board.Channels {
		e, w := &r.board.Channels[k].Element, &r.widths[k]
		class := resistanceClass(e, t.Element[k], w.resistance)
		c.temps.Element[k] = classTemperature(e, class, w.resistance)
		c.channels[k].element = classEnds(e, class, w.resistance)
		c.ohms[k] = e.ResistanceAt(c.temps.Element[k])
		junction, leakage := middle(t.Junction[k], w.junction), middle(t.Junction[k], w.leakage)
		c.temps.Junction[k], c.temps.Leakage[k] = junction, leakage
		if g := &c.growth; k < mostGliding {
			g.base[k], g.rate[k] = e.ResistanceAt(0)/c.ohms[k], float64(e.Resistance)*float64(e.Coefficient)/c.ohms[k]
			g.junction[k], g.leakage[k] = junction, leakage
		}
		c.firing[k] = f.firingOf(k, junction)
		x, y := bounds(t.Junction[k], w.junction), bounds(t.Junction[k], w.leakage)
		c.channels[k].junction = ends{max(x.low, y.low), min(x.high, y.high)}
	}
	return c
}

// resistanceClass numbers the class of an element at t °C; class 0 runs from
// a little below 20 °C.
func resistanceClass(e *models.Element, t, width float64) int {
	ratio := 1 + float64(e.Coefficient)*(t-20)
	if !(ratio > 0.1) {
		ratio = 0.1
	}
	return int(math.Floor(math.Log(ratio)/width + 0.1))
}

// classEnds returns temperatures between which a class lies for sure; it goes
// on a little beyond them.
func classEnds(e *models.Element, class int, width float64) ends {
	a := float64(e.Coefficient)
	if a == 0 {
		return ends{math.Inf(-1), math.Inf(1)}
	}
	low := 20 + math.Expm1((float64(class)-0.1+1e-9)*width)/a
	high := 20 + math.Expm1((float64(class)+0.9-1e-9)*width)/a
	return ends{min(low, high), max(low, high)}
}

// holds reports whether temperatures lie well inside a class.
func (c *cell) holds(element, junction []float64, board float64) bool {
	element, junction = element[:len(c.channels)], junction[:len(c.channels)]
	for k := range c.channels {
		if e := &c.channels[k]; !e.element.hold(element[k]) || !e.junction.hold(junction[k]) {
			return false
		}
	}
	return c.board.hold(board)
}

func classTemperature(e *models.Element, class int, width float64) float64 {
	a := float64(e.Coefficient)
	if a == 0 {
		return 20
	}
	return 20 + math.Expm1((float64(class)+0.4)*width)/a
}
