package circuit

import "testing"

// TestRegistersOfTwo: the kernels for processors without registers of four numbers
// give the same.
func TestRegistersOfTwo(t *testing.T) {
	if !fours {
		t.Skip("this processor has no others")
	}
	fours = false
	defer func() { fours = true }()
	TestRegisters(t)
	TestProducts(t)
}
