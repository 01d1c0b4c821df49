package infer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// Options set a bench. The zero value of each field is its default.
type Options struct {
	// Draws is how many boards are drawn [12].
	Draws int
	// Runs is how many of them are run for hours, for temperatures [3].
	Runs int
	// Seed of the draws [1].
	Seed uint64
	// Tolerances that the boards are drawn from; nil is the default of
	// package population.
	Tolerances *population.Tolerances
	// Priors; nil is the default.
	Priors *Priors
	// Store keeps what was simulated; nil keeps it in memory only.
	Store Store
}

// Store keeps the results of experiments by their content. Keys are those of
// one bench; a store of another board, other tolerances or another version
// must be another store.
type Store interface {
	// Load returns the sheet of an experiment, nil where there is none.
	Load(key string) []float64
	// Save keeps it.
	Save(key string, values []float64)
}

// Bench simulates what tests show on a board under every hypothesis. It may
// be used by one goroutine at a time; it spreads its own work.
type Bench struct {
	Board      *models.Board
	Hypotheses []Hypothesis
	Priors     *Priors

	draws []*models.Board
	// supplies are voltages that each draw is tried with by scaling what it
	// shows, so that a dozen draws are not the only supplies there are.
	supplies []float64
	warm     []float64
	runs     int
	store    Store
	origin   string // the options, as far as results depend on them
	sheets   map[string]*sheet
	looked   []looked // by hypothesis
	classes  [][]int  // meters by input
}

// NewBench prepares a board's bench. Errors are those of the population.
func NewBench(b *models.Board, o Options) (*Bench, error) {
	if o.Draws == 0 {
		o.Draws = 12
	}
	if o.Runs == 0 {
		o.Runs = 3
	}
	if o.Seed == 0 {
		o.Seed = 1
	}
	if o.Priors == nil {
		o.Priors = DefaultPriors()
	}
	t := population.Default()
	if o.Tolerances != nil {
		t = *o.Tolerances
	}
	if len(b.Meters) == 0 {
		return nil, errors.New("meter: found no meters on the board, expected at least one")
	}
	p, err := population.New(b, population.Spec{Tolerances: t}, o.Seed)
	if err != nil {
		return nil, err
	}
	w := &Bench{Board: b, Priors: o.Priors, Hypotheses: Enumerate(b, o.Priors), runs: min(o.Runs, o.Draws), store: o.Store,
		sheets: map[string]*sheet{}, classes: inputs(b.Meters)}
	w.origin = fmt.Sprintf("%d draws, %d runs, seed %d, %+v", o.Draws, w.runs, o.Seed, t)
	w.glance(o.Draws)
	for i := range o.Draws {
		m, err := p.Given(uint64(i))
		if err != nil {
			return nil, err
		}
		w.draws = append(w.draws, m.Board)
		// Parts are between the room's temperature and that of a warm pocket, an
		// assumption: multiples of the golden ratio spread evenly for any number of draws.
		_, part := math.Modf(float64(i+1) * math.Phi)
		w.warm = append(w.warm, float64(m.Board.Ambient)+30*part)
	}
	w.supplies = spreadSupplies(w.draws)
	return w, nil
}

// Draws is how many boards each hypothesis is tried on.
func (w *Bench) Draws() int { return len(w.draws) }

// nearFull is the least severity of a fault with degrees; its draws have
// severities from there to 1: an assumption, that who looks for a fault has one
// that shows.
const nearFull = 0.9

// board returns draw m with the faults of hypothesis h, those with degrees at
// a severity of their own.
func (w *Bench) board(h, m int) (*models.Board, error) {
	set := slices.Clone(w.Hypotheses[h].Set)
	for i := range set {
		if f, ok := faults.Find(set[i].Fault); ok && f.Graded {
			_, part := math.Modf(float64(m+1) * math.Sqrt2)
			set[i].Severity = nearFull + (1-nearFull)*part
		}
	}
	return set.Applied(w.draws[m])
}

// channelOf is the channel of a test point's name, −1 for none.
func (w *Bench) channelOf(point string) int {
	name, _, ok := strings.Cut(point, ":")
	if !ok {
		return -1
	}
	return w.Board.ChannelIndex(name)
}

