package circuit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestCondense: what is left of equations from which unknowns have been eliminated
// has, with what is added to it, the solution that gonum finds of all of them. One
// unknown has no good pivot and must stay.
func TestCondense(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 71))
	const n, shared, columns = 9, 6, 4
	touched := []int{1, 4}
	for range 50 {
		var w workspace
		w.begin(n, columns)
		all, right := mat.NewDense(n, n, nil), mat.NewDense(n, columns, nil)
		for i := range n {
			for j := range n {
				x := r.NormFloat64()
				if j == n-1 && !slices.Contains(touched, i) {
					x *= 1e-9
				}
				w.add(i, j, x)
				all.Set(i, j, x)
			}
			for j := range columns {
				x := r.NormFloat64()
				w.put(i, j, x)
				right.Set(i, j, x)
			}
		}
		b := base{touched: touched}
		w.condense(&b, shared)
		for _, k := range []int{1, 4, n - 1} {
			if !slices.Contains(b.kept, k) || len(b.kept) == n {
				t.Fatalf("found unknowns %v left, expected few, among them %d", b.kept, k)
			}
		}
		w.unknowns, w.length = len(b.kept), len(b.kept)+columns
		w.rows = append(w.rows[:0], b.rows...)
		for _, i := range touched {
			for _, j := range touched {
				x := r.NormFloat64()
				all.Set(i, j, all.At(i, j)+x)
				w.rows[b.at[i][0]*w.length+b.at[j][1]] += x
			}
		}
		if w.solveAll() >= 0 {
			t.Fatal("found no solution")
		}
		var want mat.Dense
		if err := want.Solve(all, right); err != nil {
			t.Fatal(err)
		}
		for i, k := range b.kept {
			for j, x := range w.solution(i) {
				near(t, "unknown", x, want.At(k, j), mat.Norm(&want, math.Inf(1))+1, 1e-9)
			}
		}
	}
}

// TestBase: combinations put together from bases that others have used before, at
// other temperatures too, are to the last bit what they are from none; and bases
// serve no trunk of other values.
func TestBase(t *testing.T) {
	b := refBoard()
	s := mustNew(t, b)
	n := s.net
	keys := []key{s.key}
	for v, i := range n.valves {
		for _, k := range slices.Clone(keys[:min(len(keys), 4)]) {
			keys = append(keys, k.with(v, positive))
			if n.branches[i].kind != linkPath {
				keys = append(keys, k.with(v, negative))
			}
		}
	}
	first := s.par.bases
	for _, celsius := range []float64{25, 80} {
		s.SetTemperatures(Uniform(len(b.Channels), celsius))
		if s.par.bases != first {
			t.Errorf("at %v °C: found other bases, expected those of a trunk of the same values", celsius)
		}
		for _, k := range keys {
			got, err := s.par.assemble(k)
			if err != nil {
				t.Fatal(err)
			}
			alone := *s.par
			alone.bases = nil
			want, err := alone.assemble(k)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(got.active, want.active) || got.apart != want.apart {
				t.Errorf("%s: found states %v, expected %v", s.par.describe(k), got.active, want.active)
			}
			for _, x := range [][2][]float64{{got.rows, want.rows}, {got.a, want.a}, {got.be, want.be}, {got.kc, want.kc}} {
				if !slices.EqualFunc(x[0], x[1], func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }) {
					t.Errorf("%s: found %v, expected %v", s.par.describe(k), x[0], x[1])
				}
			}
		}
	}
	if links := len(first.list); links < 2 || links > len(keys)/2 {
		t.Errorf("found %d bases for %d combinations", links, len(keys))
	}
	for _, at := range n.trunk {
		other := *s.par
		other.ohms = slices.Clone(s.par.ohms)
		other.ohms[at]++
		if first.serve(&other) {
			t.Errorf("bases serve another resistance of %s", n.branches[at].name)
		}
	}
}
