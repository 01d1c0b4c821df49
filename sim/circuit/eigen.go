package circuit

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// spectrum finds the eigenvalues and right eigenvectors of small real
// matrices in storage of its own, which is used again.
type spectrum struct {
	n      int
	a      []float64 // the matrix; then its Schur form
	z      []float64 // the orthogonal basis of that, a vector a row
	order  []int     // the rows of a as rows of the matrix given
	u      []float64 // a reflection
	sums   []float64 // and what it makes of columns
	values []complex128
	y      []complex128 // a vector in the Schur basis
	real   []float64    // and one of a real eigenvalue
	// vectors holds one column for each real eigenvalue, and real and
	// imaginary part of the vector of the first of each conjugate pair, whose
	// imaginary part is positive.
	vectors []float64

	// For those who ask: a matrix to be given, its scale, and exchanges of rows.
	scaled, scale []float64
	exchanges     []int
}

// iterations bounds the steps that one eigenvalue may take.
const iterations = 60

const epsilon = 0x1p-52

// begin takes the n×n row-major matrix m, its largest diagonal first: small
// modes beside large ones are found to more digits so.
func (e *spectrum) begin(m []float64, n int) {
	e.n = n
	e.a, e.z, e.vectors = resize(e.a, n*n), resize(e.z, n*n), resize(e.vectors, n*n)
	e.values, e.order, e.u = resize(e.values, n), resize(e.order, n), resize(e.u, n)
	e.y, e.real = resize(e.y, n), resize(e.real, n)
	for i := range e.order {
		e.order[i] = i
	}
	for i, r := range e.order { // few: by insertion
		x := math.Abs(m[r*n+r])
		for ; i > 0 && math.Abs(m[e.order[i-1]*n+e.order[i-1]]) < x; i-- {
			e.order[i] = e.order[i-1]
		}
		e.order[i] = r
	}
	clear(e.z)
	for i, r := range e.order {
		for j, c := range e.order {
			e.a[i*n+j] = m[r*n+c]
		}
		e.z[i*n+i] = 1
	}
}

// symmetric finds the eigenvalues of a symmetric matrix by Jacobi's rotations
// (G. H. Golub, C. F. Van Loan, Matrix Computations, 8.5). It reports whether
// they converged.
func (e *spectrum) symmetric(m []float64, n int) bool {
	e.begin(m, n)
	a, z := e.a, e.z
	for range iterations {
		rotated := false
		for p := 0; p < n; p++ {
			for q := p + 1; q < n; q++ {
				x := a[p*n+q]
				if math.Abs(x) <= epsilon/8*math.Sqrt(math.Abs(a[p*n+p]*a[q*n+q])) {
					continue
				}
				rotated = true
				tau := (a[q*n+q] - a[p*n+p]) / (2 * x)
				t := math.Copysign(1/(math.Abs(tau)+math.Sqrt(1+tau*tau)), tau)
				c := 1 / math.Sqrt(1+t*t)
				s := t * c
				a[p*n+p] -= t * x
				a[q*n+q] += t * x
				a[p*n+q], a[q*n+p] = 0, 0
				for k := range n {
					if k != p && k != q {
						u, v := a[k*n+p], a[k*n+q]
						u, v = c*u-s*v, s*u+c*v
						a[k*n+p], a[p*n+k], a[k*n+q], a[q*n+k] = u, u, v, v
					}
					u, v := z[p*n+k], z[q*n+k]
					z[p*n+k], z[q*n+k] = c*u-s*v, s*u+c*v
				}
			}
		}
		if !rotated {
			for k := range n {
				e.values[k] = complex(a[k*n+k], 0)
				for i, r := range e.order {
					e.vectors[r*n+k] = z[k*n+i]
				}
			}
			return true
		}
	}
	return false
}

// general finds the eigenvalues of any real matrix through its real Schur form
// (Golub, Van Loan, 7.4 to 7.6), in the order in which they stand there, the two
// of a conjugate pair next to each other. It reports whether they converged.
func (e *spectrum) general(m []float64, n int) bool {
	e.begin(m, n)
	e.hessenberg()
	if !e.schur() {
		return false
	}
	small := epsilon*frobenius(e.a) + 1e-300
	for k := 0; k < n; k++ {
		if imag(e.values[k]) == 0 {
			e.vector(k, small)
			continue
		}
		e.complexVector(k, small)
		k++
	}
	return true
}

