package validate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestAUC(t *testing.T) {
	for _, x := range []struct {
		a, b []float64
		want float64
	}{
		{[]float64{1, 2, 3}, []float64{4, 5}, 1},
		{[]float64{4, 5}, []float64{1, 2, 3}, 0},
		{[]float64{1, 1}, []float64{1, 1, 1}, 0.5},
		{[]float64{1, 3}, []float64{2}, 0.5},
		{[]float64{1, 2}, []float64{2}, 0.75},
	} {
		if got := AUC(x.a, x.b); got != x.want {
			t.Errorf("%v and %v: found %v, expected %v", x.a, x.b, got, x.want)
		}
	}
	for _, got := range []float64{AUC(nil, []float64{1}), AUC([]float64{1}, nil), AUC([]float64{math.NaN()}, []float64{1})} {
		if !math.IsNaN(got) {
			t.Errorf("found %v, expected no number", got)
		}
	}
}

// Every pair compared.
func TestAUCPairs(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		a, b := make([]float64, 1+r.IntN(20)), make([]float64, 1+r.IntN(20))
		for _, s := range [][]float64{a, b} {
			for i := range s {
				s[i] = float64(r.IntN(12))
			}
		}
		sum := 0.0
		for _, x := range a {
			for _, y := range b {
				switch {
				case y > x:
					sum++
				case y == x:
					sum += 0.5
				}
			}
		}
		if want := sum / float64(len(a)*len(b)); math.Abs(AUC(a, b)-want) > 1e-12 {
			t.Errorf("%v and %v: found %v, expected %v", a, b, AUC(a, b), want)
		}
	}
}

// The standard deviation of the statistic over all ways to deal ranks, which
// the formula of Mann and Whitney gives in closed form.
func TestDeviationAUC(t *testing.T) {
	const a, b = 3, 4
	n, sum, squares := 0.0, 0.0, 0.0
	for set := range 1 << (a + b) {
		var x, y []float64
		for i := range a + b {
			if set>>i&1 == 1 {
				x = append(x, float64(i))
			} else {
				y = append(y, float64(i))
			}
		}
		if len(x) == a {
			u := AUC(x, y)
			n, sum, squares = n+1, sum+u, squares+u*u
		}
	}
	if want := math.Sqrt(squares/n - sum*sum/n/n); math.Abs(deviationAUC(a, b)-want) > 1e-12 {
		t.Errorf("found %v, expected %v", deviationAUC(a, b), want)
	}
}

// What a reservoir keeps is the first in order, in whatever order they come.
func TestReservoir(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for n := range 40 {
		orders := make([]uint64, n)
		for i := range orders {
			orders[i] = r.Uint64N(1000)
		}
		x := reservoir{size: 10}
		for _, o := range orders {
			x.add(sample{order: o})
		}
		var got []uint64
		for _, s := range x.heap {
			got = append(got, s.order)
		}
		slices.Sort(got)
		slices.Sort(orders)
		if want := orders[:min(n, 10)]; !slices.Equal(got, want) {
			t.Errorf("found %v, expected %v", got, want)
		}
	}
}
