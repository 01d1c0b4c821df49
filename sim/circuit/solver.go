package circuit

import (
	"fmt"
	"math"

	"boilwright/models"
)

// tolerances beyond which a demand counts.
const (
	tolAmpere = 1e-11
	tolVolt   = 1e-9
)

// DriveChange sets a channel's drive voltage within a half-cycle.
type DriveChange struct {
	After   float64 // seconds from the start of the half-cycle
	Channel int
	Volts   float64
}

// Input is what acts on the circuit during one half-cycle.
type Input struct {
	// Factor multiplies the fundamental and harmonics of the supply.
	Factor float64
	// Drive is each channel's drive voltage from the start, in volts.
	Drive []float64
	// Changes are later drive changes within the half-cycle, in order of time.
	Changes []DriveChange
}

// EventKind tells a switching that is reported.
type EventKind int

// The reported switchings.
const (
	Fired        EventKind = iota // a triac began to conduct
	Extinguished                  // a triac stopped conducting
	OptoOn
	OptoOff
	LinkOpened // a thermal link, or a thermostat
)

func (k EventKind) String() string {
	return [...]string{"fired", "extinguished", "opto on", "opto off", "link opened"}[k]
}

// Event is one switching. Angles are electrical degrees from the zero of the
// fundamental that starts half-cycle Half, which for Fired and Extinguished is
// the one in which the triac fired: an extinction may pass 180°.
type Event struct {
	Kind    EventKind
	Channel int // −1 for an upstream link
	Half    int64
	Degrees float64
	// Of a firing by the gate: its current as a multiple of what triggers, and
	// how fast that rose, in 1/s; 0 if it jumped there.
	Gate, Rise float64
}

// Record is what one half-cycle did. Energies are in joules, by channel where
// sliced; a Record is overwritten by the solver's next half-cycle unless
// copied.
type Record struct {
	Half     int64
	Duration float64 // s
	Source   float64 // out of the ideal source
	Wiring   float64 // supply impedances and other shared wiring
	Outside  float64 // meters, films to earth, insulation
	Upstream float64 // the thermal link ahead of all channels
	Triac    []float64
	Gate     []float64 // opto output, gate resistor and gate shunt
	Snubber  []float64
	Element  []float64
	Wire     []float64 // channel wiring and link
	// CurrentSquared is ∫i² dt of the supply current, in A²s.
	CurrentSquared float64
	// VoltageSquared is ∫v² dt of the voltage from L to N on the board, in
	// V²s.
	VoltageSquared float64
	// EarthSquared is ∫i² dt and EarthCharge ∫i dt of the current in the
	// protective earth conductor: the residual current of the supply.
	EarthSquared, EarthCharge float64
	// Stored is the change of the energy in capacitors and inductors.
	Stored float64
	Events []Event
	// Switchings counts all changes of discrete state.
	Switchings int
}

// Dissipated returns the sum of all losses in joules.
func (r *Record) Dissipated() float64 {
	s := r.Wiring + r.Outside + r.Upstream
	for k := range r.Element {
		s += r.Triac[k] + r.Gate[k] + r.Snubber[k] + r.Element[k] + r.Wire[k]
	}
	return s
}

// triacState is the discrete state of a triac.
type triacState uint8

const (
	blocking triacState = iota
	gated
	latched
)

type channelState struct {
	triac    triacState
	fired    int64 // half-cycle of the firing
	offHalf  int64 // of the last turn-off
	offTime  float64
	offSlope float64 // |di/dt| there, A/s
	everOff  bool
	led      bool // the LED carries its trigger current
}

