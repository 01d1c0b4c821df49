package infer

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// Trial sets an evaluation on boards that the bench has not drawn.
type Trial struct {
	Cases int    // of each kind
	Seed  uint64 // of the boards, meters and mistakes; another than the bench's
	// ByPrior draws healthy boards and faults by the priors; otherwise all
	// places of faults evenly.
	ByPrior bool
	// Most is how many tests may be asked for in a case [16].
	Most int
	// LeftOut draws faults that the bench is then made to forget.
	LeftOut bool
	// OutOfTolerance makes one part of a healthy board wrong in a way that no
	// fault of the catalogue is.
	OutOfTolerance bool
}

// Case is one board of a trial.
type Case struct {
	Truth  string  // as a suspect is named
	Found  string  // first suspect
	Action string  // for the truth
	Did    string  // first action
	P      float64 // of the first suspect
	PDid   float64 // of the first action
	Other  float64
	// None tells that it was reported as something not in the catalogue, or
	// that a piece of evidence was said to be explained by nothing in it.
	None  bool
	Tests int // asked for
	Live  int // of them live
	Fixed int // live tests of the fixed bench sequence
	Stop  string
	// Evidence is the complaint and what the tests that were asked for showed.
	Evidence []Evidence
}

// Right reports whether the first suspect is what was put in.
func (c *Case) Right() bool { return c.Found == c.Truth }

// RightAction reports whether the first action is that for what was put in.
func (c *Case) RightAction() bool { return c.Did == c.Action }

// severities that faults of trials have, and that hypotheses take by draw.
var severities = population.Spread{Law: population.Uniform, Low: nearFull, High: 1}

// FixedSequence is the bench sequence that the number of live tests is
// compared with: common practice, no source. It is gone through to the end on
// each channel that is complained of, after the supply.
func (w *Bench) FixedSequence(complained []int) []Test {
	at := func(point string, s readings.State) Test {
		t := newTest(Volts)
		t.Point, t.State = point, s
		return t
	}
	out := []Test{at("supply", readings.Standby)}
	for _, ch := range complained {
		name := w.Board.Channels[ch].Name
		out = append(out, at(name+":output", readings.Standby), at(name+":output", readings.Heating), at(name+":drive", readings.Heating), at(name+":triac", readings.Heating))
	}
	return out
}

// Evaluate goes through the cases of a trial: for each it draws a board with a
// fault, takes the complaint (which channels warm in standby and heating),
// and answers the tests that are asked for from the board's own simulation,
// with a meter of its own calibration, until no more is asked for. Cancelling
// ctx ends it with the cases done.
func (w *Bench) Evaluate(ctx context.Context, tr Trial) ([]Case, error) {
	if tr.Most == 0 {
		tr.Most = 16
	}
	spec := population.DefaultSpec(w.Board)
	spec.Rates.Healthy, spec.Rates.More = 0, 0
	if tr.ByPrior {
		spec.Rates.Healthy = q.Ratio(w.Hypotheses[0].Prior)
	}
	for i := range spec.Rates.Faults {
		r := &spec.Rates.Faults[i]
		if tr.ByPrior {
			r.Weight *= w.Priors.Weight(r.Fault)
		}
		if r.Severity.Law != population.Fixed {
			r.Severity = severities
		}
	}
	p, err := population.New(w.Board, spec, tr.Seed)
	if err != nil {
		return nil, err
	}
	var out []Case
	for i := range tr.Cases {
		if ctx.Err() != nil {
			return out, nil
		}
		c, err := w.trial(p, uint64(i), &tr)
		if err != nil {
			return out, fmt.Errorf("case %d: %w", i+1, err)
		}
		out = append(out, c)
	}
	return out, nil
}

// patient is a board under test, known to the evaluation only.
type patient struct {
	w      *Bench
	board  *models.Board
	warm   float64
	meter  int
	member population.Member
	rng    *rand.Rand
}

