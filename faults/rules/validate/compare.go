package validate

import (
	"context"
	"fmt"
	"slices"

	"boilwright/faults"
	"boilwright/faults/rules"
	"boilwright/models"
	"boilwright/sim/population"
)

// Side is one of two judges that are compared.
type Side struct {
	Judge    rules.Judge
	Observer Observer // of what the judge needs
}

// Comparison is what two judges came to on the same units.
type Comparison struct {
	Asked, Done, Unsolved uint64 // boards
	Units                 uint64
	Both, Neither         uint64 // units of which both, or neither, are right
	Overall               Paired // units of which the first, or the second, alone is right
	ByFault               []FaultPaired
	ByMeter               []MeterPaired
	// First are the most ordinary boards on which only the first is right,
	// Second those on which only the second is.
	First, Second []Difference
}

// FaultPaired compares on units with one fault, alone or with others.
type FaultPaired struct {
	Fault         string // Healthy for units without one
	Both, Neither uint64
	Paired
}

// MeterPaired compares on units with one meter in hand.
type MeterPaired struct {
	Meter         string // empty for none
	Both, Neither uint64
	Paired
}

// Difference is a board on which one of two judges is right.
type Difference struct {
	Example
	// What was said with the first of the meters in hand.
	FirstSaid, SecondSaid string
}

// pairs counts units by who is right.
type pairs struct{ both, first, second, neither uint64 }

func (p *pairs) add(a, b bool) {
	switch {
	case a && b:
		p.both++
	case a:
		p.first++
	case b:
		p.second++
	default:
		p.neither++
	}
}

// RightAbout tells whether what is concluded of a unit with these faults is
// right as a whole: nothing that is said is wrong, and where there is a fault a
// rule says so. To say nothing of a healthy unit is right.
func RightAbout(said []*rules.Conclusion, truth []string) bool {
	right := len(truth) == 0
	for _, c := range said {
		if !holds(c.Faults, truth) {
			return false
		}
		right = true
	}
	return right
}

// on returns the conclusions about one channel.
func on(all []*rules.Conclusion, channel int) []*rules.Conclusion {
	var out []*rules.Conclusion
	for _, c := range all {
		if c.Channel == channel {
			out = append(out, c)
		}
	}
	return out
}

// wording writes what is concluded of a unit.
func wording(said []*rules.Conclusion) string {
	if len(said) == 0 {
		return NoRule
	}
	var out string
	for i, c := range said {
		if i > 0 {
			out += "; "
		}
		out += c.Rule + ": " + Concluded(c.Faults)
	}
	return out
}

// comparison is one under way.
type comparison struct {
	source   *Source
	board    *models.Board
	ordinary *ordinary
	meters   []int
	result   Comparison
	all      pairs
	byFault  map[string]*pairs
	byMeter  []pairs
	onBoard  bool
}

// Compare tries two judges on the same boards, each with its own evidence of
// them, and tells on which units only one is right, see [RightAbout]. Both are
// given the meters in hand that either depends on. The board as a whole is a
// unit where OnBoard is set. Cancelling ctx ends it with the error of ctx and
// what was done.
func Compare(ctx context.Context, s Source, a, b Side, onBoard bool) (*Comparison, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	c := &comparison{source: &s, board: s.Population.Board(), byFault: map[string]*pairs{}, onBoard: onBoard}
	var err error
	if c.ordinary, err = newOrdinary(s.Population, c.board); err != nil {
		return nil, err
	}
	c.meters = s.inHand(c.board, a.Judge)
	if !a.Judge.InHand() {
		c.meters = s.inHand(c.board, b.Judge)
	}
	c.byMeter = make([]pairs, len(c.meters))
	needs := [2]int{len(a.Judge.Needs()), len(b.Judge.Needs())}
	err = population.Each(ctx, s.From, s.To, s.Workers, func(ctx context.Context, i uint64) ([2]judged, error) {
		var out [2]judged
		m, err := s.Design.Member(s.Population, i)
		for k, side := range []Side{a, b} {
			if err == nil {
				out[k], err = judge(ctx, side.Judge, needs[k], side.Observer, m, c.meters)
			}
		}
		return out, err
	}, func(_ uint64, x [2]judged) error {
		err := c.take(&x)
		if s.Progress != nil {
			s.Progress(c.result.Done)
		}
		return err
	})
	if err != nil && ctx.Err() == nil {
		return nil, err
	}
	return c.sum(), err
}

// take counts one board.
func (c *comparison) take(x *[2]judged) error {
	c.result.Done++
	if x[0].record.Problem != "" || x[1].record.Problem != "" {
		c.result.Unsolved++
		return nil
	}
	first := 0
	if c.onBoard {
		first = faults.WholeBoard
	}
	for channel := first; channel < len(c.board.Channels); channel++ {
		truth := Truth(x[0].faults, channel)
		var differ [2]*Difference
		for i, meter := range c.meters {
			var said [2][]*rules.Conclusion
			var right [2]bool
			for k := range x {
				for _, s := range x[k].concluded[i] {
					if s.Channel < faults.WholeBoard || s.Channel >= len(c.board.Channels) {
						return fmt.Errorf("rule %s: found channel %d, expected one of %d or the board", s.Rule, s.Channel+1, len(c.board.Channels))
					}
				}
				said[k] = on(x[k].concluded[i], channel)
				right[k] = RightAbout(said[k], truth)
			}
			c.all.add(right[0], right[1])
			c.byMeter[i].add(right[0], right[1])
			names := truth
			if len(names) == 0 {
				names = []string{Healthy}
			}
			for _, f := range names {
				if c.byFault[f] == nil {
					c.byFault[f] = &pairs{}
				}
				c.byFault[f].add(right[0], right[1])
			}
			for k := range right {
				if !right[k] || right[1-k] {
					continue
				}
				if differ[k] == nil {
					differ[k] = &Difference{Example{Index: x[k].index, Channel: channel, Distance: c.ordinary.distance(x[k].drawn, channel, none), Faults: x[k].faults}, wording(said[0]), wording(said[1])}
				}
				differ[k].Meters = append(differ[k].Meters, meter)
			}
		}
		for k, to := range []*[]Difference{&c.result.First, &c.result.Second} {
			if differ[k] != nil {
				*to = closer(*to, *differ[k], c.source.Examples)
			}
		}
	}
	return nil
}

// closer is nearer for differences.
func closer(list []Difference, d Difference, k int) []Difference {
	at := len(list)
	for at > 0 && d.Distance < list[at-1].Distance {
		at--
	}
	if at >= k {
		return list
	}
	list = slices.Insert(list, at, d)
	return list[:min(len(list), k)]
}

// sum makes the tests.
func (c *comparison) sum() *Comparison {
	r := &c.result
	r.Asked = c.source.To - c.source.From
	r.Both, r.Neither, r.Overall = c.all.both, c.all.neither, McNemar(c.all.first, c.all.second)
	r.Units = c.all.both + c.all.neither + c.all.first + c.all.second
	for _, name := range append([]string{Healthy}, faults.Names()...) {
		if p := c.byFault[name]; p != nil {
			r.ByFault = append(r.ByFault, FaultPaired{name, p.both, p.neither, McNemar(p.first, p.second)})
		}
	}
	for i, p := range c.byMeter {
		r.ByMeter = append(r.ByMeter, MeterPaired{meterName(c.board, c.meters[i]), p.both, p.neither, McNemar(p.first, p.second)})
	}
	return r
}
