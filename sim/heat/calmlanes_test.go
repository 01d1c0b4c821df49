package heat

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// dice makes up numbers to try kernels with, in the lanes of its boilers.
type dice struct {
	*rand.Rand
	boilers int
}

// number is zero, infinite or large now and then.
func (d dice) number() float64 {
	x := d.NormFloat64()
	switch d.IntN(200) {
	case 0:
		return 0
	case 1:
		return math.Inf(1 - 2*d.IntN(2))
	case 2, 3, 4:
		return 1e6 * x
	}
	return x
}

func (d dice) lanes(all ...*Lanes) {
	for _, a := range all {
		for l := range d.boilers {
			a[l] = d.number()
		}
	}
}

func (d dice) fives(all ...*fives) {
	for _, a := range all {
		for k := range a {
			d.lanes(&a[k])
		}
	}
}

func (d dice) linears(f *linears) {
	d.fives(&f.x)
	d.lanes(&f.shell, &f.draw)
}

// window returns boilers some of whose waters stay in their piece of the properties of
// water, and some of which draw steam.
func (d dice) window() *calmLanes {
	g := newCalmLanes(d.boilers, 0.8, 7)
	d.fives(&g.capacity, &g.inverse, &g.risen, &g.midShell, &g.drawn)
	d.lanes(&g.toWater, &g.room, &g.toRoom, &g.sk, &g.rise, &g.midLid, &g.midRoom, &g.shell, &g.parched)
	d.lanes(&g.draw, &g.taken, &g.cold, &g.thin, &g.extra)
	d.linears(&g.waterMean)
	o := &g.single
	for _, x := range []*float64{&o.ambient, &o.ambientSum, &o.bridge, &o.lidAir, &o.lidInverse, &o.lidHalf, &o.pocketAir,
		&o.pocketInverse, &o.toLid, &o.roomHeat, &o.mid, &o.own, &o.byLid, &o.byRoom} {
		*x = d.number()
	}
	for k := range kinds {
		d.fives(&g.byElement[k], &g.byLink[k])
		d.linears(&g.change[k])
	}
	for j := range g.flows {
		d.lanes(&g.flows[j], &g.beside[j])
	}
	if d.IntN(3) > 0 {
		d.lanes(&g.steam)
	}
	for l := range d.boilers {
		at := 40 + 60*d.Float64()
		g.wet(l, at)
		g.middle[l] = g.enthalpy[l] + 4000*d.NormFloat64()
		g.limit[l], g.softens[l], g.melts[l] = at+3*d.NormFloat64(), at+3+3*d.NormFloat64(), at+3+3*d.NormFloat64()
		for k := range g.x {
			g.x[k][l] = at + d.number()
			g.change[waterNode].x[k][l] /= 1000 // so that most waters move by little
		}
	}
	return g
}

func (d dice) rhythm() *rhythm {
	p := new(rhythm)
	d.fives(&p.element, &p.link)
	d.linears(&p.mean)
	d.lanes(&p.self, &p.water, &p.waterLink, &p.energy, &p.linkEnergy)
	p.pocket, p.pocketSum = d.number(), d.number()
	return p
}

func (d dice) lane() *Lanes {
	a := new(Lanes)
	d.lanes(a)
	return a
}

// paces returns some paces and responses for them; some boilers' links share the
// elements' current.
func (d dice) paces() ([]Pace, []calmSpan) {
	paces, spans := make([]Pace, d.IntN(6)), make([]calmSpan, 16)
	for i := range spans {
		d.fives(&spans[i].decay, &spans[i].one, &spans[i].two)
	}
	for i := range paces {
		p := &paces[i]
		p.Beats = d.IntN(4)
		for l := range d.boilers {
			p.Element[l] = 2000 * d.Float64()
			p.Link[l] = p.Element[l] / 1024
			if l%2 == 1 {
				p.Element[l], p.Link[l] = d.number(), d.number()
			}
		}
	}
	return paces, spans
}

// equal reports whether numbers are the same to the bit, or both none.
func equal(a, b reflect.Value) bool {
	switch a.Kind() {
	case reflect.Float64:
		x, y := a.Float(), b.Float()
		return math.Float64bits(x) == math.Float64bits(y) || x != x && y != y
	case reflect.Array, reflect.Slice:
		for i := range a.Len() {
			if !equal(a.Index(i), b.Index(i)) {
				return false
			}
		}
	case reflect.Struct:
		for i := range a.NumField() {
			if !equal(a.Field(i), b.Field(i)) {
				return false
			}
		}
	case reflect.Int:
		return a.Int() == b.Int()
	}
	return true
}