// Solver advances one board's circuit half-cycle by half-cycle.
type Solver struct {
	board   *models.Board
	net     *netlist
	groupOf []int
	groups  int
	lossy   []int
	formOf  []int
	sets    map[string]*params
	par     *params

	key       key
	x         []float64
	chans     []channelState
	lim       []limits
	limSerial uint64   // counts what lim was set to
	windows   []window // of the last turn-off
	half      int64
	period    float64 // of a half-cycle, s
	ch        []models.Channel
	contacts  []contact

	src       *waveform // of the running half-cycle; never changed once made
	waves     [2]*waveform
	factor    float64
	temps     Temperatures
	seg       Segment
	prev      Segment // the last finished segment, for rates at turn-off
	have      bool
	find      finder
	prober    prober
	gears     []gear
	recent    *[256]*combination // see combination
	trials    *[16]trialOf
	quiet     bool      // nothing is demanded by what the probes read
	turn      []float64 // the source's harmonics at the present time
	z         []float64 // see zAt
	zOK       bool
	zSerial   uint64 // counts what z was set to
	zTime     float64
	zLinks    key
	risen     []risen // by channel
	course    course
	gram      gram
	sums      []float64
	bare      bool // records are without energies
	rec       Record
	onSegment func(*Segment)
	leave     bool // the rest of the half-cycle is known: set by onSegment

	strain []float64 // the largest |dv/dt| over its limit in the last half-cycle, by channel
	urge   []float64 // see Urge
	spells []spell   // of the last half-cycle
}

// New compiles a board's network. The state is the periodic solution with
// every triac and opto blocking, at the board's ambient temperature. Errors
// name the parts of an impossible network.
func New(b *models.Board) (*Solver, error) {
	if err := checkBoard(b); err != nil {
		return nil, err
	}
	net, err := newNetlist(b)
	if err != nil {
		return nil, err
	}
	if err := net.checkLoops(); err != nil {
		return nil, err
	}
	return newSolver(b, net, Uniform(len(b.Channels), float64(b.Ambient)), nil)
}

// checkLoops rejects a capacitor that lies directly across ideal sources and
// parts of zero resistance.
func (n *netlist) checkLoops() error {
	parent := make([]int, len(n.nodes)+1)
	for i := range parent {
		parent[i] = i
	}
	var find func(int) int
	find = func(i int) int {
		if parent[i] != i {
			parent[i] = find(parent[i])
		}
		return parent[i]
	}
	for pass := range 2 {
		for i := range n.branches {
			b := &n.branches[i]
			stiff := b.kind == source || b.kind == resistor && b.ohms == 0
			if pass == 0 && !stiff || pass == 1 && b.kind != capacitor {
				continue
			}
			ra, rb := find(b.a+1), find(b.b+1)
			if ra == rb {
				return fmt.Errorf("%s: found it across an ideal source or another capacitor with no resistance between, expected some resistance in that loop", b.name)
			}
			parent[ra] = rb
		}
	}
	return nil
}

// OnSegment calls f with every finished segment, in order of time; the
// segment is valid only during the call. A nil f stops the calls.
func (s *Solver) OnSegment(f func(*Segment)) { s.onSegment = f }

// SetTemperatures gives the parameters their temperatures; it takes effect at
// the start of the next half-cycle. The matrices of a set of temperatures are
// kept and used again.
func (s *Solver) SetTemperatures(t Temperatures) {
	if s.par != nil && s.temps.equals(&t) {
		return
	}
	if p := s.set(t); p != s.par {
		if s.par != nil {
			clear(s.recent[:])
			clear(s.trials[:])
		}
		s.par = p
	}
	s.temps.copyFrom(&t)
	for k := range s.ch {
		if l := newLimits(&s.ch[k], t.Junction[k], t.Board); l != s.lim[k] {
			s.lim[k] = l
			s.limSerial++
		}
		b := &s.net.branches[s.net.channels[k].opto]
		g := &s.gears[k]
		// The little that flows while the output blocks makes the voltage behind the
		// gate resistor that much more.
		above := func(amperes float64) float64 {
			return (b.volts+(b.ohms+g.ohms)*amperes)/(1+g.ohms*b.siemens) - tolVolt
		}
		g.least, g.leastHeld = above(s.lim[k].optoLatch), above(s.lim[k].optoHold-tolAmpere)
	}
}

// OmitEnergies leaves energies, charges and integrals of squares out of the
// records, as zeros: for those who only look at signals.
func (s *Solver) OmitEnergies() { s.bare = true }

// contact is the state of a thermal link or a thermostat: whether it is to
// open at the next zero of its current.
type contact struct {
	branch  int
	opening bool
	sign    float64 // of the current, once it flows
}

// startsOpen reports whether contact branch i of board b is open from the
// start.
func (n *netlist) startsOpen(b *models.Board, br *branch, i int) bool {
	switch {
	case br.channel < 0:
		return b.Upstream.Open
	case n.channels[br.channel].thermostat == i:
		return b.Channels[br.channel].Thermostat.Stuck == models.StayOpen
	}
	return b.Channels[br.channel].Link.Open
}

