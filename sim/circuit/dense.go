package circuit

import "math"

// invert overwrites the n×n row-major matrix a by its inverse, by elimination on both
// sides of the diagonal with partial pivoting, and reports whether there is one.
// exchanges is room for n numbers.
func invert(a []float64, n int, exchanges []int) bool {
	for k := range n {
		p, best := k, math.Abs(a[k*n+k])
		for i := k + 1; i < n; i++ {
			if v := math.Abs(a[i*n+k]); v > best {
				p, best = i, v
			}
		}
		exchanges[k] = p
		if !(best >= 1e-300) {
			return false
		}
		own := a[k*n : (k+1)*n]
		if p != k {
			other := a[p*n : (p+1)*n]
			for j, x := range own {
				own[j], other[j] = other[j], x
			}
		}
		// Column k of what becomes the inverse takes the place of the unknown's.
		by := 1 / own[k]
		own[k] = 1
		for j := range own {
			own[j] *= by
		}
		for i := range n {
			if i == k {
				continue
			}
			row := a[i*n : (i+1)*n][:len(own)]
			if f := row[k]; f != 0 {
				row[k] = 0
				for j, x := range own {
					row[j] -= f * x
				}
			}
		}
	}
	for k := n - 1; k >= 0; k-- { // the exchanges of rows are those of its columns
		if p := exchanges[k]; p != k {
			for i := 0; i < n*n; i += n {
				a[i+k], a[i+p] = a[i+p], a[i+k]
			}
		}
	}
	return true
}
