package circuit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestBelowAgainstScan: what is found to stay below zero between two places
// does so on a dense scan, for random sums of decaying modes, oscillations and
// harmonics, on intervals of every length. Most of what the scan sees below by
// a margin is found.
func TestBelowAgainstScan(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 4))
	found, missed, not := 0, 0, 0
	for range 30000 {
		var modes []complex128
		for range r.IntN(3) {
			modes = append(modes, complex(-math.Pow(10, 2+6*r.Float64()), 0))
		}
		for range r.IntN(3) {
			w := math.Pow(10, 3+4*r.Float64())
			modes = append(modes, complex(-w*r.Float64(), w))
		}
		var orders []int
		for o := 1; o < 12; o += 1 + r.IntN(9) {
			orders = append(orders, o)
		}
		s := bare(modes, orders...)
		s.T0 = 0.009 * r.Float64()
		var f finder
		f.reset(s)
		a, b := f.at(0), f.at(1)
		start := s.T0 + math.Pow(10, -8+5*r.Float64())*float64(r.IntN(2))
		f.put(a, start)
		f.put(b, start+math.Pow(10, -8+6*r.Float64()))
		x := f.next()
		for i := range x.w {
			x.w[i] = r.NormFloat64()
		}
		// Both ends at zero or below, by little or by much.
		last := len(x.w) - 1
		x.w[last] = 0
		x.w[last] = -math.Max(dot(x.w, a.phi), dot(x.w, b.phi)) - math.Pow(10, 1-6*r.Float64())
		if f.never(x) {
			continue
		}
		top := math.Inf(-1)
		for i := range 401 {
			u := float64(i) / 400
			for _, v := range [2]float64{u, u * u * u * u} { // dense near the start, where fast modes live
				top = math.Max(top, s.sum(x.w, a.t+(b.t-a.t)*v))
			}
		}
		switch below := f.below(x, a, b, dot(x.w, a.phi), dot(x.w, b.phi)); {
		case below && top > 1e-12:
			t.Fatalf("modes %v, orders %v, weights %v from %g to %g: found below zero, the scan saw %g", modes, orders, x.w, a.t-s.T0, b.t-s.T0, top)
		case below:
			found++
		case top < -1e-3:
			missed++
		case top > 0:
			not++
		}
	}
	if found < 5000 || not < 2000 || missed > found/2 {
		t.Errorf("%d found below, %d not seen to be, %d above, expected many, few and many", found, missed, not)
	}
}

// TestReach: what is left out because it cannot cross its threshold up to the
// horizon does not, and the bounds of what it changes by hold at every probe.
func TestReach(t *testing.T) {
	someSegments(t, func(s *Solver, g *Segment) {
		if g.T1-g.T0 < 1e-9 {
			return
		}
		s.prober.prepare(g.c)
		var f finder
		f.reset(g)
		turn := make([]float64, 2*len(g.src.order))
		g.src.turn(g.T0, turn)
		f.origin(turn, g.T1)
		v := g.view(g.c, everyProbe)
		f.look(v)
		f.hasten()
		w, d := make([]float64, g.size()), make([]float64, g.size())
		for i, b := range s.net.probes {
			sig := s.net.sigVolt(b)
			if g.c.key.level(s.net.branches[b].valve) != off {
				sig = s.net.sigCurrent(b)
			}
			g.weights(g.c.row(sig), w)
			g.derive(w, d)
			// An atom has the weights of the signal, whatever way they are found.
			a := f.next()
			f.fill(a, v, i, 1)
			scale := 0.0
			for _, x := range w {
				scale += math.Abs(x)
			}
			for j := range w {
				near(t, "weight of "+s.net.branches[b].name, a.w[j], w[j], scale+1e-12, 1e-12)
			}
			f.used--
			haste := dot(v.size[i*len(f.drift):(i+1)*len(f.drift)], f.haste)
			start, rate := g.sum(w, g.T0), g.sum(d, g.T0)
			for j := range 101 {
				u := float64(j) / 100
				at := g.T0 + (g.T1-g.T0)*u*u
				if y := g.sum(w, at); math.Abs(y-start) > f.reaches(v, i)+1e-12*scale {
					t.Fatalf("%s changes by %g, more than its bound %g", s.net.branches[b].name, y-start, f.reaches(v, i))
				}
				if y := g.sum(d, at); g.c.fastest < jump && math.Abs(y-rate) > haste+1e-12*scale*g.fastest() {
					t.Fatalf("the rate of %s changes by %g, more than its bound %g", s.net.branches[b].name, y-rate, haste)
				}
			}
		}
	})
}

