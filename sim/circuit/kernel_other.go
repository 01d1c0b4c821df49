//go:build !amd64

package circuit

func contractLanes(out, forms, m []float64) { contractPlain(out, forms, m) }

func dotsWide(out, m, x []float64) { dotsPlain(out, m, x) }

func weighWide(to, from, rows []float64) { weighPlain(to, from, rows) }

func dotsLong(out, m, x []float64) { dotsLongPlain(out, m, x) }

func lessRows(out, factors, rows []float64, columns []int, stride int, times float64) {
	lessRowsPlain(out, factors, rows, columns, stride, times)
}

func reflect2(a, basis []float64, i, left, bottom, n int, y, k float64) {
	reflect2Plain(a, basis, i, left, bottom, n, y, k)
}

func reflect3(a, basis []float64, i, left, bottom, n int, y, z, k float64) {
	reflect3Plain(a, basis, i, left, bottom, n, y, z, k)
}

func clearColumn(rows []float64, own, k int, others, columns []int, inverse float64) {
	clearColumnPlain(rows, own, k, others, columns, inverse)
}
