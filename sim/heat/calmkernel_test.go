package heat

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
)

// exact takes the five nodes of a boiler and their integrals through a time of
// d seconds by a matrix exponential of the equations as they stand: held is
// the heat in W into each node, in which flows that γ makes are counted.
func exact(b *calmBoiler, capacity *five, x, held []float64, d float64) (end, integral []float64) {
	const n = calmNodes
	a := mat.NewDense(2*n+1, 2*n+1, nil)
	add := func(i, j int, g float64) { a.Set(i, j, a.At(i, j)+g/capacity[i]*d) }
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
		a.Set(i, 2*n, p/capacity[i]*d)
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
	c := m.Calm(1, 10000)
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
	r, g := c.Rhythm(pacesOf(pieces, c.lanes.beat)), c.lanes
	elements, links := &Lanes{element, element, element, element}, &Lanes{link, link, link, link}
	near := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-11*math.Abs(want)) {
			t.Errorf("found %s of %.15g, expected %.15g", what, got, want)
		}
	}
	of := func(what string, ch int) string { return fmt.Sprintf("%s of channel %d", what, ch+1) }
	start := five{83, 64, 58, 61, 55}
	ends := make([][]float64, len(c.boilers))
	var put, kept, out, lost float64
	for ch := range c.boilers {
		b := &c.boilers[ch]
		var capacity five
		for k := range capacity {
			capacity[k] = g.capacity[k][ch]
		}
		// γ warms the water as its neighbours see it: T_w = w + γ.
		held := []float64{b.ew * gamma, -(b.ew + b.ws + b.wp) * gamma, b.ws * gamma, b.wp * gamma, 0}
		for k, at := range start {
			g.x[k][ch] = at
		}
		g.x[waterNode][ch] += gamma
		g.shell[ch], g.draw[ch] = 33, draw
		held[shellNode] += 33
		held[waterNode] -= draw
		x := start[:]
		var shell, water, weighed, energy float64
		for _, p := range pieces {
			into := append([]float64{}, held...)
			into[elementNode] += element * p.Element[ch]
			into[linkNode] += link * p.Link[ch]
			var sum []float64
			x, sum = exact(b, &capacity, x, into, p.Duration)
			shell += sum[shellNode]
			water += sum[waterNode]
			weighed += p.Element[ch] * sum[elementNode]
			energy += p.Element[ch] * p.Duration
			put += (into[elementNode] - held[elementNode] + into[linkNode]) * p.Duration
		}
		near(of("the mean of the element", ch), c.Means(r, elements)[ch], weighed/energy)
		near(of("the mean of the water", ch), g.waterMean.of(g, ch)+element*r.water[ch]+link*r.waterLink[ch]-gamma, water)
		x[waterNode] -= late // at the end of the window alone
		for k, want := range x {
			kept += capacity[k] * (want - start[k])
		}
		out += (b.air + b.sk) * shell
		lost += b.air * shell
		ends[ch] = x
		g.draw[ch] += late * capacity[waterNode]
		for k := range g.drawn {
			g.drawn[k][ch] = -g.change[k].draw[ch] * draw
		}
		g.drawn[waterNode][ch] -= late
	}
	before := g.enthalpy
	all := g.single
	defer func() { g.single = all }()
	g.single = calmSingles{lidInverse: g.single.lidInverse} // which gets all that the shells lose, but to the room
	lid := c.m.now.x[kinds*g.count:][:1]
	from := lid[0]
	calmAdvance(g, &r.rhythm, elements, links, 0, c.m.now.x)
	for ch, x := range ends {
		g.x[waterNode][ch] = start[waterNode] + (g.enthalpy[ch]-before[ch])/g.ref
		for k, want := range x {
			near(of("a temperature", ch), g.x[k][ch], want)
		}
	}
	near("heat put in", g.sums[0], put)
	near("heat stored", g.sums[1], kept+out-lost)
	near("heat lost to the room", g.sums[2], lost)
	near("heat into the lid", (lid[0]-from)/g.single.lidInverse, out-lost)
	// The pocket alone: C dT/dt = P − g T.
	above, sum, inverse := 0.0, 0.0, 1/c.m.par.capacity[kinds*g.count+pocketNode]
	for _, p := range pieces {
		g, d := c.pocketRate/inverse, p.Duration
		steady, decay := p.Pocket/g, math.Exp(-c.pocketRate*d)
		sum += steady*d + (above-steady)*(1-decay)/c.pocketRate
		above = steady + (above-steady)*decay
	}
	if math.Abs(r.pocketSum-sum) > 1e-9*sum {
		t.Errorf("found an integral of the pocket of %.12g, expected %.12g", r.pocketSum, sum)
	}
}

// What responses are remembered for comes out the same again, and not after the
// boilers have changed.
func TestRhythmRepeats(t *testing.T) {
	b := calmBoard(false)
	m := mustNew(t, b)
	c := m.Calm(1, 10)
	c.Able(0)
	paces := pacesOf(calmPieces([3]int{1, 4, 7}), 0.1)
	first, again := c.Rhythm(paces), c.Rhythm(paces)
	if first.rhythm != again.rhythm {
		t.Errorf("found %+v, expected %+v as before", again.rhythm, first.rhythm)
	}
	b.Channels[0].Boiler.Water *= 1.5
	if err := m.Rebuild(b); err != nil {
		t.Fatal(err)
	}
	if !c.Able(0) || c.Fits(first) {
		t.Fatal("found a rhythm that fits boilers with more water, expected none")
	}
	fresh := m.Calm(1, 10)
	fresh.Able(0)
	if got, want := c.Rhythm(paces).rhythm, fresh.Rhythm(paces).rhythm; got != want {
		t.Errorf("found %+v after an edit, expected %+v as if begun with it", got, want)
	}
}