// Each kernel finds what its plain twin does, to the bit, and leaves alone what is
// not a boiler's.
func TestCalmKernels(t *testing.T) {
	type outcome struct {
		lanes  calmLanes
		rhythm rhythm
		sums   calmSums
		span   calmSpan
		means  Lanes
		nodes  [kinds*Wide + single]float64
		number float64
	}
	element, link := new(Lanes), new(Lanes)
	var paces []Pace
	var spans []calmSpan
	for _, k := range []struct {
		name        string
		sets        bool // of lanes are what is returned
		fast, plain func(o *outcome) float64
	}{
		{"begin", true,
			func(o *outcome) float64 { return float64(calmBegin(&o.lanes, &o.rhythm, 1.1, o.nodes[:])) },
			func(o *outcome) float64 { return float64(calmBeginPlain(&o.lanes, &o.rhythm, 1.1, o.nodes[:])) }},
		{"means", false,
			func(o *outcome) float64 { calmMeans(&o.lanes, &o.means, &o.rhythm, element); return 0 },
			func(o *outcome) float64 { calmMeansPlain(&o.lanes, &o.means, &o.rhythm, element); return 0 }},
		{"advance", true,
			func(o *outcome) float64 {
				return float64(calmAdvance(&o.lanes, &o.rhythm, element, link, 0.9, o.nodes[:]))
			},
			func(o *outcome) float64 {
				return float64(calmAdvancePlain(&o.lanes, &o.rhythm, element, link, 0.9, o.nodes[:]))
			}},
		{"drawn", false,
			func(o *outcome) float64 { calmDrawn(&o.lanes); return 0 },
			func(o *outcome) float64 { calmDrawnPlain(&o.lanes); return 0 }},
		{"redraw", false,
			func(o *outcome) float64 { return calmRedraw(&o.lanes, &o.rhythm, element, link) },
			func(o *outcome) float64 { return calmRedrawPlain(&o.lanes, &o.rhythm, element, link) }},
		{"join", false,
			func(o *outcome) float64 { spanJoin(&o.span, &spans[0], &spans[1], 0.3); return 0 },
			func(o *outcome) float64 { spanJoinPlain(&o.span, &spans[0], &spans[1], 0.3); return 0 }},
		{"totals", true,
			func(o *outcome) float64 { return float64(rhythmTotals(&o.lanes, &o.rhythm, &o.sums, paces)) },
			func(o *outcome) float64 { return float64(rhythmTotalsPlain(&o.lanes, &o.rhythm, &o.sums, paces)) }},
		{"respond", false,
			func(o *outcome) float64 { rhythmRespond(&o.sums, paces, spans); return 0 },
			func(o *outcome) float64 { rhythmRespondPlain(&o.sums, paces, spans); return 0 }},
		{"gather", false,
			func(o *outcome) float64 { rhythmGather(&o.lanes, &o.rhythm, &o.sums); return 0 },
			func(o *outcome) float64 { rhythmGatherPlain(&o.lanes, &o.rhythm, &o.sums); return 0 }},
	} {
		t.Run(k.name, func(t *testing.T) {
			d := dice{rand.New(rand.NewPCG(1, 2)), 0}
			numbers := map[float64]bool{}
			for range 2000 {
				d.boilers = 1 + d.IntN(Wide)
				var got outcome
				got.lanes, got.rhythm = *d.window(), *d.rhythm()
				d.fives(&got.sums.heats, &got.sums.totals, &got.sums.keeps, &got.sums.drives, &got.sums.selves)
				d.lanes(&got.sums.share, &got.sums.weight)
				at := got.nodes[kinds*d.boilers:]
				at[lidNode], at[pocketNode], at[upstreamNode] = d.number(), d.number(), d.number()
				after := at[upstreamNode]
				element, link = d.lane(), d.lane()
				paces, spans = d.paces()
				want := got
				got.number, want.number = k.fast(&got), k.plain(&want)
				if !equal(reflect.ValueOf(got), reflect.ValueOf(want)) {
					t.Fatalf("%d boilers: found %+v, expected %+v", d.boilers, got, want)
				}
				numbers[got.number] = true
				at = at[upstreamNode:]
				if i := slices.IndexFunc(at[1:], func(x float64) bool { return x != 0 }); i >= 0 || at[0] != after {
					t.Fatalf("%d boilers: found %g after lid and pocket, expected %g and zeros", d.boilers, at, after)
				}
			}
			if k.sets && len(numbers) < Wide {
				t.Errorf("found no other answers than %v, expected more sets of lanes", numbers)
			}
		})
	}
}

// Water beyond the range of its properties, where they go on without pieces, keeps its
// temperature in a window in which nothing happens to it.
func TestCalmWaterWithoutPiece(t *testing.T) {
	for _, at := range []float64{-3, 0, 205} {
		g := newCalmLanes(1, 1, 1)
		g.wet(0, at)
		var nodes [kinds + single]float64
		out := calmAdvance(g, new(rhythm), new(Lanes), new(Lanes), 0, nodes[:])
		if out != 1 {
			t.Errorf("found lanes %b out of their pieces at %g °C, expected 1", out, at)
		}
		if got := g.leave(0); math.Abs(got-at) > 1e-12 {
			t.Errorf("found %g °C, expected %g as before", got, at)
		}
	}
}

// No lanes are split between two lines of the cache, as long as what they lie in begins
// at one.
func TestLanesInPlace(t *testing.T) {
	size := reflect.TypeFor[Lanes]().Size()
	for _, in := range []reflect.Type{reflect.TypeFor[calmLanes](), reflect.TypeFor[linears](), reflect.TypeFor[calmSums](),
		reflect.TypeFor[Rhythm](), reflect.TypeFor[rhythm](), reflect.TypeFor[calmSpan](), reflect.TypeFor[Pace]()} {
		for i := range in.NumField() {
			if f := in.Field(i); f.Type.Kind() == reflect.Array && f.Type.Size() >= size && f.Offset%size != 0 {
				t.Errorf("found %v.%s at %d, expected it at a multiple of %d", in, f.Name, f.Offset, size)
			}
		}
		if in != reflect.TypeFor[rhythm]() && in.Size()%size != 0 {
			t.Errorf("found %v of %d bytes, expected a multiple of %d", in, in.Size(), size)
		}
	}
}
