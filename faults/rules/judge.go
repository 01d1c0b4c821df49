package rules

import (
	"context"

	"boilwright/sim/population/evidence"
)

// Conclusion is what a rule says about one channel, or about the board.
type Conclusion struct {
	Rule    string   // name of the rule
	Channel int      // from 0; -1 for the board as a whole
	Faults  []string // one of these is there; empty: healthy
}

// Healthy tells that the conclusion is that nothing is wrong.
func (c *Conclusion) Healthy() bool { return len(c.Faults) == 0 }

// Case is one board as it is judged: its evidence, and the meter in hand.
type Case struct {
	Index  uint64    // of the board in its population
	Meter  int       // in hand, an index in Board.Meters; of no account where InHand is false
	Values []float64 // by the observables of Judge.Needs
}

// Judge draws conclusions from evidence. It may be used by several goroutines.
type Judge interface {
	// Needs are the observables that the judge looks at, each once, in the
	// order of Case.Values. What is read with the meter in hand is there once
	// for each meter of the board.
	Needs() []evidence.Observable
	// InHand tells that conclusions depend on which meter is in hand: then
	// every board is a case with each.
	InHand() bool
	// Rules are the names of the rules, in order; nil where they are not known
	// beforehand.
	Rules() []string
	// Judge appends the conclusions of the rules that apply, in the order of
	// the rules and then of the channels. Conclusions are shared and must not
	// be changed.
	Judge(ctx context.Context, dst []*Conclusion, c *Case) ([]*Conclusion, error)
}
