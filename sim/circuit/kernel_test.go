package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// TestProducts compares the products of every width, written out or not, with
// gonum's.
func TestProducts(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 8))
	draw := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		return x
	}
	for n := range 40 {
		a, b := draw(n), draw(n)
		near(t, fmt.Sprintf("product of %d numbers", n), dot(a, b), floats.Dot(a, b), 1+floats.Norm(a, 2)*floats.Norm(b, 2), 1e-15)
		for rows := range 12 {
			m, got := draw(rows*n), draw(rows)
			dots(got, m, b)
			if n == 0 || rows == 0 {
				for i, y := range got {
					if y != 0 {
						t.Errorf("row %d of %d with nothing in it: found %g, expected 0", i, rows, y)
					}
				}
				continue
			}
			var want mat.VecDense
			want.MulVec(mat.NewDense(rows, n, m), mat.NewVecDense(n, b))
			for i, y := range got {
				near(t, fmt.Sprintf("row %d of %d×%d", i, rows, n), y, want.AtVec(i), 1+floats.Norm(b, 2)*float64(n), 1e-15)
			}
		}
	}
}

// TestRegisters: the kernels in the processor's registers give what the plain
// ones give, to the last bit, and write nowhere else.
func TestRegisters(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 21))
	draw := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64() * math.Exp2(float64(r.IntN(80)-40))
		}
		return x
	}
	same := func(what string, run, plain func(out []float64), count int) {
		t.Helper()
		got, want := draw(count+2), make([]float64, count)
		before := slices.Clone(got)
		run(got[1 : count+1])
		plain(want)
		for i, y := range want {
			if math.Float64bits(got[i+1]) != math.Float64bits(y) {
				t.Errorf("%s, number %d: found %v, expected %v", what, i, got[i+1], y)
			}
		}
		if got[0] != before[0] || got[count+1] != before[count+1] {
			t.Errorf("%s wrote beside its %d numbers", what, count)
		}
	}
	for n := 4; n <= 8; n++ {
		for rows := range 12 {
			m, x := draw(rows*n), draw(n)
			same(fmt.Sprintf("%d×%d", rows, n), func(out []float64) { dotsWide(out, m, x) }, func(out []float64) { dotsPlain(out, m, x) }, rows)
		}
	}
	for n := 9; n < 40; n++ {
		for rows := range 4 {
			m, x := draw(rows*n), draw(n)
			same(fmt.Sprintf("%d×%d", rows, n), func(out []float64) { dotsLong(out, m, x) }, func(out []float64) { dotsLongPlain(out, m, x) }, rows)
		}
	}
	for n := range 20 {
		for rows := 1; rows < 10; rows++ {
			m, x := draw(rows*n), draw(rows)
			same(fmt.Sprintf("%d of %d weighed", rows, n), func(out []float64) { weighWide(out, x, m) }, func(out []float64) { weighPlain(out, x, m) }, n)
		}
	}
	for n := range 20 {
		for rows := 1; rows < 8; rows++ {
			stride := n + r.IntN(5)
			m, x, start, times := draw(rows*stride+n), draw(rows), draw(n), r.NormFloat64()
			var columns []int
			for k := range rows {
				if r.IntN(3) > 0 {
					columns = append(columns, k)
				}
			}
			run := func(less func(out, factors, rows []float64, columns []int, stride int, times float64)) func(out []float64) {
				return func(out []float64) {
					copy(out, start)
					less(out, x, m, columns, stride, times)
				}
			}
			same(fmt.Sprintf("%d of %d numbers less %v of %d rows", n, stride, columns, rows), run(lessRows), run(lessRowsPlain), n)
			want := mat.NewVecDense(n+1, append(slices.Clone(start), 0))
			for _, k := range columns {
				want.AddScaledVec(want, -x[k], mat.NewVecDense(n+1, append(slices.Clone(m[k*stride:k*stride+n]), 0)))
			}
			got := make([]float64, n)
			run(lessRows)(got)
			for i, y := range got {
				near(t, "difference", y, times*want.AtVec(i), math.Abs(times)*mat.Norm(want, math.Inf(1))+math.Abs(y), 1e-9)
			}
		}
	}
	for n := 2; n < 12; n++ {
		start, k := draw(n*n), r.IntN(n)
		var others, columns []int
		for i := range n {
			if i > 0 && r.IntN(3) > 0 {
				others = append(others, i*n)
			}
			if r.IntN(3) > 0 {
				columns = append(columns, i)
			}
		}
		run := func(clear func(rows []float64, own, k int, others, columns []int, inverse float64)) func(out []float64) {
			return func(out []float64) {
				copy(out, start)
				clear(out, 0, k, others, columns, 1/start[k])
			}
		}
		same(fmt.Sprintf("column %d of %d cleared", k, n), run(clearColumn), run(clearColumnPlain), n*n)
	}
	for n := 2; n < 9; n++ {
		for range 10 {
			start, y, z, k := draw(2*n*n), r.NormFloat64(), r.NormFloat64(), r.NormFloat64()
			i := r.IntN(n - 1)
			left, bottom := r.IntN(i+1), i+1+r.IntN(n-i)
			what := fmt.Sprintf("reflection at row %d of %d", i, n)
			two := func(reflect func(a, basis []float64, i, left, bottom, n int, y, k float64)) func(out []float64) {
				return func(out []float64) {
					copy(out, start)
					reflect(out[:n*n], out[n*n:], i, left, bottom, n, y, k)
				}
			}
			same(what, two(reflect2), two(reflect2Plain), 2*n*n)
			if i+2 >= n {
				continue
			}
			three := func(reflect func(a, basis []float64, i, left, bottom, n int, y, z, k float64)) func(out []float64) {
				return func(out []float64) {
					copy(out, start)
					reflect(out[:n*n], out[n*n:], i, left, bottom, n, y, z, k)
				}
			}
			same(what, three(reflect3), three(reflect3Plain), 2*n*n)
		}
	}
	for forms := 0; forms <= 3*lanes; forms += lanes {
		for n := range 40 {
			m, x := draw(forms*n), draw(n)
			same(fmt.Sprintf("%d forms of %d", forms, n), func(out []float64) { contractLanes(out, m, x) }, func(out []float64) { contractPlain(out, m, x) }, forms)
		}
	}
}

