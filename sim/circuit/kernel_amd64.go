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

// weighWide is weighPlain likewise, for at least one row.
//
//go:noescape
func weighWide(to, from, rows []float64)

// dotsLong is dotsLongPlain likewise.
//
//go:noescape
func dotsLong(out, m, x []float64)

// lessRows is lessRowsPlain likewise.
//
//go:noescape
func lessRows(out, factors, rows []float64, columns []int, stride int, times float64)

// reflect2 is reflect2Plain likewise.
//
//go:noescape
func reflect2(a, basis []float64, i, left, bottom, n int, y, k float64)

// reflect3 is reflect3Plain likewise.
//
//go:noescape
func reflect3(a, basis []float64, i, left, bottom, n int, y, z, k float64)

// clearColumn is clearColumnPlain likewise.
//
//go:noescape
func clearColumn(rows []float64, own, k int, others, columns []int, inverse float64)
