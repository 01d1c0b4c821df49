package sim

import (
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// tally is the energies of one half-cycle in joules, one number a group.
type tally []float64

// The groups of a tally: the shared ones, then per channel.
const (
	tSource = iota
	tWiring
	tOutside
	tUpstream
	tSquare // ∫i² dt of the supply current, A²s
	tEarth  // ∫i² dt of the earth conductor's current, A²s
	tCharge // ∫i dt of the same, A s
	tVolts  // ∫v² dt between L and N, V²s
	tShared
)

// Per channel.
const (
	tElement = iota
	tTriac
	tGate
	tSnubber
	tWire
	tLink
	tPerChannel
)

func tallySize(channels int) int { return tShared + channels*tPerChannel }

func (t tally) channel(k int) tally { return t[tShared+k*tPerChannel:][:tPerChannel] }

// from fills t with a record of the circuit.
func (t tally) from(r *circuit.Record, b *models.Board) {
	t[tSource], t[tWiring], t[tOutside], t[tUpstream] = r.Source, r.Wiring, r.Outside, r.Upstream
	t[tSquare], t[tEarth], t[tCharge] = r.CurrentSquared, r.EarthSquared, r.EarthCharge
	t[tVolts] = r.VoltageSquared
	for k := range r.Element {
		c := t.channel(k)
		c[tElement], c[tTriac], c[tGate], c[tSnubber], c[tWire] = r.Element[k], r.Triac[k], r.Gate[k], r.Snubber[k], r.Wire[k]
		// The link and the channel's wire carry the same current: their
		// losses divide as their resistances.
		link, wire := float64(b.Channels[k].Link.Resistance), float64(b.Channels[k].Wire)
		if th := &b.Channels[k].Thermostat; th.Fitted {
			wire += float64(th.Resistance)
		}
		c[tLink] = 0
		if s := link + wire; s > 0 && !math.IsInf(s, 1) {
			c[tLink] = r.Wire[k] * link / s
		}
	}
}

// Widths of the classes within which a half-cycle's solution serves again.
const (
	// classResistance is the width of a class of element resistance, as a
	// natural logarithm: 3 % is about 175 K of a common element alloy. Inside
	// it energies follow the resistances by their measured sensitivities,
	// whose curvature leaves less than 3e-6 of the energy.
	classResistance = 0.03
	// wideJunction is the width of a class of junction temperature in kelvins
	// where nothing is near a threshold: there a triac's temperature moves the
	// instant of firing by a small angle, which energies follow, and its
	// leakage, whose loss follows its law.
	wideJunction = 100.0
	// narrowJunction is the width elsewhere, where a half-cycle is not of that
	// kind. Triggering currents differ by a tenth at most inside it.
	narrowJunction = 25.0
	// early is the angle in degrees up to which a firing is an early one: at
	// the cold end of a wide class it could come at 1.6 times that.
	early = 8.0
	// strained is the part of a triac's withstood rate of rise above which
	// heat could make it fire.
	strained = 0.2
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

// reuse solves each distinct half-cycle of a board once. A half-cycle is
// distinct by the state in which it begins, its supply level and drives, and
// the class of its temperatures.
type reuse struct {
	sol    *circuit.Solver
	board  *models.Board
	levels [2][]float64 // drive voltages off, on
	cells  map[string]*cell
	known  map[slopeKey][]tally
	cell   *cell
	node   int // state in cell from which the next half-cycle begins
	volts  float64
	amps   float64
	noise  float64 // J, energies below which are rounding
	warm   bool    // some opto's trigger current depends on the board's temperature
	each   bool    // blocks keep their half-cycles apart
	// mirror tells that a half-cycle's mirror image is its successor: nodes are
	// then states before an even half-cycle, and flip tells that the present
	// state is the mirror image of its node.
	mirror, flip bool
	measure      bool // slopes are always measured
	// span is the width of the classes of junction temperature; narrowed tells
	// that it has changed since the state was last placed in a class.
	span     float64
	narrowed bool
	shift    []float64 // junction temperatures above those of the class, K

	id      []byte
	scratch circuit.Snapshot
	drive   []float64

	// Solved counts half-cycles that were solved, sensitivities included;
	// Served those taken from memory.
	Solved, Served int64

	marked struct {
		cell *cell
		node int
		flip bool
	}
}

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

// blockKey tells blocks of a cell apart.
type blockKey struct {
	node int
	flip bool
	in   input
	n    int64
}

// block is a run of half-cycles of the same input: their energies together,
// and how those follow the element resistances.
type block struct {
	energy tally
	slope  []tally // d ln E/d ln R by channel, nil where none
	warmth
	to   int  // the node in which it ends
	flip bool // and whether as its mirror image
	// halves is each half-cycle's part of the block, if asked for.
	halves []terminal
}

// warmth is how energies follow the junctions, by channel.
type warmth struct {
	// warm is d ln E/dT of the element, 1/K: a warm triac fires sooner. In a
	// block under way it is that times E.
	warm []float64
	// leak is the part in J of a triac's loss that its leakage makes.
	leak []float64
}

func newWarmth(n int) warmth { return warmth{make([]float64, n), make([]float64, n)} }

// node is a state between half-cycles.
type node struct {
	snap circuit.Snapshot
	next map[input]*step
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
	warmth
	to    int
	flips bool // it ends in the mirror image of that node
}

func newReuse(b *models.Board, sol *circuit.Solver) *reuse {
	r := &reuse{sol: sol, board: b, cells: map[string]*cell{}, known: map[slopeKey][]tally{}, mirror: sol.Symmetric(unlike), span: wideJunction}
	n := len(b.Channels)
	r.shift = make([]float64, n)
	r.levels[0], r.levels[1] = make([]float64, n), make([]float64, n)
	r.drive = make([]float64, n)
	least := math.Inf(1)
	for k := range b.Channels {
		r.levels[0][k], r.levels[1][k] = float64(b.Channels[k].Drive.Off), float64(b.Channels[k].Drive.On)
		least = math.Min(least, float64(b.Channels[k].Element.Resistance))
		r.warm = r.warm || !math.IsInf(float64(b.Channels[k].Opto.TriggerScale), 1)
	}
	peak := math.Sqrt2 * float64(b.Supply.Voltage)
	r.volts = sameState * peak
	r.amps = sameState * peak / math.Min(least, 1000)
	r.noise = 1e-12 * peak * peak / math.Min(least, 1000) * b.Supply.HalfCycle()
	return r
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
	if r.warm {
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
		if r.warm {
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
	sn := r.cell.nodes[r.node].snap
	if r.flip {
		sn = sn.Clone()
		r.sol.Mirror(&sn)
	}
	r.sol.Restore(&sn)
	r.flip = false
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

// find returns the node of a state, adding it if it is new.
func (r *reuse) find(sn *circuit.Snapshot) int {
	for i, n := range r.cell.nodes {
		if r.sol.Near(&n.snap, sn, r.volts, r.amps) {
			return i
		}
	}
	n := &node{next: map[input]*step{}}
	n.snap = sn.Clone()
	r.cell.nodes = append(r.cell.nodes, n)
	return len(r.cell.nodes) - 1
}

// advance takes n half-cycles of the same input.
func (r *reuse) advance(in input, n int64) (*block, error) {
	key := blockKey{r.node, r.flip, in, n}
	if b, ok := r.cell.blocks[key]; ok {
		r.node, r.flip = b.to, b.flip
		return b, nil
	}
	channels := len(r.board.Channels)
	b := &block{energy: make(tally, tallySize(channels)), slope: make([]tally, channels), warmth: newWarmth(channels)}
	for n > 0 {
		at, flip := r.node, r.flip
		odd, err := r.step(in)
		if err != nil {
			return nil, err
		}
		b.add(odd, 1, flip)
		r.keep(b, odd)
		if n--; n == 0 {
			break
		}
		flipped := r.flip
		even, err := r.step(in)
		if err != nil {
			return nil, err
		}
		b.add(even, 1, flipped)
		r.keep(b, even)
		n--
		if r.node == at && r.flip == flip && n >= 2 { // a whole cycle that ends where it began
			b.add(odd, n/2, flip)
			b.add(even, n/2, flipped)
			for range n / 2 {
				r.keep(b, odd, even)
			}
			n -= n / 2 * 2
		}
	}
	for _, s := range b.slope {
		for g := range s {
			if b.energy[g] > r.noise {
				s[g] /= b.energy[g]
			} else {
				s[g] = 0
			}
		}
	}
	for k := range b.warm {
		if e := b.energy.channel(k)[tElement]; e > r.noise {
			b.warm[k] /= e
		} else {
			b.warm[k] = 0
		}
	}
	b.to, b.flip = r.node, r.flip
	r.cell.blocks[key] = b
	return b, nil
}

// add adds n times a step; slopes are summed as slope times energy until the
// block is complete. In its mirror image the charge has the other sign.
func (b *block) add(s *step, n int64, flip bool) {
	for g, e := range s.energy {
		if g == tCharge && flip {
			e = -e
		}
		b.energy[g] += e * float64(n)
	}
	for k := range s.warm {
		b.warm[k] += s.warm[k] * s.energy.channel(k)[tElement] * float64(n)
		b.leak[k] += s.leak[k] * float64(n)
	}
	for k, sl := range s.slope {
		if sl == nil {
			continue
		}
		if b.slope[k] == nil {
			b.slope[k] = make(tally, len(s.energy))
		}
		for g, x := range sl {
			b.slope[k][g] += x * s.energy[g] * float64(n)
		}
	}
}

// step takes one half-cycle.
func (r *reuse) step(in input) (*step, error) {
	from := r.cell.nodes[r.node]
	st, ok := from.next[in]
	if ok {
		r.Served++
		r.arrive(st)
		return st, nil
	}
	rec, err := r.solve(from, in, r.cell.temps)
	if err != nil {
		return nil, err
	}
	n := len(r.board.Channels)
	st = &step{energy: make(tally, tallySize(n)), slope: make([]tally, n), warmth: newWarmth(n)}
	st.energy.from(rec, r.board)
	if !r.feel(st, rec) && r.span > narrowJunction {
		r.span, r.narrowed = narrowJunction, true
		r.mirror = r.sol.Symmetric(1)
	}
	flip := r.flip
	r.flip = false
	r.take()
	st.flips, r.flip = r.flip, flip
	st.to = r.find(&r.scratch)
	if err := r.slopes(st, from, in); err != nil {
		return nil, err
	}
	from.next[in] = st
	r.arrive(st)
	return st, nil
}

func (r *reuse) arrive(st *step) {
	r.node = st.to
	r.flip = r.flip != st.flips
}

// feel notes how a half-cycle follows the junctions' temperatures, and reports
// whether that is all that they do to it: every triac that conducts fires early
// and once, none that blocks leaks much or is near firing.
func (r *reuse) feel(st *step, rec *circuit.Record) bool {
	b := r.board
	sure := r.sol.Strain() < strained && st.plain()
	carrying := false
	omega := math.Pi / rec.Duration
	peak := math.Sqrt2 * float64(b.Supply.Voltage)
	for k := range st.warm {
		c, ch := st.energy.channel(k), &b.Channels[k]
		ohms := r.cell.ohms[k]
		if !st.carries(k) {
			st.leak[k] = c[tTriac]
			sure = sure && c[tTriac]+c[tElement] < leaky*peak*peak/2/ohms*rec.Duration
			continue
		}
		carrying = true
		for _, e := range rec.Events {
			if e.Kind != circuit.Fired || e.Channel != k {
				continue
			}
			if e.Degrees > early {
				sure = false
				continue
			}
			// dE = p(φ)·dφ/ω with φ from v(φ) = v₀ + I_GT·R, R the gate path's
			// resistance, and I_GT falling as exp(−T/T_g).
			phi := e.Degrees * math.Pi / 180
			fire := peak * math.Sin(phi)
			gate := float64(ch.GateResistance+ch.Opto.Slope+ch.Triac.GateSlope) * ch.Triac.TriggerAt(models.QuadrantI, r.cell.temps.Junction[k])
			if scale := float64(ch.Triac.TriggerScale); fire > 0 && scale > 0 {
				st.warm[k] += fire * fire / ohms * math.Tan(phi) * min(1, gate/fire) / (scale * omega * c[tElement])
			}
		}
	}
	return sure && (!carrying || r.sol.Dominant() > dominant)
}

// slopes measures how the energies of a step follow the element resistances.
// They serve all half-cycles of the same drives, polarity and resistance
// classes in which the same channels conduct: how the half-cycle begins and
// the junctions' temperatures hardly matter to them.
func (r *reuse) slopes(st *step, from *node, in input) error {
	id := slopeKey{in: in, odd: from.snap.Odd(), class: string(r.resistance())}
	for k := range st.slope {
		if st.carries(k) {
			id.conduct |= 1 << k
		}
	}
	known, ok := r.known[id]
	if !ok {
		known = make([]tally, len(st.slope))
		r.known[id] = known
	}
	if !r.measure && r.sol.Dominant() > dominant && st.plain() {
		return r.derive(st, id.conduct, known)
	}
	for k := range st.slope {
		e := &r.board.Channels[k].Element
		if e.Coefficient == 0 || !st.carries(k) {
			continue
		}
		if known[k] == nil {
			t := circuit.Temperatures{Element: append([]float64(nil), r.cell.temps.Element...), Junction: r.cell.temps.Junction, Board: r.cell.temps.Board}
			ratio := e.ResistanceAt(t.Element[k]) / float64(e.Resistance) * math.Exp(stepLn)
			t.Element[k] = 20 + (ratio-1)/float64(e.Coefficient)
			rec, err := r.solve(from, in, t)
			if err != nil {
				return err
			}
			s := make(tally, len(st.energy))
			s.from(rec, r.board)
			counts := max(countsFrom*st.energy[tSource], r.noise)
			for g := range s {
				if s[g] > counts && st.energy[g] > counts {
					s[g] = math.Log(s[g]/st.energy[g]) / stepLn
				} else {
					s[g] = 0
				}
			}
			known[k] = s
		}
		st.slope[k] = known[k]
	}
	return nil
}

// derive takes slopes from the response of the combination in which the
// half-cycle spent nearly all of its time: an element's energy R·i² goes with
// the square of its current, a triac's V_T0·|i| + r_T·i² in part, and what
// the switching instants cost does not follow at all.
func (r *reuse) derive(st *step, conduct uint32, known []tally) error {
	var sens *circuit.Sensitivity
	for j := range st.slope {
		if r.board.Channels[j].Element.Coefficient == 0 || conduct>>j&1 == 0 {
			continue
		}
		if known[j] == nil {
			if sens == nil {
				var err error
				if sens, err = r.sol.Sensitivity(conduct); err != nil {
					return err
				}
			}
			s := make(tally, len(st.energy))
			s[tSource], s[tWiring], s[tSquare] = sens.Source[j], 2*sens.Supply[j], 2*sens.Supply[j]
			s[tUpstream], s[tVolts] = 2*sens.Supply[j], 2*sens.Voltage[j]
			for k := range st.slope {
				if conduct>>k&1 == 0 {
					continue
				}
				d, c, e := sens.Element[k][j], s.channel(k), st.energy.channel(k)
				ch := &r.board.Channels[k]
				square := e[tElement] / ch.Element.ResistanceAt(r.cell.temps.Element[k]) // ∫i² dt
				c[tElement], c[tWire], c[tLink] = 2*d, 2*d, 2*d
				if k == j {
					c[tElement]++
				}
				if e[tTriac] > 0 {
					c[tTriac] = d * (1 + min(1, square*float64(ch.Triac.Slope)/e[tTriac]))
				}
			}
			known[j] = s
		}
		st.slope[j] = known[j]
	}
	return nil
}

// dominant is the part of a half-cycle that one combination must take for its
// response to give the slopes.
const dominant = 0.9

// slopeKey tells apart the half-cycles whose slopes differ.
type slopeKey struct {
	in      input
	odd     bool
	conduct uint32
	class   string
}

// plain reports whether the load's current takes its proper path: not that of
// a gate or a snubber.
func (s *step) plain() bool {
	sum := 0.0
	for k := range s.slope {
		c := s.energy.channel(k)
		sum += c[tGate] + c[tSnubber]
	}
	return sum < 1e-3*s.energy[tSource]
}

// carries reports whether channel k carries a current that counts.
func (s *step) carries(k int) bool {
	return s.energy.channel(k)[tElement] > 1e-5*s.energy[tSource]
}

// resistance identifies the present classes of element resistance.
func (r *reuse) resistance() []byte {
	var id []byte
	for k := range r.board.Channels {
		e := &r.board.Channels[k].Element
		id = append(id, byte(resistanceClass(e, r.cell.temps.Element[k])))
	}
	return id
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

func (r *reuse) restart()      { r.cell = nil }
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
	r.node = r.find(&r.scratch)
}

// exp is the exponential function, by its series where that is exact to
// 1e-12.
func exp(x float64) float64 {
	if math.Abs(x) > 0.03 {
		return math.Exp(x)
	}
	return 1 + x*(1+x/2*(1+x/3*(1+x/4*(1+x/5))))
}

// sum adds the energies of a block to total, in joules, with the elements at
// the resistances whose logarithms are lnR.
//
// A channel's energies follow the resistances as powers. What the channels
// share is a sum over them: the source's energy goes with Σ I, the losses of
// the wiring and the square of the current with (Σ I)², and a channel's I with
// 1/R.
func (r *reuse) sum(b *block, lnR []float64, total tally) {
	for g, e := range b.energy {
		if e == 0 {
			continue
		}
		x := 0.0
		for k, s := range b.slope {
			if s == nil {
				continue
			}
			d := lnR[k] - r.cell.lnR[k]
			switch g {
			case tSource, tWiring, tSquare:
				d = 1 - exp(-d)
			}
			x += s[g] * d
		}
		if k := g - tShared; k >= 0 {
			switch ch := k / tPerChannel; k % tPerChannel {
			case tElement:
				x += b.warm[ch] * r.shift[ch]
			case tTriac:
				if leak := b.leak[ch]; leak > 0 {
					e += leak * (math.Exp2(r.shift[ch]/10) - 1)
				}
			}
		}
		switch g {
		case tSource:
			for k, w := range b.warm {
				total[g] += w * r.shift[k] * b.energy.channel(k)[tElement]
				if leak := b.leak[k]; leak > 0 {
					total[g] += leak * (math.Exp2(r.shift[k]/10) - 1)
				}
			}
			total[g] += e * (1 + x)
		case tWiring, tSquare:
			total[g] += e * (1 + x/2) * (1 + x/2)
		default:
			total[g] += e * exp(x)
		}
	}
}
