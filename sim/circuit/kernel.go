package circuit

import "math"

// dot returns Σ aᵢ·bᵢ, in four sums that do not wait for one another. The
// lengths of usual boards are written out.
func dot(a, b []float64) float64 {
	n := len(a)
	b = b[:n]
	switch n {
	case 4:
		a, b := (*[4]float64)(a), (*[4]float64)(b)
		return a[0]*b[0] + a[1]*b[1] + (a[2]*b[2] + a[3]*b[3])
	case 5:
		a, b := (*[5]float64)(a), (*[5]float64)(b)
		return a[0]*b[0] + a[1]*b[1] + (a[2]*b[2] + a[3]*b[3] + a[4]*b[4])
	case 6:
		a, b := (*[6]float64)(a), (*[6]float64)(b)
		return a[0]*b[0] + a[1]*b[1] + (a[2]*b[2] + a[3]*b[3]) + (a[4]*b[4] + a[5]*b[5])
	case 7:
		a, b := (*[7]float64)(a), (*[7]float64)(b)
		return a[0]*b[0] + a[1]*b[1] + (a[2]*b[2] + a[3]*b[3]) + (a[4]*b[4] + a[5]*b[5] + a[6]*b[6])
	case 8:
		a, b := (*[8]float64)(a), (*[8]float64)(b)
		return a[0]*b[0] + a[1]*b[1] + (a[2]*b[2] + a[3]*b[3]) + (a[4]*b[4] + a[5]*b[5] + (a[6]*b[6] + a[7]*b[7]))
	}
	var s0, s1, s2, s3 float64
	i := 0
	for ; i < n-3; i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	switch n - i {
	case 3:
		s2 += a[i+2] * b[i+2]
		fallthrough
	case 2:
		s1 += a[i+1] * b[i+1]
		fallthrough
	case 1:
		s0 += a[i] * b[i]
	}
	return s0 + s1 + (s2 + s3)
}

// dots sets each out[i] to the product of x and row i of the row-major matrix
// m.
func dots(out, m, x []float64) {
	n := len(x)
	if n >= 4 && n <= 8 { // the widths of usual boards
		dotsWide(out, m[:len(out)*n], x)
		return
	}
	if n > 8 {
		dotsLong(out, m[:len(out)*n], x)
		return
	}
	for i := range out {
		out[i] = dot(m[i*n:(i+1)*n], x)
	}
}

// dotsPlain is dotsWide for every processor: the products of even columns and
// those of odd ones are summed apart.
func dotsPlain(out, m, x []float64) {
	n := len(x)
	for i := range out {
		row := m[i*n:][:n]
		even, odd := row[0]*x[0], row[1]*x[1]
		j := 2
		for ; j+1 < n; j += 2 {
			even += row[j] * x[j]
			odd += row[j+1] * x[j+1]
		}
		if j < n {
			even += row[j] * x[j]
		}
		out[i] = even + odd
	}
}

// weigh writes the sum of some rows, as long as to, weighted by from.
func weigh(to, from, rows []float64) {
	if len(from) == 0 {
		clear(to)
		return
	}
	weighWide(to, from, rows[:len(from)*len(to)])
}

// weighPlain is weighWide for every processor: row by row.
func weighPlain(to, from, rows []float64) {
	n := len(to)
	clear(to)
	for i, x := range from {
		row := rows[i*n:][:n]
		for j, y := range row {
			to[j] += x * y
		}
	}
}

// dotsLongPlain is dotsLong for every processor: dots for long rows, whose numbers
// are summed every fourth apart.
func dotsLongPlain(out, m, x []float64) {
	n := len(x)
	for i := range out {
		row := m[i*n:][:n]
		var a, b, c, d float64
		j := 0
		for ; j+3 < n; j += 4 {
			a += row[j] * x[j]
			b += row[j+1] * x[j+1]
			c += row[j+2] * x[j+2]
			d += row[j+3] * x[j+3]
		}
		s := a + c + (b + d)
		for ; j < n; j++ {
			s += row[j] * x[j]
		}
		out[i] = s
	}
}

// lessRowsPlain is lessRows for every processor: it takes from out, for each k of
// columns, factors[k] times the row that begins at rows[k·stride], and multiplies
// what is left.
func lessRowsPlain(out, factors, rows []float64, columns []int, stride int, times float64) {
	n := len(out)
	for _, k := range columns {
		f := factors[k]
		for j, y := range rows[k*stride:][:n] {
			out[j] -= f * y
		}
	}
	for j := range out {
		out[j] *= times
	}
}

// clearColumnPlain is clearColumn for every processor: it takes from the rows that
// begin at others so much of that which begins at own that nothing is left in
// column k, inverse being that of its number there; only in columns is there
// anything to do. Column k itself is left as it is.
func clearColumnPlain(rows []float64, own, k int, others, columns []int, inverse float64) {
	for _, i := range others {
		f := rows[i+k] * inverse
		for _, j := range columns {
			rows[i+j] -= f * rows[own+j]
		}
	}
}

// allFinite reports whether x holds neither an infinity nor NaN.
func allFinite(x []float64) bool {
	sum := 0.0
	for _, v := range x {
		sum += v - v // 0, or NaN of what is not finite
	}
	return sum == 0
}

// decay is exp(x) for x ≤ 0, and zero where it is below 1e-21: far below the
// last digit of any sum that it enters.
func decay(x float64) float64 {
	if x < -48 {
		return 0
	}
	return math.Exp(x)
}

// brief bounds the |x| for which the series below are exact to the last digit.
const brief = 1.0 / 64

// expBrief returns eˣ for |x| ≤ brief; the first term left out is x⁸/8!, below
// 1e-19.
func expBrief(x float64) float64 {
	return 1 + x*(1+x*(1./2+x*(1./6+x*(1./24+x*(1./120+x*(1./720+x*(1./5040)))))))
}

// sincosBrief returns sine and cosine of x for |x| ≤ brief.
func sincosBrief(x float64) (sin, cos float64) {
	y := x * x
	return x * (1 - y*(1./6-y*(1./120-y*(1./5040)))), 1 - y*(1./2-y*(1./24-y*(1./720)))
}
