package circuit

import "boilwright/sim/arena"

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
	pattern  []uint64 // see plan
	pivots   []int
	plans    map[uint64]*plan
	members  []member
	parent   []int
	column   []int // state to column, −1
	reduced  []*reduced
	row      []float64 // of a branch
	edge     []float64 // rows of a block's edge
	kept     []float64 // the solution of what a base leaves, a row each
	full     []float64 // see trace
	spectrum spectrum
	lossWork
	recent     [256]*combination
	trials     [16]trialOf
	finder     finder // this and what follows while no solver has it
	gram       gram
	course     course
	integrator integrator
	passes     [2]pass     // see SettleMoments
	states     [3]Snapshot // likewise
	solver     *Solver     // one that nobody needs any more, or nil
	params     *params     // likewise
	made       uint64      // combinations, by which they are told apart

	numbers      arena.Of[float64]
	phasors      arena.Of[complex128]
	flags        arena.Of[bool]
	combinations arena.Of[combination]
	views        arena.Of[view]
	bands        arena.Of[band]
	ints         arena.Of[int]
	ends         arena.Of[[2]end]
	lists        arena.Of[loss]
	branches     []branch
	reductions   arena.Of[reduced]
	blocks       arena.Of[float64]
	indices      arena.Of[int]
}

// member is a branch in the equations: its form, resistance and threshold, its
// ends, the unknown of its current and the column of its voltage or current; −1
// for none.
type member struct {
	form        form
	ohms, volts float64
	a, b        end
	x, given    int
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

// join notes that something connects i and j; of their roots the later stays one.
func (w *workspace) join(i, j int) {
	x, y := w.find(i), w.find(j)
	w.parent[min(x, y)] = max(x, y)
}

// separate begins anew with n places that nothing connects.
func (w *workspace) separate(n int) {
	w.parent = resize(w.parent, n)
	for i := range w.parent {
		w.parent[i] = i
	}
}

// begin clears the equations.
func (w *workspace) begin(unknowns, columns int) {
	w.unknowns, w.columns, w.length = unknowns, columns, unknowns+columns
	w.rows = resize(w.rows, unknowns*w.length)
	clear(w.rows)
	w.pattern, w.pivots = resize(w.pattern, unknowns), resize(w.pivots, unknowns)
	clear(w.pattern)
}

func (w *workspace) add(row, col int, v float64) {
	if row >= 0 && col >= 0 {
		w.rows[row*w.length+col] += v
		w.pattern[row] |= 1 << col
	}
}

func (w *workspace) put(row, col int, v float64) {
	if row >= 0 && col >= 0 {
		col += w.unknowns
		w.rows[row*w.length+col] += v
		w.pattern[row] |= 1 << col
	}
}

// tie holds a node at the reference: no current flows there if nothing else
// connects it.
func (w *workspace) tie(node int) { w.add(node, node, 1) }

// stamp adds a branch; the last column is that of the constant 1.
func (w *workspace) stamp(m *member) {
	one, a, b, x := w.columns-1, m.a, m.b, m.x
	switch m.form {
	case conductive:
		g := 1 / m.ohms
		w.add(a.row, a.row, g)
		w.add(b.row, b.row, g)
		w.add(a.row, b.row, -g)
		w.add(b.row, a.row, -g)
		w.put(a.row, b.col, g)
		w.put(b.row, a.col, g)
		w.put(a.row, one, g*m.volts)
		w.put(b.row, one, -g*m.volts)
	case impedance, voltage:
		w.add(a.row, x, 1)
		w.add(b.row, x, -1)
		w.add(x, a.row, 1)
		w.add(x, b.row, -1)
		w.put(x, a.col, -1)
		w.put(x, b.col, 1)
		if m.form == impedance {
			w.add(x, x, -m.ohms)
			w.put(x, one, m.volts)
		} else {
			w.put(x, m.given, 1)
		}
	case current:
		w.put(a.row, m.given, -1)
		w.put(b.row, m.given, 1)
	}
}

// less takes k·b from a.
func less(a []float64, k float64, b []float64) {
	for len(a) > 3 {
		x, y := (*[4]float64)(a), (*[4]float64)(b)
		x[0] -= k * y[0]
		x[1] -= k * y[1]
		x[2] -= k * y[2]
		x[3] -= k * y[3]
		a, b = a[4:], b[4:]
	}
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
// the solution.
func (w *workspace) read(m *member, v, amps []float64) {
	v = v[:w.columns]
	if m.form == voltage {
		clear(v)
		v[m.given] = 1
	} else {
		w.difference(m, v)
	}
	switch amps = amps[:len(v)]; m.form {
	case conductive:
		g := 1 / m.ohms
		for j, x := range v {
			amps[j] = x * g
		}
		amps[len(amps)-1] -= m.volts * g
	case impedance, voltage:
		copy(amps, w.solution(m.x))
	case current:
		clear(amps)
		amps[m.given] = 1
	default:
		clear(amps)
	}
}

// difference writes the voltage between the ends of a branch.
func (w *workspace) difference(m *member, v []float64) {
	a, b := m.a, m.b
	switch {
	case a.row >= 0 && b.row >= 0:
		x, y := w.solution(a.row)[:len(v)], w.solution(b.row)[:len(v)]
		for j := range v {
			v[j] = x[j] - y[j]
		}
		return
	case a.row >= 0:
		copy(v, w.solution(a.row))
	case b.row >= 0:
		for j, y := range w.solution(b.row) {
			v[j] = -y
		}
	default:
		clear(v)
	}
	if a.row < 0 && a.col >= 0 {
		v[a.col]++
	}
	if b.row < 0 && b.col >= 0 {
		v[b.col]--
	}
}
