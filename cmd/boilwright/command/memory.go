package command

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
)

const (
	// memoryPerWorker is what boards in work need in bytes, each with what has been left
	// by others and is not collected yet. Runs of most need a tenth, of those near a
	// threshold all of it.
	memoryPerWorker = 80 << 20
	// seldom is how much may be left, in per cent of what is in use, before it is
	// collected, if the limit allows it.
	seldom = 400
)

// boundMemory has the collector keep to what so many workers need, 0 for one a core, and
// work seldom below that. It gives way where more is in use, and where the environment
// says otherwise (GOMEMLIMIT, GOGC). What it returns undoes it.
func boundMemory(workers int) (undo func()) {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	limit := debug.SetMemoryLimit(-1)
	if limit != math.MaxInt64 || os.Getenv("GOGC") != "" {
		return func() {}
	}
	debug.SetMemoryLimit(int64(workers) * memoryPerWorker)
	percent := debug.SetGCPercent(seldom)
	return func() {
		debug.SetGCPercent(percent)
		debug.SetMemoryLimit(limit)
	}
}
