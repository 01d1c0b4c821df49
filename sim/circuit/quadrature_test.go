package circuit

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// someSegments records a few half-cycles of a board with oscillating modes and
// calls f with segments long enough for quadrature.
func someSegments(t *testing.T, f func(*Solver, *Segment)) { someSegmentsOf(t, 1, f) }

// someSegmentsOf takes a direct component of the supply.
func someSegmentsOf(t *testing.T, direct q.Volt, f func(*Solver, *Segment)) {
	b := refBoard()
	b.Supply.Damping = 50
	b.Supply.AcrossCapacitance = 1e-6
	b.Supply.DC = direct
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

// slow reports whether a segment has oscillations that last, and need more panels
// than there are.
func slow(g *Segment) bool {
	for k, l := range g.c.lambda {
		if g.c.pair[k] && math.Abs(imag(l)) > 1e6 {
			return true
		}
	}
	return false
}

// ends returns the harmonics where a segment begins, and where it ends its basis
// functions and the parts of the solution.
func ends(g *Segment) (turn, phi, parts []float64) {
	turn, phi = make([]float64, 2*len(g.src.order)), make([]float64, g.size())
	g.src.turn(g.T0, turn)
	g.basis(g.T1, phi)
	parts = make([]float64, g.size())
	g.parts(phi, parts)
	return turn, phi, parts
}

// TestMomentsAgainstQuadrature compares the integrals of products of a
// solution's parts over segments with Gauss' quadrature, each product having a
// form of its own: by forms that are used for the first time, and by those that
// have been divided.
func TestMomentsAgainstQuadrature(t *testing.T) {
	for _, uses := range []int{0, often - 1} {
		momentsAgainstQuadrature(t, uses)
	}
}

func momentsAgainstQuadrature(t *testing.T, uses int) {
	someSegments(t, func(s *Solver, g *Segment) {
		if slow(g) {
			return
		}
		m := triangle(g.size())
		c := &combination{n: g.c.n, modes: g.c.modes}
		c.uses = uses
		c.forms, c.groups = make([]float64, m*m), make([]int, m)
		c.charge = make([]float64, g.size())
		for i := range m {
			c.forms[i*m+i], c.groups[i] = 1, i
		}
		for i := range c.charge {
			c.charge[i] = float64(i + 1)
		}
		c.grow(&params{work: &workspace{}}, g.src)
		one := *g
		one.c = c
		integrals := make([]float64, m+extraSums)
		turn, phi, parts := ends(g)
		var gr gram
		gr.add(&one, &params{net: s.net, groups: m}, turn, phi, parts, integrals)
		gr.finish(g.src, integrals)
		part := func(i int, at float64) float64 {
			if i < g.c.n {
				return g.amplitudes(at, nil)[i]
			}
			h := (i - g.c.n) / 2
			if h == len(g.src.order) {
				return 1
			}
			sn, cs := math.Sincos(float64(g.src.order[h]) * g.src.omega * at)
			if (i-g.c.n)%2 == 0 {
				return g.src.sin[h]*sn + g.src.cos[h]*cs
			}
			return g.src.sin[h]*cs - g.src.cos[h]*sn
		}
		fastest := math.Max(g.c.fastest, 1)
		linear, bound := 0.0, 0.0
		for i := range g.size() {
			x := quadrature(func(at float64) float64 { return part(i, at) }, g.T0, g.T1, fastest)
			linear += float64(i+1) * x
			bound += float64(i+1) * math.Abs(x)
			for j := range i + 1 {
				want := quadrature(func(at float64) float64 { return part(i, at) * part(j, at) }, g.T0, g.T1, fastest)
				scale := math.Sqrt(integrals[productAt(i, i)]*integrals[productAt(j, j)]) + 1e-300
				near(t, fmt.Sprintf("∫ of parts %d and %d over [%g, %g]", i, j, g.T0, g.T1), integrals[productAt(i, j)], want, scale, 1e-9)
			}
		}
		near(t, "∫ of all parts", integrals[m+earthCharge], linear, bound+1e-300, 1e-9)
	})
}

// TestLossesAgainstQuadrature compares the energies of the loss groups and the
// extra sums over segments with Gauss' quadrature of v·i of every branch, each
// read off its rows.
func TestLossesAgainstQuadrature(t *testing.T) {
	mirrored := 0
	compare := func(s *Solver, g *Segment) {
		if slow(g) {
			return
		}
		if g.c.image != nil {
			mirrored++
		}
		net := s.net
		var gr gram
		sums := make([]float64, s.groups+extraSums)
		turn, phi, parts := ends(g)
		gr.add(g, s.par, turn, phi, parts, sums)
		gr.finish(g.src, sums)
		want, scale := make([]float64, len(sums)), make([]float64, len(sums))
		book := func(to int, f func(at float64) float64) {
			fastest := math.Max(g.c.fastest, 1)
			want[to] += quadrature(f, g.T0, g.T1, fastest)
			scale[to] += quadrature(func(at float64) float64 { return math.Abs(f(at)) }, g.T0, g.T1, fastest)
		}
		for i, to := range s.groupOf {
			b := &net.branches[i]
			if to < 0 || b.kind == linkPath && g.c.key.level(b.valve) != off {
				continue
			}
			book(to, func(at float64) float64 {
				return g.Value(Signal{net.sigVolt(i), -1}, at) * g.Value(Signal{net.sigCurrent(i), -1}, at)
			})
		}
		current := func(i int) func(at float64) float64 {
			return func(at float64) float64 { return g.Value(Signal{net.sigCurrent(i), -1}, at) }
		}
		square := func(f func(float64) float64) func(float64) float64 {
			return func(at float64) float64 { return f(at) * f(at) }
		}
		book(s.groups+sourceSquare, square(current(sourceBranch)))
		if net.earth >= 0 {
			book(s.groups+earthSquare, square(current(net.earth)))
			book(s.groups+earthCharge, current(net.earth))
		}
		book(s.groups+voltageSquare, square(func(at float64) float64 {
			return g.Value(Signal{net.sigNode(net.line), net.sigNode(net.neutral)}, at)
		}))
		for to, w := range want {
			near(t, fmt.Sprintf("sum %d of %d over [%g, %g]", to, s.groups, g.T0, g.T1), sums[to], w, scale[to]+1e-15, 1e-9)
		}
	}
	someSegmentsOf(t, 1, compare)
	someSegmentsOf(t, 0, compare)
	if mirrored == 0 {
		t.Error("met no mirror image")
	}
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
				phi := make([]float64, g.size())
				g.basis(at, phi)
				for i, b := range s.net.probes {
					sig := s.net.sigVolt(b)
					if g.c.key.level(s.net.branches[b].valve) != off {
						sig = s.net.sigCurrent(b)
					}
					want := g.rate(sig, at)
					near(t, fmt.Sprintf("rate of probe %d at %g", i, at), g.probeRate(i, phi), want, math.Abs(want)+1, 1e-9)
				}
			}
		}
	})
}
