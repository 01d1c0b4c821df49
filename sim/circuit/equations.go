package circuit

import "math"

// workspace holds the equations of modified nodal analysis while a block or a
// combination is put together: a row for each node, Kirchhoff's current law,
// then one for each branch whose current is an unknown; and a right-hand side for
// each of the quantities that the solution is a linear function of. It also lends
// what else is made of a combination its storage.
type workspace struct {
	rows     []float64 // an equation each: unknowns, then columns
	length   int       // of a row
	unknowns int
	columns  int
	extra    []int // branch to extra unknown, −1
	parent   []int
	column   []int // state to column, −1
	active   []int // states that have one
	blocks   []*reduced
	inputs   []float64 // of a block, expanded
	rate     []float64 // row of a state's rate
	spectrum spectrum
	arena
	lossWork
}

// arena hands out numbers that are to stay, all zero, from larger pieces.
type arena struct {
	free []float64
	next int // size of the next piece
}

func (a *arena) take(n int) []float64 {
	if n > len(a.free) {
		a.next = min(max(2*a.next, 1024), 8192)
		a.free = make([]float64, max(n, a.next))
	}
	x := a.free[:n:n]
	a.free = a.free[n:]
	return x
}

// end is where one end of a branch is: at a node that is an unknown, by its
// row, or at one whose voltage is given, by its column; at the reference both
// are −1.
type end struct{ row, col int }

var reference = end{-1, -1}

// find returns the root of i among what has been joined.
func (w *workspace) find(i int) int {
	for w.parent[i] != i {
		w.parent[i] = w.parent[w.parent[i]]
		i = w.parent[i]
	}
	return i
}

// begin clears the equations.
func (w *workspace) begin(unknowns, columns int) {
	w.unknowns, w.columns, w.length = unknowns, columns, unknowns+columns
	w.rows = resize(w.rows, unknowns*w.length)
	clear(w.rows)
}

func (w *workspace) add(row, col int, v float64) {
	if row >= 0 && col >= 0 {
		w.rows[row*w.length+col] += v
	}
}

func (w *workspace) put(row, col int, v float64) {
	if row >= 0 && col >= 0 {
		w.rows[row*w.length+w.unknowns+col] += v
	}
}

// tie holds a node at the reference: no current flows there if nothing else
// connects it.
func (w *workspace) tie(node int) { w.add(node, node, 1) }

// stamp adds a branch of form f from a to b with its resistance and threshold.
// x is the unknown of its current, given the column of its voltage or current;
// the last column is that of the constant 1.
func (w *workspace) stamp(f form, ohms, volts float64, a, b end, x, given int) {
	one := w.columns - 1
	switch f {
	case conductive:
		g := 1 / ohms
		w.add(a.row, a.row, g)
		w.add(b.row, b.row, g)
		w.add(a.row, b.row, -g)
		w.add(b.row, a.row, -g)
		w.put(a.row, b.col, g)
		w.put(b.row, a.col, g)
		w.put(a.row, one, g*volts)
		w.put(b.row, one, -g*volts)
	case impedance, voltage:
		w.add(a.row, x, 1)
		w.add(b.row, x, -1)
		w.add(x, a.row, 1)
		w.add(x, b.row, -1)
		w.put(x, a.col, -1)
		w.put(x, b.col, 1)
		if f == impedance {
			w.add(x, x, -ohms)
			w.put(x, one, volts)
		} else {
			w.put(x, given, 1)
		}
	case current:
		w.put(a.row, given, -1)
		w.put(b.row, given, 1)
	}
}

// solve solves the equations in place, by elimination with partial pivoting. It
// returns the unknown at which they have no unique solution, or −1.
func (w *workspace) solve() int {
	n, length := w.unknowns, w.length
	row := func(i int) []float64 { return w.rows[i*length : (i+1)*length] }
	for k := range n {
		p, best := k, math.Abs(w.rows[k*length+k])
		for i := k + 1; i < n; i++ {
			if v := math.Abs(w.rows[i*length+k]); v > best {
				p, best = i, v
			}
		}
		if best < 1e-300 || math.IsNaN(best) {
			return k
		}
		rk := row(k)[k:]
		if p != k {
			for j, x := range row(p)[k:] {
				w.rows[p*length+k+j], rk[j] = rk[j], x
			}
		}
		inv := 1 / rk[0]
		for i := k + 1; i < n; i++ {
			if ri := row(i)[k:]; ri[0] != 0 {
				less(ri[1:], ri[0]*inv, rk[1:])
			}
		}
	}
	for i := n - 1; i >= 0; i-- {
		ri := row(i)
		out := ri[n:]
		for k := i + 1; k < n; k++ {
			if ri[k] != 0 {
				less(out, ri[k], w.solution(k))
			}
		}
		inv := 1 / ri[i]
		for j := range out {
			out[j] *= inv
		}
	}
	return -1
}

// less takes k·b from a.
func less(a []float64, k float64, b []float64) {
	b = b[:len(a)]
	for i := range a {
		a[i] -= k * b[i]
	}
}

// solution is unknown i as a function of the columns.
func (w *workspace) solution(i int) []float64 {
	return w.rows[i*w.length+w.unknowns : (i+1)*w.length]
}

// read writes the voltage and the current of a branch, as it was stamped, from
// the solution; both must be zero before.
func (w *workspace) read(f form, ohms, volts float64, a, b end, x, given int, v, amps []float64) {
	cols := w.columns
	if f == voltage {
		v[given] = 1
	} else {
		if a.row >= 0 {
			copy(v, w.solution(a.row))
		} else if a.col >= 0 {
			v[a.col] = 1
		}
		if b.row >= 0 {
			for j, y := range w.solution(b.row) {
				v[j] -= y
			}
		} else if b.col >= 0 {
			v[b.col]--
		}
	}
	switch f {
	case conductive:
		for j := range amps {
			amps[j] = v[j] / ohms
		}
		amps[cols-1] -= volts / ohms
	case impedance, voltage:
		copy(amps, w.solution(x))
	case current:
		amps[given] = 1
	}
}
