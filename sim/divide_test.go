package sim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"boilwright/sim/heat"
)

// No lanes of plans and parts are split between two lines of the cache, as long as the
// first of them begins at one.
func TestPlansInPlace(t *testing.T) {
	size := reflect.TypeFor[heat.Lanes]().Size()
	for _, in := range []reflect.Type{reflect.TypeFor[plan](), reflect.TypeFor[course](), reflect.TypeFor[part]()} {
		for i := range in.NumField() {
			if f := in.Field(i); f.Type.Kind() == reflect.Array && f.Type.Size() >= size && f.Offset%size != 0 {
				t.Errorf("found %v.%s at %d, expected it at a multiple of %d", in, f.Name, f.Offset, size)
			}
		}
		if in != reflect.TypeFor[course]() && in.Size()%size != 0 {
			t.Errorf("found %v of %d bytes, expected a multiple of %d", in, in.Size(), size)
		}
	}
	if plan, part := reflect.TypeFor[plan](), reflect.TypeFor[part](); plan.Field(0).Name != "course" || part.Field(0).Name != "ledger" {
		t.Errorf("found %v and %v to begin with other things than lanes", plan, part)
	}
	if f, _ := reflect.TypeFor[part]().FieldByName("pace"); f.Offset%size != 0 {
		t.Errorf("found a part's pace at %d, expected it at a multiple of %d", f.Offset, size)
	}
}

// randomLedger draws one of some channels, with energies of nothing, of noise and of
// triacs without a slope among them.
func randomLedger(rng *rand.Rand, channels int) *ledger {
	l := new(ledger)
	for i := range l {
		for k := range channels {
			l[i][k] = rng.Float64()
			if i >= byElement && i < inLink {
				l[i][k] = 0.4 * rng.NormFloat64()
			}
			if rng.IntN(8) == 0 {
				l[i][k] = 0
			}
		}
	}
	for k := range channels {
		l[byTriac+k][k] = -0.8 * rng.Float64() * l[inTriac][k]
		l[ofDriven][k] = float64(rng.IntN(100))
		if rng.IntN(8) == 0 {
			l[inElement][k] = testNoise
		}
		if rng.IntN(8) == 0 {
			l[inTriac][k] = testNoise / 2
		}
		if rng.IntN(8) == 0 { // nearly no impedance but the element's
			l[byElement+k][k] = l[inElement][k] * (1 - 1e-3*rng.Float64())
		}
	}
	return l
}

// testNoise is up to what an energy is noise, in J.
const testNoise = 1e-3

// A part as registers make it up is the plain one, to the last bit, and that is a ledger
// and so many times another.
func TestFill(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	for range 500 {
		first, each, times, rate := randomLedger(rng, heat.Wide), randomLedger(rng, heat.Wide), float64(rng.IntN(50)), rng.Float64()
		var parts, plain [3]part // so that what lies beside one shows
		fill(&parts[1], first, each, times, testNoise, rate)
		fillPlain(&plain[1], first, each, times, testNoise, rate)
		if !reflect.DeepEqual(parts, plain) {
			t.Fatalf("found %+v, expected %+v", parts, plain)
		}
		p := &parts[1]
		for i, lanes := range p.ledger {
			for k, got := range lanes {
				want := first[i][k] + each[i][k]*times
				if i == ofMixed {
					want = 0
					if x := p.ledger[inElement][k]; x > testNoise {
						z := (1 + p.ledger[byElement+k][k]/x) / 2
						want = z * z * x
					}
				}
				if !(math.Abs(got-want) <= 1e-14*(1+math.Abs(want))) {
					t.Errorf("lane %d of %d: found %.17g, expected %.17g", k, i, got, want)
				}
			}
		}
		for k, x := range p.ledger[inElement] {
			got := [...]float64{p.pace.Element[k], p.pace.Link[k], p.power[k]}
			if want := [...]float64{x * rate, p.ledger[inLink][k] * rate, p.ledger[inTriac][k] * rate}; got != want {
				t.Errorf("channel %d: found powers of %v, expected %v", k+1, got, want)
			}
		}
	}
}

