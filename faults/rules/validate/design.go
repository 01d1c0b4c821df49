package validate

import (
	"fmt"
	"math"

	"boilwright/sim/population"
)

// Design tells which faults a board of an index has. The zero value is those
// that the rates of the population give it.
type Design struct {
	// Places each have one board in a round, alone; none leaves the faults to
	// the rates.
	Places []population.Place
	// Healthy is how many healthy boards a round has.
	Healthy int
}

// Balanced is a design in which every place of the rates has as many boards as
// any other, and the given share of boards is healthy.
func Balanced(p *population.Population, healthy float64) (Design, error) {
	d := Design{Places: p.Places()}
	switch {
	case len(d.Places) == 0:
		return d, fmt.Errorf("found no place of a fault, expected at least one")
	case !(healthy >= 0 && healthy < 1):
		return d, fmt.Errorf("found a share %v of healthy boards, expected 0 to below 1", healthy)
	}
	n := math.Round(healthy / (1 - healthy) * float64(len(d.Places)))
	if n > 1e6 {
		return d, fmt.Errorf("found a share %v of healthy boards, expected a smaller one", healthy)
	}
	d.Healthy = int(n)
	return d, nil
}

// Round is how many boards have every place once; 1 where faults are left to
// the rates.
func (d *Design) Round() uint64 {
	if len(d.Places) == 0 {
		return 1
	}
	return uint64(len(d.Places) + d.Healthy)
}

// Member draws the board of an index. Which fault it has depends on the index
// alone: rounds follow each other from index 0, in each the healthy boards
// come first.
func (d *Design) Member(p *population.Population, index uint64) (population.Member, error) {
	if len(d.Places) == 0 {
		return p.Member(index)
	}
	if k := int(index % d.Round()); k >= d.Healthy {
		return p.Given(index, d.Places[k-d.Healthy])
	}
	return p.Given(index)
}
