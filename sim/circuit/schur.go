package circuit

import "math"

// hessenberg makes the elements below the first subdiagonal zero by Householder's
// reflections.
func (e *spectrum) hessenberg() {
	n, a := e.n, e.a
	for k := 0; k < n-2; k++ {
		u := e.u[k+1:]
		most, square := 0.0, 0.0
		for i := range u {
			u[i] = a[(k+1+i)*n+k]
			if i > 0 {
				most = math.Max(most, math.Abs(u[i]))
			}
			square += u[i] * u[i]
		}
		if most == 0 {
			continue
		}
		alpha := -math.Copysign(math.Sqrt(square), u[0])
		u[0] -= alpha
		a[(k+1)*n+k] = alpha
		for i := k + 2; i < n; i++ {
			a[i*n+k] = 0
		}
		e.reflect(u, k+1, k+1, n)
	}
}

// reflect applies the reflection along u, which begins at row first, from both
// sides to a, to its columns from left on and to its rows up to bottom, and to
// the basis.
func (e *spectrum) reflect(u []float64, first, left, bottom int) {
	n, a := e.n, e.a
	square := 0.0
	for _, x := range u {
		square += x * x
	}
	if square == 0 {
		return
	}
	two := 2 / square
	switch len(u) {
	case 2:
		rows := a[first*n : (first+2)*n]
		reflect2(two, u, rows[left:n], rows[n+left:])
		reflectRows2(two, u, a[first:], bottom, n)
		reflectRows2(two, u, e.z[first:], n, n)
		return
	case 3:
		rows := a[first*n : (first+3)*n]
		reflect3(two, u, rows[left:n], rows[n+left:2*n], rows[2*n+left:])
		reflectRows3(two, u, a[first:], bottom, n)
		reflectRows3(two, u, e.z[first:], n, n)
		return
	}
	for j := left; j < n; j++ {
		s := 0.0
		for i, x := range u {
			s += x * a[(first+i)*n+j]
		}
		s *= two
		for i, x := range u {
			a[(first+i)*n+j] -= s * x
		}
	}
	right := func(m []float64, rows int) {
		for i := range rows {
			r := m[i*n+first : i*n+first+len(u)]
			s := two * dot(u, r)
			for j, x := range u {
				r[j] -= s * x
			}
		}
	}
	right(a, bottom)
	right(e.z, n)
}

// reflect2 reflects two rows.
func reflect2(two float64, u, p, q []float64) {
	x, y := u[0], u[1]
	q = q[:len(p)]
	for j := range p {
		s := two * (x*p[j] + y*q[j])
		p[j] -= s * x
		q[j] -= s * y
	}
}

// reflectRows2 reflects the first two elements of some rows of length n.
func reflectRows2(two float64, u, m []float64, rows, n int) {
	x, y := u[0], u[1]
	for i := range rows {
		r := m[i*n : i*n+2 : i*n+2]
		s := two * (x*r[0] + y*r[1])
		r[0] -= s * x
		r[1] -= s * y
	}
}

// reflect3 reflects three rows.
func reflect3(two float64, u, p, q, r []float64) {
	x, y, z := u[0], u[1], u[2]
	q, r = q[:len(p)], r[:len(p)]
	for j := range p {
		s := two * (x*p[j] + y*q[j] + z*r[j])
		p[j] -= s * x
		q[j] -= s * y
		r[j] -= s * z
	}
}

// reflectRows3 reflects the first three elements of some rows of length n.
func reflectRows3(two float64, u, m []float64, rows, n int) {
	x, y, z := u[0], u[1], u[2]
	for i := range rows {
		r := m[i*n : i*n+3 : i*n+3]
		s := two * (x*r[0] + y*r[1] + z*r[2])
		r[0] -= s * x
		r[1] -= s * y
		r[2] -= s * z
	}
}