func (w *Bench) trial(p *population.Population, index uint64, tr *Trial) (Case, error) {
	rng := rand.New(rand.NewPCG(tr.Seed, index))
	var m population.Member
	var err error
	if tr.OutOfTolerance {
		m, err = p.Given(index)
	} else {
		m, err = p.Member(index)
	}
	if err != nil {
		return Case{}, err
	}
	b, err := m.Faulty()
	if err != nil {
		return Case{}, err
	}
	c := Case{Truth: nameOf(w.Board, m.Faults), Action: actionOf(w.Board, m.Faults).Do}
	if tr.OutOfTolerance {
		c.Truth, c.Action = outOfTolerance(b, rng), ""
	}
	pat := &patient{w, b, float64(b.Ambient) + 30*rng.Float64(), rng.IntN(len(w.Board.Meters)), m, rng}
	if tr.LeftOut {
		defer w.forget(m.Faults)()
	}
	var es []Evidence
	var complained []int
	for ch := range w.Board.Channels {
		for _, s := range []readings.State{readings.Standby, readings.Heating} {
			t := newTest(Warms)
			t.Channel, t.State = ch, s
			e, ok := pat.answer(t)
			if !ok {
				continue
			}
			es = append(es, e)
			normal := 0.0
			if s == readings.Heating {
				normal = 2
			}
			if e.Value != normal && !slices.Contains(complained, ch) {
				complained = append(complained, ch)
			}
		}
	}
	if len(complained) > 0 {
		for _, t := range w.FixedSequence(complained) {
			if t.Risk().Live() {
				c.Fixed++
			}
		}
	}
	cannot := Exclude{}
	for {
		d, err := w.Diagnose(es, cannot)
		if err != nil {
			return c, err
		}
		c.Found, c.P, c.Other, c.Did, c.Stop = d.Suspects[0].Name, d.Suspects[0].Probability, d.Other, d.Actions[0].Do, d.Stop
		c.PDid, c.Evidence = d.Actions[0].Probability, es
		c.None = d.Other > noneOfThese || len(d.Unexplained) > 0
		if d.Next == nil || c.Tests >= tr.Most {
			return c, nil
		}
		e, ok := pat.answer(d.Next.Test)
		if !ok {
			cannot[d.Next.Test.Key()] = true
			continue
		}
		c.Tests++
		if d.Next.Test.Risk().Live() {
			c.Live++
		}
		es = append(es, e)
	}
}

// noneOfThese is the probability of something not in the catalogue from which
// that is the answer.
const noneOfThese = 0.5

// forget takes all hypotheses with the faults out, until the returned function
// is called.
func (w *Bench) forget(set faults.Set) func() {
	kept := make([]float64, len(w.Hypotheses))
	for h := range w.Hypotheses {
		kept[h] = w.Hypotheses[h].Prior
		for _, j := range w.Hypotheses[h].Set {
			if slices.ContainsFunc(set, func(k faults.Injection) bool { return k.Fault == j.Fault }) {
				w.Hypotheses[h].Prior = 0
			}
		}
	}
	return func() {
		for h := range w.Hypotheses {
			w.Hypotheses[h].Prior = kept[h]
		}
	}
}

// outOfTolerance makes one part of a board wrong in a way that is no fault of
// the catalogue, and says which.
func outOfTolerance(b *models.Board, rng *rand.Rand) string {
	ch := rng.IntN(len(b.Channels))
	c := &b.Channels[ch]
	switch rng.IntN(4) {
	case 0:
		c.Element.Resistance *= 1.6
		return c.Name + ": element of too high a resistance"
	case 1:
		c.GateShunt /= 8
		return c.Name + ": gate shunt of an eighth"
	case 2:
		b.Supply.Voltage *= 0.55
		return "supply at half voltage"
	}
	b.Bridges = append(b.Bridges, models.Bridge{Name: "stray", From: models.At(models.Output, ch), To: models.At(models.Neutral, 0), Resistance: q.Ohm(400)})
	return c.Name + ": 400 Ω from output to neutral"
}

// answer carries a test out on the patient; ok is false where its simulation
// comes to no end.
func (p *patient) answer(t Test) (Evidence, bool) {
	w := p.w
	meter := -1
	if t.Kind == Volts {
		if t.Meters = slices.Clone(t.Meters); len(t.Meters) == 0 {
			t.Meters = []string{w.Board.Meters[p.meter].Name}
		}
		meter = w.meterIndices(&t)[0]
	}
	xs := w.experiments(&t)
	rows := make([][]float64, len(xs))
	for i := range xs {
		out, err := xs[i].perform(p.board, p.warm)
		if err != nil || out == nil {
			return Evidence{}, false
		}
		rows[i] = out
	}
	// What a look finds by assumption follows what is in fact wrong.
	h := Hypothesis{Set: p.member.Faults}
	keep := w.Hypotheses
	w.Hypotheses = []Hypothesis{h}
	o := w.outcome(&t, rows, 0, meter)
	w.Hypotheses = keep
	if !o.ok {
		return Evidence{}, false
	}
	e := Evidence{Test: t, Text: t.Key()}
	if o.chance != nil {
		x := p.rng.Float64()
		for i, c := range o.chance {
			e.Value = float64(i)
			if x -= c; x < 0 {
				break
			}
		}
		return e, true
	}
	v := o.value
	if math.IsInf(v, 0) {
		e.Value = v
		return e, true
	}
	switch t.Kind {
	case Volts:
		v, _, _ = p.member.Calibrations[meter].Show(&w.Board.Meters[meter], v)
	case Unplugged, ProbeOhms:
		// Even within ±1 % and 0.1 Ω or 5 mV: a generic ohmmeter's accuracy.
		step := 0.1
		if t.Instrument == readings.DiodeTest && t.Kind == Unplugged {
			step = 0.005
		}
		v = math.Max(0, v*(1+0.01*(2*p.rng.Float64()-1))+step*(2*p.rng.Float64()-1))
		if t.Kind == Unplugged && t.Instrument == readings.Ohmmeter && v > ohmOpen {
			v = math.Inf(1)
		}
	case MonitorWatt, MonitorAmp:
		v *= 1 + p.member.MonitorGain
	case WarmUp:
		if v >= neverReach {
			v = math.Inf(1)
		}
	}
	e.Value = v
	return e, true
}

