package infer

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"

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

// sheet is what one experiment shows, by hypothesis and draw.
type sheet struct {
	rows    [][]float64 // by hypothesis·draws + draw; nil where not simulated
	changed bool
}

// failed marks a simulation that came to no end.
var failed = []float64{}

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

func (w *Bench) sheet(x *experiment) *sheet {
	key := x.key()
	s := w.sheets[key]
	if s == nil {
		s = &sheet{rows: make([][]float64, len(w.Hypotheses)*len(w.draws))}
		w.sheets[key] = s
		if w.store != nil {
			s.unpack(w.store.Load(key), w.length(x))
		}
	}
	return s
}

// Flush hands what is new to the store, in the order of keys.
func (w *Bench) Flush() {
	if w.store == nil {
		return
	}
	for _, key := range sortedKeys(w.sheets) {
		if s := w.sheets[key]; s.changed {
			w.store.Save(key, s.pack())
			s.changed = false
		}
	}
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// pack writes the rows one after the other: −1 for none, otherwise the length
// and the values.
func (s *sheet) pack() []float64 {
	var out []float64
	for _, r := range s.rows {
		if r == nil {
			out = append(out, -1)
			continue
		}
		out = append(out, float64(len(r)))
		out = append(out, r...)
	}
	return out
}

// length is how many figures an experiment has.
func (w *Bench) length(x *experiment) int {
	n := len(w.Board.Channels)
	switch x.kind {
	case Volts:
		return len(w.classes[x.input])
	case Clamp:
		return len(w.Board.Clamps)
	case Unplugged, ProbeOhms:
		return 1
	case Temperature:
		return runLength(n)
	}
	return powerLength(n)
}

// unpack reads what pack wrote, rows of the given length or failed ones; a
// sheet that does not fit is left out, to be simulated again.
func (s *sheet) unpack(values []float64, length int) {
	rows := make([][]float64, len(s.rows))
	for i := range rows {
		if len(values) == 0 {
			return
		}
		n := values[0]
		values = values[1:]
		if n < 0 {
			continue
		}
		if !(n == 0 || n == float64(length)) || int(n) > len(values) {
			return
		}
		rows[i] = values[:int(n):int(n)]
		if rows[i] == nil {
			rows[i] = failed
		}
		values = values[int(n):]
	}
	if len(values) == 0 {
		s.rows = rows
	}
}

// drawsOf is how many draws an experiment is carried out on.
func (w *Bench) drawsOf(x *experiment) int {
	if x.kind == Temperature {
		return w.runs
	}
	return len(w.draws)
}

// job is an experiment on one hypothesis and draw.
type job struct {
	x    *experiment
	s    *sheet
	h, m int
}

// need carries out experiments on hypotheses where that has not been done,
// on all cores. The result does not depend on how many there are.
func (w *Bench) need(xs []experiment, hs []int) { w.needDraws(xs, hs, len(w.draws)) }

// needDraws is need for the first draws only.
func (w *Bench) needDraws(xs []experiment, hs []int, draws int) {
	var jobs []job
	queued := map[string]bool{}
	for i := range xs {
		x := &xs[i]
		if queued[x.key()] {
			continue
		}
		queued[x.key()] = true
		s := w.sheet(x)
		for _, h := range hs {
			for m := range min(draws, w.drawsOf(x)) {
				if s.rows[h*len(w.draws)+m] == nil {
					jobs = append(jobs, job{x, s, h, m})
				}
			}
		}
	}
	if len(jobs) == 0 {
		return
	}
	next := make(chan job, 64)
	var wg sync.WaitGroup
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for j := range next {
				j.s.rows[j.h*len(w.draws)+j.m] = w.perform(j)
			}
		})
	}
	for _, j := range jobs {
		next <- j
	}
	close(next)
	wg.Wait()
	for _, j := range jobs {
		j.s.changed = true
	}
}

func (w *Bench) perform(j job) []float64 {
	b, err := w.board(j.h, j.m)
	if err != nil {
		return failed
	}
	out, err := j.x.perform(b, w.warm[j.m])
	if err != nil || out == nil {
		return failed
	}
	for i, v := range out { // as a store keeps it, so that an answer does not depend on it
		out[i] = float64(float32(v))
	}
	return out
}

// row returns what experiment x shows under hypothesis h on draw m, as far as
// the hypothesis is looked at; nil otherwise. Where it is not looked at
// exactly, what the healthy board shows stands for it if the fault is on
// another channel than the test.
//
// What has been simulated for other questions does not show, so that an answer
// does not depend on what was asked before.
func (w *Bench) row(x *experiment, s *sheet, h, m int) []float64 {
	if m >= w.looked[h].draws {
		return nil
	}
	if x.kind == Temperature {
		m %= w.looked[h].runs
	}
	if !w.looked[h].exactly && w.elsewhere(x, h) {
		return s.rows[m]
	}
	return s.rows[h*len(w.draws)+m]
}

// looked is how closely a hypothesis is looked at in an answer.
type looked struct {
	draws   int
	runs    int  // over which those of a run of hours are spread
	exactly bool // nothing stands for it that was simulated for another
}

// glance has all hypotheses looked at on a few draws, the healthy board on all.
func (w *Bench) glance(draws int) {
	w.looked = make([]looked, len(w.Hypotheses))
	for h := range w.looked {
		w.looked[h] = looked{draws: draws, runs: min(firstRuns, w.runs)}
	}
	w.look([]int{0}, true)
}

// look has hypotheses looked at on all draws.
func (w *Bench) look(hs []int, exactly bool) {
	for _, h := range hs {
		w.looked[h].draws, w.looked[h].runs = len(w.draws), w.runs
		w.looked[h].exactly = w.looked[h].exactly || exactly
	}
}

// elsewhere reports whether a hypothesis's faults are confined to another
// channel than that on which the experiment measures a voltage, or whose
// temperature is watched: apart from the load on the supply, and from what heat
// crosses between boilers, it shows what it does on the healthy board.
func (w *Bench) elsewhere(x *experiment, h int) bool {
	ch := -1
	switch x.kind {
	case Volts:
		ch = w.channelOf(x.point)
	case Temperature:
		ch = x.about
	}
	l := w.Hypotheses[h].local()
	return ch >= 0 && l >= 0 && l != ch && h > 0
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