// vector finds the eigenvector of the real eigenvalue k by back-substitution, and
// scales it to length 1; small stands for what must not be divided by.
func (e *spectrum) vector(k int, small float64) {
	n, y := e.n, e.real[:k+1]
	l := real(e.values[k])
	y[k] = 1
	rest := func(i int) float64 {
		s := 0.0
		for j, x := range e.a[i*n+i+1 : i*n+k+1] {
			s -= x * y[i+1+j]
		}
		return s
	}
	for i := k - 1; i >= 0; i-- {
		d := e.a[i*n+i] - l
		if i == 0 || e.a[i*n+i-1] == 0 {
			if math.Abs(d) < small {
				d = small
			}
			y[i] = rest(i) / d
			continue
		}
		// The block of a pair, rows i−1 and i.
		y[i] = 0
		r, s := rest(i-1), rest(i)
		c, x, z := e.a[(i-1)*n+i-1]-l, e.a[(i-1)*n+i], e.a[i*n+i-1]
		det := c*d - x*z
		if math.Abs(det) < small*small {
			det = small * small
		}
		y[i-1], y[i] = (r*d-x*s)/det, (c*s-z*r)/det
		i--
	}
	v := e.u[:n] // which has served
	weigh(v, y, e.z)
	by := 1 / math.Sqrt(dot(v, v))
	for i, r := range e.order {
		e.vectors[r*n+k] = v[i] * by
	}
}

// complexVector does the same for the complex eigenvalue k, the first of its pair, and
// makes the largest component of its vector real.
func (e *spectrum) complexVector(k int, least float64) {
	n, a, y := e.n, e.a, e.y
	l, last, small := e.values[k], k+1, complex(least, 0)
	y[k], y[last] = l-complex(a[last*n+last], 0), complex(a[last*n+k], 0)
	rest := func(i int) complex128 {
		s := 0i
		for j := i + 1; j <= last; j++ {
			s -= complex(a[i*n+j], 0) * y[j]
		}
		return s
	}
	for i := k - 1; i >= 0; i-- {
		d := complex(a[i*n+i], 0) - l
		if i == 0 || a[i*n+i-1] == 0 {
			if cmplx.Abs(d) < real(small) {
				d = small
			}
			y[i] = rest(i) / d
			continue
		}
		// The block of a pair, rows i−1 and i.
		y[i] = 0
		r, s := rest(i-1), rest(i)
		c, x, z := complex(a[(i-1)*n+i-1], 0)-l, complex(a[(i-1)*n+i], 0), complex(a[i*n+i-1], 0)
		det := c*d - x*z
		if cmplx.Abs(det) < real(small*small) {
			det = small * small
		}
		y[i-1], y[i] = (r*d-x*s)/det, (c*s-z*r)/det
		i--
	}
	square, most, phase := 0.0, 0.0, 1+0i
	for i, r := range e.order {
		s := 0i
		for j, v := range y[:last+1] {
			x := e.z[j*n+i]
			s += complex(x*real(v), x*imag(v))
		}
		q := real(s)*real(s) + imag(s)*imag(s)
		square += q
		if q > most {
			most, phase = q, s
		}
		e.vectors[r*n+k], e.vectors[r*n+last] = real(s), imag(s)
	}
	phase *= complex(math.Sqrt(square/most), 0)
	for i := range n {
		s := complex(e.vectors[i*n+k], e.vectors[i*n+last]) / phase
		e.vectors[i*n+k], e.vectors[i*n+last] = real(s), imag(s)
	}
}

// library finds eigenvalues and eigenvectors by gonum, for a matrix with which
// the methods here do not come to an end.
func (e *spectrum) library(m []float64, n int) bool {
	e.begin(m, n)
	var eig mat.Eigen
	if !eig.Factorize(mat.NewDense(n, n, slices.Clone(m)), mat.EigenRight) {
		return false
	}
	eig.Values(e.values)
	var vec mat.CDense
	eig.VectorsTo(&vec)
	for k := 0; k < n; k++ {
		l := e.values[k]
		pair := imag(l) != 0
		if pair && (k+1 == n || e.values[k+1] != cmplx.Conj(l)) {
			return false
		}
		for i := range n {
			z := vec.At(i, k)
			e.vectors[i*n+k] = real(z)
			if pair {
				e.vectors[i*n+k+1] = imag(z)
			}
		}
		if pair {
			k++
		}
	}
	return true
}
