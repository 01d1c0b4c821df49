package sim

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/heat"
)

// Editor changes a board while it runs. It is how a fault acts; the run knows
// nothing else of it.
type Editor interface {
	// Version tells which edits are in force at a moment: equal versions are
	// equal edits. next is the next instant at which time alone changes the
	// version, or the largest duration. Besides at those instants, it is asked
	// at the start of each control window: what depends on anything but time
	// changes there.
	Version(m models.Moment) (version uint64, next time.Duration)
	// Timed reports whether from the moment last asked about nothing but time changes
	// the version any more: it is asked at those instants alone then.
	Timed() bool
	// Edit changes b, a fresh copy of the board, to the edits in force.
	Edit(b *models.Board, m models.Moment) error
}

// Options set a run. The zero value of each field is its default.
type Options struct {
	// Duration is the simulated time [1 h].
	Duration time.Duration
	// Every is the time between samples [10 s], rounded up to whole control
	// windows.
	Every time.Duration
	// Full solves every half-cycle at its own temperatures instead of using
	// the solution of an equal one again.
	Full bool
	// Exact solves every half-cycle from the window on in which a triac was
	// near what it withstands: whether it then fires by itself is no matter of
	// classes. It takes as long as Full from there on.
	Exact bool
	// Edits change the board while it runs; nil is none.
	Edits Editor
	// HalfCycles, if not nil, is given every half-cycle in order of time, up
	// to the one in which the supply's protection cuts the board off.
	HalfCycles func(HalfCycle)
	// Progress, if not nil, is called now and then.
	Progress func(done, total time.Duration)
}

// destroyed is the temperature in °C at which the laws of the semiconductors'
// temperature dependence stop: beyond it a part has failed in a way that the
// board does not know of, and the run says so once.
const destroyed = 200

// forever is a time that does not come.
const forever = time.Duration(math.MaxInt64)

// Run simulates a board's circuit and heat together. Cancelling ctx stops it
// at the end of a control window, with what was done and Status Interrupted.
// Errors name the part and what was expected.
func Run(ctx context.Context, b *models.Board, o Options) (*Result, error) {
	if o.Duration == 0 {
		o.Duration = time.Hour
	}
	if o.Every == 0 {
		o.Every = 10 * time.Second
	}
	if o.Duration < 0 || o.Every < 0 {
		return nil, fmt.Errorf("found a duration of %v and samples every %v, expected more than 0", o.Duration, o.Every)
	}
	m := spareMemory.Get().(*memory)
	defer func() {
		m.reset()
		spareMemory.Put(m)
	}()
	r, err := newRun(b, o, m)
	if err != nil {
		return nil, err
	}
	defer func() {
		for _, m := range r.versions {
			m.sol.Release()
			if m.calm != nil {
				m.calm.Release()
			}
		}
	}()
	if err := r.loop(ctx); err != nil {
		return nil, err
	}
	return r.finish()
}

// machine is a version of the board with its circuit.
type machine struct {
	board  *models.Board
	engine engine
	sol    *circuit.Solver
	calm   *heat.Calm // for windows in which nothing happens, or nil
	calmed bool       // it has been looked for
	glides *reuse     // the engine, where windows may be taken at once, or nil
	kept   []kept     // by number of cycles, once asked for
	safe   struct{ heat, earth float64 }
	level  struct { // of the supply
		factor float64
		until  time.Duration
	}
}

// engine yields the energies of half-cycles.
type engine interface {
	class(t circuit.Temperatures)
	// advance takes n half-cycles of the same input and sets b to them.
	advance(in input, n int64, b *block) error
	// sum adds the energies of a block with elements of the given resistances in
	// ohms.
	sum(b *block, ohms []float64, total tally)
	// change lets do act on the circuit between two half-cycles.
	change(do func(*circuit.Solver))
	mark()   // remember this point
	rewind() // go back to it
	// settle puts the present state into the solver, for another version of
	// the board to adopt; restart takes it from there.
	settle()
	restart()
	solved() int64
}

