package circuit

// workspace holds the equations of modified nodal analysis while a block or a
// combination is put together: a row for each node, Kirchhoff's current law,
// then one for each branch whose current is an unknown; and a right-hand side for
// each of the quantities that the solution is a linear function of.
type workspace struct {
	m, rhs   []float64
	piv      []int
	unknowns int
	columns  int
	extra    []int // branch to extra unknown, −1
	parent   []int
	column   []int // state to column, −1
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
	w.unknowns, w.columns = unknowns, columns
	w.m, w.rhs, w.piv = resize(w.m, unknowns*unknowns), resize(w.rhs, unknowns*columns), resize(w.piv, unknowns)
	clear(w.m)
	clear(w.rhs)
}

func (w *workspace) add(row, col int, v float64) {
	if row >= 0 && col >= 0 {
		w.m[row*w.unknowns+col] += v
	}
}

func (w *workspace) put(row, col int, v float64) {
	if row >= 0 && col >= 0 {
		w.rhs[row*w.columns+col] += v
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

// solve solves the equations in place. It returns the unknown at which they
// have no unique solution, or −1.
func (w *workspace) solve() int {
	if col := factor(w.m, w.unknowns, w.piv); col >= 0 {
		return col
	}
	solve(w.m, w.unknowns, w.piv, w.rhs, w.columns)
	return -1
}

// read writes the voltage and the current of a branch, as it was stamped, from
// the solution; both must be zero before.
func (w *workspace) read(f form, ohms, volts float64, a, b end, x, given int, v, amps []float64) {
	cols := w.columns
	if f == voltage {
		v[given] = 1
	} else {
		if a.row >= 0 {
			copy(v, w.rhs[a.row*cols:(a.row+1)*cols])
		} else if a.col >= 0 {
			v[a.col] = 1
		}
		if b.row >= 0 {
			for j, y := range w.rhs[b.row*cols : (b.row+1)*cols] {
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
		copy(amps, w.rhs[x*cols:(x+1)*cols])
	case current:
		amps[given] = 1
	}
}
