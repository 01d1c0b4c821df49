package circuit

import "math"

// dot returns Σ aᵢ·bᵢ, in four sums that do not wait for one another.
func dot(a, b []float64) float64 {
	n := len(a)
	b = b[:n]
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
// m. The widths of usual boards are written out, two rows at a time: their rows
// are too short for loops.
func dots(out, m, x []float64) {
	n := len(x)
	switch n {
	case 4:
		x0, x1, x2, x3 := x[0], x[1], x[2], x[3]
		for ; len(out) > 1; out, m = out[2:], m[8:] {
			r := (*[8]float64)(m)
			out[0] = r[0]*x0 + r[1]*x1 + (r[2]*x2 + r[3]*x3)
			out[1] = r[4]*x0 + r[5]*x1 + (r[6]*x2 + r[7]*x3)
		}
	case 5:
		x0, x1, x2, x3, x4 := x[0], x[1], x[2], x[3], x[4]
		for ; len(out) > 1; out, m = out[2:], m[10:] {
			r := (*[10]float64)(m)
			out[0] = r[0]*x0 + r[1]*x1 + (r[2]*x2 + r[3]*x3) + r[4]*x4
			out[1] = r[5]*x0 + r[6]*x1 + (r[7]*x2 + r[8]*x3) + r[9]*x4
		}
	case 6:
		x0, x1, x2, x3, x4, x5 := x[0], x[1], x[2], x[3], x[4], x[5]
		for ; len(out) > 1; out, m = out[2:], m[12:] {
			r := (*[12]float64)(m)
			out[0] = r[0]*x0 + r[1]*x1 + (r[2]*x2 + r[3]*x3) + (r[4]*x4 + r[5]*x5)
			out[1] = r[6]*x0 + r[7]*x1 + (r[8]*x2 + r[9]*x3) + (r[10]*x4 + r[11]*x5)
		}
	case 7:
		x0, x1, x2, x3, x4, x5, x6 := x[0], x[1], x[2], x[3], x[4], x[5], x[6]
		for ; len(out) > 1; out, m = out[2:], m[14:] {
			r := (*[14]float64)(m)
			out[0] = r[0]*x0 + r[1]*x1 + (r[2]*x2 + r[3]*x3) + (r[4]*x4 + r[5]*x5 + r[6]*x6)
			out[1] = r[7]*x0 + r[8]*x1 + (r[9]*x2 + r[10]*x3) + (r[11]*x4 + r[12]*x5 + r[13]*x6)
		}
	case 8:
		x0, x1, x2, x3, x4, x5, x6, x7 := x[0], x[1], x[2], x[3], x[4], x[5], x[6], x[7]
		for ; len(out) > 1; out, m = out[2:], m[16:] {
			r := (*[16]float64)(m)
			out[0] = r[0]*x0 + r[1]*x1 + (r[2]*x2 + r[3]*x3) + (r[4]*x4 + r[5]*x5 + (r[6]*x6 + r[7]*x7))
			out[1] = r[8]*x0 + r[9]*x1 + (r[10]*x2 + r[11]*x3) + (r[12]*x4 + r[13]*x5 + (r[14]*x6 + r[15]*x7))
		}
	}
	for i := range out { // all, or the last
		out[i] = dot(m[i*n:(i+1)*n], x)
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
