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

// window is a course, what is going on before it, and leakages.
type window struct {
	c  course
	on going
	l  leakage
}

// randomWindow draws one of a number of channels, some of which do not leak, follow
// or carry anything.
func randomWindow(rng *rand.Rand, channels, stages int) *window {
	w := &window{l: leakages(1)[0]}
	c, on := &w.c, &w.on
	ones := heat.Lanes{1, 1, 1, 1}
	c.base, c.early, c.less, c.still = ones, ones, ones, ones
	c.near = heat.Lanes{math.Inf(1), math.Inf(1), math.Inf(1), math.Inf(1)}
	c.gain, on.left, on.stages = make([]heat.Lanes, stages), make([]heat.Lanes, stages), make([]heat.Lanes, stages)
	draw := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	for k := range channels {
		on.means[k], on.junction[k] = draw(10, 300), draw(15, 120)
		if rng.IntN(4) > 0 {
			c.rate[k] = draw(1e-5, 1e-3)
			c.base[k] = 1 - c.rate[k]*draw(20, 200)
			c.z[k] = draw(0, 0.2)
			c.less[k] = 1 - c.z[k]
			c.mixed[k], c.warm[k] = draw(0, 0.1), draw(0, 1e-4)
			c.early[k] = 1 - c.warm[k]*60
		}
		if rng.IntN(4) > 0 {
			c.square[k] = draw(0, 1)
			c.still[k], c.linear[k] = 0, 1-c.square[k]
		} else {
			c.slope[k] = draw(-1, 1)
		}
		for j := range channels {
			if j != k {
				c.byElement[j][k], c.byTriac[j][k] = draw(-0.05, 0.05), draw(-0.05, 0.05)
			}
		}
		for lane := range 3 {
			c.byShared[k][lane] = draw(-0.5, 0)
		}
		c.element[k], c.wire[k], c.triac[k], c.gate[k] = draw(0, 2000), draw(0, 3), draw(0, 10), draw(0, 0.1)
		if rng.IntN(2) > 0 {
			c.leak[k], c.leaksAt[k], c.near[k] = draw(0, 0.3), draw(20, 80), 1
		}
		w.l.move(k, on.junction[k]-c.leaksAt[k]+draw(-1.02, 1.02))
		if rng.IntN(4) == 0 {
			on.lateElement[k], on.lateTriac[k] = draw(-0.01, 0.01), draw(-0.01, 0.01)
		}
		c.driven[k], on.cycles[k] = rng.Int64N(100), rng.Int64N(1e9)
		on.element[k], on.warmer[k] = draw(0, 1e4), draw(0, 40)
		for i := range stages {
			c.gain[i][k], on.left[i][k], on.stages[i][k] = draw(0, 2), draw(0, 1), draw(0, 20)
		}
	}
	for lane := range 3 {
		c.shared[lane], on.shared[lane] = draw(0, 20), draw(0, 300)
	}
	c.rest, c.minor = draw(0, 1), draw(0, 1)
	return w
}

// clone returns a window like w.
func (w *window) clone() *window {
	x := *w
	x.on.stages = slices.Clone(w.on.stages)
	return &x
}

// What carries windows out does what the plain form does, to the last bit, channels
// that are not there included.
func TestCarryAgainstPlain(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	stopped := 0
	for range 3000 {
		channels, stages := 1+rng.IntN(heat.Wide), rng.IntN(5)
		got := randomWindow(rng, channels, stages)
		want := got.clone()
		stale, wanted := carry(&got.c, &got.on, &got.l), carryPlain(&want.c, &want.on, &want.l)
		if stale != wanted {
			t.Fatalf("found lanes %04b to be stale, expected %04b", stale, wanted)
		}
		if stale != 0 {
			stopped++
		}
		if x, y := numbers64(reflect.ValueOf(got.on)), numbers64(reflect.ValueOf(want.on)); !slices.Equal(x, y) {
			t.Fatalf("%d channels, %d stages: found %+v, expected %+v", channels, stages, got.on, want.on)
		}
	}
	if stopped < 50 || stopped > 1000 {
		t.Errorf("found stale leakages in %d windows, expected some", stopped)
	}
}

