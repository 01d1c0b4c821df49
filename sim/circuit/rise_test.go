package circuit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestRiseAgainstDerivative compares rates of rise, in combinations and their
// mirror images, with the derivative of the solution that goes on from the same
// state, the modes that are jumps left out.
func TestRiseAgainstDerivative(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 3))
	jumps, plain := 0, 0
	for n := range 60 {
		b := ladder(r)
		b.Supply.DC = 3
		if n%2 == 0 { // nothing fast
			b.Supply.LineInductance, b.Supply.NeutralInductance, b.Supply.Damping = 0, 0, 0
		}
		s := mustNew(t, b)
		s.source(1)
		main := s.gears[0].mainValve
		for _, k := range []key{s.key, s.key.with(main, positive), s.key.with(main, negative)} {
			c, err := s.par.modal(k)
			if err != nil {
				t.Fatal(err)
			}
			for i := range s.x {
				s.x[i] = 300 * r.NormFloat64()
			}
			at := r.Float64() * s.period
			s.src.turn(at, s.turn)
			s.zOK = false
			g := Segment{c: c, net: s.net, src: s.src, T0: at}
			g.begin(s.x)
			nb := g.size()
			w, d, phi := make([]float64, nb), make([]float64, nb), make([]float64, nb)
			g.basis(at, phi)
			for ch := range s.chans {
				got, err := s.rise(c, ch, at)
				if err != nil {
					t.Fatal(err)
				}
				g.weights(c.row(s.net.sigVolt(s.net.channels[ch].main)), w)
				g.deriveSmooth(w, d)
				scale := 1.0
				for i, x := range d {
					scale += math.Abs(x * phi[i])
				}
				near(t, "rate of rise", got, dot(d, phi), scale, 1e-9)
			}
			if c.bound > jump {
				jumps++
			} else {
				plain++
			}
		}
	}
	if jumps == 0 || plain == 0 {
		t.Errorf("found %d combinations with jumps and %d without, expected some of both", jumps, plain)
	}
}
