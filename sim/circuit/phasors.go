package circuit

import (
	"math"
	"math/bits"
	"sync"
)

// phasorMatrix holds equations in phasors, few of whose coefficients are not
// zero: the whole matrix while it is put together, then those of its triangular
// factors.
type phasorMatrix struct {
	n       int
	m       []complex128 // by rows; gone once factored
	words   int
	pattern []uint64     // a bit for each coefficient there is, so many words a row
	order   []int        // the equation that each row of the factors is
	inverse []complex128 // of the diagonal
	// entries are those of the factors. Those of row i left of the diagonal begin
	// at left[i], those right of it at right[i] and end at left[i+1].
	entries     []phasorEntry
	left, right []int
}

type phasorEntry struct {
	col   int
	value complex128
}

func newPhasorMatrix(n int) *phasorMatrix {
	at, words := make([]int, 3*n+1), (n+63)/64
	e := &phasorMatrix{n: n, inverse: make([]complex128, n), order: at[:n], left: at[n : 2*n+1], right: at[2*n+1:]}
	if m, ok := spare.Get().(*[]complex128); ok {
		e.m = *m
	}
	e.m = resize(e.m, n*n)
	clear(e.m)
	e.words, e.pattern = words, make([]uint64, n*words)
	return e
}

// spare keeps the room of matrices that have been factored.
var spare sync.Pool

// add adds v to a coefficient; a negative index is the reference.
func (e *phasorMatrix) add(row, col int, v complex128) {
	if row >= 0 && col >= 0 {
		e.m[row*e.n+col] += v
		e.pattern[row*e.words+col/64] |= 1 << (col % 64)
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
	n, words := e.n, e.words
	for i := range e.order {
		e.order[i] = i
	}
	columns := make([]int, 0, n) // of the pivot's row, right of the diagonal
	count := 0
	for k := range n {
		word, bit := k/64, k%64
		p, best := k, 0.0
		for i := k; i < n; i++ {
			if e.pattern[i*words+word]>>bit&1 != 0 {
				if v := magnitude(e.m[i*n+k]); v > best {
					p, best = i, v
				}
			}
		}
		if !(best >= 1e-300) {
			return false
		}
		if p != k {
			e.exchange(k, p)
		}
		row, own := e.m[k*n:k*n+n], e.pattern[k*words:(k+1)*words]
		e.inverse[k] = 1 / row[k]
		columns = e.columns(columns[:0], k, k+1, n)
		count += len(columns)
		for i := k + 1; i < n; i++ {
			if e.pattern[i*words+word]>>bit&1 == 0 {
				continue
			}
			ri := e.m[i*n : i*n+n]
			f := ri[k] * e.inverse[k]
			ri[k] = f
			count++
			for _, j := range columns {
				ri[j] -= f * row[j]
			}
			// What is left of the diagonal in the pivot's row is no column of this one.
			to := e.pattern[i*words+word : (i+1)*words]
			to[0] |= own[word] >> bit << bit
			for w := 1; w < len(to); w++ {
				to[w] |= own[word+w]
			}
		}
	}
	e.compact(count)
	return true
}

// exchange exchanges two rows.
func (e *phasorMatrix) exchange(k, p int) {
	n, words := e.n, e.words
	e.order[k], e.order[p] = e.order[p], e.order[k]
	rk, rp := e.m[k*n:k*n+n], e.m[p*n:p*n+n]
	for j := range rk {
		rk[j], rp[j] = rp[j], rk[j]
	}
	for w := range words {
		x, y := &e.pattern[k*words+w], &e.pattern[p*words+w]
		*x, *y = *y, *x
	}
}

// columns appends the columns of a row that may not be zero, of those from from on
// and before to.
func (e *phasorMatrix) columns(list []int, row, from, to int) []int {
	for w := from / 64; w*64 < to; w++ {
		m := e.pattern[row*e.words+w]
		if w == from/64 {
			m = m >> (from % 64) << (from % 64)
		}
		for ; m != 0; m &= m - 1 {
			j := 64*w + bits.TrailingZeros64(m)
			if j >= to {
				break
			}
			list = append(list, j)
		}
	}
	return list
}

// compact keeps the entries of the factors, at most count.
func (e *phasorMatrix) compact(count int) {
	n := e.n
	e.entries = make([]phasorEntry, 0, count)
	var room [64]int
	keep := func(i, from, to int) {
		for _, j := range e.columns(room[:0], i, from, to) {
			if v := e.m[i*n+j]; v != 0 {
				e.entries = append(e.entries, phasorEntry{j, v})
			}
		}
	}
	for i := range n {
		e.left[i] = len(e.entries)
		keep(i, 0, i)
		e.right[i] = len(e.entries)
		keep(i, i+1, n)
	}
	e.left[n] = len(e.entries)
	e.pattern = nil
}

// solve sets x to the unknowns for the right-hand sides b.
func (e *phasorMatrix) solve(b, x []complex128) {
	e.forward(b, x)
	for i := e.n - 1; i >= 0; i-- {
		e.back(x, i)
	}
}

// solveSome is solve for the unknowns in some alone, one bit each, which must
// contain those that they follow from.
func (e *phasorMatrix) solveSome(b, x []complex128, some []uint64) {
	e.forward(b, x)
	for w := len(some) - 1; w >= 0; w-- {
		for m := some[w]; m != 0; {
			i := 63 - bits.LeadingZeros64(m)
			m &^= 1 << i
			e.back(x, 64*w+i)
		}
	}
}

// needed adds to some, one bit each, what unknown i follows from, and itself.
func (e *phasorMatrix) needed(some []uint64, i int) {
	if some[i/64]>>(i%64)&1 != 0 {
		return
	}
	some[i/64] |= 1 << (i % 64)
	for _, f := range e.entries[e.right[i]:e.left[i+1]] {
		e.needed(some, f.col)
	}
}

// forward applies the factor below the diagonal.
func (e *phasorMatrix) forward(b, x []complex128) {
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
}

// back finds unknown i from those after it.
func (e *phasorMatrix) back(x []complex128, i int) {
	sum := x[i]
	for _, f := range e.entries[e.right[i]:e.left[i+1]] {
		sum -= f.value * x[f.col]
	}
	x[i] = sum * e.inverse[i]
}
