package circuit

import (
	"math"
	"math/bits"
	"sync"
)

// phasorMatrix holds equations in phasors, few of whose coefficients are not
// zero: the whole matrix while it is put together, then its triangular factors.
type phasorMatrix struct {
	n, words int          // unknowns, and words of as many bits
	room     *phasorRoom  // gone once factored
	place    []int        // equation to the unknown that it eliminates
	inverse  []complex128 // of the diagonal
	// lower are the entries below the diagonal, by columns, those of column k up to
	// ends[k][0]; upper those right of it, by rows, those of row k up to ends[k][1].
	lower, upper []phasorEntry
	ends         [][2]int
	// below and right tell with a bit each where the entries of a column below the
	// diagonal are, and those of a row right of it.
	below, right []uint64
}

// phasorEntry is an entry in a row, or a column, at.
type phasorEntry struct {
	at    int
	value complex128
}

// phasorRoom is what a matrix needs until it is factored.
type phasorRoom struct {
	m []complex128 // by rows
	// A bit for each coefficient there is: rows has so many words a row, columns
	// as many a column.
	rows, columns []uint64
	lower, upper  []phasorEntry // for entries until it is known how many there are
}

func newPhasorMatrix(n int) *phasorMatrix {
	words := (n + 63) / 64
	r := spare.Get().(*phasorRoom)
	r.m, r.rows, r.columns = zeroed(r.m, n*n), zeroed(r.rows, n*words), zeroed(r.columns, n*words)
	return &phasorMatrix{n: n, words: words, room: r}
}

// spare keeps the room of matrices that have been factored.
var spare = sync.Pool{New: func() any { return new(phasorRoom) }}

// add adds v to a coefficient; a negative index is the reference.
func (e *phasorMatrix) add(row, col int, v complex128) {
	if row >= 0 && col >= 0 {
		e.room.m[row*e.n+col] += v
		e.room.rows[row*e.words+col/64] |= 1 << (col % 64)
		e.room.columns[col*e.words+row/64] |= 1 << (row % 64)
	}
}

