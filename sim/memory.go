package sim

import "sync"

// memory is what a run works in and nothing of its result lies in. Another run
// takes it over, so that many runs one after another leave little to collect.
type memory struct {
	numbers numbers
	series  arena[series]
	known   arena[reached] // of series
	plans   arena[plan]
	keyed   arena[planSlot]
	sensed  []sensed // each is cleared when a version of the board begins
}

var spareMemory = sync.Pool{New: func() any { return new(memory) }}

// reset takes back all that was handed out.
func (m *memory) reset() {
	m.numbers.reset()
	m.series.reset()
	m.known.reset()
	m.plans.reset()
	m.keyed.reset()
}

// arena hands out small slices from slabs, which serve again after a reset.
type arena[T any] struct {
	free  []T
	slabs [][]T
	used  int // of the slabs
}

// mostSlabs bounds what an arena keeps: a long run may need much more than most.
const mostSlabs = 64

// take returns n zeros from a slab of size or more.
func (a *arena[T]) take(n, size int) []T {
	if n > len(a.free) {
		a.free = a.slab(max(n, size))
	}
	x := a.free[:n:n]
	a.free = a.free[n:]
	return x
}

// slab returns the next one kept if it has n or more, else a new one.
func (a *arena[T]) slab(n int) []T {
	if a.used < len(a.slabs) {
		if s := a.slabs[a.used]; len(s) >= n {
			a.used++
			return s
		}
		return make([]T, n)
	}
	s := make([]T, n)
	if a.used < mostSlabs {
		a.slabs = append(a.slabs, s)
		a.used++
	}
	return s
}

// reset takes back and clears all that was handed out.
func (a *arena[T]) reset() {
	for _, s := range a.slabs[:a.used] {
		clear(s)
	}
	a.free, a.used = nil, 0
}

// numbers is an arena of numbers.
type numbers struct{ arena[float64] }

// take returns n zeros.
func (s *numbers) take(n int) []float64 { return s.arena.take(n, 4096) }