// run is a simulation under way.
type run struct {
	*memory
	o        Options
	healthy  *models.Board
	m        *machine
	versions map[uint64]*machine
	version  uint64
	heat     *heat.Machine
	n        int // channels
	half     float64
	window   int // half-cycles

	control []controller
	order   []int
	want    [][]bool
	limited bool   // see limits
	counts  []int  // cycles of the window asked for, by channel
	asked   uint64 // the last of them, see planKey
	owed    []int
	drives  []driven     // the whole window
	deep    int          // stages of the deepest of the triacs' thermal networks
	stages  []heat.Lanes // K, see stage
	own     []float64    // room for those of one triac
	warmer  []float64    // K, sums of those of each triac
	moment  models.Moment
	next    time.Duration // when the version changes with time
	timed   bool          // and with nothing else
	linkOut []bool
	burnt   []bool // TooHot has been told
	guard   guard

	upstreamOut bool // the upstream link has opened

	going going       // the first channels, whose windows are taken at once
	whole block       // of a part
	total account     // of compose
	made  []*part     // of the plan at hand
	paces []heat.Pace // of those
	sums  tally       // of lateness
	none  tally       // zeros

	pieces  []piece
	plan    []heat.Piece
	used    int
	ohms    []float64 // of the elements
	temps   circuit.Temperatures
	res     *Result
	source  float64         // J since the last sample
	element []float64       // J since the last sample, into each element
	accTime float64         // s since the last sample
	before  int64           // half-cycles solved by engines that were given up
	driven  []int64         // half-cycles up to the last sample
	gate    []float64       // J in each gate path since the window's start
	every   int64           // windows between samples
	sampled []ChannelSample // for samples to come
	on      bool
	ledger  ledger // of the plan at hand; last, so that all else is near
}

const (
	// manySamples is the number of samples whose channels lie side by side.
	manySamples = 16
	// mostSamples bounds those that room is made for before there are any.
	mostSamples = 4096
	// telling is the number of windows between two at which progress is told, after
	// which the context is looked at.
	telling = 64
)

// newRun begins a run in memory m.
func newRun(b *models.Board, o Options, m *memory) (*run, error) {
	h, err := heat.New(b)
	if err != nil {
		return nil, err
	}
	n := len(b.Channels)
	r := &run{memory: m, o: o, healthy: b, versions: map[uint64]*machine{}, heat: h, n: n, half: b.Supply.HalfCycle(), window: b.Controller.Window}
	if err := checkRunnable(b); err != nil {
		return nil, err
	}
	if n > 32 {
		return nil, fmt.Errorf("found %d channels, expected at most 32", n)
	}
	cycles := r.window / 2
	r.sensed = slices.Grow(r.sensed[:0], n)[:n]
	r.control, r.counts = make([]controller, n), make([]int, n)
	r.going.scale = heat.Lanes{1, 1, 1, 1}
	r.want = make([][]bool, n)
	for k := range n {
		r.want[k] = make([]bool, cycles)
		r.deep = max(r.deep, len(b.Channels[k].Triac.Foster))
	}
	r.stages, r.own = make([]heat.Lanes, r.deep*((n+heat.Wide-1)/heat.Wide)), make([]float64, r.deep)
	r.going.stages = r.stages[:min(r.deep, len(r.stages))]
	r.warmer, r.element = places(r.going.warmer[:], n), places(r.going.element[:], n)
	r.owed, r.driven = make([]int, n), make([]int64, n)
	r.ohms, r.linkOut, r.burnt = make([]float64, n), make([]bool, n), make([]bool, n)
	r.temps = circuit.Uniform(n, 25)
	r.temps.Junction = places(r.going.junction[:], n)
	r.none, r.sums = make(tally, tallySize(n)), make(tally, tallySize(n))
	r.total, r.whole.account = newAccount(n), newAccount(n)
	r.res = &Result{Board: b, Stats: Stats{Exact: -1}}
	w := time.Duration(float64(r.window) * r.half * float64(time.Second))
	r.every = max(1, int64((o.Every+w-1)/w))
	r.res.Samples = make([]Sample, 0, min(int64(o.Duration/w)/r.every+3, mostSamples))
	for k := range n {
		r.linkOut[k] = b.Channels[k].Link.Open
	}
	now := &r.moment
	now.Junction, now.Cycles, now.GatePower = make([]float64, n), places(r.going.cycles[:], n), make([]float64, n)
	s := h.State() // a view that stays
	now.Element, now.Water, now.Shell, now.Link = s.Element, s.Water, s.Shell, s.Link
	now.AmbientPressure = float64(b.AmbientPressure)
	r.gate = places(r.going.gate[:], n)
	r.look(0, 0)
	if err := r.edit(true); err != nil {
		return nil, err
	}
	return r, nil
}

