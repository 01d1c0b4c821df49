package heat

import "testing"

// A processor without AVX2 goes on to the plain twins.
func TestCalmKernelsWithoutAVX2(t *testing.T) {
	defer func(was bool) { wide = was }(wide)
	wide = false
	TestCalmKernels(t)
}
