package circuit

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"

	"boilwright/models"
)

// someSegments records a few half-cycles of a board with oscillating modes and
// calls f with segments long enough for quadrature.
func someSegments(t *testing.T, f func(*Solver, *Segment)) {
	b := refBoard()
	b.Supply.Damping = 50
	b.Supply.AcrossCapacitance = 1e-6
	b.Supply.DC = 1
	b.Supply.Harmonics = []models.Harmonic{{Order: 5, Voltage: 13, Phase: 30}, {Order: 12, Voltage: 4, Phase: 110}}
	b.Channels[1].Element.Open = true
	s := mustNew(t, b)
	pairs := 0
	s.OnSegment(func(g *Segment) {
		for _, p := range g.c.pair {
			if p {
				pairs++
			}
		}
		if g.T1-g.T0 > 1e-9 {
			f(s, g)
		}
	})
	mustSkip(t, s, 3, drives(12, 12, 0))
	if pairs == 0 {
		t.Error("found no oscillating mode, expected some")
	}
}

// quadrature integrates f over [a, b] in panels that grow from the start,
// where the fast modes are.
func quadrature(f func(float64) float64, a, b, fastest float64) float64 {
	sum := 0.0
	for x := a; x < b; {
		h := math.Min(b-x, math.Max(0.5/fastest, 0.5*(x-a)))
		h = math.Min(h, 2e-4)
		sum += quad.Fixed(f, x, x+h, 24, quad.Legendre{}, 0)
		if x+h == x {
			break
		}
		x += h
	}
	return sum
}

// TestMomentsAgainstQuadrature compares the integrals of products of states,
// source and 1 over segments with Gauss' quadrature.
func TestMomentsAgainstQuadrature(t *testing.T) {
	someSegments(t, func(s *Solver, g *Segment) {
		var gr gram
		gr.moments(g, g.T0, g.T1)
		n := g.c.n
		x := make([]float64, len(s.net.states))
		z := func(i int, at float64) float64 {
			switch i {
			case n:
				return g.Source(at)
			case n + 1:
				return 1
			}
			g.state(at, x)
			return x[g.c.active[i]]
		}
		fastest := math.Max(g.c.fastest, 1)
		slow := 0.0 // oscillations that last need more panels than there are
		for k, l := range g.c.lambda {
			if g.c.pair[k] {
				slow = math.Max(slow, math.Abs(imag(l)))
			}
		}
		if slow > 1e6 {
			return
		}
		for i := range g.c.width {
			for j := range i + 1 {
				want := quadrature(func(at float64) float64 { return z(i, at) * z(j, at) }, g.T0, g.T1, fastest)
				scale := math.Sqrt(gr.w[i*g.c.width+i]*gr.w[j*g.c.width+j]) + 1e-300
				near(t, fmt.Sprintf("∫ z%d·z%d over [%g, %g]", i, j, g.T0, g.T1), gr.w[i*g.c.width+j], want, scale, 1e-9)
			}
		}
	})
}

// TestIntegrateAgainstQuadrature does the same for the integral of a signal, of
// its square and of its magnitude.
func TestIntegrateAgainstQuadrature(t *testing.T) {
	someSegments(t, func(s *Solver, g *Segment) {
		for _, sig := range []int{s.net.sigNode(s.net.node(models.At(models.Output, 0))), s.net.sigCurrent(s.net.part("line inductance")), s.net.sigCurrent(s.net.part("snubber-resistor3"))} {
			w := make([]float64, g.size())
			row := g.c.row(sig)
			g.weights(row, w)
			fastest := math.Max(g.c.fastest, 1)
			scale := quadrature(func(at float64) float64 { return math.Abs(g.Value(Signal{sig, -1}, at)) }, g.T0, g.T1, fastest) + 1e-300
			want := quadrature(func(at float64) float64 { return g.Value(Signal{sig, -1}, at) }, g.T0, g.T1, fastest)
			near(t, fmt.Sprintf("integral over [%g, %g]", g.T0, g.T1), g.integrate(w, g.T0, g.T1), want, scale, 1e-9)
			// In three parts it is the same.
			a, b := g.T0+0.2*(g.T1-g.T0), g.T0+0.7*(g.T1-g.T0)
			near(t, "sum of parts", g.integrate(w, g.T0, a)+g.integrate(w, a, b)+g.integrate(w, b, g.T1), want, scale, 1e-9)
			// The magnitude has corners where quadrature loses digits.
			var in integrator
			in.load(g, Signal{sig, -1})
			near(t, "integral of the magnitude", in.abs(g, g.integrate(w, g.T0, g.T1)), scale, scale, 1e-3)
			square := quadrature(func(at float64) float64 { v := g.Value(Signal{sig, -1}, at); return v * v }, g.T0, g.T1, fastest)
			near(t, "integral of the square", in.square(g), square, square+1e-300, 1e-9)
			// About the mean it is at least as exact as its parts are long.
			in.w[len(in.w)-1] -= 1e6
			near(t, "integral about a level it never reaches", in.abs(g, g.integrate(in.w, g.T0, g.T1)), 1e6*(g.T1-g.T0)-want, 1e6*(g.T1-g.T0), 1e-12)
		}
	})
}

// TestRateAgainstDifferences compares the rate of change of signals with
// central differences.
func TestRateAgainstDifferences(t *testing.T) {
	someSegments(t, func(s *Solver, g *Segment) {
		for _, sig := range []int{s.net.sigNode(s.net.node(models.At(models.Output, 0))), s.net.sigVolt(s.net.part("triac2"))} {
			for _, f := range []float64{0.3, 0.8} {
				at := g.T0 + f*(g.T1-g.T0)
				h := math.Min(1e-7, (g.T1-g.T0)/10)
				if g.c.fastest*math.Exp(-g.c.fastest*(at-g.T0)) > 1 {
					continue // a fast mode is still alive
				}
				v := func(x float64) float64 { return g.Value(Signal{sig, -1}, x) }
				want := (v(at-2*h) - 8*v(at-h) + 8*v(at+h) - v(at+2*h)) / (12 * h)
				near(t, fmt.Sprintf("rate at %g", at), g.rate(sig, at), want, 1e5, 1e-4)
			}
		}
	})
}