// Parts one after the other: the sums of their ledgers, and the stages of triacs step by
// step, in registers to the last bit as in plain Go.
func TestSumParts(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 18))
	for range 300 {
		stages := rng.IntN(5)
		lanes := func() []heat.Lanes {
			all := make([]heat.Lanes, stages)
			for i := range all {
				for k := range all[i] {
					all[i][k] = rng.Float64()
				}
			}
			return all
		}
		var parts []*part
		for range rng.IntN(6) {
			p := &part{ledger: *randomLedger(rng, heat.Wide), does: &kept{left: lanes(), gain: lanes()}}
			for k := range p.power {
				p.power[k] = 10 * rng.Float64()
			}
			parts = append(parts, p)
		}
		var got, want [3]ledger
		gain, plain := lanes(), lanes()
		sumParts(&got[1], gain, parts)
		sumPartsPlain(&want[1], plain, parts)
		if got != want || !slices.Equal(gain, plain) {
			t.Fatalf("%d parts: found %v and %v, expected %v and %v", len(parts), got, gain, want, plain)
		}
		for k := range heat.Wide {
			for i := range want[1] {
				sum := 0.0
				for _, p := range parts {
					sum += p.ledger[i][k]
				}
				if !(math.Abs(got[1][i][k]-sum) <= 1e-15*math.Abs(sum)) {
					t.Errorf("lane %d of %d: found %.17g, expected %.17g", k, i, got[1][i][k], sum)
				}
			}
			for i := range gain {
				above := 0.0
				for _, p := range parts {
					above = above*p.does.left[i][k] + p.power[k]*p.does.gain[i][k]
				}
				if !(math.Abs(gain[i][k]-above) <= 1e-14*above) {
					t.Errorf("stage %d, channel %d: found %.17g, expected %.17g", i, k+1, gain[i][k], above)
				}
			}
		}
	}
}

// randomGrowth draws that of a class.
func randomGrowth(rng *rand.Rand) *growth {
	g := new(growth)
	for k := range heat.Wide {
		g.base[k], g.rate[k], g.junction[k], g.leakage[k] = 1-0.1*rng.Float64(), 1e-3*rng.Float64(), 100*rng.Float64(), 100*rng.Float64()
	}
	return g
}

// What is divided in registers is what plain Go divides, to the last bit.
func TestDivideAgainstPlain(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 20))
	for range 3000 {
		total, g := randomLedger(rng, 1+rng.IntN(heat.Wide)), randomGrowth(rng)
		var got, want [3]course
		found, expected := divide(&got[1], total, g, testNoise), dividePlain(&want[1], total, g, testNoise)
		if x, y := numbers64(reflect.ValueOf(got)), numbers64(reflect.ValueOf(want)); !slices.Equal(x, y) || found != expected {
			t.Fatalf("found %+v and %g, expected %+v and %g", got[1], found, want[1], expected)
		}
	}
}

