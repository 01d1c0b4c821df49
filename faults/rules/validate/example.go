package validate

import (
	"cmp"
	"slices"

	"boilwright/faults"
)

// Example is a board on which a rule is wrong, or on which two judges differ.
type Example struct {
	Index   uint64
	Channel int   // faults.WholeBoard for the board
	Meters  []int // in hand, as it is wrong; -1 for none
	// Distance is how far the board is from the one that the population is
	// drawn around: the root of the mean square of what was drawn for the board
	// and that channel, each in standard deviations from the board's own value;
	// where the rule misses a fault with degrees, that of its severity from 1
	// likewise.
	Distance float64
	Faults   faults.Set // the truth
	Values   []float64  // evidence, by Judge.Needs
}

// nearer puts an example into a list of the k nearest, those of the same
// distance by index and channel.
func nearer(list []Example, e Example, k int) []Example {
	at, _ := slices.BinarySearchFunc(list, e, func(a, b Example) int {
		return cmp.Or(cmp.Compare(a.Distance, b.Distance), cmp.Compare(a.Index, b.Index), cmp.Compare(a.Channel, b.Channel))
	})
	if at >= k {
		return list
	}
	list = slices.Insert(list, at, e)
	return list[:min(len(list), k)]
}