// TestBows: no probe leaves its chord by more than is said, and one that is said to
// stay below a threshold close to its ends does.
func TestBows(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 30))
	found, not := 0, 0
	someSegments(t, func(s *Solver, g *Segment) {
		var f finder
		f.reset(g)
		turn := make([]float64, 2*len(g.src.order))
		g.src.turn(g.T0, turn)
		f.start(turn)
		f.own = g.view(g.c, everyProbe)
		w := make([]float64, g.size())
		a, b := f.at(0), f.at(1)
		for n := range 60 {
			part := math.Pow(10, -4*r.Float64())
			f.put(a, g.T0+(g.T1-g.T0)*[3]float64{0, 0.1, 0.4}[n%3])
			f.put(b, a.t+(g.T1-a.t)*part)
			f.partsAt(b)
			span := f.newSpan(a, b)
			f.bow(span)
			for i := range s.net.probes {
				g.weights(g.c.row(s.net.probe(i, g.c.key)), w)
				start, end, scale := dot(w, a.phi), dot(w, b.phi), 0.0
				for _, x := range w {
					scale += math.Abs(x)
				}
				near(t, "reading from the parts", dot(f.own.rows[i*f.nb:(i+1)*f.nb], f.parts), end, scale+1e-12, 1e-12)
				far := dot(f.own.size[i*f.short:(i+1)*f.short], f.far)
				low, high := 0.0, 0.0
				top, bottom := math.Inf(-1), math.Inf(1)
				for j := range 101 {
					u := math.Pow(float64(j)/100, 3)
					y := g.sum(w, a.t+(b.t-a.t)*u)
					off := y - start*(1-u) - end*u
					low, high = min(low, off), max(high, off)
					top, bottom = max(top, y), min(bottom, y)
				}
				if max(high, -low) > far+1e-12*scale {
					t.Fatalf("probe %d over %g of the segment: %g off its chord, found at most %g", i, part, max(high, -low), far)
				}
				for _, side := range [2]struct{ sign, top, fa, fb float64 }{{1, top, start, end}, {-1, -bottom, -start, -end}} {
					ends := max(side.fa, side.fb)
					above := ends + far*math.Pow(10, 1-5*r.Float64())
					if side.top > ends+1e-9*scale && r.IntN(2) == 0 {
						above = ends + (side.top-ends)*0.99 // it does come above that
					}
					stays := f.stays(i, side.sign, side.fa-above, side.fb-above)
					x := f.next() // an atom says the same
					f.fill(x, f.own, i, side.sign)
					f.used--
					fa, q := side.fa-above+dot(x.concave, span.lift), dot(x.concave, span.bend)+x.curve*span.half
					if want := clears(fa, side.fb-above, q); !f.enveloped && stays != want {
						t.Errorf("probe %d over %g of the segment: found %v, expected %v as of its atom", i, part, stays, want)
					}
					if !stays {
						not++
						continue
					}
					found++
					if side.top > above+1e-12*scale {
						t.Fatalf("probe %d over %g of the segment: found to stay below %g, it comes to %g", i, part, above, side.top)
					}
				}
			}
		}
	})
	if found < 200 || not < 20 {
		t.Errorf("found %d to stay below and %d not to, expected many of both", found, not)
	}
}

// TestSteep: a decaying mode is never further below its chord than its bend and lift
// say, over spans of every length; and the bend says hardly more than it is bent
// where it begins.
func TestSteep(t *testing.T) {
	for i := range 400 {
		x := math.Pow(10, -3+0.0125*float64(i)) // up to 100 time constants
		s := bare([]complex128{complex(-1e5, 0)}, 1)
		var f finder
		f.reset(s)
		a, b := f.at(0), f.at(1)
		f.put(a, s.T0+3e-6)
		f.put(b, a.t+x/1e5)
		span := f.newSpan(a, b)
		bend, lift := span.bend[0], span.lift[0]
		for j := 1; j < 1000; j++ {
			u := math.Pow(float64(j)/1000, 2)
			under := a.phi[0]*(1-u) + b.phi[0]*u - a.phi[0]*math.Exp(-x*u)
			if most := bend*u*(1-u) + lift*(1-u); under > most+1e-15 {
				t.Fatalf("over %g time constants: %g below its chord at %g, found at most %g", x, under, u, most)
			}
			if j == 1 && x > 0.05 && lift == 0 && bend*u > 1.07*under {
				t.Errorf("over %g time constants: found a bend of %g, expected about %g", x, bend, under/u)
			}
		}
	}
}
