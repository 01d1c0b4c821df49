package circuit

import "golang.org/x/sys/cpu"

// fours tells that the processor has registers of four numbers too. Sums are formed
// in the same order in these.
var fours = cpu.X86.HasAVX2

// contractLanes is contractPlain in these registers; every amd64 has those of two
// numbers. The sums are formed in the same order. It trusts the lengths.
func contractLanes(out, forms, m []float64) {
	if fours {
		contractFours(out, forms, m)
		return
	}
	contractTwos(out, forms, m)
}

//go:noescape
func contractFours(out, forms, m []float64)

//go:noescape
func contractTwos(out, forms, m []float64)

// dotsWide is dotsPlain likewise.
//
//go:noescape
func dotsWide(out, m, x []float64)

// weighWide is weighPlain likewise, for at least one row.
func weighWide(to, from, rows []float64) {
	if fours {
		weighFours(to, from, rows)
		return
	}
	weighTwos(to, from, rows)
}

//go:noescape
func weighFours(to, from, rows []float64)

//go:noescape
func weighTwos(to, from, rows []float64)

// dotsLong is dotsLongPlain likewise.
func dotsLong(out, m, x []float64) {
	if fours {
		dotsFours(out, m, x)
		return
	}
	dotsTwos(out, m, x)
}

//go:noescape
func dotsFours(out, m, x []float64)

//go:noescape
func dotsTwos(out, m, x []float64)

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