// What is divided, by the definitions of what energies follow by.
func TestDivideAgainstDefinitions(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	same := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-13*(1+math.Abs(want))) {
			t.Errorf("%s: found %.17g, expected %.17g", what, got, want)
		}
	}
	for range 300 {
		total, g := randomLedger(rng, heat.Wide), randomGrowth(rng)
		for i := inElement; i <= inWire; i++ { // none of it noise, so that all follows
			for k := range total[i] {
				total[i][k] = 0.1 + rng.Float64()
			}
		}
		for k := range heat.Wide {
			total[byElement+k][k] = (0.2 - 1.2*rng.Float64()) * total[inElement][k]
			total[inShared][k] = 10 + rng.Float64()
		}
		var c course
		pocket := divide(&c, total, g, testNoise)
		rest, minor, warmth := total[inShared][ofSource]-total[inShared][ofWiring]-total[inShared][ofUpstream], 0.0, 0.0
		for k := range heat.Wide {
			element, triac, small := total[inElement][k], total[inTriac][k], total[inGate][k]+total[inSnubber][k]
			rest -= element + triac + total[inWire][k]
			minor += small
			warmth += triac + small
			same("element", c.element[k], element)
			same("triac", c.triac[k], triac)
			same("wire", c.wire[k], total[inWire][k])
			same("gate", c.gate[k], total[inGate][k])
			same("half-cycles", float64(c.driven[k]), total[ofDriven][k])
			same("part that leaks", c.leak[k], total[ofLeak][k]/triac)
			slope := total[byElement+k][k] / element
			z := (1 + slope) / 2
			same("z", c.z[k], z)
			same("1 − z", c.less[k], 1-z)
			same("variance", c.mixed[k], 3*max(0, total[ofMixed][k]/element-z*z))
			at := 150 * rng.Float64()
			same("resistance", c.base[k]+c.rate[k]*at, g.base[k]+g.rate[k]*at)
			same("early firing", c.early[k]+c.warm[k]*at, 1+total[ofWarm][k]/element*(at-g.junction[k]))
			// The triac, with its element so much hotter.
			var m moved
			m.move(1.05, slope)
			loss := c.still[k] + c.slope[k]*m.y + m.current*(c.linear[k]+c.square[k]*m.current)
			same("triac of a hotter element", loss, m.triac(total[byTriac+k][k]/triac))
			for j := range heat.Wide {
				own := 0.0
				if j != k {
					own = 1
				}
				same("neighbour's element", c.byElement[j][k], own*total[byElement+j][k]/element/2)
				same("neighbour's triac", c.byTriac[j][k], own*total[byTriac+j][k]/triac/2)
			}
		}
		for lane := range ofSource {
			same("shared", c.shared[lane], total[inShared][lane])
			for j := range heat.Wide {
				same("what is shared", c.byShared[j][lane], total[byShared+j][lane]/total[inShared][lane]/2)
			}
		}
		same("rest", c.rest, rest)
		same("minor", c.minor, minor)
		same("pocket", pocket, warmth)
	}
}

// A ledger against the account that it is of, group by group.
func TestLedgerOfAccount(t *testing.T) {
	const channels, drives, halfs, noise = 3, 5, 12, 1e-8
	rng := rand.New(rand.NewPCG(17, 18))
	a := newAccount(channels)
	for i := range a.all {
		a.all[i] = 0.1 + rng.Float64()
	}
	var p part
	l := &p.ledger
	l.enter(&a, drives, halfs)
	fill(&p, l, l, 0, noise, 0.1)
	same := func(what string, got, want float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 4e-16*math.Abs(want)) {
			t.Errorf("%s: found %.17g, expected %.17g", what, got, want)
		}
	}
	pocket := 0.0
	for k := range channels {
		own := a.energy.channel(k)
		for group, lane := range map[int]int{tElement: inElement, tTriac: inTriac, tGate: inGate, tSnubber: inSnubber, tWire: inWire} {
			same(fmt.Sprintf("channel %d, group %d", k+1, group), l[lane][k], own[group])
		}
		for j := range channels {
			follows := a.slope[j].channel(k)
			same("slope of an element", l[byElement+j][k], follows[tElement])
			same("slope of a triac", l[byTriac+j][k], follows[tTriac])
		}
		same("link", l[inLink][k], own[tLink])
		pocket += own[tTriac] + own[tGate] + own[tSnubber]
		same("warmth", l[ofWarm][k], a.warm[k])
		same("leak", l[ofLeak][k], a.leak[k])
		z := (1 + a.slope[k].channel(k)[tElement]/own[tElement]) / 2
		same("z²·E", l[ofMixed][k], z*z*own[tElement])
		same("driven", l[ofDriven][k], halfs*float64(uint32(drives)>>k&1))
	}
	for lane, g := range []int{tWiring, tUpstream, tSquare, tSource} {
		same("shared", l[inShared][lane], a.energy[g])
		for j := range channels {
			same("slope of what is shared", l[byShared+j][lane], a.slope[j][g])
		}
	}
	same("pocket", l[ofBoard][ofPocket], pocket)
	same("earth", l[ofBoard][ofEarth], a.energy[tEarth])
}