// schur brings the Hessenberg matrix to real Schur form by the double-shift QR
// algorithm. What is left below the diagonal belongs to conjugate pairs.
func (e *spectrum) schur() bool {
	n, a := e.n, e.a
	norm := 0.0
	for _, x := range a {
		norm += math.Abs(x)
	}
	step := 0
	for high := n - 1; high >= 0; {
		low := high
		for low > 0 {
			s := math.Abs(a[(low-1)*n+low-1]) + math.Abs(a[low*n+low])
			if s == 0 {
				s = norm
			}
			if math.Abs(a[low*n+low-1]) <= epsilon*s {
				a[low*n+low-1] = 0
				break
			}
			low--
		}
		switch {
		case low == high:
			e.values[high] = complex(a[high*n+high], 0)
			high, step = high-1, 0
		case low == high-1:
			e.split(low)
			high, step = high-2, 0
		case step == iterations:
			return false
		default:
			step++
			e.sweep(low, high, step%10 == 0)
		}
	}
	return true
}

// split finds the two eigenvalues of the block at rows k and k+1, and makes it
// triangular if they are real.
func (e *spectrum) split(k int) {
	n, a := e.n, e.a
	w, x, y, z := a[k*n+k], a[k*n+k+1], a[(k+1)*n+k], a[(k+1)*n+k+1]
	half := (w - z) / 2
	root := half*half + x*y
	if root < 0 {
		im := math.Sqrt(-root)
		e.values[k], e.values[k+1] = complex(z+half, im), complex(z+half, -im)
		return
	}
	far := half + math.Copysign(math.Sqrt(root), half) // from z
	// The first column of the rotation is the eigenvector (far, y).
	r := math.Hypot(far, y)
	c, s := 1.0, 0.0
	if r > 0 {
		c, s = far/r, y/r
	}
	for j := k; j < n; j++ {
		u, v := a[k*n+j], a[(k+1)*n+j]
		a[k*n+j], a[(k+1)*n+j] = c*u+s*v, c*v-s*u
	}
	turn := func(m []float64, rows int) {
		for i := range rows {
			u, v := m[i*n+k], m[i*n+k+1]
			m[i*n+k], m[i*n+k+1] = c*u+s*v, c*v-s*u
		}
	}
	turn(a, k+2)
	turn(e.z, n)
	a[(k+1)*n+k] = 0
	e.values[k], e.values[k+1] = complex(a[k*n+k], 0), complex(a[(k+1)*n+k+1], 0)
}

// sweep takes one step of Francis on the rows low to high, with the eigenvalues of
// the last two rows for shifts, or others where those have not led anywhere (R. S.
// Martin, G. Peters, J. H. Wilkinson, Numerische Mathematik 14 (1970) 219; their
// numbers from memory).
func (e *spectrum) sweep(low, high int, other bool) {
	n, a := e.n, e.a
	at := func(i, j int) float64 { return a[i*n+j] }
	x, y, w := at(high, high), at(high-1, high-1), at(high, high-1)*at(high-1, high)
	if other {
		s := math.Abs(at(high, high-1)) + math.Abs(at(high-1, high-2))
		x += 0.75 * s
		y, w = x, -0.4375*s*s
	}
	// Two small subdiagonal elements in succession let the step begin late.
	var u [3]float64
	m := high - 2
	for ; ; m-- {
		z := at(m, m)
		r, s := x-z, y-z
		u[0] = (r*s-w)/at(m+1, m) + at(m, m+1)
		u[1] = at(m+1, m+1) - z - r - s
		u[2] = at(m+2, m+1)
		sum := math.Abs(u[0]) + math.Abs(u[1]) + math.Abs(u[2])
		for i := range u {
			u[i] /= sum
		}
		if m == low {
			break
		}
		beside := math.Abs(at(m-1, m-1)) + math.Abs(z) + math.Abs(at(m+1, m+1))
		if math.Abs(at(m, m-1))*(math.Abs(u[1])+math.Abs(u[2])) < epsilon*math.Abs(u[0])*beside {
			break
		}
	}
	for i := m; i < high; i++ {
		v := u[:min(3, high-i+1)]
		if i > m {
			for j := range v {
				v[j] = at(i+j, i-1)
			}
		}
		square := 0.0
		for _, x := range v {
			square += x * x
		}
		if square == 0 {
			continue
		}
		alpha := -math.Copysign(math.Sqrt(square), v[0])
		switch {
		case i > m:
			a[i*n+i-1] = alpha
			for j := 1; j < len(v); j++ {
				a[(i+j)*n+i-1] = 0
			}
		case m > low: // below, a late beginning leaves no more than rounding
			a[m*n+m-1] *= v[0] / alpha
		}
		v[0] -= alpha
		e.reflect(v, i, i, min(i+4, high+1))
	}
}