// open makes the contact of a branch open at the next zero of its current: the
// arc holds it until then.
func (s *Solver) open(branch int) {
	for i := range s.contacts {
		if c := &s.contacts[i]; c.branch == branch {
			c.opening, c.sign = true, 0
		}
	}
}

// OpenLink makes the thermal link of a channel open at the next zero of its
// current; channel −1 is the upstream link.
func (s *Solver) OpenLink(channel int) {
	if channel >= 0 {
		s.open(s.net.channels[channel].link)
		return
	}
	for i := range s.contacts {
		if b := s.contacts[i].branch; s.net.branches[b].channel < 0 {
			s.open(b)
		}
	}
}

// OpenThermostat makes the thermostat of a channel open at the next zero of
// its current. A channel without one is left as it is.
func (s *Solver) OpenThermostat(channel int) { s.open(s.net.channels[channel].thermostat) }

// CloseThermostat closes the thermostat of a channel from the next half-cycle
// on.
func (s *Solver) CloseThermostat(channel int) {
	i := s.net.channels[channel].thermostat
	if i < 0 {
		return
	}
	b := &s.net.branches[i]
	s.key = s.key.with(b.valve, off)
	s.x[b.state] = 0 // the stray capacitance discharges into the contact
	for j := range s.contacts {
		if s.contacts[j].branch == i {
			s.contacts[j].opening = false
		}
	}
}

// ThermostatOpen reports whether a channel's thermostat is open.
func (s *Solver) ThermostatOpen(channel int) bool {
	i := s.net.channels[channel].thermostat
	return i >= 0 && s.key.level(s.net.branches[i].valve) != off
}

// LinkOpen reports whether a channel's link has opened.
func (s *Solver) LinkOpen(channel int) bool {
	return s.key.level(s.net.branches[s.net.channels[channel].link].valve) != off
}

// Half returns the index of the half-cycle that comes next.
func (s *Solver) Half() int64 { return s.half }

// source sets the waveform of the coming half-cycle. The two waveforms of a
// supply level are made once and never changed, so that segments can keep
// pointing to them.
func (s *Solver) source(factor float64) {
	if factor != s.factor || s.waves[0] == nil {
		s.factor = factor
		for parity := range s.waves {
			s.waves[parity] = newWaveform(&s.board.Supply, factor, parity == 1)
		}
	}
	s.src = s.waves[s.half&1]
	s.seg.src = s.src
	s.turn = resize(s.turn, 2*len(s.src.order))
	s.src.turn(0, s.turn)
}

// maxSwitchings bounds the changes of state within one half-cycle.
const maxSwitchings = 50000

