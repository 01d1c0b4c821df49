package command

import (
	"math"
	"runtime/debug"
	"testing"
)

// TestBoundMemory: a limit is set and taken back, as is the collector's pace; what the
// environment says stays.
func TestBoundMemory(t *testing.T) {
	t.Setenv("GOGC", "")
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(math.MaxInt64))
	defer debug.SetGCPercent(debug.SetGCPercent(77))
	check := func(when string, limit int64, percent int) {
		t.Helper()
		pace := debug.SetGCPercent(percent)
		if got := debug.SetMemoryLimit(-1); got != limit || pace != percent {
			t.Errorf("%s: found a limit of %d and %d %%, expected %d and %d %%", when, got, pace, limit, percent)
		}
	}
	undo := boundMemory(3)
	check("meanwhile", 3*memoryPerWorker, seldom)
	undo()
	check("afterwards", math.MaxInt64, 77)

	t.Setenv("GOGC", "50")
	undo = boundMemory(3)
	check("with a pace of the environment's", math.MaxInt64, 77)
	undo()
	t.Setenv("GOGC", "")
	debug.SetMemoryLimit(1 << 40)
	undo = boundMemory(3)
	check("with a limit of the environment's", 1<<40, 77)
	undo()
	check("with that, afterwards", 1<<40, 77)
}
