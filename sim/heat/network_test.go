package heat

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// randomNetwork makes a network of the given channels whose fastest node has
// the rate in 1/s.
func randomNetwork(r *rand.Rand, channels int, rate float64) (*network, []float64) {
	n := newNetwork(channels)
	size := len(n.inverse)
	x := make([]float64, size)
	some := func() float64 { return math.Exp(4 * (r.Float64() - 0.5)) }
	for i := range n.chains {
		n.chains[i] = chain{some(), some(), some(), some(), some(), some()}
		n.sink[waterNode*channels+i] = r.Float64()
		n.sink[shellNode*channels+i] = r.Float64()
	}
	n.bridge = some()
	n.sink[kinds*channels+lidNode], n.sink[kinds*channels+pocketNode] = some(), some()
	for i := range size {
		n.inverse[i] = math.Exp(-r.Float64() * 6) // 1 to 400 J/K
		x[i] = 20 + 100*r.Float64()
		n.drive[i] = 300 * r.Float64()
	}
	n.edges = append(n.edges, edge{shellNode * channels, kinds*channels + upstreamNode, some()})
	if channels > 1 {
		n.edges = append(n.edges, edge{shellNode * channels, shellNode*channels + 1, some()})
		n.inflows = append(n.inflows, inflow{waterNode * channels, waterNode*channels + 1, 2})
		n.sink[waterNode*channels] += 2
	}
	n.measure()
	for i := range n.inverse {
		n.inverse[i] *= rate / n.rate
	}
	n.measure()
	return n, x
}

// dense returns the matrix of dy/dt = M y for y = (T, ∫T dt, 1), the slow way
// that anyone can read.
func (n *network) dense() *mat.Dense {
	size := len(n.inverse)
	m := mat.NewDense(2*size+1, 2*size+1, nil)
	add := func(i, j int, w float64) { m.Set(i, j, m.At(i, j)+w*n.inverse[i]) }
	for i := range size {
		add(i, i, -n.sink[i])
		add(i, 2*size, n.drive[i])
		m.Set(size+i, i, 1)
	}
	c := len(n.chains)
	lid, pocket := kinds*c+lidNode, kinds*c+pocketNode
	edges := append([]edge{{lid, pocket, n.bridge}}, n.edges...)
	for i, g := range n.chains {
		e, w, s, p, l := elementNode*c+i, waterNode*c+i, shellNode*c+i, probeNode*c+i, linkNode*c+i
		edges = append(edges, edge{e, w, g.ew}, edge{e, s, g.es}, edge{w, s, g.ws}, edge{w, p, g.wp}, edge{s, l, g.sl}, edge{s, lid, g.sk})
	}
	for _, e := range edges {
		add(e.a, e.a, -e.g)
		add(e.a, e.b, e.g)
		add(e.b, e.b, -e.g)
		add(e.b, e.a, e.g)
	}
	for _, f := range n.inflows {
		add(f.to, f.from, f.g)
	}
	return m
}

// The action of the exponential against the exponential itself: gonum's
// mat.Dense.Exp, scaling and squaring with Padé approximants (N. J. Higham,
// "Functions of Matrices", SIAM 2008, algorithm 10.20).
func TestNetworkAgainstMatrixExponential(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, rate := range []float64{0.01, 0.5, 3, 40} {
		for _, channels := range []int{1, 2, 3, 5} {
			t.Run(fmt.Sprintf("rate=%g/channels=%d", rate, channels), func(t *testing.T) {
				n, x := randomNetwork(r, channels, rate)
				size := len(x)
				if channels == 3 {
					n.inverse[waterNode*channels+1] = 0 // a held node
				}
				const dt = 1.0
				var scaled, e mat.Dense
				scaled.Scale(dt, n.dense())
				e.Exp(&scaled)
				y := mat.NewVecDense(2*size+1, nil)
				for i, v := range x {
					y.SetVec(i, v)
				}
				y.SetVec(2*size, 1)
				var want mat.VecDense
				want.MulVec(&e, y)

				integral := make([]float64, size)
				steps := math.Ceil(dt / n.longest())
				for range int(steps) {
					n.expand(x, dt/steps, fine)
					n.weigh(1)
					for i := range integral {
						integral[i] += n.temperature(i, false)
					}
					n.at(x, 1)
				}
				for i := range size {
					if d := math.Abs(x[i] - want.AtVec(i)); d > 1e-11*(1+math.Abs(want.AtVec(i))) {
						t.Errorf("node %d: found %.15g, expected %.15g", i, x[i], want.AtVec(i))
					}
					if w := want.AtVec(size + i); math.Abs(integral[i]-w) > 1e-11*(1+math.Abs(w)) {
						t.Errorf("integral at node %d: found %.15g, expected %.15g", i, integral[i], w)
					}
				}
			})
		}
	}
}

// Inside a step the polynomial gives the same as a step to that place.
func TestNetworkInsideAStep(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	n, x := randomNetwork(r, 2, 1.5)
	start := append([]float64(nil), x...)
	for _, s := range []float64{0.1, 0.37, 0.9} {
		n.expand(start, 1, fine)
		n.at(x, s)
		n.weigh(s)
		heat, area := n.heat(1), n.temperature(4, false)
		n.expand(start, s, fine)
		n.weigh(1)
		if d := math.Abs(n.heat(1) - heat); d > 1e-11*math.Abs(heat) {
			t.Errorf("heat to %g of a step: found %.15g, expected %.15g", s, heat, n.heat(1))
		}
		if d := math.Abs(n.temperature(4, false) - area); d > 1e-13*area {
			t.Errorf("integral to %g of a step: found %.15g, expected %.15g", s, area, n.temperature(4, false))
		}
		y := make([]float64, len(x))
		n.at(y, 1)
		for i := range x {
			if math.Abs(x[i]-y[i]) > 1e-12 {
				t.Errorf("node %d at %g of a step: found %.15g, expected %.15g", i, s, x[i], y[i])
			}
		}
	}
}