// experiments are what a test's outcome is got from.
func (w *Bench) experiments(t *Test) []experiment {
	base := experiment{state: t.State, pulled: -1, exchanged: none, about: -1}
	switch t.Kind {
	case Volts:
		base.kind, base.point, base.pulled = Volts, t.Point, t.Pulled
		var out []experiment
		for c, members := range w.classes {
			if slices.ContainsFunc(members, func(i int) bool { return t.takes(w.Board.Meters[i].Name) }) {
				x := base
				x.input = c
				out = append(out, x)
			}
		}
		return out
	case Unplugged:
		base.kind, base.state, base.point, base.instrument, base.reversed = Unplugged, readings.UnpluggedState, t.Point, t.Instrument, t.Reversed
		if t.Instrument == readings.Continuity {
			base.instrument = readings.Ohmmeter // it beeps by the same resistance
		}
		if t.Instrument == readings.Insulation {
			base.point, base.reversed = "", false
		}
		base.lifted = strings.Join(t.Lifted, ",")
		return []experiment{base}
	case ProbeOhms:
		base.kind, base.state, base.channel = ProbeOhms, readings.UnpluggedState, t.Channel
		return []experiment{base}
	case Clamp:
		base.kind, base.point = Clamp, t.Point
		return []experiment{base}
	case Temperature:
		base.kind, base.about = Temperature, t.Channel
		return []experiment{base}
	case Indicator, WarmUp:
		base.kind, base.state, base.about = Temperature, readings.Heating, t.Channel
		return []experiment{base}
	case LidWarm:
		base.kind, base.state = Temperature, readings.Standby
		return []experiment{base}
	case Look:
		base.kind, base.state = MonitorWatt, readings.Heating
		return []experiment{base}
	case Tripped:
		base.kind, base.state = MonitorWatt, readings.Heating
		other := base
		other.state = readings.Standby
		return []experiment{base, other}
	}
	base.kind, base.pulled = MonitorWatt, t.Pulled
	if t.With >= 0 {
		base.state = readings.Heating
		base.exchanged = [2]int{t.Channel, t.With}
	}
	return []experiment{base}
}

// takes reports whether the meter may be the one of that name.
func (t *Test) takes(name string) bool {
	return len(t.Meters) == 0 || slices.Contains(t.Meters, name)
}

// meterIndices lists the board's meters, or clamps, that a test may have been
// made with.
func (w *Bench) meterIndices(t *Test) []int {
	var out []int
	n := len(w.Board.Meters)
	if t.Kind == Clamp {
		n = len(w.Board.Clamps)
	}
	for i := range n {
		if t.takes(w.meterName(t, i)) {
			out = append(out, i)
		}
	}
	return out
}

// instrument reports whether the test is made with one of the board's
// voltmeters or clamps.
func (t *Test) instrument() bool { return t.Kind == Volts || t.Kind == Clamp }

// meterName is the name of the meter or clamp of an index.
func (w *Bench) meterName(t *Test, i int) string {
	if t.Kind == Clamp {
		return w.Board.Clamps[i].Name
	}
	return w.Board.Meters[i].Name
}

// CheckTest reports what is wrong with a test on this board.
func (w *Bench) CheckTest(t *Test) error {
	var err error
	switch {
	case t.Kind == Volts:
		_, err = readings.FindPoint(w.Board, t.Point)
	case t.Kind == Clamp:
		_, err = readings.FindLead(w.Board, t.Point)
	case t.Kind == Unplugged && t.Instrument != readings.Insulation:
		_, err = readings.FindUnpluggedPoint(w.Board, t.Point)
	}
	if err != nil {
		return err
	}
	if len(t.Lifted) > 0 {
		s, err := circuit.New(w.Board)
		if err != nil {
			return err
		}
		for _, name := range t.Lifted {
			if _, _, err := s.Ends(name); err != nil {
				return fmt.Errorf("lifted: %w", err)
			}
		}
	}
	if t.instrument() {
		if t.State != readings.Standby && t.State != readings.Heating {
			return fmt.Errorf("found state %v, expected standby or heating, whose readings do not change while they are taken", t.State)
		}
		if len(w.meterIndices(t)) == 0 {
			return fmt.Errorf("found meter %q, expected one of the board's", strings.Join(t.Meters, " or "))
		}
	}
	return nil
}
