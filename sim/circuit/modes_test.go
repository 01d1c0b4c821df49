package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// ladder is a board whose network is linear as long as nothing is driven, with
// random inductances and capacitances between its nodes.
func ladder(r *rand.Rand) *models.Board {
	log := func(lo, hi float64) float64 { return lo * math.Pow(hi/lo, r.Float64()) }
	b := healthyBoard(log(5, 100), log(5, 100))
	s := &b.Supply
	s.LineInductance, s.NeutralInductance = q.Henry(log(1e-5, 1e-2)), q.Henry(log(1e-5, 1e-2))
	s.NeutralResistance, s.Damping = q.Ohm(log(0.1, 10)), q.Ohm(log(1, 1000))
	s.AcrossCapacitance = q.Farad(log(1e-9, 1e-5))
	b.Earth.Resistance = q.Ohm(log(0.1, 100))
	for k := range b.Channels {
		c := &b.Channels[k]
		c.Triac.Off, c.Element.Insulation = q.Siemens(log(1e-8, 1e-2)), q.Ohm(log(10, 1e4))
		c.Snubber.Capacitance = q.Farad(log(1e-9, 1e-6))
	}
	for i, n := range []models.Node{models.At(models.Midpoint, 0), models.At(models.Load, 1), models.At(models.OptoOutput, 0)} {
		b.Bridges = append(b.Bridges, models.Bridge{Name: fmt.Sprint(i), From: n, To: models.At(models.ProtectiveEarth, 0), Resistance: q.Ohm(log(10, 1e6)), Capacitance: q.Farad(log(1e-9, 1e-6))})
	}
	return b
}

// homogeneous is the rate matrix of a combination, read off its signals: the
// current of each capacitor over C, the voltage of each inductor over L.
func homogeneous(s *Solver, c *combination) *mat.Dense {
	a := mat.NewDense(c.n, c.n, nil)
	for i, st := range c.active {
		b := s.net.states[st]
		row := c.row(s.net.sigCurrent(b))
		if s.net.branches[b].kind == inductor {
			row = c.row(s.net.sigVolt(b))
		}
		for j := range c.n {
			a.Set(i, j, row[j]/s.net.branches[b].store)
		}
	}
	return a
}

// TestModesAgainstExponential compares the free response of random networks
// with gonum's matrix exponential (scaling and squaring with Padé).
func TestModesAgainstExponential(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 9))
	for range 40 {
		b := ladder(r)
		b.Supply.Voltage = 0
		s := mustNew(t, b)
		c, err := s.par.modal(s.key)
		if err != nil {
			t.Fatal(err)
		}
		a := homogeneous(s, c)
		x0 := make([]float64, len(s.net.states))
		energy := 0.0
		for _, st := range c.active {
			// As much energy in each: the natural scale of the states.
			store := s.net.branches[s.net.states[st]].store
			x0[st] = r.NormFloat64() / math.Sqrt(store)
			energy += store * x0[st] * x0[st]
		}
		g := Segment{c: c, net: s.net, src: s.waves[0]}
		g.begin(x0)
		norm := mat.Norm(a, 1)
		for _, tau := range []float64{1e-9, 1e-7, 1e-6, 1e-5} {
			if norm*tau > 1e4 {
				continue // squared too often for a comparison
			}
			var scaled, e mat.Dense
			scaled.Scale(tau, a)
			e.Exp(&scaled)
			got := make([]float64, len(x0))
			g.state(tau, got)
			for i, st := range c.active {
				want := 0.0
				for j, sj := range c.active {
					want += e.At(i, j) * x0[sj]
				}
				scale := math.Sqrt(energy / s.net.branches[s.net.states[st]].store)
				near(t, fmt.Sprintf("state %d of %d after %g s", i, c.n, tau), got[st], want, scale, 1e-9)
			}
		}
	}
}

// TestCriticalDamping discharges a capacitor through resistance and inductance
// on and next to critical damping R = 2·√(L/C), where two modes merge and have
// but one shape. Closed forms of any circuit text: v = V·(1 + αt)·exp(−αt) on
// it, with α = R/(2L).
func TestCriticalDamping(t *testing.T) {
	const l, c, v0 = 1e-3, 1e-6, 100.0
	critical := 2 * math.Sqrt(l/c)
	for _, off := range []float64{0, 1e-15, -1e-13, 1e-12, -1e-10, 1e-9, -1e-8, 1e-7, 1e-6, -1e-4, 1e-2, -0.3, 3} {
		r := critical * (1 + off)
		b := idealBoard(0, 50, 48)
		b.Supply.LineResistance, b.Supply.LineInductance, b.Supply.AcrossCapacitance = q.Ohm(r), l, c
		b.Channels[0].Opto.Off = 0
		b.Channels[0].Triac.Open = true
		s := mustNew(t, b)
		across := s.net.branches[s.net.part("across capacitor")].state
		s.x[across] = v0
		rec := mustRecord(t, s, 1, drives(0))
		sig := voltOf(t, s, models.At(models.Line, 0), models.At(models.Neutral, 0))
		times, got := rec.Sample(sig, 0, 4e-4, 81)
		for i, x := range times {
			near(t, fmt.Sprintf("R/R_crit − 1 = %g, %g s", off, x), got[i], discharge(r, l, c, v0, x), v0, 1e-7)
		}
	}
}

// discharge is the voltage of a capacitor that discharges through R and L.
func discharge(r, l, c, v0, t float64) float64 {
	a := complex(r/(2*l), 0)
	w := cmplx.Sqrt(complex(1/(l*c), 0) - a*a)
	// sin(ωt)/ω and cos(ωt), continued through ω = 0.
	x := w * complex(t, 0)
	sn, cs := complex(t, 0)*(1-x*x/6*(1-x*x/20*(1-x*x/42*(1-x*x/72)))), cmplx.Cos(x)
	if cmplx.Abs(x) > 0.1 {
		sn = cmplx.Sin(x) / w
	}
	return v0 * real(cmplx.Exp(-a*complex(t, 0))*(cs+a*sn))
}

// part is the index of a branch that must be there.
func (n *netlist) part(name string) int {
	i, ok := n.named(name)
	if !ok {
		panic("no branch " + name)
	}
	return i
}
