package command

import (
	"math"
	"runtime"
	"runtime/debug"
)

// What boards in work need in bytes, each with what has been left by others and is not
// collected yet. Runs of most need a tenth, of those near a threshold all of it.
const memoryPerWorker = 68 << 20

// boundMemory has the collector keep to what so many workers need, 0 for one a core:
// by itself it would let waste grow to the size of all that is in use. It gives way
// where more is in use, and where the environment sets a limit (GOMEMLIMIT). What it
// returns undoes it.
func boundMemory(workers int) (undo func()) {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	was := debug.SetMemoryLimit(-1)
	if was == math.MaxInt64 {
		debug.SetMemoryLimit(int64(workers) * memoryPerWorker)
	}
	return func() { debug.SetMemoryLimit(was) }
}
