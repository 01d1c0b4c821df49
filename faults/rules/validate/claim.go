package validate

import (
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/faults/rules"
)

// Claim is what a rule concludes when it applies, and where it is tried.
type Claim struct {
	Rule string
	// Channels it is tried on; nil for every channel, empty for none,
	// {faults.WholeBoard} for the board as a whole.
	Channels []int
	Faults   []string // one of these is there; empty: healthy
}

// Words of what is said of a unit beside faults.
const (
	Healthy  = "healthy"
	NoRule   = "no rule"
	Disagree = "rules disagree"
)

// OnBoard tells that the rule is about the board as a whole.
func (c *Claim) OnBoard() bool {
	return len(c.Channels) > 0 && c.Channels[0] == faults.WholeBoard
}

// on tells whether the rule is tried on a channel, or the board.
func (c *Claim) on(channel int) bool {
	if c.Channels == nil {
		return channel != faults.WholeBoard
	}
	return slices.Contains(c.Channels, channel)
}

// Concluded writes what a conclusion with these faults says: "healthy",
// "opto-shorted", "opto-shorted or triac-shorted".
func Concluded(names []string) string {
	if len(names) == 0 {
		return Healthy
	}
	return strings.Join(names, " or ")
}

// truthLabel writes the faults that a unit has.
func truthLabel(names []string) string {
	if len(names) == 0 {
		return Healthy
	}
	return strings.Join(names, " + ")
}

// holds tells whether what is concluded holds of a unit with these faults.
func holds(concluded, truth []string) bool {
	if len(concluded) == 0 {
		return len(truth) == 0
	}
	return slices.ContainsFunc(concluded, func(f string) bool { return slices.Contains(truth, f) })
}

// Right tells whether a conclusion holds of a board with these faults.
func Right(c *rules.Conclusion, set faults.Set) bool { return holds(c.Faults, Truth(set, c.Channel)) }

// Truth returns the names of the faults of a channel, or with
// [faults.WholeBoard] of the board as a whole, each once and in order.
func Truth(set faults.Set, channel int) []string {
	var out []string
	for _, j := range set {
		if j.Channel == channel {
			out = append(out, j.Fault)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// disagree tells that two conclusions about the same unit cannot both be meant:
// one says healthy and the other does not, or they name no fault in common.
func disagree(a, b []string) bool {
	if len(a) == 0 || len(b) == 0 {
		return len(a) != len(b)
	}
	return !slices.ContainsFunc(a, func(f string) bool { return slices.Contains(b, f) })
}

// common returns what all conclusions leave possible, in the order of the
// first.
func common(all []*rules.Conclusion) []string {
	out := slices.Clone(all[0].Faults)
	for _, c := range all[1:] {
		out = slices.DeleteFunc(out, func(f string) bool { return !slices.Contains(c.Faults, f) })
	}
	return out
}
