package command

import (
	"math"
	"runtime/debug"
	"testing"
)

// TestBoundMemory: a limit is set and taken back; one that is there already stays.
func TestBoundMemory(t *testing.T) {
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(math.MaxInt64))
	undo := boundMemory(3)
	if got := debug.SetMemoryLimit(-1); got != 3*memoryPerWorker {
		t.Errorf("found a limit of %d, expected %d", got, 3*memoryPerWorker)
	}
	undo()
	if got := debug.SetMemoryLimit(-1); got != math.MaxInt64 {
		t.Errorf("found a limit of %d afterwards, expected none", got)
	}
	debug.SetMemoryLimit(1 << 40)
	undo = boundMemory(3)
	if got := debug.SetMemoryLimit(-1); got != 1<<40 {
		t.Errorf("found a limit of %d, expected that of before", got)
	}
	undo()
}
