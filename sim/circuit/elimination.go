package circuit

import (
	"math"
	"math/bits"
	"slices"
)

// plan is the elimination of equations with a certain pattern of coefficients:
// which rows have the pivots, and where there is anything to do. Most
// coefficients are zero, and finding the others takes longer than eliminating
// them.
type plan struct {
	pattern []uint64 // a bit for each coefficient there is, by row
	steps   []step
}

// step is the elimination of one unknown.
type step struct {
	pivot   int   // the row with most of it
	others  []int // where the other rows that have it begin, once exchanged
	columns []int // of the pivot's row, right of the diagonal
	upper   int   // how many of these are unknowns
}

// maxPlans bounds how many plans a workspace keeps.
const maxPlans = 256

// solve solves the equations in place, by elimination with partial pivoting. It
// returns the unknown at which they have no unique solution, or −1.
func (w *workspace) solve() int {
	n := w.unknowns
	if w.length > 64 {
		return w.solveAll()
	}
	hash := w.hash()
	pl, done := w.plans[hash], 0
	if pl != nil && slices.Equal(pl.pattern, w.pattern) {
		done = w.repeat(pl)
	}
	if done < n {
		if k := w.eliminate(done); k >= 0 {
			return k
		}
		if w.plans == nil || len(w.plans) >= maxPlans {
			w.plans = map[uint64]*plan{}
		}
		pl = w.newPlan()
		w.plans[hash] = pl
	}
	for i := n - 1; i >= 0; i-- {
		st, ri := &pl.steps[i], w.rows[i*w.length:(i+1)*w.length]
		lessRows(ri[n:], ri, w.rows[n:], st.columns[:st.upper], w.length, 1/ri[i])
	}
	return -1
}

// solveAll is solve without a plan: for few equations, or very many.
func (w *workspace) solveAll() int {
	n := w.unknowns
	if k := w.eliminate(0); k >= 0 {
		return k
	}
	for i := n - 1; i >= 0; i-- {
		ri := w.rows[i*w.length : i*w.length+n]
		for k := i + 1; k < n; k++ {
			if ri[k] != 0 {
				less(w.solution(i), ri[k], w.solution(k))
			}
		}
		divide(w.solution(i), ri[i])
	}
	return -1
}

// divide divides a by x.
func divide(a []float64, x float64) {
	inv := 1 / x
	for i := range a {
		a[i] *= inv
	}
}

// hash returns a number by which a plan for the equations is found.
func (w *workspace) hash() uint64 {
	h := uint64(w.length)
	for _, row := range w.pattern {
		h = (h ^ row) * 0x9e3779b97f4a7c15
		h ^= h >> 29
	}
	return h
}

// eliminate eliminates the unknowns from the first that has not been. It returns
// that for which there is no pivot, or −1.
func (w *workspace) eliminate(first int) int {
	n, length := w.unknowns, w.length
	for k := first; k < n; k++ {
		p, best := k, math.Abs(w.rows[k*length+k])
		for i := k + 1; i < n; i++ {
			if v := math.Abs(w.rows[i*length+k]); v > best {
				p, best = i, v
			}
		}
		if best < 1e-300 || math.IsNaN(best) {
			return k
		}
		w.pivots[k] = p
		w.exchange(k, p)
		rk := w.rows[k*length+k : (k+1)*length]
		inv := 1 / rk[0]
		for i := k + 1; i < n; i++ {
			if ri := w.rows[i*length+k : (i+1)*length]; ri[0] != 0 {
				less(ri[1:], ri[0]*inv, rk[1:])
			}
		}
	}
	return -1
}

// exchange exchanges what is left of rows k and p once k unknowns have been
// eliminated.
func (w *workspace) exchange(k, p int) {
	if k == p {
		return
	}
	rk, rp := w.rows[k*w.length+k:(k+1)*w.length], w.rows[p*w.length+k:(p+1)*w.length]
	rp = rp[:len(rk)]
	for j, x := range rp {
		rp[j], rk[j] = rk[j], x
	}
}

// newPlan makes a plan of the pattern and the pivots that have been noted. What
// becomes zero by chance counts as not zero.
func (w *workspace) newPlan() *plan {
	n, length := w.unknowns, w.length
	pl := &plan{pattern: slices.Clone(w.pattern), steps: make([]step, n)}
	rows := slices.Clone(w.pattern)
	for k := range pl.steps {
		st := &pl.steps[k]
		st.pivot = w.pivots[k]
		rows[k], rows[st.pivot] = rows[st.pivot], rows[k]
		right := rows[k] >> (k + 1) << (k + 1)
		for m := right; m != 0; m &= m - 1 {
			st.columns = append(st.columns, bits.TrailingZeros64(m))
		}
		st.upper = bits.OnesCount64(right & (1<<n - 1))
		for i := k + 1; i < n; i++ {
			if rows[i]>>k&1 != 0 {
				st.others = append(st.others, i*length)
				rows[i] |= right
			}
		}
	}
	return pl
}

// repeat eliminates the unknowns by a plan, as long as eliminate would take the
// same pivots, and returns how many that were.
func (w *workspace) repeat(pl *plan) int {
	length, rows := w.length, w.rows
	for k := range pl.steps {
		st := &pl.steps[k]
		w.pivots[k] = st.pivot
		w.exchange(k, st.pivot)
		own := rows[k*length : (k+1)*length]
		best, at := math.Abs(own[k]), st.pivot*length
		for _, i := range st.others {
			// Of equal ones eliminate takes the first, and so did the plan.
			if v := math.Abs(rows[i+k]); !(v < best || v == best && i > at) {
				w.exchange(k, st.pivot)
				return k
			}
		}
		if !(best >= 1e-300) {
			w.exchange(k, st.pivot)
			return k
		}
		clearColumn(rows, k*length, k, st.others, st.columns, 1/own[k])
	}
	return len(pl.steps)
}
