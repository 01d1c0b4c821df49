package heat

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
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

// A window against matrix exponentials piece by piece: temperatures at its end,
// means of element and water, and what is stored and lost, with heat held in every
// way there is and powers scaled.
func TestCalmAgainstMatrixExponential(t *testing.T) {
	m := mustNew(t, calmBoard(false))
	c := m.Calm(1)
	if !c.Able(0) {
		t.Fatal("found a machine that can't be taken through windows, expected one that can")
	}
	pieces := calmPieces([3]int{2, 9, 5})
	t.Run("one current", func(t *testing.T) { checkCalm(t, c, pieces) })
	last := pieces[1].Duration - pieces[0].Duration - 3e-4
	pieces[1].Duration -= last // hardly longer than the first
	pieces[2].Duration += last
	t.Run("nearly the same durations", func(t *testing.T) { checkCalm(t, c, pieces) })
	for i := range pieces { // so that the links' heat is no share of the elements'
		for ch := range pieces[i].Link {
			pieces[i].Link[ch] *= 1 + float64(i+ch)
		}
	}
	t.Run("links apart", func(t *testing.T) { checkCalm(t, c, pieces) })
}

func checkCalm(t *testing.T, c *Calm, pieces []Piece) {
	const element, link = 1.25, 0.75 // times the powers
	const gamma, draw, late = 0.4, 210, 0.003
	r := c.Rhythm(pieces)
	for ch := range c.boilers {
		b, o := &c.boilers[ch], &r.boilers[ch]
		start := five{83, 64, 58, 61, 55}
		// γ warms the water as its neighbours see it: T_w = w + γ.
		held := []float64{b.ew * gamma, -(b.ew + b.ws + b.wp) * gamma, b.ws * gamma, b.wp * gamma, 0}
		b.x, b.shell, b.draw, b.taken = start, 33, draw, draw
		b.x[waterNode] += gamma
		held[shellNode] += b.shell
		held[waterNode] -= draw
		x := start[:]
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
		near("a mean of the element", c.Means(r, &Lanes{element, element, element, element})[ch], weighed/energy)
		near("a mean of the water", b.waterMean.of(b)+element*o.water+link*o.waterLink-gamma, water)
		x[waterNode] -= late // at the end of the window alone
		b.drawOff(late)
		b.draw += late * b.capacity[waterNode]
		one := *c
		one.boilers = c.boilers[ch : ch+1]
		_, kept, out, lost := one.nodes(r.boilers[ch:ch+1], &Lanes{element}, &Lanes{link})
		b.x[waterNode] = start[waterNode] + b.gain[waterNode]
		stored := 0.0
		for k, want := range x {
			near("a temperature", b.x[k], want)
			stored += b.capacity[k] * (want - start[k])
		}
		near("heat stored", kept, stored)
		near("heat out of the shell", out, (b.air+b.sk)*shell)
		near("heat lost to the room", lost, b.air*shell)
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
	for k := range 2 * mostSpans { // more than are remembered
		part := pieces[:1:1]
		part[0].Duration = float64(k) / (2 * mostSpans)
		c.Rhythm(part)
	}
	if got := c.Rhythm(calmPieces([3]int{1, 4, 7})); got.boilers[1] != first.boilers[1] {
		t.Errorf("found %+v after many others, expected %+v as before", got.boilers[1], first.boilers[1])
	}
	if len(c.room.durations) > mostSpans+len(pieces) {
		t.Errorf("found %d durations remembered, expected at most %d", len(c.room.durations), mostSpans)
	}
	pieces = calmPieces([3]int{1, 4, 7})
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

// What Begin tells at a glance is what the limits say one by one.
func TestCalmLimits(t *testing.T) {
	c := mustNew(t, calmBoard(false)).Calm(1)
	if !c.Able(0) {
		t.Fatal("found a machine that can't be taken through windows, expected one that can")
	}
	r := c.Rhythm(calmPieces([3]int{10, 10, 10}))
	rng := rand.New(rand.NewPCG(1, 2))
	spreads, told := five{60, 0, 2, 2, 2}, map[bool]int{} // K, by node
	for range 20000 {
		want := true
		for i := range c.boilers {
			b := &c.boilers[i]
			at := min(b.limit, b.melts) - 3*rng.Float64()
			b.water = at
			for k, spread := range spreads {
				b.x[k] = at + spread*(rng.Float64()-0.8)
			}
			want = want && b.clear(&r.boilers[i], 1.1, c.dt)
		}
		if got := c.Begin(0, r, 1.1); got != want {
			t.Fatalf("found a window that can be taken: %t, expected %t: %v", got, want, c.boilers)
		}
		told[want]++
	}
	if told[true] < 1000 || told[false] < 1000 {
		t.Errorf("found %v, expected windows of both kinds", told)
	}
}

// What one Calm's rhythms lay in serves another, of another number of boilers too,
// as if it were new.
func TestCalmRoom(t *testing.T) {
	f, err := boardfile.Embedded("dye-bench-230")
	if err != nil {
		t.Fatal(err)
	}
	b := f.Board
	one := b.Clone()
	one.Channels, one.Couplings = one.Channels[:1], nil
	rhythms := func(b *models.Board, room *calmRoom, idle int) []*Rhythm {
		m, err := New(b)
		if err != nil {
			t.Fatal(err)
		}
		c := m.Calm(1)
		c.room = room
		if !c.Able(0) {
			t.Fatal("found a machine that is not calm, expected one that is")
		}
		var all []*Rhythm
		for i := range 100 { // several slabs, some rhythms of rest
			watts := 2000 + float64(i)
			if i%idle == 0 {
				watts = 0
			}
			all = append(all, c.Rhythm([]Piece{piece(len(b.Channels), 0.25, watts), piece(len(b.Channels), 0.75, watts/1000)}))
		}
		return all
	}
	room := new(calmRoom)
	for k, b := range []*models.Board{b, one, b} {
		want, found := rhythms(b, new(calmRoom), k+2), rhythms(b, room, k+2)
		for i, got := range found {
			if want := want[i]; !slices.Equal(got.boilers, want.boilers) || got.pocket != want.pocket || got.pocketSum != want.pocketSum {
				t.Errorf("use %d, rhythm %d: found %+v, expected %+v", k+1, i+1, got, want)
			}
		}
		room.empty()
	}
	if len(room.slabs) == 0 || room.used != 0 {
		t.Errorf("found %d slabs, %d of them used, expected some, and none used", len(room.slabs), room.used)
	}
}

func piece(channels int, duration, watts float64) Piece {
	p := Piece{Duration: duration}
	p.Element, p.Link = make([]float64, channels), make([]float64, channels)
	for k := range p.Element {
		p.Element[k], p.Link[k], p.Pocket = watts*float64(k+1), watts*1e-4, p.Pocket+watts*1e-3
	}
	return p
}