// TestChanges compares the changes of products of every number of parts, written
// out or not, with the products where a segment ends less those where it begins.
func TestChanges(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 44))
	for n := 1; n < 12; n++ {
		var g gram
		for range n {
			was, more := r.NormFloat64(), r.NormFloat64()
			g.was, g.more = append(g.was, was), append(g.more, more)
			g.mid, g.own = append(g.mid, was+more/2), append(g.own, r.NormFloat64())
		}
		got := make([]float64, triangle(n))
		for i := range got {
			got[i] = float64(i) // what other segments have added
		}
		g.products(got, nil, 1)
		for i := range n {
			for j := range i + 1 {
				change := (g.was[i]+g.more[i])*(g.was[j]+g.more[j]) - g.was[i]*g.was[j]
				if i == j {
					change = g.own[i]
				}
				at := productAt(i, j)
				near(t, fmt.Sprintf("change of parts %d and %d of %d", i, j, n), got[at], float64(at)+change, 100, 1e-15)
			}
		}
	}
}

// TestBrief compares the short series with the library's functions up to where
// they are used.
func TestBrief(t *testing.T) {
	for i := -1000; i <= 1000; i++ {
		x := brief * float64(i) / 1000
		near(t, fmt.Sprintf("exp %g", x), expBrief(x), math.Exp(x), 1, 3e-16)
		sin, cos := sincosBrief(x)
		near(t, fmt.Sprintf("sin %g", x), sin, math.Sin(x), math.Abs(x)+1e-300, 3e-16)
		near(t, fmt.Sprintf("cos %g", x), cos, math.Cos(x), 1, 3e-16)
	}
}

// TestAdvance moves basis functions a little and compares with evaluating them
// there.
func TestAdvance(t *testing.T) {
	s := bare([]complex128{-300, complex(-1e4, 2e5), -7e5}, 1, 3, 17)
	s.T0 = 1e-4
	from, want := make([]float64, s.size()), make([]float64, s.size())
	for _, at := range []float64{1.1e-4, 1.23e-4, 2e-4} {
		for _, d := range []float64{-2e-8, -3e-11, 4e-13, 1e-9, 2.2e-8} {
			if math.Abs(d)*s.fastest() > brief {
				t.Fatalf("%g s is too far for a rate of %g", d, s.fastest())
			}
			s.basis(at, from)
			s.basis(at+d, want)
			s.advance(from, d)
			for i := range from {
				near(t, fmt.Sprintf("function %d at %g, %g later", i, at, d), from[i], want[i], 1, 1e-14)
			}
		}
	}
}

// TestClears compares with the highest point of the curve on a fine grid.
func TestClears(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	yes, no := 0, 0
	for range 20000 {
		fa, fb, q := -math.Pow(10, -3*r.Float64()), -math.Pow(10, -3*r.Float64()), math.Pow(10, 1-3*r.Float64())
		top := math.Inf(-1)
		for i := range 1001 {
			u := float64(i) / 1000
			top = math.Max(top, fa*(1-u)+fb*u+q*u*(1-u))
		}
		if math.Abs(top) < 1e-5 {
			continue // the grid cannot tell
		}
		if clears(fa, fb, q) != (top < 0) {
			t.Errorf("from %g to %g with a bend of %g: found %v, the highest point is %g", fa, fb, q, clears(fa, fb, q), top)
		}
		if top < 0 {
			yes++
		} else {
			no++
		}
	}
	if yes < 1000 || no < 1000 {
		t.Errorf("%d stay below and %d do not, expected many of both", yes, no)
	}
	if clears(1e-9, -1, 0) || clears(-1, 1e-9, 0) {
		t.Error("found an end above zero to be below")
	}
}

func TestAllFinite(t *testing.T) {
	if !allFinite(nil) || !allFinite([]float64{0, -1e308, 5e-324}) {
		t.Error("found finite numbers not to be")
	}
	for _, x := range []float64{math.Inf(1), math.Inf(-1), math.NaN()} {
		if allFinite([]float64{1, x, 2}) || allFinite([]float64{x, -x}) {
			t.Errorf("found %v to be finite", x)
		}
	}
}
