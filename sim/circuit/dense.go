package circuit

import "math"

// factor overwrites the n×n row-major matrix a by its LU factors with partial
// pivoting and records the row exchanges in piv. It returns the column in
// which no pivot was found, or −1.
func factor(a []float64, n int, piv []int) int {
	for k := 0; k < n; k++ {
		p, best := k, math.Abs(a[k*n+k])
		for i := k + 1; i < n; i++ {
			if v := math.Abs(a[i*n+k]); v > best {
				p, best = i, v
			}
		}
		piv[k] = p
		if best < 1e-300 || math.IsNaN(best) {
			return k
		}
		if p != k {
			rk, rp := a[k*n:k*n+n], a[p*n:p*n+n]
			for j := range rk {
				rk[j], rp[j] = rp[j], rk[j]
			}
		}
		row := a[k*n : k*n+n]
		inv := 1 / row[k]
		for i := k + 1; i < n; i++ {
			ri := a[i*n : i*n+n]
			if ri[k] == 0 {
				continue
			}
			f := ri[k] * inv
			ri[k] = f
			for j := k + 1; j < n; j++ {
				ri[j] -= f * row[j]
			}
		}
	}
	return -1
}

// solve overwrites the n×m row-major right-hand sides b by the solution, with
// the factors of factor.
func solve(a []float64, n int, piv []int, b []float64, m int) {
	for k := 0; k < n; k++ {
		if p := piv[k]; p != k {
			bk, bp := b[k*m:k*m+m], b[p*m:p*m+m]
			for j := range bk {
				bk[j], bp[j] = bp[j], bk[j]
			}
		}
	}
	for i := 1; i < n; i++ {
		bi := b[i*m : i*m+m]
		for k := 0; k < i; k++ {
			if f := a[i*n+k]; f != 0 {
				bk := b[k*m : k*m+m]
				for j := range bi {
					bi[j] -= f * bk[j]
				}
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		bi := b[i*m : i*m+m]
		for k := i + 1; k < n; k++ {
			if f := a[i*n+k]; f != 0 {
				bk := b[k*m : k*m+m]
				for j := range bi {
					bi[j] -= f * bk[j]
				}
			}
		}
		inv := 1 / a[i*n+i]
		for j := range bi {
			bi[j] *= inv
		}
	}
}
