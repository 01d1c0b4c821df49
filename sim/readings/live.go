package readings

import (
	"fmt"
	"math"
	"runtime"
	"sync"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// State is what the board is doing while it is measured.
type State int

// The states of a board.
const (
	Standby State = iota // supply on, controls off
	Heating              // every drive on
	Holding              // drives in bursts at each channel's duty
	UnpluggedState
)

var stateNames = [...]string{"standby", "heating", "holding", "unplugged"}

func (s State) String() string {
	if s < 0 || int(s) >= len(stateNames) {
		return fmt.Sprintf("state(%d)", int(s))
	}
	return stateNames[s]
}

// ParseState returns the state of a written name.
func ParseState(name string) (State, error) {
	for i, n := range stateNames {
		if n == name {
			return State(i), nil
		}
	}
	return 0, fmt.Errorf("found state %q, expected one of %v", name, stateNames)
}

// Conditions are what a reading depends on besides board, point and meter.
type Conditions struct {
	State State
	Temps circuit.Temperatures
	// Duty is each channel's part of the control window in bursts, for
	// Holding; a quarter where nil.
	Duty []float64
	// Off leaves a channel's drive off in Heating and Holding.
	Off []bool
}

// check reports what is wrong with conditions for a board with its supply on.
func (c *Conditions) check(b *models.Board) error {
	n := len(b.Channels)
	switch {
	case c.State < Standby || c.State > Holding:
		return fmt.Errorf("found state %v, expected standby, heating or holding", c.State)
	case len(c.Temps.Element) != n || len(c.Temps.Junction) != n:
		return fmt.Errorf("found temperatures of %d elements and %d junctions, expected %d of each", len(c.Temps.Element), len(c.Temps.Junction), n)
	case c.Duty != nil && len(c.Duty) != n:
		return fmt.Errorf("found %d duties, expected %d or none", len(c.Duty), n)
	case c.Off != nil && len(c.Off) != n:
		return fmt.Errorf("found %d marks of drives left off, expected %d or none", len(c.Off), n)
	case c.State == Holding && b.Controller.Window < 2:
		return fmt.Errorf("control window: found %d half-cycles, expected at least 2", b.Controller.Window)
	}
	return nil
}

// Value is one reading.
type Value struct {
	Point Point
	Meter string
	State State
	// Indicated is what the detector makes of the waveform; Shown is the same
	// as displayed, in steps of Resolution, with Uncertainty ± as the meter's
	// accuracy states it. All in volts, or in amperes where the point is a
	// [Lead].
	Indicated, Shown, Resolution, Uncertainty float64
	// Low and High bound the display when the reading depends on when it is
	// taken, as with bursts; equal to Shown otherwise.
	Low, High float64
	Over      bool // out of every range
	Varies    bool
}

// settleCycles bounds how long a network may take to become periodic with a
// meter on it.
const settleCycles = 25

// At returns what the given meters show at a test point, one value a meter,
// in order. Meters with equal inputs share one solution. Where several points
// are measured, a [Bench] shares more.
func At(b *models.Board, p Point, meters []models.Meter, c Conditions) ([]Value, error) {
	x, err := NewBench(b, c)
	if err != nil {
		return nil, fmt.Errorf("test point %s: %w", p.Name, err)
	}
	return x.At(p, meters)
}

// Bench is a board in one state, ready to be measured at any of its points. It
// is safe for concurrent use.
type Bench struct {
	board   *models.Board
	cond    Conditions
	metered *circuit.Metered
	err     error              // of a board without a solution
	quiet   *circuit.Quiescent // where nothing switches, else nil
}

// NewBench makes a board ready. The error tells of conditions that are not
// those of the board.
func NewBench(b *models.Board, c Conditions) (*Bench, error) {
	if err := c.check(b); err != nil {
		return nil, err
	}
	x := &Bench{board: b, cond: c}
	x.metered, x.err = circuit.NewMetered(b, c.Temps)
	if x.err == nil && c.State != Holding {
		volts := make([]float64, len(b.Channels))
		driver(b, c)(0, volts)
		x.quiet = x.metered.Quiescent(volts)
	}
	return x, nil
}

// At returns what the given meters show at a test point, one value a meter, in
// order.
func (x *Bench) At(p Point, meters []models.Meter) ([]Value, error) {
	out := make([]Value, len(meters))
	var port circuit.Port
	quiet := x.quiet != nil && !p.Control
	if quiet {
		var err error
		port, err = x.quiet.Port(p.Plus, p.Minus)
		quiet = err == nil // a node that is missing is for the solver to tell of
	}
	var few [16]measured
	found := few[:]
	if len(meters) > len(few) {
		found = make([]measured, len(meters))
	}
	for i := range meters {
		m := &meters[i]
		first := firstLike(meters, i)
		if first == i {
			var err error
			if found[i], err = x.load(p, &port, quiet, meters[i:]); err != nil {
				return nil, fmt.Errorf("test point %s: %w", p.Name, err)
			}
		}
		v := &out[i]
		v.Point, v.Meter, v.State = p, m.Name, x.cond.State
		found[first].show(v, m.Detector, m.Display)
	}
	return out, nil
}

// firstLike returns the index of the first meter that loads a point as meter i
// does and looks at it for as long.
func firstLike(meters []models.Meter, i int) int {
	for j := range i {
		if loadsAlike(&meters[i], &meters[j]) {
			return j
		}
	}
	return i
}

// loadsAlike reports whether two meters load a point alike and look at it for as
// long.
func loadsAlike(a, b *models.Meter) bool {
	return a.Resistance == b.Resistance && a.Input == b.Input && a.Cycles == b.Cycles
}

// load finds the waveform at a point under the load of the first of some meters.
func (x *Bench) load(p Point, port *circuit.Port, quiet bool, meters []models.Meter) (measured, error) {
	m := &meters[0]
	if quiet {
		if peak, ok := port.Loaded(float64(m.Resistance), float64(m.Input)); ok {
			return measured{steady: sine(peak)}, nil
		}
	}
	abs := false // whether one of those that share it wants magnitudes
	for i := range meters {
		abs = abs || magnitudes(meters[i].Detector) && loadsAlike(&meters[i], m)
	}
	return x.measure(p, m, abs)
}

// magnitudes reports whether a detector goes by the mean of a magnitude.
func magnitudes(d models.Detector) bool {
	return d != models.RMSDirect && d != models.RMSCoupled && d != models.Direct
}

// measured is the waveform at a point under a meter's load, as moments: those at
// every position of the meter's time within the bursts, or, where there are none,
// the same moments at all times.
type measured struct {
	bursts []models.Moments
	steady models.Moments
}

// show writes what an instrument with the given detector and display shows into
// a value.
func (w *measured) show(v *Value, d models.Detector, display func(float64) (shown, resolution, uncertainty float64, over bool)) {
	first := w.steady
	if len(w.bursts) > 0 {
		first = w.bursts[0]
	}
	v.Indicated = d.Indicated(first)
	v.Shown, v.Resolution, v.Uncertainty, v.Over = display(v.Indicated)
	v.Low, v.High = v.Shown, v.Shown
	for i := 1; i < len(w.bursts); i++ {
		shown, _, _, _ := display(d.Indicated(w.bursts[i]))
		v.Low, v.High = math.Min(v.Low, shown), math.Max(v.High, shown)
	}
	v.Varies = v.High-v.Low > 1.5*v.Resolution
}

// measure is the waveform at a point under a meter's load, with the means of
// magnitudes if abs asks for them.
func (x *Bench) measure(p Point, m *models.Meter, abs bool) (measured, error) {
	b := x.board
	if p.Control {
		return control(b, p, m, &x.cond)
	}
	if x.err != nil {
		return measured{}, x.err
	}
	s, err := x.metered.Solver(models.Bridge{Name: "meter", From: p.Plus, To: p.Minus, Resistance: m.Resistance, Capacitance: m.Input})
	if err != nil {
		return measured{}, err
	}
	sig, err := s.Voltage(p.Plus, p.Minus)
	if err != nil {
		return measured{}, err
	}
	w, err := observe(s, sig, b, m.Cycles, x.cond, abs)
	x.metered.Keep(s)
	return w, err
}

// sine is the waveform of a sine of a given peak over whole cycles.
func sine(peak float64) models.Moments {
	mean := 2 / math.Pi * peak
	return models.Moments{MeanSquare: peak * peak / 2, MeanAbs: mean, MeanAbsCoupled: mean}
}

// observe measures a signal over a meter's cycles. The solver's temperatures
// are those of the conditions. Means of magnitudes may be zero unless abs asks for
// them.
func observe(s *circuit.Solver, sig circuit.Signal, b *models.Board, cycles int, c Conditions, abs bool) (measured, error) {
	s.OmitEnergies()
	drive := driver(b, c)
	in := circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
	input := func(h int64) circuit.Input {
		drive(h, in.Drive)
		return in
	}
	cycles = max(1, cycles)
	if c.State == Holding {
		return hold(s, sig, b, cycles, input)
	}
	drive(0, in.Drive)
	m, periodic, err := s.SettleMoments(settleCycles, in, sig, abs)
	if err != nil {
		return measured{}, err
	}
	if !periodic { // not every cycle is alike
		rec, err := s.Record(2*cycles, input)
		if err != nil {
			return measured{}, err
		}
		m = rec.Moments(sig)
	}
	return measured{steady: m}, nil
}

// hold measures over k cycles at every whole-cycle position of a control
// window.
func hold(s *circuit.Solver, sig circuit.Signal, b *models.Board, k int, input func(int64) circuit.Input) (measured, error) {
	n := b.Controller.Window / 2
	for range 2 * n { // one window to come into the rhythm
		if _, err := s.HalfCycle(input(s.Half())); err != nil {
			return measured{}, err
		}
	}
	cycles := make([]*circuit.Recording, n)
	per := make([]models.Moments, n)
	for i := range cycles {
		rec, err := s.Record(2, input)
		if err != nil {
			return measured{}, err
		}
		cycles[i], per[i] = rec, rec.Moments(sig)
	}
	f := 1 / float64(k)
	out := measured{bursts: make([]models.Moments, n)}
	// Positions with the same cycles in them, by their means in steps far below
	// a display's, share what takes longest, and so does a cycle about the same
	// mean.
	type means struct{ mean, square, abs int64 }
	type about struct {
		cycle int
		mean  int64
	}
	coupled, each := map[means]float64{}, map[about]float64{}
	for i := range n {
		o := &out.bursts[i]
		for j := range k {
			x := &per[(i+j)%n]
			o.Mean += x.Mean * f
			o.MeanSquare += x.MeanSquare * f
			o.MeanAbs += x.MeanAbs * f
		}
		// What a coupling capacitor takes off is the mean over the whole
		// measurement.
		step := func(x float64) int64 { return int64(math.Round(x * 1e7)) }
		key := means{step(o.Mean), step(math.Sqrt(o.MeanSquare)), step(o.MeanAbs)}
		v, ok := coupled[key]
		if !ok {
			for j := range k {
				at := about{(i + j) % n, key.mean}
				x, ok := each[at]
				if !ok {
					x = cycles[at.cycle].MeanAbs(sig, o.Mean)
					each[at] = x
				}
				v += x * f
			}
			coupled[key] = v
		}
		o.MeanAbsCoupled = v
	}
	return out, nil
}

// driver returns the drive voltages of a half-cycle.
func driver(b *models.Board, c Conditions) func(half int64, volts []float64) {
	return func(half int64, volts []float64) {
		for k := range b.Channels {
			volts[k] = c.drive(b, k, half)
		}
	}
}

// drive returns the drive voltage of channel k in a half-cycle.
func (c *Conditions) drive(b *models.Board, k int, half int64) float64 {
	d := &b.Channels[k].Drive
	on, from := c.State == Heating, b.DriveSource(k)
	if c.State == Holding {
		duty := 0.25
		if c.Duty != nil {
			duty = c.Duty[from]
		}
		cycles := int64(b.Controller.Window / 2)
		on = half/2%cycles < int64(math.Floor(duty*float64(cycles)+0.5))
	}
	if on && (c.Off == nil || !c.Off[from]) {
		return float64(d.On)
	}
	return float64(d.Off)
}

// control is the direct voltage at the pins of a drive plug, whose source a
// meter does not load, or across the LED behind R_LED, where it does.
func control(b *models.Board, p Point, m *models.Meter, c *Conditions) (measured, error) {
	if p.Channel < 0 || p.Channel >= len(b.Channels) || p.Plus.Place != models.PlugPlus && p.Plus.Place != models.Anode {
		return measured{}, fmt.Errorf("found a point of the unplugged board, expected one that is measured with the supply on")
	}
	d, o := &b.Channels[p.Channel].Drive, &b.Channels[p.Channel].Opto
	at := func(half int64) models.Moments {
		v := c.drive(b, p.Channel, half)
		if p.Plus.Place == models.PlugPlus {
			v = d.AtPlug(v)
		} else {
			v = d.LEDVoltage(o, v, float64(m.Resistance))
		}
		return models.Moments{Mean: v, MeanSquare: v * v, MeanAbs: math.Abs(v)}
	}
	w := measured{steady: at(0)}
	if c.State == Holding { // the first cycle of the window, and the last
		w.bursts = []models.Moments{w.steady, at(2*int64(b.Controller.Window/2) - 2)}
	}
	return w, nil
}

// Table returns what every meter of the board shows at every test point, in
// the order of Points and Board.Meters. The work is spread over the machine's
// cores; the result does not depend on how many there are.
func Table(b *models.Board, points []Point, meters []models.Meter, c Conditions) ([][]Value, error) {
	if len(points) == 0 {
		return nil, nil
	}
	x, err := NewBench(b, c)
	if err != nil {
		return nil, fmt.Errorf("test point %s: %w", points[0].Name, err)
	}
	out := make([][]Value, len(points))
	errs := make([]error, len(points))
	var wg sync.WaitGroup
	next := make(chan int)
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := range next {
				out[i], errs[i] = x.At(points[i], meters)
			}
		})
	}
	for i := range points {
		next <- i
	}
	close(next)
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}