// at is the time of half-cycle h.
func (r *run) at(h int64) time.Duration {
	return time.Duration(math.Round(float64(h) * r.half * 1e9))
}

// zero is the first half-cycle that begins at t or after it.
func (r *run) zero(t time.Duration) int64 {
	h := int64(t.Seconds()/r.half) - 1
	for r.at(h) < t {
		h++
	}
	return h
}

// look fills the moment, that at which half-cycle h begins, from the machine.
func (r *run) look(t time.Duration, h int64) {
	s, m := r.heat.State(), &r.moment
	m.Time, m.HalfCycle = t, h
	m.Lid, m.Pocket = s.Lid, s.Pocket
	junction := m.Junction
	warmer, bears := r.warmer[:len(junction)], r.temps.Junction[:len(junction)]
	for k, above := range warmer {
		t := s.Pocket + above
		junction[k], bears[k] = t, t
		if t > destroyed {
			r.burn(k)
		}
	}
}

// burn notes that the junction of channel k is hotter than the semiconductors' laws go.
func (r *run) burn(k int) {
	r.temps.Junction[k] = destroyed
	if !r.burnt[k] {
		r.burnt[k] = true
		r.event(r.moment.Time, k, TooHot, "")
	}
}

// edit brings the board to the version in force.
func (r *run) edit(first bool) error {
	v := uint64(0)
	r.next, r.timed = forever, true
	if r.o.Edits != nil {
		v, r.next = r.o.Edits.Version(r.moment)
		r.timed = r.o.Edits.Timed()
	}
	if !first && v == r.version {
		return nil
	}
	m, ok := r.versions[v]
	if !ok {
		b := r.healthy
		if r.o.Edits != nil {
			b = b.Clone()
			if err := r.o.Edits.Edit(b, r.moment); err != nil {
				return err
			}
		}
		if f, was := b.Supply.Frequency, r.healthy.Supply.Frequency; f != was {
			return fmt.Errorf("edit of the board: found a frequency of %v, expected %v as before", f, was)
		}
		if w := b.Controller.Window; w != r.window {
			return fmt.Errorf("edit of the board: found a control window of %d half-cycles, expected %d as before", w, r.window)
		}
		for k := range b.Channels {
			if n := len(b.Channels[k].Triac.Foster); n > r.deep {
				return fmt.Errorf("edit of the board: channel %q: found %d stages in the triac's thermal network, expected at most %d as before", b.Channels[k].Name, n, r.deep)
			}
		}
		if err := checkRunnable(b); err != nil {
			return err
		}
		sol, err := circuit.New(b)
		if err != nil {
			return err
		}
		m = &machine{board: b, sol: sol}
		m.safe.heat, m.safe.earth = safe(&b.Protection, r.half)
		if r.o.Full {
			m.engine = r.newFull(b, sol)
		} else {
			e := newReuse(b, sol, r.memory)
			if r.o.HalfCycles != nil {
				e.tellEach()
			}
			m.engine = e
		}
		r.versions[v] = m
		r.res.Stats.Versions++
	}
	if old := r.m; old != nil {
		old.engine.settle()
		m.sol.Adopt(old.sol)
		m.engine.restart()
		if err := r.heat.Rebuild(m.board); err != nil {
			return err
		}
	} else if m.board != r.healthy {
		if err := r.heat.Rebuild(m.board); err != nil {
			return err
		}
	}
	if !m.calmed {
		m.calmed = true
		m.calm = r.heat.Calm(float64(r.window)*r.half, r.window/2)
		if e, ok := m.engine.(*reuse); ok && m.calm != nil && r.o.HalfCycles == nil && r.n <= mostGliding {
			m.glides = e
		}
	}
	for k := range r.n {
		if m.board.Channels[k].Link.Open && !r.linkOut[k] {
			r.linkOut[k] = true
			r.event(r.moment.Time, k, LinkOpened, "")
		}
		if r.linkOut[k] && !m.sol.LinkOpen(k) {
			m.engine.change(func(s *circuit.Solver) { s.OpenLink(k) })
		}
		if cut := r.heat.State().Cut[k]; cut != m.sol.ThermostatOpen(k) {
			m.engine.change(func(s *circuit.Solver) { setThermostat(s, k, cut) })
		}
		r.control[k].set = &m.board.Channels[k].Control
		r.control[k].forget()
		r.sensed[k] = sensed{}
	}
	r.order, r.limited = byPriority(m.board.Channels), limits(m.board)
	if !first {
		r.event(r.moment.Time, -1, Edited, "")
	}
	r.m, r.version = m, v
	if r.n <= heat.Wide {
		r.going.left = r.keeps(int64(r.window)).left
	}
	return nil
}

