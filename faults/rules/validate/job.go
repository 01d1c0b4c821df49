package validate

import (
	"context"
	"errors"
	"fmt"

	"boilwright/faults"
	"boilwright/faults/rules"
	"boilwright/models"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// Observer observes the boards of a population, as [evidence.Plan] does. It is
// used by several goroutines.
type Observer interface {
	Observe(ctx context.Context, m population.Member) (evidence.Record, error)
}

var _ Observer = (*evidence.Plan)(nil)

// Source is the boards on which rules are tried.
type Source struct {
	Population *population.Population
	// Spec and Seed are those that Population was made with: boards are drawn
	// again with one parameter fixed.
	Spec population.Spec
	Seed uint64
	// Design tells which board has which faults.
	Design  Design
	From    uint64 // index of the first board
	To      uint64 // after the last one
	Workers population.Workers
	// Meters that are in hand, indices in Board.Meters [all]; of no account to
	// a judge that has none in hand.
	Meters []int
	// Examples is how many boards of each kind are kept [none].
	Examples int
	// Progress, if not nil, is told how many boards are done.
	Progress func(done uint64)
}

// Job is the validation of one judge.
type Job struct {
	Source
	Judge rules.Judge
	// Claims are what its rules conclude, in order. Rules that are not in it are
	// taken up when they first apply, and are then tried on every channel, or
	// on the board where they conclude about it: misses before that are
	// counted, but not looked at.
	Claims []Claim
	// Observer observes what the judge needs.
	Observer Observer
	// Redraw is how many boards that are judged wrongly are drawn again, for
	// each rule and kind of mistake, once for each of the parameters that go
	// with mistakes most [none].
	Redraw int
}

// mostRules bounds how many different conclusions are counted, so that an
// endless judge does not take all memory.
const mostRules = 2000

// noMeter is the meter of a unit where none is in hand.
const noMeter = -1

// judged is a board as it was judged.
type judged struct {
	index  uint64
	faults faults.Set
	drawn  []float64
	record evidence.Record
	// by the meters in hand
	concluded [][]*rules.Conclusion
}

// check reports what is wrong with a source.
func (s *Source) check() error {
	switch {
	case s.Population == nil:
		return errors.New("found no population, expected one")
	case s.From > s.To:
		return fmt.Errorf("found indices from %d to %d, expected the lower first", s.From, s.To)
	case s.Examples < 0:
		return fmt.Errorf("found %d examples, expected 0 or more", s.Examples)
	}
	n := len(s.Population.Board().Meters)
	for _, m := range s.Meters {
		if m < 0 || m >= n {
			return fmt.Errorf("found meter %d in hand, expected 0 to %d", m, n-1)
		}
	}
	return nil
}

// inHand lists the meters that a judge is given in hand.
func (s *Source) inHand(b *models.Board, j rules.Judge) []int {
	switch {
	case !j.InHand():
		return []int{noMeter}
	case len(s.Meters) > 0:
		return s.Meters
	}
	var out []int
	for i := range b.Meters {
		out = append(out, i)
	}
	return out
}

// judge observes a member and lets the judge, which needs so many values, draw
// its conclusions.
func judge(ctx context.Context, j rules.Judge, needs int, o Observer, m population.Member, meters []int) (judged, error) {
	x := judged{index: m.Index, faults: m.Faults, drawn: m.Values}
	var err error
	if x.record, err = o.Observe(ctx, m); err != nil || x.record.Problem != "" {
		return x, err
	}
	if len(x.record.Values) != needs {
		return x, fmt.Errorf("board %d: found %d values, expected %d", m.Index, len(x.record.Values), needs)
	}
	x.concluded = make([][]*rules.Conclusion, 0, len(meters))
	for _, meter := range meters {
		said, err := j.Judge(ctx, nil, &rules.Case{Index: m.Index, Meter: max(meter, 0), Values: x.record.Values})
		if err != nil {
			return x, err
		}
		x.concluded = append(x.concluded, said)
	}
	return x, nil
}

// Run tries the judge on the boards and reports what came out. Cancelling ctx
// ends it with the error of ctx and a report of the boards that were done.
func (j *Job) Run(ctx context.Context) (*Report, error) {
	if err := j.Source.check(); err != nil {
		return nil, err
	}
	b := j.Population.Board()
	o, err := newOrdinary(j.Population, b)
	if err != nil {
		return nil, err
	}
	meters := j.inHand(b, j.Judge)
	t, err := newTally(b, o, meters, j.Claims, j.Examples)
	if err != nil {
		return nil, err
	}
	needs := len(j.Judge.Needs())
	err = population.Each(ctx, j.From, j.To, j.Workers, func(ctx context.Context, i uint64) (judged, error) {
		m, err := j.Design.Member(j.Population, i)
		if err != nil {
			return judged{}, err
		}
		return judge(ctx, j.Judge, needs, j.Observer, m, meters)
	}, func(_ uint64, x judged) error {
		if j.Progress != nil {
			defer func() { j.Progress(t.done) }()
		}
		return t.take(&x)
	})
	if err != nil && ctx.Err() == nil {
		return nil, err
	}
	ranks := t.rank()
	if err == nil && j.Redraw > 0 {
		err = j.redraw(ctx, t, ranks)
		if err != nil && ctx.Err() == nil {
			return nil, err
		}
	}
	r := t.report(ranks)
	r.Asked = j.To - j.From
	return r, err
}
