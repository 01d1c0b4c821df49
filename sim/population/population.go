package population

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
)

// Spec tells how the members of a population differ from its board.
type Spec struct {
	Tolerances Tolerances
	Rates      Rates
}

// DefaultSpec is the default tolerances, and [DefaultRates] for the board.
func DefaultSpec(b *models.Board) Spec { return Spec{Default(), DefaultRates(b)} }

// Population is the boards that can be drawn around one board. It is never
// changed and may be used by several goroutines.
type Population struct {
	board   *models.Board
	spec    Spec
	seed    uint64
	columns []Column
	graded  map[Place]Spread // severities of the places that have rates
}

// Column is one parameter in one place: what [Member.Values] holds.
type Column struct {
	Name      string // "supply.voltage", "dye:triac.holding-current", "rms:meter.gain"
	Parameter string
	Place     string      // channel, coupling or meter; empty for the board
	Dimension q.Dimension // of the values
	Nominal   float64     // the board's own; 1 for a common factor, 0 for a difference and a calibration
	Spread    Spread      // as drawn from
	Channel   int         // from 0; -1 for a parameter of no channel

	parameter *Parameter
	k         int
	own       float64
	sampler   sampler
	stream    uint64
}

// New returns the population around a healthy board. The same board, spec and
// seed give the same members. The error joins everything that is wrong with
// the spec.
func New(b *models.Board, s Spec, seed uint64) (*Population, error) {
	if b == nil || len(b.Channels) == 0 {
		return nil, errors.New("board: found no channels, expected at least one")
	}
	p := &Population{board: b.Clone(), spec: s, seed: seed, graded: map[Place]Spread{}}
	p.spec.Rates.Faults = slices.Clone(s.Rates.Faults)
	errs := p.spec.Rates.check(b)
	for i := range parameters {
		x := &parameters[i]
		spread := *x.spread(&p.spec.Tolerances)
		if err := x.check(spread); err != nil {
			errs = append(errs, fmt.Errorf("tolerances: %s: %w", x.Name, err))
			continue
		}
		if spread.Law != Fixed {
			p.add(x, spread)
		}
	}
	for _, r := range p.spec.Rates.Faults {
		p.graded[r.Place] = r.Severity
	}
	return p, errors.Join(errs...)
}

// add makes the columns of a parameter, one for each that the board has.
func (p *Population) add(x *Parameter, spread Spread) {
	for k := range x.count(p.board) {
		own, ok := x.nominal(p.board, k)
		if !ok {
			continue
		}
		c := Column{Name: x.Name, Parameter: x.Name, Place: x.place(p.board, k), Dimension: x.Dimension,
			Nominal: own, Spread: spread, Channel: -1, parameter: x, k: k, own: own}
		if x.Kind == Share {
			c.Nominal = 0
		}
		if c.Place != "" {
			c.Name = c.Place + ":" + x.Name
		}
		if x.Scope == OfChannel {
			c.Channel = k
		}
		c.sampler = x.sampler(spread, own)
		c.stream = stream(fmt.Sprintf("parameter %s %d", x.Name, k))
		p.columns = append(p.columns, c)
	}
}

// Columns lists what [Member.Values] holds, in order.
func (p *Population) Columns() []Column { return slices.Clone(p.columns) }

// Board returns a copy of the board that the population is drawn around.
func (p *Population) Board() *models.Board { return p.board.Clone() }

// Places lists the places of the rates that have a weight, in order.
func (p *Population) Places() []Place {
	var out []Place
	for _, r := range p.spec.Rates.Faults {
		if r.Weight > 0 {
			out = append(out, r.Place)
		}
	}
	return out
}

// Member is one board of a population.
type Member struct {
	Index  uint64
	Board  *models.Board // drawn, without faults; the caller's own
	Faults faults.Set    // the ground truth: what is wrong with it
	// Values are what was drawn, by [Population.Columns], in SI units.
	Values []float64
	// Calibrations are the errors of the meters of the board, by Board.Meters,
	// Clamps those of its clamp ammeters, by Board.Clamps, and MonitorGain that
	// of the energy monitor, part of the reading.
	Calibrations []Calibration
	Clamps       []Calibration
	MonitorGain  float64
	// Seed is of what is random in a run of the faults.
	Seed uint64
}