func (r *run) event(t time.Duration, ch int, kind EventKind, detail string) {
	r.res.Events = append(r.res.Events, Event{t, ch, kind, detail})
}

func (r *run) loop(ctx context.Context) error {
	w := int64(r.window)
	total := int64(math.Ceil(r.o.Duration.Seconds()/(float64(w)*r.half) - 1e-9))
	glided, sampled := false, int64(0)
	for k := int64(0); k < total; k++ {
		if (!glided || k%telling == 1) && ctx.Err() != nil {
			r.res.Status = Interrupted
			break
		}
		h := k * w
		start, end := r.res.Duration, r.at(h+w)
		r.look(start, h)
		if !r.timed || start >= r.next {
			if err := r.edit(false); err != nil {
				return fmt.Errorf("at %v: %w", start, err)
			}
		}
		r.decide()
		if k == 0 {
			r.sample(0)
		}
		var err error
		if glided, err = r.glide(h, end); err != nil {
			return fmt.Errorf("at %v: %w", start, err)
		}
		if !glided {
			if err := r.walkWindow(h); err != nil {
				return err
			}
		}
		if !r.timed { // and so somebody may ask for it
			for k, e := range r.gate {
				r.moment.GatePower[k] = e / (float64(w) * r.half)
			}
		}
		r.res.Duration = end
		r.res.Stats.HalfCycles = h + w
		if sampled++; sampled == r.every || k+1 == total {
			sampled = 0
			r.look(end, h+w)
			r.sample(end)
		}
		if r.o.Progress != nil && (k%telling == 0 || k+1 == total) {
			r.o.Progress(min(end, r.o.Duration), r.o.Duration)
		}
	}
	return nil
}

// walkWindow takes the window that starts at half-cycle h in stretches.
func (r *run) walkWindow(h int64) error {
	clear(r.gate)
	r.schedule()
	for p, w := int64(0), int64(r.window); ; {
		q, err := r.stretch(h, p, w)
		if err != nil {
			return fmt.Errorf("at %v: %w", r.at(h+p), err)
		}
		p = q
		if p == w {
			return nil
		}
		r.look(r.at(h+p), h+p)
		if r.moment.Time < r.next {
			continue
		}
		if err := r.edit(false); err != nil {
			return fmt.Errorf("at %v: %w", r.at(h+p), err)
		}
	}
}