// numbers64 lists the bits of all numbers in a value.
func numbers64(v reflect.Value) (bits []uint64) {
	switch v.Kind() {
	case reflect.Float64:
		return []uint64{math.Float64bits(v.Float())}
	case reflect.Int64:
		return []uint64{uint64(v.Int())}
	case reflect.Struct:
		for i := range v.NumField() {
			bits = append(bits, numbers64(v.Field(i))...)
		}
	case reflect.Array, reflect.Slice:
		for i := range v.Len() {
			bits = append(bits, numbers64(v.Index(i))...)
		}
	}
	return bits
}

// A window carried out against the laws: of moved, others, leakage, and the triacs'
// thermal networks.
func TestCarryAgainstLaws(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	near := func(what string, got, want, scale float64) {
		t.Helper()
		if !(math.Abs(got-want) <= 1e-14*scale) {
			t.Errorf("%s: found %.17g, expected %.17g", what, got, want)
		}
	}
	done := 0
	for range 300 {
		w := randomWindow(rng, heat.Wide, 3)
		c, before := &w.c, w.clone()
		if carry(c, &w.on, &w.l) != 0 {
			continue
		}
		done++
		var m [heat.Wide]moved
		sums := map[string]*[heat.Wide]float64{"element": {}, "triac": {}, "shared": {}}
		for j := range m {
			if c.rate[j] != 0 {
				m[j].move(c.base[j]+c.rate[j]*w.on.means[j], 2*c.z[j]-1)
			} else {
				m[j].move(1, 0)
			}
			for k := range m {
				sums["element"][k] += 2 * c.byElement[j][k] * m[j].drop
				sums["triac"][k] += 2 * c.byTriac[j][k] * m[j].drop
				sums["shared"][k] += 2 * c.byShared[j][k] * m[j].drop
			}
		}
		source, pocket := c.rest, c.minor
		for k := range m {
			what := func(s string) string { return fmt.Sprintf("channel %d: %s", k+1, s) }
			scale := (m[k].element()+c.mixed[k]*m[k].y*m[k].y)*others(sums["element"][k])*(c.early[k]+c.warm[k]*before.on.junction[k]) + before.on.lateElement[k]
			link := m[k].wire() * others(sums["element"][k])
			near(what("element"), w.on.scale[k], scale, scale)
			near(what("wire"), w.on.link[k], link, link)
			triac := 1 + c.slope[k]*m[k].y
			if c.slope[k] == 0 { // the parts of the loss tell it
				triac = m[k].triac(-m[k].less * (1 + c.square[k]))
			}
			triac *= others(sums["triac"][k])
			leaks := math.Exp2((before.on.junction[k] - c.leaksAt[k]) / 10)
			more := w.l.grown(k, before.on.junction[k]-c.leaksAt[k])
			if c.leak[k] > 0 {
				near(what("leakage"), 1+more, leaks, 2e8*leaks) // a series
			}
			triac += c.leak[k]*more + before.on.lateTriac[k]
			above := 0.0
			for i, x := range before.on.stages {
				stage := x[k]*w.on.left[i][k] + triac*c.gain[i][k]
				near(what("stage"), w.on.stages[i][k], stage, 100)
				above += stage
			}
			near(what("junction"), w.on.warmer[k], above, 100)
			near(what("energy"), w.on.element[k], before.on.element[k]+c.element[k]*scale, 1e4)
			if got, want := w.on.cycles[k], before.on.cycles[k]+c.driven[k]; got != want {
				t.Errorf("%s: found %d, expected %d", what("half-cycles"), got, want)
			}
			shared := c.shared[k] * others(sums["shared"][k])
			near(what("shared"), w.on.shared[k], before.on.shared[k]+shared, 1e3)
			pocket += c.triac[k] * triac
			source += c.element[k]*scale + c.wire[k]*link + c.triac[k]*triac
			if k == ofWiring || k == ofUpstream {
				source += shared
			}
		}
		near("source", w.on.source, source, 1e4)
		near("pocket", w.on.pocket, pocket, 1e2)
	}
	if done < 100 {
		t.Errorf("carried out %d windows, expected more", done)
	}
}
