package heat

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	q "boilwright/models/quantity"
)

// exact takes the five nodes of a boiler and their integrals through a time of
// d seconds by a matrix exponential of the equations as they stand: held is
// the heat in W into each node, in which flows that γ makes are counted.
func exact(b *calmBoiler, x, held []float64, d float64) (end, integral []float64) {
	const n = calmNodes
	a := mat.NewDense(2*n+1, 2*n+1, nil)
	add := func(i, j int, g float64) { a.Set(i, j, a.At(i, j)+g/b.capacity[i]*d) }
	for _, e := range []struct {
		i, j int
		g    float64
	}{{elementNode, waterNode, b.ew}, {waterNode, shellNode, b.ws}, {waterNode, probeNode, b.wp}, {shellNode, linkNode, b.sl}} {
		add(e.i, e.i, -e.g)
		add(e.j, e.j, -e.g)
		add(e.i, e.j, e.g)
		add(e.j, e.i, e.g)
	}
	add(shellNode, shellNode, -b.sk-b.air)
	for i, p := range held {
		a.Set(i, 2*n, p/b.capacity[i]*d)
		a.Set(n+i, i, d)
	}
	z := mat.NewVecDense(2*n+1, nil)
	for i, t := range x {
		z.SetVec(i, t)
	}
	z.SetVec(2*n, 1)
	var e mat.Dense
	e.Exp(a)
	var out mat.VecDense
	out.MulVec(&e, z)
	return out.RawVector().Data[:n], out.RawVector().Data[n : 2*n]
}

// A window in modes against matrix exponentials piece by piece: amplitudes at
// its end, integrals of shell and water, and the element's mean weighed with
// its power, with heat held in every way there is and powers scaled.
func TestCalmAgainstMatrixExponential(t *testing.T) {
	m := mustNew(t, calmBoard(false))
	c := m.Calm(1)
	if !c.Able(0) {
		t.Fatal("found a machine that can't be taken through windows, expected one that can")
	}
	const element, link = 1.25, 0.75 // times the powers
	pieces := calmPieces([3]int{2, 9, 5})
	r := c.Rhythm(pieces)
	for ch := range c.boilers {
		b, o := &c.boilers[ch], &r.boilers[ch]
		b.x = [calmNodes]float64{83, 64, 58, 61, 55}
		b.y = modes5{}
		for k, t := range b.x {
			for j := range b.y {
				b.y[j] += b.to[k][j] * t
			}
		}
		b.gamma, b.shell, b.draw = 0.4, 33, 210
		// γ warms the water as its neighbours see it: T_w = w + γ.
		held := []float64{b.ew * b.gamma, -(b.ew + b.ws + b.wp) * b.gamma, b.ws * b.gamma, b.wp * b.gamma, 0}
		held[shellNode] += b.shell
		held[waterNode] -= b.draw
		x := b.x[:]
		var shell, water, weighed, energy float64
		for _, p := range pieces {
			into := append([]float64{}, held...)
			into[elementNode] += element * p.Element[ch]
			into[linkNode] += link * p.Link[ch]
			var sum []float64
			x, sum = exact(b, x, into, p.Duration)
			shell += sum[shellNode]
			water += sum[waterNode]
			weighed += p.Element[ch] * sum[elementNode]
			energy += p.Element[ch] * p.Duration
		}
		near := func(what string, got, want float64) {
			t.Helper()
			if !(math.Abs(got-want) <= 1e-11*math.Abs(want)) {
				t.Errorf("channel %d: found %s of %.15g, expected %.15g", ch+1, what, got, want)
			}
		}
		near("a mean of the element", c.Mean(r, ch, element), weighed/energy)
		near("an integral of the shell", b.shellSum.of(b)+element*o.shell+link*o.shellLink, shell)
		near("an integral of the water", b.waterSum.of(b)+element*o.water+link*o.waterLink, water)
		b.advance(o, element, link)
		for j := range b.y {
			b.y[j] -= b.in[waterNode][j] * b.one[j] * b.draw // draws are Advance's to take off
		}
		for k, want := range x {
			near("a temperature", b.in[k].dot(&b.y), want)
		}
	}
	// The pocket alone: C dT/dt = P − g T.
	above, sum := 0.0, 0.0
	for _, p := range pieces {
		g, d := c.pocketRate/c.pocket.inverse, p.Duration
		steady, decay := p.Pocket/g, math.Exp(-c.pocketRate*d)
		sum += steady*d + (above-steady)*(1-decay)/c.pocketRate
		above = steady + (above-steady)*decay
	}
	if math.Abs(r.pocketSum-sum) > 1e-9*sum {
		t.Errorf("found an integral of the pocket of %.12g, expected %.12g", r.pocketSum, sum)
	}
}

// What a duration's responses are remembered for comes out the same again, and
// not after the boilers have changed.
func TestRhythmRepeats(t *testing.T) {
	b := calmBoard(false)
	m := mustNew(t, b)
	c := m.Calm(1)
	c.Able(0)
	pieces := calmPieces([3]int{1, 4, 7})
	first, again := c.Rhythm(pieces), c.Rhythm(pieces)
	for k := range first.boilers {
		if first.boilers[k] != again.boilers[k] {
			t.Errorf("channel %d: found %+v, expected %+v as before", k+1, again.boilers[k], first.boilers[k])
		}
	}
	b.Channels[0].Boiler.Water *= 1.5
	if err := m.Rebuild(b); err != nil {
		t.Fatal(err)
	}
	if !c.Able(0) || c.Fits(first) {
		t.Fatal("found a rhythm that fits boilers with more water, expected none")
	}
	fresh := m.Calm(1)
	fresh.Able(0)
	if got, want := c.Rhythm(pieces).boilers[0], fresh.Rhythm(pieces).boilers[0]; got != want {
		t.Errorf("found %+v after an edit, expected %+v as if begun with it", got, want)
	}
}

// Boilers whose shell follows the water too fast for the window can't be taken
// through one, however often that is asked.
func TestCalmRefusesFastShells(t *testing.T) {
	b := calmBoard(false)
	b.Channels[1].Boiler.WaterToShell = q.WattPerKelvin(b.Channels[1].Boiler.ShellCapacity)
	m := mustNew(t, b)
	c := m.Calm(1)
	for range 3 {
		if c == nil || c.Able(0) {
			t.Fatal("found windows of 1 s possible with a shell that follows the water within 1 s, expected none")
		}
	}
}
