package circuit

// contractLanes is contractPlain in the processor's registers of two numbers,
// which every amd64 has; the sums are formed in the same order. It trusts the
// lengths.
//
//go:noescape
func contractLanes(out, forms, m []float64)

// dotsWide is dotsPlain likewise.
//
//go:noescape
func dotsWide(out, m, x []float64)