// Boilers whose shell follows the water too fast for the window can't be taken
// through one, however often that is asked.
func TestCalmRefusesFastShells(t *testing.T) {
	b := calmBoard(false)
	b.Channels[1].Boiler.WaterToShell = q.WattPerKelvin(b.Channels[1].Boiler.ShellCapacity)
	m := mustNew(t, b)
	c := m.Calm(1, 10)
	for range 3 {
		if c == nil || c.Able(0) {
			t.Fatal("found windows of 1 s possible with a shell that follows the water within 1 s, expected none")
		}
	}
}

// reaches reports whether something may reach its limit in boiler i, with factor
// times the powers of p: all heat goes to the water, but the link's to the link, and
// none leaves either.
func (c *Calm) reaches(i int, p *rhythm, factor float64) bool {
	g := c.lanes
	heat := factor * p.energy[i] // J
	if above := g.x[elementNode][i] - g.water[i]; above > 0 {
		heat += above * g.capacity[elementNode][i]
	}
	top := max(g.water[i]+heat/g.capacity[waterNode][i], g.x[shellNode][i])
	rise := factor * p.linkEnergy[i] / g.capacity[linkNode][i]
	return top >= g.limit[i] || top+rise >= g.melts[i]-calmMargin || g.x[linkNode][i]+rise >= g.melts[i]
}

// Begin tells what the limits say one by one.
func TestCalmLimits(t *testing.T) {
	c := mustNew(t, calmBoard(false)).Calm(1, 10)
	if !c.Able(0) {
		t.Fatal("found a machine that can't be taken through windows, expected one that can")
	}
	r := c.Rhythm(pacesOf(calmPieces([3]int{10, 10, 10}), 0.1))
	rng := rand.New(rand.NewPCG(1, 2))
	spreads, told := five{60, 0, 2, 2, 2}, map[bool]int{} // K, by node
	for range 20000 {
		want := true
		for i := range c.boilers {
			at := min(c.lanes.limit[i], c.lanes.melts[i]) - 3*rng.Float64()
			c.lanes.water[i] = at
			for k, spread := range spreads {
				c.lanes.x[k][i] = at + spread*(rng.Float64()-0.8)
			}
			want = want && !c.reaches(i, &r.rhythm, 1.1)
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
		c := m.Calm(1, 4*idle)
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
			all = append(all, c.Rhythm([]Pace{alike(len(b.Channels), idle, watts), alike(len(b.Channels), 3*idle, watts/1000)}))
		}
		return all
	}
	room := newCalmRoom()
	for k, b := range []*models.Board{b, one, b} {
		want, found := rhythms(b, newCalmRoom(), k+2), rhythms(b, room, k+2)
		for i, got := range found {
			if want := want[i]; got.rhythm != want.rhythm || got.pocket != want.pocket || got.pocketSum != want.pocketSum {
				t.Errorf("use %d, rhythm %d: found %+v, expected %+v", k+1, i+1, got, want)
			}
		}
		room.empty()
	}
	if len(room.slabs) == 0 || room.used != 0 {
		t.Errorf("found %d slabs, %d of them used, expected some, and none used", len(room.slabs), room.used)
	}
}

func alike(channels, beats int, watts float64) Pace {
	p := Pace{Beats: beats}
	for k := range channels {
		p.Element[k], p.Link[k], p.Pocket = watts*float64(k+1), watts*1e-4, p.Pocket+watts*1e-3
	}
	return p
}

// The responses to any number of beats, joined from those to fewer, are those of the
// rates to that time: exp(−λt), and its integrals in terms that do not cancel.
func TestSpansAgainstRates(t *testing.T) {
	const beats = 50
	c := mustNew(t, calmBoard(false)).Calm(1, beats)
	if !c.Able(0) {
		t.Fatal("found a machine that can't be taken through windows, expected one that can")
	}
	near := func(what string, n int, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-14*want) {
			t.Errorf("%s of %d beats: found %.17g, expected %.17g", what, n, got, want)
		}
	}
	check := func(n int, rate float64, got response) {
		t.Helper()
		d := float64(n) / beats
		x := rate * d
		// (1 − exp(−x))/x and (x − 1 + exp(−x))/x² by their series
		one, two, term := 0.0, 0.0, 1.0
		for k := 1; k < 60; k++ {
			one += term / float64(k)
			two += term / float64(k*(k+1))
			term *= -x / float64(k)
		}
		near("what is left", n, got.decay, math.Exp(-x))
		near("the first integral", n, got.one, d*one)
		near("the second integral", n, got.two, d*d*two)
	}
	c.learn()
	for n := 1; n <= beats; n++ {
		s := &c.room.responses[n]
		check(n, c.pocketRate, s.pocket)
		for i := range c.boilers {
			for j, rate := range c.boilers[i].lambda {
				check(n, rate, response{s.decay[j][i], s.one[j][i], s.two[j][i]})
			}
		}
	}
	if none := c.room.responses[0].pocket; none != (response{1, 0, 0}) {
		t.Errorf("found a response of %v to no time, expected none", none)
	}
}
