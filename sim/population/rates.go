package population

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
)

// Rates tell how often boards have which faults. The zero value has none.
type Rates struct {
	// Healthy is the share of boards without a fault, 0 to 1.
	Healthy q.Ratio
	// More is the probability that a board with so many faults has one more,
	// 0 to below 1: the number of faults of a faulty board is geometric, and
	// at most MostFaults.
	More q.Ratio
	// Faults are the places that a fault can be in.
	Faults []Rate
	// OnsetFrom and OnsetTo bound when faults set in, evenly between them;
	// both 0 is at the start. Readings take faults as they are in the end.
	OnsetFrom, OnsetTo time.Duration
}

// MostFaults is the largest number of faults that a board is given.
const MostFaults = 4

// Rate is how often one fault in one place is met.
type Rate struct {
	Place
	// Weight is the probability of the place among all, in any unit.
	Weight float64
	// Severity is the spread of severities of a graded fault, within (0, 1];
	// the zero value is always 1.
	Severity Spread
}

// Place is a fault of the catalogue and the channel that has it, from 0;
// [faults.WholeBoard] for a fault of the board.
type Place struct {
	Fault   string
	Channel int
}

func (p Place) String() string {
	if p.Channel == faults.WholeBoard {
		return "board:" + p.Fault
	}
	return fmt.Sprintf("%d:%s", p.Channel+1, p.Fault)
}

// DefaultSeverity is the spread of a graded fault's severity where none is
// given: assumption.
var defaultSeverity = Spread{Uniform, 0.6, 1}

// DefaultRates are half of the boards healthy, a second fault on one faulty
// board in ten, and every fault of the catalogue that the board can have
// equally often, evenly over its channels. Which fault is how frequent is in
// no source that is known here: all of this is assumption, made so that no
// fault is rare in a population.
func DefaultRates(b *models.Board) Rates {
	r := Rates{Healthy: 0.5, More: 0.1}
	for _, f := range faults.Catalogue() {
		var places []Place
		if f.Scope == faults.PerBoard {
			places = []Place{{f.Name, faults.WholeBoard}}
		} else {
			for k := range b.Channels {
				places = append(places, Place{f.Name, k})
			}
		}
		places = slices.DeleteFunc(places, func(p Place) bool { return faults.New(p.Fault, p.Channel).Check(b) != nil })
		for _, p := range places {
			rate := Rate{Place: p, Weight: 1 / float64(len(places))}
			if f.Graded {
				rate.Severity = defaultSeverity
			}
			r.Faults = append(r.Faults, rate)
		}
	}
	return r
}

// check reports everything that is wrong with the rates for a board.
func (r *Rates) check(b *models.Board) []error {
	var errs []error
	bad := func(format string, args ...any) { errs = append(errs, fmt.Errorf("rates."+format, args...)) }
	if !(r.Healthy >= 0 && r.Healthy <= 1) {
		bad("healthy: found %v, expected 0 to 1", float64(r.Healthy))
	}
	if !(r.More >= 0 && r.More < 1) {
		bad("more: found %v, expected 0 to below 1", float64(r.More))
	}
	if r.OnsetFrom < 0 || r.OnsetTo < r.OnsetFrom {
		bad("onset: found %v to %v, expected times from 0, the earlier first", r.OnsetFrom, r.OnsetTo)
	}
	total := 0.0
	for i := range r.Faults {
		f := &r.Faults[i]
		if err := faults.New(f.Fault, f.Channel).Check(b); err != nil {
			bad("faults[%d]: %s: %w", i+1, f.Place, err)
			continue
		}
		if slices.ContainsFunc(r.Faults[:i], func(o Rate) bool { return o.Place == f.Place }) {
			bad("faults[%d]: found %s twice, expected it once", i+1, f.Place)
		}
		if !(f.Weight >= 0) || math.IsInf(f.Weight, 1) {
			bad("faults[%d]: %s: found weight %v, expected 0 or more", i+1, f.Place, f.Weight)
		}
		total += f.Weight
		if err := f.Severity.check(0); err != nil {
			bad("faults[%d]: %s: severity: %w", i+1, f.Place, err)
		} else if f.Severity.Law != Fixed && (f.Severity.High > 1 || f.Severity.High == 0) {
			bad("faults[%d]: %s: severity: found bound %v, expected above 0 and at most 1", i+1, f.Place, f.Severity.High)
		}
	}
	if len(r.Faults) > 0 && !(total > 0) {
		bad("faults: found weights that sum to 0, expected more")
	}
	return errs
}

// draw picks the places of one board, in the order of the rates.
func (r *Rates) draw(p *rand.PCG) []Place {
	if len(r.Faults) == 0 || even(p) < float64(r.Healthy) {
		return nil
	}
	n := 1
	for n < MostFaults && even(p) < float64(r.More) {
		n++
	}
	taken := make([]bool, len(r.Faults))
	for range n {
		left := 0.0
		for i := range r.Faults {
			if !taken[i] {
				left += r.Faults[i].Weight
			}
		}
		if left <= 0 {
			break
		}
		x, last := even(p)*left, -1
		for i := range r.Faults {
			if taken[i] || r.Faults[i].Weight == 0 {
				continue
			}
			last = i
			if x -= r.Faults[i].Weight; x < 0 {
				break
			}
		}
		taken[last] = true
	}
	var out []Place
	for i := range r.Faults {
		if taken[i] {
			out = append(out, r.Faults[i].Place)
		}
	}
	return out
}
