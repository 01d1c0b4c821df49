package circuit

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// sparse fills a workspace with equations of n unknowns and some columns, in
// which few coefficients are not zero, and returns them as gonum's matrices. The
// pattern follows from seed, the numbers from r; several are ±1, as in the
// equations of a network.
func sparse(w *workspace, n, columns int, seed uint64, r *rand.Rand) (a, b *mat.Dense) {
	where := rand.New(rand.NewPCG(seed, 1))
	a, b = mat.NewDense(n, n, nil), mat.NewDense(n, columns, nil)
	w.begin(n, columns)
	put := func(i, j int) {
		x := r.NormFloat64()
		if where.IntN(2) == 0 {
			x = float64(2*r.IntN(2) - 1)
		}
		if j < n {
			w.add(i, j, x)
			a.Set(i, j, a.At(i, j)+x)
		} else {
			w.put(i, j-n, x)
			b.Set(i, j-n, b.At(i, j-n)+x)
		}
	}
	order := where.Perm(n)
	for i := range n {
		put(i, order[i]) // it may have a solution
		for range 3 {
			put(i, where.IntN(n+columns))
		}
	}
	return a, b
}

// TestSolve compares the solution of equations with gonum's, those of a pattern
// met before with those of one met for the first time to the last bit, and both
// with more columns than a plan can have.
func TestSolve(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	var w workspace
	solved := 0
	for i := range 3000 {
		n, columns := 1+i%14, 1+i%9
		if i%50 == 0 {
			n, columns = 40, 40
		}
		seed := uint64(i % 140)
		if i >= 1500 { // as different as they can be
			seed = uint64(i)
		}
		a, b := sparse(&w, n, columns, seed, r)
		fresh := workspace{unknowns: n, columns: columns, length: w.length}
		fresh.rows, fresh.pattern = append(fresh.rows, w.rows...), append(fresh.pattern, w.pattern...)
		fresh.pivots = make([]int, n)
		var lu mat.LU
		lu.Factorize(a)
		got, other := w.solve(), fresh.solve()
		if got != other {
			t.Fatalf("%d: found no pivot at %d, at %d the first time", i, got, other)
		}
		if got >= 0 {
			if c := lu.Cond(); c < 1e14 {
				t.Fatalf("%d: found no pivot in equations of condition %g", i, c)
			}
			continue
		}
		if lu.Cond() > 1e6 {
			continue
		}
		var want mat.Dense
		if err := lu.SolveTo(&want, false, b); err != nil {
			t.Fatal(err)
		}
		solved++
		for j := range n {
			for k, x := range w.solution(j) {
				near(t, fmt.Sprintf("unknown %d, column %d", j, k), x, want.At(j, k), 1+mat.Norm(&want, 1), 1e-9)
				if y := fresh.solution(j)[k]; x != y {
					t.Fatalf("%d: found %v, expected %v as the first time", i, x, y)
				}
			}
		}
	}
	if solved < 1000 || len(w.plans) < 20 {
		t.Errorf("solved %d equations with %d plans, expected many", solved, len(w.plans))
	}
}

// TestRepeat sees to it that equations of a known pattern in which another pivot
// is larger, or comes first of equal ones, are solved with that.
func TestRepeat(t *testing.T) {
	var w workspace
	for _, x := range [][4]float64{{1, 2, 3, 5}, {2, 1, 3, 5}, {1, 1, 2, 5}, {-1, 1, 2, 5}, {1, 2, 3, 5}} {
		w.begin(2, 1)
		for i, v := range x {
			w.add(i/2, i%2, v)
		}
		w.put(0, 0, 1)
		w.put(1, 0, 2)
		if k := w.solve(); k >= 0 {
			t.Fatalf("%v: found no pivot at %d", x, k)
		}
		wantPivot := 0
		if x[2]*x[2] > x[0]*x[0] {
			wantPivot = 1
		}
		if w.pivots[0] != wantPivot {
			t.Errorf("%v: found pivot %d, expected %d", x, w.pivots[0], wantPivot)
		}
		det := x[0]*x[3] - x[1]*x[2]
		near(t, "first", w.solution(0)[0], (x[3]-2*x[1])/det, 1, 1e-14)
		near(t, "second", w.solution(1)[0], (2*x[0]-x[2])/det, 1, 1e-14)
	}
}

// TestRelease: a solver goes the same way to the last bit in storage that another
// one has released, and records and snapshots outlive it.
func TestRelease(t *testing.T) {
	b := refBoard()
	run := func(release bool) (losses []float64, sn Snapshot) {
		s := mustNew(t, b)
		for h := range 6 {
			s.SetTemperatures(Uniform(len(b.Channels), 30+10*float64(h/2)))
			r, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12, 0, 12}})
			if err != nil {
				t.Fatal(err)
			}
			losses = append(losses, r.Source, r.EarthCharge, r.EarthSquared)
			losses = append(append(losses, r.Triac...), r.Gate...)
		}
		s.Snapshot(&sn)
		if release {
			s.Release()
		}
		return losses, sn
	}
	want, state := run(false)
	for range 3 {
		got, sn := run(true)
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("found %v, expected %v", got[i], want[i])
			}
		}
		for i := range state.x {
			if sn.x[i] != state.x[i] {
				t.Fatalf("state %d: found %v, expected %v", i, sn.x[i], state.x[i])
			}
		}
	}
}
