package sim

import (
	"sync"

	"boilwright/sim/arena"
	"boilwright/sim/heat"
)

// memory is what a run works in and nothing of its result lies in. Another run
// takes it over, so that many runs one after another leave little to collect.
type memory struct {
	numbers numbers
	series  arena.Of[series]
	steps   arena.Of[step]
	known   arena.Of[reached] // of series
	plans   arena.Of[plan]
	parts   arena.Of[part]
	parted  arena.Of[*part]      // of series
	banks   arena.Of[heat.Lanes] // of plans and what cycles do
	ledgers arena.Of[ledger]     // of series
	keyed   arena.Of[planSlot]
	sensed  []sensed // each is cleared when a version of the board begins
}

var spareMemory = sync.Pool{New: func() any { return new(memory) }}

// reset takes back all that was handed out.
func (m *memory) reset() {
	m.numbers.Empty()
	m.series.Empty()
	m.steps.Empty()
	m.known.Empty()
	m.plans.Empty()
	m.parts.Empty()
	m.parted.Empty()
	m.banks.Empty()
	m.ledgers.Empty()
	m.keyed.Empty()
}

// manyLanes is the size of the first piece of lanes, and manyNumbers that of numbers.
const (
	manyLanes   = 128
	manyNumbers = 2048
)

// numbers is an arena of numbers.
type numbers struct{ arena.Of[float64] }

// take returns n zeros.
func (s *numbers) take(n int) []float64 { return s.Take(n, manyNumbers) }