// HalfCycle advances the circuit by one half-cycle of the supply. The record
// is valid until the next call. An error names time and states; the solver
// cannot go on after it.
func (s *Solver) HalfCycle(in Input) (*Record, error) {
	if err := s.checkInput(&in); err != nil {
		return nil, err
	}
	T := s.period
	s.source(in.Factor)
	s.zOK = false
	r := &s.rec
	r.Half, r.Duration, r.Events, r.Switchings = s.half, T, r.Events[:0], 0
	clear(s.sums)
	s.gram.clear()
	before := s.stored()
	for k, v := range in.Drive {
		s.drive(k, v)
	}
	changes := in.Changes
	clear(s.strain)
	clear(s.urge)
	s.spells = s.spells[:0]
	s.course.turn(s.half&1 == 1)
	t, last := 0.0, ^s.key
	for segments := 0; t < T; segments++ {
		for len(changes) > 0 && changes[0].After <= t {
			s.drive(changes[0].Channel, changes[0].Volts)
			changes = changes[1:]
		}
		if err := s.settle(t); err != nil {
			return nil, err
		}
		if s.key != last {
			r.Switchings++
			last = s.key
		}
		if segments+r.Switchings > maxSwitchings {
			return nil, s.fail(t, "the discrete state keeps changing")
		}
		end := T
		if len(changes) > 0 {
			end = math.Min(end, changes[0].After)
		}
		end = s.windowEnd(t, end)
		s.seg.T0, s.seg.Half = t, s.half
		s.seg.beginAt(s.x, s.turn)
		t1, err := s.search(t, end)
		if err != nil {
			return nil, err
		}
		s.seg.T1 = t1
		s.spent(t1 - t)
		s.urged()
		phi := s.find.arrived.phi
		parts := s.find.partsThere()
		if !s.bare {
			s.gram.add(&s.seg, s.par, s.turn, phi, parts, s.sums)
		}
		s.seg.stateOf(parts, s.x)
		copy(s.turn, phi[s.seg.c.n:])
		s.zOK = false
		if s.find.told { // what the probes read is known already
			s.zAt(s.seg.c, t1)
			m := &s.seg.c.memo
			m.values, s.find.then = s.find.then, m.values
			m.serial = s.zSerial
		}
		if !allFinite(s.x) {
			return nil, s.fail(t1, "the state is no longer finite")
		}
		if s.onSegment != nil {
			s.onSegment(&s.seg)
		}
		s.prev, s.seg = s.seg, s.prev
		s.seg.net, s.seg.src = s.net, s.src
		s.have = true
		t = t1
		if s.leave {
			s.leave = false
			break
		}
	}
	s.gram.finish(s.src, s.sums)
	r.Source = -s.sums[groupSource]
	r.Wiring = s.sums[groupWiring]
	r.CurrentSquared, r.EarthSquared, r.EarthCharge = s.sums[s.groups], s.sums[s.groups+1], s.sums[s.groups+2]
	r.VoltageSquared = s.sums[s.groups+3]
	r.Outside, r.Upstream = s.sums[groupOutside], s.sums[groupUpstream]
	per := int(models.WiringPart)
	for k := range s.ch {
		g := s.sums[groupFixed+k*per:]
		r.Triac[k], r.Gate[k], r.Snubber[k] = g[models.TriacPart-1], g[models.GatePart-1], g[models.SnubberPart-1]
		r.Element[k], r.Wire[k] = g[models.ElementPart-1], g[models.WiringPart-1]
	}
	r.Stored = s.stored() - before
	s.half++
	return r, nil
}

// stored returns the energy in capacitors and inductors, ½·C·v² and ½·L·i².
func (s *Solver) stored() float64 {
	e := 0.0
	for i, b := range s.net.states {
		e += s.net.branches[b].store * s.x[i] * s.x[i] / 2
	}
	return e
}

func (s *Solver) drive(k int, volts float64) {
	c := &s.ch[k]
	i := c.Drive.LEDCurrent(&c.Opto, volts)
	s.chans[k].led = i >= s.lim[k].ledTrigger && i > 0
}

// windowEnd shortens a segment to the end of a commutation window after which less is
// permitted of a rate of rise. Where more is, the segment goes on: should the rate exceed
// what was permitted in the window, that ends it, and changes nothing.
func (s *Solver) windowEnd(t, end float64) float64 {
	for k := range s.chans {
		c := &s.chans[k]
		if c.triac != blocking || !c.everOff {
			continue
		}
		at := c.offTime + s.lim[k].turnOff - float64(s.half-c.offHalf)*s.period
		if at > t && at < end && s.lim[k].static < s.rateLimit(k, t) {
			end = at
		}
	}
	return end
}

// fail builds the error of an impossible state: nodes, time and states.
func (s *Solver) fail(t float64, why string) error {
	msg := fmt.Sprintf("at %.9g ms of half-cycle %d: %s; %s", t*1e3, s.half, why, s.par.describe(s.key))
	if c := s.seg.c; c != nil {
		for i := range s.net.nodes {
			if s.net.nodes[i].Place >= 0 {
				msg += fmt.Sprintf(", %s %.4g V", s.net.nodeName(i), dot(c.row(i), s.zAt(c, t)))
			}
		}
	}
	return fmt.Errorf("no consistent state of the circuit %s", msg)
}

// zAt returns (x, e, 1) for a combination at time t. It is kept while state,
// time and the set of active states stay the same.
func (s *Solver) zAt(c *combination, t float64) []float64 {
	if links := c.key & s.net.linkMask; !s.zOK || t != s.zTime || links != s.zLinks {
		s.z = resize(s.z, c.width)
		for i, st := range c.active {
			s.z[i] = s.x[st]
		}
		s.z[c.n], s.z[c.n+1] = s.src.atTurn(s.turn), 1
		s.zOK, s.zTime, s.zLinks = true, t, links
		s.zSerial++
	}
	return s.z
}