// Faulty returns the drawn board with its faults, as they are when everything
// has happened.
func (m *Member) Faulty() (*models.Board, error) { return m.Faults.Applied(m.Board) }

// Member draws member index with the faults that the rates give it. It depends
// on nothing but the population and the index.
func (p *Population) Member(index uint64) (Member, error) {
	s := source(p.seed, index, stream("faults"))
	return p.Given(index, p.spec.Rates.draw(&s)...)
}

// Given draws member index with faults in the given places instead of those
// that the rates give it: none for a healthy one. The parts are those that
// Member gives the same index, and a fault in both has the same severity.
//
// A severity is drawn from the rate of the place; without a rate from its
// default, evenly between 0.6 and 1, or 1 for a fault without degrees. Keys
// with choices, such as a polarity, are drawn evenly among them; other keys
// have their defaults. Where the severity takes a value beyond what this board
// may have, as with a high supply voltage that is made higher, it is lowered to
// the most that is possible. The error tells of a fault that the board cannot
// have.
func (p *Population) Given(index uint64, places ...Place) (Member, error) {
	m := Member{Index: index, Board: p.board.Clone(), Values: make([]float64, len(p.columns)), Calibrations: make([]Calibration, len(p.board.Meters)), Clamps: make([]Calibration, len(p.board.Clamps))}
	for i := range p.columns {
		c := &p.columns[i]
		s := source(p.seed, index, c.stream)
		v := c.parameter.drawn(c.own, c.sampler.at(even(&s)))
		m.Values[i] = v
		c.parameter.put(&m, c.k, v)
	}
	s := source(p.seed, index, stream("course"))
	m.Seed = s.Uint64()
	for _, at := range places {
		j, err := p.injection(index, at)
		if err == nil {
			j, err = possible(j, m.Board)
		}
		if err != nil {
			return Member{}, fmt.Errorf("member %d: %w", index, err)
		}
		m.Faults = append(m.Faults, j)
	}
	if err := m.Faults.Check(m.Board); err != nil {
		return Member{}, fmt.Errorf("member %d: %w", index, err)
	}
	return m, nil
}

// severitySteps is the number of severities between healthy and the full
// fault that are drawn, so that they can be written.
const severitySteps = 10000

// injection draws severity, choices and onset of one fault.
func (p *Population) injection(index uint64, at Place) (faults.Injection, error) {
	f, ok := faults.Find(at.Fault)
	if !ok {
		return faults.Injection{}, fmt.Errorf("found fault %q, expected one of the catalogue", at.Fault)
	}
	j := faults.New(at.Fault, at.Channel)
	s := source(p.seed, index, stream("fault "+at.String()))
	e, spread := even(&s), defaultSeverity
	if given, ok := p.graded[at]; ok {
		spread = given
	}
	if f.Graded && spread.Law != Fixed {
		x := spread.between(0, 1)
		j.Severity = math.Max(1, math.Round(x.at(e)*severitySteps)) / severitySteps
	}
	if from, to := p.spec.Rates.OnsetFrom, p.spec.Rates.OnsetTo; to > 0 {
		j.Onset.From = (from + time.Duration(even(&s)*float64(to-from))).Round(time.Millisecond)
	}
	for i := range f.Keys {
		if c := f.Keys[i].Choices; len(c) > 0 {
			j = j.With(f.Keys[i].Name, c[min(int(even(&s)*float64(len(c))), len(c)-1)].Value)
		}
	}
	return j, nil
}

// possible returns the injection at its severity, or at the most below it at
// which it can be made on the board.
func possible(j faults.Injection, b *models.Board) (faults.Injection, error) {
	_, err := faults.Set{j}.Applied(b)
	if err == nil {
		return j, nil
	}
	if f, _ := faults.Find(j.Fault); !f.Graded {
		return j, err
	}
	low, high := 0.0, j.Severity
	for range 15 {
		j.Severity = math.Floor((low+high)/2*severitySteps) / severitySteps
		if _, e := (faults.Set{j}).Applied(b); e == nil {
			low = j.Severity
		} else {
			high = j.Severity
		}
	}
	if j.Severity = low; low == 0 {
		return j, err
	}
	return j, nil
}
