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
			x := a[(k+1+i)*n+k]
			u[i] = x
			if i > 0 {
				most = max(most, math.Abs(x))
			}
			square += x * x
		}
		if most == 0 {
			continue
		}
		alpha := -math.Copysign(math.Sqrt(square), u[0])
		first := u[0] - alpha
		a[(k+1)*n+k] = alpha
		for i := k + 2; i < n; i++ {
			a[i*n+k] = 0
		}
		// As in sweep, the reflection's first number is 1.
		for i := range u {
			u[i] /= first
		}
		u[0] = 1
		e.reflect(u, k+1, -first/alpha)
	}
}

// reflect applies the reflection I − k·u·uᵀ, which begins at row first, from both
// sides to a, to its columns from first on, and to the basis.
func (e *spectrum) reflect(u []float64, first int, k float64) {
	n := e.n
	switch len(u) {
	case 2:
		reflect2(e.a, e.z, first, first, n, n, u[1], k)
		return
	case 3:
		reflect3(e.a, e.z, first, first, n, n, u[1], u[2], k)
		return
	}
	e.sums = resize(e.sums, n)
	down := func(m []float64, left int) {
		sums, rows := e.sums[:n-left], m[first*n:]
		clear(sums)
		for i, x := range u {
			for j, y := range rows[i*n+left : (i+1)*n] {
				sums[j] += x * y
			}
		}
		for i, x := range u {
			less(rows[i*n+left:(i+1)*n], k*x, sums)
		}
	}
	down(e.a, first)
	down(e.z, 0)
	for i := range n {
		r := e.a[i*n+first : i*n+first+len(u)]
		less(r, k*dot(u, r), u)
	}
}

// reflect2Plain is reflect2 for every processor: it applies the reflection
// I − k·u·uᵀ, u being (1, y) at rows i and i+1, from both sides to the n×n matrix a,
// to its columns from left on and to its rows up to bottom, and to the rows of a
// basis.
func reflect2Plain(a, basis []float64, i, left, bottom, n int, y, k float64) {
	down := func(p, q []float64) {
		for j, x := range p {
			s := x + y*q[j]
			p[j] = x - k*s
			q[j] -= k * y * s
		}
	}
	down(a[i*n+left:(i+1)*n], a[(i+1)*n+left:(i+2)*n])
	down(basis[i*n:(i+1)*n], basis[(i+1)*n:(i+2)*n])
	for at := i; at < bottom*n; at += n {
		down(a[at:at+1], a[at+1:at+2])
	}
}

// reflect3Plain is the same for reflect3 and (1, y, z) at rows i to i+2.
func reflect3Plain(a, basis []float64, i, left, bottom, n int, y, z, k float64) {
	down := func(p, q, r []float64) {
		for j, x := range p {
			s := x + y*q[j] + z*r[j]
			p[j] = x - k*s
			q[j] -= k * y * s
			r[j] -= k * z * s
		}
	}
	down(a[i*n+left:(i+1)*n], a[(i+1)*n+left:(i+2)*n], a[(i+2)*n+left:(i+3)*n])
	down(basis[i*n:(i+1)*n], basis[(i+1)*n:(i+2)*n], basis[(i+2)*n:(i+3)*n])
	for at := i; at < bottom*n; at += n {
		down(a[at:at+1], a[at+1:at+2], a[at+2:at+3])
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
	turn := func(p, q []float64) {
		for j, u := range p {
			v := q[j]
			p[j], q[j] = c*u+s*v, c*v-s*u
		}
	}
	turn(a[k*n+k:(k+1)*n], a[(k+1)*n+k:(k+2)*n])
	turn(e.z[k*n:(k+1)*n], e.z[(k+1)*n:(k+2)*n])
	for at := k; at < (k+2)*n; at += n {
		u, v := a[at], a[at+1]
		a[at], a[at+1] = c*u+s*v, c*v-s*u
	}
	a[(k+1)*n+k] = 0
	e.values[k], e.values[k+1] = complex(a[k*n+k], 0), complex(a[(k+1)*n+k+1], 0)
}

// sweep takes one step of Francis on the rows low to high, with the eigenvalues of
// the last two rows for shifts, or others where those have not led anywhere (R. S.
// Martin, G. Peters, J. H. Wilkinson, Numerische Mathematik 14 (1970) 219; their
// numbers from memory).
func (e *spectrum) sweep(low, high int, other bool) {
	n, a := e.n, e.a
	last, before := a[high*n:(high+1)*n], a[(high-1)*n:high*n]
	x, y, w := last[high], before[high-1], last[high-1]*before[high]
	if other {
		s := math.Abs(last[high-1]) + math.Abs(before[high-2])
		x += 0.75 * s
		y, w = x, -0.4375*s*s
	}
	// Two small subdiagonal elements in succession let the step begin late.
	var p, q, t float64
	m := high - 2
	for ; ; m-- {
		own, next := a[m*n:(m+1)*n], a[(m+1)*n:(m+2)*n]
		z := own[m]
		r, s := x-z, y-z
		p, q, t = (r*s-w)/next[m]+own[m+1], next[m+1]-z-r-s, a[(m+2)*n+m+1]
		by := 1 / (math.Abs(p) + math.Abs(q) + math.Abs(t))
		p, q, t = p*by, q*by, t*by
		if m == low {
			break
		}
		beside := math.Abs(a[(m-1)*n+m-1]) + math.Abs(z) + math.Abs(next[m+1])
		if math.Abs(own[m-1])*(math.Abs(q)+math.Abs(t)) < epsilon*math.Abs(p)*beside {
			break
		}
	}
	for i := m; i < high; i++ {
		at, three := i*n+i-1, i+1 < high
		if i > m {
			p, q, t = a[at], a[at+n], 0
			if three {
				t = a[at+2*n]
			}
		}
		square := p*p + q*q + t*t
		if square == 0 {
			continue
		}
		alpha := -math.Copysign(math.Sqrt(square), p)
		switch {
		case i > m:
			a[at], a[at+n] = alpha, 0
			if three {
				a[at+2*n] = 0
			}
		case m > low: // below, a late beginning leaves no more than rounding
			a[at] *= p / alpha
		}
		// The reflection is along (p − α, q, t), here with 1 for its first number.
		p -= alpha
		by := 1 / p
		if k := -p / alpha; three {
			reflect3(a, e.z, i, i, min(i+4, high+1), n, q*by, t*by, k)
		} else {
			reflect2(a, e.z, i, i, high+1, n, q*by, k)
		}
	}
}
