package plots

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestSpread(t *testing.T) {
	for _, c := range []struct {
		name       string
		wish, size []float64
		lo, hi     float64
		want       []float64
		ok         bool
	}{
		{"apart", []float64{10, 30}, []float64{10, 10}, 0, 100, []float64{10, 30}, true},
		{"together", []float64{20, 20}, []float64{10, 10}, 0, 100, []float64{15, 25}, true},
		{"out of order", []float64{30, 10}, []float64{10, 10}, 0, 100, []float64{30, 10}, true},
		{"at the border", []float64{1, 2}, []float64{10, 10}, 0, 100, []float64{5, 15}, true},
		{"two piles", []float64{20, 20, 80, 80}, []float64{4, 4, 8, 8}, 0, 100, []float64{18, 22, 76, 84}, true},
		{"full", []float64{1, 2, 3}, []float64{10, 10, 10}, 0, 30, []float64{5, 15, 25}, true},
		{"too full", []float64{1, 2, 3}, []float64{10, 10, 10}, 0, 25, []float64{5, 15, 25}, false},
	} {
		got, ok := spread(c.wish, c.size, c.lo, c.hi)
		for i := range c.want {
			if math.Abs(got[i]-c.want[i]) > 1e-9 || ok != c.ok {
				t.Errorf("%s: found %v, %v, want %v, %v", c.name, got, ok, c.want, c.ok)
				break
			}
		}
	}
}

// TestSpreadLeast compares with the least-squares solution found the slow
// way: coordinate by coordinate, which converges for a separable objective
// over an order constraint when groups that touch move together.
func TestSpreadLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "n")
		wish := rapid.SliceOfN(rapid.Float64Range(0, 100), n, n).Draw(t, "wish")
		size := rapid.SliceOfN(rapid.Float64Range(1, 10), n, n).Draw(t, "size")
		slices.Sort(wish)
		at, ok := spread(wish, size, 0, 100)
		if !ok {
			t.Fatalf("found no room for %v in 100", size)
		}
		cost := func(x []float64) float64 {
			s := 0.0
			for i := range x {
				s += (x[i] - wish[i]) * (x[i] - wish[i])
			}
			return s
		}
		valid := func(x []float64) bool {
			for i := range x {
				if x[i]-size[i]/2 < -1e-9 || x[i]+size[i]/2 > 100+1e-9 || i > 0 && x[i]-x[i-1] < (size[i]+size[i-1])/2-1e-9 {
					return false
				}
			}
			return true
		}
		if !valid(at) {
			t.Fatalf("found %v for sizes %v: an overlap or outside 0 to 100", at, size)
		}
		// No shift of any run of neighbours may do better.
		best := cost(at)
		for i := range at {
			for j := i; j < n; j++ {
				for _, d := range []float64{-1, -0.01, 0.01, 1} {
					x := slices.Clone(at)
					for k := i; k <= j; k++ {
						x[k] += d
					}
					if valid(x) && cost(x) < best-1e-9 {
						t.Fatalf("found %v, but %v is valid and nearer to %v", at, x, wish)
					}
				}
			}
		}
	})
}

// TestRaise checks the promise: no text over another, and no line through a
// text unless the two labels span each other's lines.
func TestRaise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "n")
		var f []pennant
		for range n {
			f = append(f, pennant{x: rapid.Float64Range(50, 400).Draw(t, "x"), w: rapid.Float64Range(10, 210).Draw(t, "w")})
		}
		rows := raise(f, 8, 500)
		top := 0
		for i := range f {
			a := &f[i]
			top = max(top, a.row+1)
			if a.row < 0 || a.x0 < 8-1e-9 && a.x-a.w-pennantPad >= 8 || a.x1 > 500+1e-9 {
				t.Fatalf("found %+v outside 8 to 500", *a)
			}
			for j := range f {
				b := &f[j]
				if i == j {
					continue
				}
				if a.row == b.row && a.x0 < b.x1-1e-9 && b.x0 < a.x1-1e-9 {
					t.Fatalf("found %+v over %+v", *a, *b)
				}
				spansB := b.x > a.x0 && b.x < a.x1
				spansA := a.x > b.x0 && a.x < b.x1
				if spansB && !spansA && b.row >= a.row && !onCycle(f, i, j) {
					t.Fatalf("found the line of %+v through the text of %+v", *b, *a)
				}
			}
		}
		if rows != top {
			t.Fatalf("found %d rows, want %d", rows, top)
		}
	})
}

// onCycle reports whether labels i and j depend on each other in a circle.
func onCycle(f []pennant, i, j int) bool {
	seen := make([]bool, len(f))
	var reach func(a int) bool
	reach = func(a int) bool {
		if a == i {
			return true
		}
		seen[a] = true
		for b := range f {
			if b != a && !seen[b] && f[b].x > f[a].x0 && f[b].x < f[a].x1 && reach(b) {
				return true
			}
		}
		return false
	}
	return reach(j)
}

func TestRaiseStaircase(t *testing.T) {
	f := []pennant{{x: 100, w: 80}, {x: 120, w: 80}, {x: 140, w: 80}, {x: 300, w: 80}, {x: 470, w: 80}}
	if rows := raise(f, 8, 500); rows != 3 {
		t.Errorf("found %d rows, want 3", rows)
	}
	for i, want := range []int{2, 1, 0, 0, 0} {
		if f[i].row != want {
			t.Errorf("label %d: found row %d, want %d", i, f[i].row, want)
		}
	}
	if !f[4].toLeft || f[3].toLeft {
		t.Errorf("found labels to the left: %v and %v, want true and false", f[4].toLeft, f[3].toLeft)
	}
}