// decide samples the probes and sets the drives of the coming window, whose start
// the moment shows.
func (r *run) decide() {
	on := r.m.board.Controller.On(r.moment.Time)
	control := r.control
	counts, probes := r.counts[:len(control)], r.heat.State().Probe[:len(control)]
	still, cycles := on && r.on, r.window/2
	asked := uint64(0)
	for k := range control {
		count := 0
		if c, t := &control[k], probes[k]; still && c.holds(t) {
			count = c.again(cycles)
		} else {
			count = r.decideAnew(k, on, t)
		}
		counts[k] = count
		asked = asked<<16 | uint64(count)
	}
	r.asked, r.on = asked, on
}

// decideAnew looks at the probe of channel k, at t °C, and returns the number of
// cycles that it asks for.
func (r *run) decideAnew(k int, on bool, t float64) (count int) {
	c, p := &r.control[k], &r.m.board.Channels[k].Probe
	was := c.shown
	switch {
	case !on:
		c.indicate(r.sensed[k].reading(p, t), false)
	case !r.on:
		c.reset()
		fallthrough
	default:
		count = c.decide(p, &r.sensed[k], t, r.window/2, float64(r.window)*r.half)
	}
	if c.shown != was {
		r.event(r.moment.Time, k, Shows, c.shown.String())
	}
	return count
}

// sample appends the machine as it is now.
func (r *run) sample(t time.Duration) {
	s := r.heat.State()
	if len(r.sampled) == 0 {
		r.sampled = make([]ChannelSample, manySamples*r.n)
	}
	out := Sample{Time: t, Lid: s.Lid, Pocket: s.Pocket, Controls: r.on, Channels: r.sampled[:r.n:r.n]}
	r.sampled = r.sampled[r.n:]
	if r.accTime > 0 {
		out.Power = (r.source - r.going.shared[ofWiring]) / r.accTime
		out.Current = math.Sqrt(math.Max(0, r.going.shared[ofSquare]/r.accTime))
	}
	for k := range r.n {
		c, ch := &out.Channels[k], &r.m.board.Channels[k]
		c.Element, c.Water, c.Shell, c.Link, c.Probe = s.Element[k], s.Water[k], s.Shell[k], s.Link[k], s.Probe[k]
		c.Junction = r.moment.Junction[k]
		c.Reading = r.sensed[k].reading(&ch.Probe, s.Probe[k])
		c.Mass, c.Pressure = s.Mass[k], s.Pressure(k)
		c.Indicator, c.LinkOpen = r.control[k].shown, r.linkOut[k]
		if r.accTime > 0 {
			c.Power = r.element[k] / r.accTime
			c.Drive = float64(r.moment.Cycles[k]-r.driven[k]) * r.half / r.accTime
		}
	}
	r.book()
	r.res.Samples = append(r.res.Samples, out)
}

// book adds what has been taken since the last sample to the result.
func (r *run) book() {
	r.res.Supply.Source += r.source
	r.res.Supply.Wiring += r.going.shared[ofWiring]
	r.source, r.accTime, r.going.shared = 0, 0, heat.Lanes{}
	clear(r.element)
	copy(r.driven, r.moment.Cycles)
}

func (r *run) finish() (*Result, error) {
	r.res.Heat = r.heat.Balance()
	if err := r.heat.Check(); err != nil {
		return nil, err
	}
	r.book()
	r.res.Supply.Plug = r.res.Supply.Source - r.res.Supply.Wiring
	r.res.Stats.Solved = r.before
	for _, m := range r.versions {
		r.res.Stats.Solved += m.engine.solved()
		if e, ok := m.engine.(*reuse); ok {
			r.res.Stats.Narrow = r.res.Stats.Narrow || e.near()
			r.res.Stats.Approximate = r.res.Stats.Approximate || e.failing
		}
	}
	for k := range r.n {
		r.res.Outcomes = append(r.res.Outcomes, r.res.outcome(k))
	}
	return r.res, nil
}
