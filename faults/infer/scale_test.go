package infer

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"boilwright/sim/boardfile"
	"boilwright/sim/readings"
)

// The density is that of the normal distribution of gonum's distuv, by another
// route.
func TestDensity(t *testing.T) {
	for _, c := range [][3]float64{{0, 0, 1}, {1.3, -0.2, 0.4}, {5, 5, 1e-3}} {
		want := distuv.Normal{Mu: c[1], Sigma: c[2]}.Prob(c[0])
		if got := density(c[0], c[1], c[2]); math.Abs(got-want) > 1e-12*want {
			t.Errorf("%v: found %g, expected %g", c, got, want)
		}
	}
}

// Scales rise, their slopes are their derivatives, and a likelihood with its
// part of mistakes integrates to one over all that a test can show.
func TestScales(t *testing.T) {
	b := boardfile.Default()
	volts, ohms, diode, watts, temp := newTest(Volts), newTest(Unplugged), newTest(Unplugged), newTest(MonitorWatt), newTest(Temperature)
	diode.Instrument = readings.DiodeTest
	for _, x := range []struct {
		t      Test
		values []float64
	}{
		{volts, []float64{0.01, 0.3, 2, 118, 230}}, {ohms, []float64{0.5, 35, 1e3, 1e6}}, {diode, []float64{0.1, 0.7, 1.9}},
		{watts, []float64{1, 50, 1500}}, {temp, []float64{20, 85, 118}},
	} {
		s := scaleOf(&x.t, b)
		last := math.Inf(-1)
		for _, v := range x.values {
			y := s.y(v)
			if !(y > last) {
				t.Errorf("%s: found y(%g) = %g, expected it to rise", x.t.Kind, v, y)
			}
			last = y
			h := 1e-4 * v
			if got, want := s.slope(v), (s.y(v+h)-s.y(v-h))/(2*h); math.Abs(got-want) > 1e-4*want {
				t.Errorf("%s: found slope %g at %g, expected %g", x.t.Kind, got, v, want)
			}
			k := kernel{outcomes: []outcome{{value: v, ok: true}}, y: []float64{y}, width: []float64{0}, seen: []bool{true}}
			sd := s.error(v, 0)
			sum := quad.Fixed(func(z float64) float64 { return (1-mistaken)*density(z, k.y[0], sd) + mistaken*s.broad() }, y-8*sd, y+8*sd, 400, nil, 0)
			outside := mistaken * (1 - 16*sd*s.broad())
			if math.Abs(sum+outside-1) > 1e-6 {
				t.Errorf("%s at %g: found a likelihood of %g over everything, expected 1", x.t.Kind, v, sum+outside)
			}
		}
		if s.open > 0 && !(s.y(math.Inf(1)) > last) {
			t.Errorf("%s: open reads %g, expected it above all values", x.t.Kind, s.y(math.Inf(1)))
		}
	}
}

// Entropy in bits, by hand.
func TestEntropy(t *testing.T) {
	for want, p := range map[float64][]float64{0: {1}, 1: {2, 2}, 1.5: {0.5, 0.25, 0.25}, 2: {1, 1, 1, 1}} {
		if got := entropy(p); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: found %g bits, expected %g", p, got, want)
		}
	}
	if entropy(nil) != 0 || entropy([]float64{0, 0}) != 0 {
		t.Error("found an entropy of nothing")
	}
}

// A safer test that gains enough comes before any live one, and of equal risk
// that which gains most in its time.
func TestOrder(t *testing.T) {
	live, dead, slow, weak := newTest(Volts), newTest(Unplugged), newTest(Unplugged), newTest(Unplugged)
	slow.Lifted = []string{"snubber-resistor1", "wire1"}
	weak.Instrument = readings.DiodeTest
	as := []Advice{{Test: live, Gain: 2}, {Test: slow, Gain: 0.9}, {Test: weak, Gain: worth / 2}, {Test: dead, Gain: 0.9}}
	order(as)
	if as[0].Test.Key() != dead.Key() || as[1].Test.Key() != slow.Key() || as[2].Test.Kind != Volts || as[3].Gain != worth/2 {
		t.Errorf("found %v", as)
	}
}

// The calibration error of a diagnosis that is right as often as it says is
// nothing, and of one that is always wrong its probability.
func TestSum(t *testing.T) {
	var cases []Case
	for i := range 10 {
		c := Case{Truth: "dye:a", Found: "dye:a", P: 0.8, Fixed: 5, Live: 1}
		if i < 2 {
			c.Found = "dye:b"
		}
		cases = append(cases, c)
	}
	s := Sum(cases, nil)
	if s.Right != 8 || math.Abs(s.Calibration) > 1e-12 || s.Complained != 10 || s.Fixed != 5 || s.LiveThen != 1 {
		t.Errorf("found %+v", s)
	}
	if len(s.Confusions) != 1 || s.Confusions[0] != (Confusion{"a", "b", 2}) {
		t.Errorf("found confusions %v", s.Confusions)
	}
	for i := range cases {
		cases[i].Found = "soak:a"
	}
	if s := Sum(cases, nil); math.Abs(s.Calibration-0.8) > 1e-12 || s.Right != 0 || s.Confusions[0].Found != "soak:a" {
		t.Errorf("found %+v", s)
	}
	if s := Sum(cases, map[string]bool{"b": true}); s.Cases != 0 {
		t.Errorf("found %d cases of a class that has none", s.Cases)
	}
}
