package sim

import "testing"

// A processor without registers of four numbers goes on to the plain twins.
func TestCoursesWithoutAVX2(t *testing.T) {
	defer func(was bool) { wide = was }(wide)
	wide = false
	TestCarryAgainstPlain(t)
	TestFill(t)
	TestSumParts(t)
	TestDivideAgainstPlain(t)
}