// magnitude is a measure of size that is quick to take.
func magnitude(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

// factor factors the matrix with partial pivoting; it reports whether every
// pivot was found.
func (e *phasorMatrix) factor() bool {
	n := e.n
	bits := make([]uint64, 2*n*e.words)
	e.below, e.right = bits[:n*e.words], bits[n*e.words:]
	e.place, e.inverse, e.ends = make([]int, n), make([]complex128, n), make([][2]int, n)
	e.lower, e.upper = e.room.lower[:0], e.room.upper[:0]
	found := true
	for k := 0; k < n && found; k++ {
		found = e.eliminate(k)
	}
	e.room.lower, e.room.upper = e.lower, e.upper
	count := len(e.lower)
	entries := append(append(make([]phasorEntry, 0, count+len(e.upper)), e.lower...), e.upper...)
	e.lower, e.upper = entries[:count:count], entries[count:]
	spare.Put(e.room)
	e.room = nil
	if !found {
		return false
	}
	for i := range e.lower {
		l := &e.lower[i]
		l.at = e.place[l.at]
	}
	from := 0
	for k := range n {
		for i := range e.lower[from:e.ends[k][0]] {
			at := e.lower[from+i].at
			e.below[k*e.words+at/64] |= 1 << (at % 64)
		}
		from = e.ends[k][0]
	}
	return true
}

// eliminate eliminates unknown k. It reports whether there is a pivot.
func (e *phasorMatrix) eliminate(k int) bool {
	n, words, m := e.n, e.words, e.room.m
	column := e.room.columns[k*words : (k+1)*words] // of equations not used yet
	pivot, best := -1, 0.0
	for w, set := range column {
		for ; set != 0; set &= set - 1 {
			eq := 64*w + bits.TrailingZeros64(set)
			if v := magnitude(m[eq*n+k]); v > best {
				pivot, best = eq, v
			}
		}
	}
	if !(best >= 1e-300) {
		return false
	}
	e.place[pivot] = k
	own := e.room.rows[pivot*words : (pivot+1)*words]
	right := e.right[k*words : (k+1)*words]
	copy(right[k/64:], own[k/64:])
	right[k/64] = right[k/64] >> (k % 64) &^ 1 << (k % 64)
	column[pivot/64] &^= 1 << (pivot % 64)
	e.inverse[k] = 1 / m[pivot*n+k]
	from := len(e.upper)
	for w, set := range right {
		for ; set != 0; set &= set - 1 {
			j := 64*w + bits.TrailingZeros64(set)
			e.upper = append(e.upper, phasorEntry{j, m[pivot*n+j]})
			// The others get what the pivot's row has, which goes.
			of := e.room.columns[j*words : (j+1)*words]
			for i, more := range column {
				of[i] |= more
			}
			of[pivot/64] &^= 1 << (pivot % 64)
		}
	}
	upper := e.upper[from:]
	for w, set := range column {
		for ; set != 0; set &= set - 1 {
			eq := 64*w + bits.TrailingZeros64(set)
			row := m[eq*n : eq*n+n]
			f := row[k] * e.inverse[k]
			e.lower = append(e.lower, phasorEntry{eq, f})
			for i := range upper {
				u := &upper[i]
				row[u.at] -= f * u.value
			}
			to := e.room.rows[eq*words : (eq+1)*words]
			for i, more := range right {
				to[i] |= more
			}
		}
	}
	e.ends[k] = [2]int{len(e.lower), len(e.upper)}
	return true
}

// solve sets x to the unknowns for the right-hand sides b, but leaves those before
// the first asked for as they may be.
func (e *phasorMatrix) solve(b, x []complex128, first int) {
	var few [2]uint64
	set := zeroed(few[:], e.words)
	clear(x)
	for eq, v := range b {
		if v != 0 {
			k := e.place[eq]
			x[k] = v
			set[k/64] |= 1 << (k % 64)
		}
	}
	e.forward(x, set)
	for k := e.n - 1; k >= first; k-- {
		sum, from := x[k], e.from(k, 1)
		for i := range e.upper[from:e.ends[k][1]] {
			u := &e.upper[from+i]
			sum -= u.value * x[u.at]
		}
		x[k] = sum * e.inverse[k]
	}
}

// from returns where the entries of column k, or row k, begin.
func (e *phasorMatrix) from(k, which int) int {
	if k == 0 {
		return 0
	}
	return e.ends[k-1][which]
}

// forward solves the factor below the diagonal in place. Most of x is zero: set has
// a bit for each that is not, and is used up.
func (e *phasorMatrix) forward(x []complex128, set []uint64) {
	for w := range set {
		for set[w] != 0 {
			k := 64*w + bits.TrailingZeros64(set[w])
			set[w] &= set[w] - 1
			v, from := x[k], e.from(k, 0)
			for i := range e.lower[from:e.ends[k][0]] {
				l := &e.lower[from+i]
				x[l.at] -= l.value * v
			}
			for i, more := range e.below[k*e.words : (k+1)*e.words] {
				set[i] |= more
			}
		}
	}
}

// impedance returns the difference of unknowns a and b where an ampere flows into
// equation a and out of b; −1 is the reference. The matrix must be symmetric: then it
// follows from the solutions of the two factors, bᵀ·(L·U)⁻¹·b = (U⁻ᵀb)ᵀ·(L⁻¹b), in
// which most is zero.
func (e *phasorMatrix) impedance(a, b int) complex128 {
	var few [128]complex128
	room := zeroed(few[:], 2*e.n)
	x, y := room[:e.n], room[e.n:]
	var sets [2]uint64
	first, set := zeroed(sets[:1], e.words), zeroed(sets[1:], e.words)
	for i, at := range [2]int{a, b} {
		if at < 0 {
			continue
		}
		amps := complex(float64(1-2*i), 0)
		k := e.place[at]
		x[k], y[at] = x[k]+amps, y[at]+amps
		first[k/64] |= 1 << (k % 64)
		set[at/64] |= 1 << (at % 64)
	}
	e.forward(x, first)
	sum := 0i
	for w := range set {
		for set[w] != 0 {
			k := 64*w + bits.TrailingZeros64(set[w])
			set[w] &= set[w] - 1
			v, from := y[k]*e.inverse[k], e.from(k, 1)
			for i := range e.upper[from:e.ends[k][1]] {
				u := &e.upper[from+i]
				y[u.at] -= u.value * v
			}
			for i, more := range e.right[k*e.words : (k+1)*e.words] {
				set[i] |= more
			}
			sum += v * x[k]
		}
	}
	return sum
}
