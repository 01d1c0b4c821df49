package circuit

import (
	"math"
	"sync"
)

// phasorMatrix holds equations in phasors, few of whose coefficients are not
// zero: the whole matrix while it is put together, then those of its triangular
// factors.
type phasorMatrix struct {
	n       int
	m       []complex128 // by rows; gone once factored
	order   []int        // the equation that each row of the factors is
	inverse []complex128 // of the diagonal
	// entries are those of the factors that are not zero. Those of row i left
	// of the diagonal begin at left[i], those right of it at right[i] and end
	// at left[i+1].
	entries     []phasorEntry
	left, right []int
}

type phasorEntry struct {
	col   int
	value complex128
}

func newPhasorMatrix(n int) *phasorMatrix {
	at := make([]int, 3*n+1)
	e := &phasorMatrix{n: n, inverse: make([]complex128, n), order: at[:n], left: at[n : 2*n+1], right: at[2*n+1:]}
	if m, ok := spare.Get().(*[]complex128); ok {
		e.m = *m
	}
	e.m = resize(e.m, n*n)
	clear(e.m)
	return e
}

// spare keeps the room of matrices that have been factored.
var spare sync.Pool

// add adds v to a coefficient; a negative index is the reference.
func (e *phasorMatrix) add(row, col int, v complex128) {
	if row >= 0 && col >= 0 {
		e.m[row*e.n+col] += v
	}
}

// magnitude is a measure of size that is quick to take.
func magnitude(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

// factor factors the matrix with partial pivoting; it reports whether every
// pivot was found.
func (e *phasorMatrix) factor() bool {
	ok := e.eliminate()
	m := e.m
	spare.Put(&m)
	e.m = nil
	return ok
}

// eliminate overwrites the matrix by its factors.
func (e *phasorMatrix) eliminate() bool {
	n := e.n
	for i := range e.order {
		e.order[i] = i
	}
	columns := make([]int, 0, n) // of the pivot's row that are not zero
	count := 0
	for k := range n {
		p, best := k, magnitude(e.m[k*n+k])
		for i := k + 1; i < n; i++ {
			if v := magnitude(e.m[i*n+k]); v > best {
				p, best = i, v
			}
		}
		if !(best >= 1e-300) {
			return false
		}
		if p != k {
			e.order[k], e.order[p] = e.order[p], e.order[k]
			rk, rp := e.m[k*n:k*n+n], e.m[p*n:p*n+n]
			for j := range rk {
				rk[j], rp[j] = rp[j], rk[j]
			}
		}
		row := e.m[k*n : k*n+n]
		e.inverse[k] = 1 / row[k]
		columns = columns[:0]
		for j := k + 1; j < n; j++ {
			if row[j] != 0 {
				columns = append(columns, j)
			}
		}
		count += len(columns)
		for i := k + 1; i < n; i++ {
			if e.m[i*n+k] == 0 {
				continue
			}
			ri := e.m[i*n : i*n+n]
			f := ri[k] * e.inverse[k]
			ri[k] = f
			count++
			for _, j := range columns {
				ri[j] -= f * row[j]
			}
		}
	}
	e.compact(count)
	return true
}

// compact keeps the entries of the factors that are not zero, at most count.
func (e *phasorMatrix) compact(count int) {
	n := e.n
	e.entries = make([]phasorEntry, 0, count)
	keep := func(row []complex128, from int) {
		for j, v := range row {
			if v != 0 {
				e.entries = append(e.entries, phasorEntry{from + j, v})
			}
		}
	}
	for i := range n {
		row := e.m[i*n : i*n+n]
		e.left[i] = len(e.entries)
		keep(row[:i], 0)
		e.right[i] = len(e.entries)
		keep(row[i+1:], i+1)
	}
	e.left[n] = len(e.entries)
}

// solve sets x to the unknowns for the right-hand sides b.
func (e *phasorMatrix) solve(b, x []complex128) {
	first := 0 // most of b is zero
	for first < e.n && b[e.order[first]] == 0 {
		x[first] = 0
		first++
	}
	for i := first; i < e.n; i++ {
		sum := b[e.order[i]]
		for _, f := range e.entries[e.left[i]:e.right[i]] {
			sum -= f.value * x[f.col]
		}
		x[i] = sum
	}
	for i := e.n - 1; i >= 0; i-- {
		sum := x[i]
		for _, f := range e.entries[e.right[i]:e.left[i+1]] {
			sum -= f.value * x[f.col]
		}
		x[i] = sum * e.inverse[i]
	}
}