// Score sums up the cases of a trial.
type Score struct {
	Cases, Right, RightAction int
	None                      int // reported as something not in the catalogue
	Tests, Live, Fixed        float64
	// Complained counts the cases with a complaint, over which LiveThen and
	// Fixed are means: of others the fixed sequence has none.
	Complained int
	LiveThen   float64
	// Calibration is the expected calibration error of the first suspect's
	// probability, in ten bins, and ActionCalibration that of the first
	// action's:
	//
	//	Σ_bins n_bin/n · |mean probability − share right|
	Calibration, ActionCalibration float64
	// Confusions are the cases where the first suspect was wrong, "truth ->
	// found", with their number, the most frequent first. Channels are left
	// out where they are right.
	Confusions []Confusion
}

// Confusion is a truth with what was found instead.
type Confusion struct {
	Truth, Found string
	Number       int
}

// Sum sums up cases; of limits them to truths, by name of the fault without
// its channel, nil for all.
func Sum(cases []Case, of map[string]bool) Score {
	var s Score
	var suspects, actions bins
	count := map[[2]string]int{}
	for i := range cases {
		c := &cases[i]
		if of != nil && !of[faultOf(c.Truth)] {
			continue
		}
		s.Cases++
		s.Tests += float64(c.Tests)
		s.Live += float64(c.Live)
		if c.Fixed > 0 {
			s.Complained++
			s.Fixed += float64(c.Fixed)
			s.LiveThen += float64(c.Live)
		}
		suspects.add(c.P, c.Right())
		actions.add(c.PDid, c.RightAction())
		if c.Right() {
			s.Right++
		} else {
			truth, found := c.Truth, c.Found
			if place, _, _ := strings.Cut(truth, ":"); strings.HasPrefix(found, place+":") {
				truth, found = faultOf(truth), strings.ReplaceAll(found, place+":", "")
			}
			count[[2]string{truth, found}]++
		}
		if c.RightAction() {
			s.RightAction++
		}
		if c.None {
			s.None++
		}
	}
	if s.Cases == 0 {
		return s
	}
	n := float64(s.Cases)
	s.Tests /= n
	s.Live /= n
	if s.Complained > 0 {
		s.Fixed /= float64(s.Complained)
		s.LiveThen /= float64(s.Complained)
	}
	s.Calibration, s.ActionCalibration = suspects.error(), actions.error()
	for k, v := range count {
		s.Confusions = append(s.Confusions, Confusion{k[0], k[1], v})
	}
	slices.SortFunc(s.Confusions, func(a, b Confusion) int {
		if a.Number != b.Number {
			return b.Number - a.Number
		}
		return strings.Compare(a.Truth+a.Found, b.Truth+b.Found)
	})
	return s
}

// bins gather probabilities and whether they came true.
type bins [10]struct{ n, p, right float64 }

func (b *bins) add(p float64, right bool) {
	x := &b[max(0, min(len(b)-1, int(p*float64(len(b)))))]
	x.n++
	x.p += p
	if right {
		x.right++
	}
}

// error is the expected calibration error.
func (b *bins) error() float64 {
	n, sum := 0.0, 0.0
	for _, x := range b {
		n += x.n
		sum += math.Abs(x.p - x.right)
	}
	return sum / n
}

// faultOf is the fault of a suspect's name without its channel.
func faultOf(name string) string {
	if _, fault, ok := strings.Cut(name, ":"); ok {
		return fault
	}
	return name
}
