package sim

import (
	"math"
	"testing"

	"boilwright/models"

	q "boilwright/models/quantity"

	"pgregory.net/rapid"
)

// loop is the controllers of a board with what they share, fed with codes.
type loop struct {
	board   *models.Board
	control []controller
	order   []int
	want    [][]bool
	owed    []int
}

func newLoop(b *models.Board) *loop {
	n := len(b.Channels)
	l := &loop{board: b, control: make([]controller, n), order: byPriority(b.Channels), want: make([][]bool, n), owed: make([]int, n)}
	for k := range n {
		l.control[k].set = &b.Channels[k].Control
		l.want[k] = make([]bool, b.Controller.Window/2)
	}
	return l
}

// window puts the patterns of the window with these codes into l.want and
// returns what the channels had asked for.
func (l *loop) window(codes []int) (demanded []int) {
	b := l.board
	cycles := b.Controller.Window / 2
	for k := range l.control {
		ch := &b.Channels[k]
		c := l.control[k].cycles(ch.Probe.Reading(codes[k]), cycles, float64(b.Controller.Window)*b.Supply.HalfCycle())
		pattern(l.want[k], c, ch.Control.Spread)
		demanded = append(demanded, c)
	}
	allocate(l.want, l.order, b.Controller.Together, b.Controller.LoseRefused, l.owed)
	return demanded
}

func trues(on []bool) int {
	n := 0
	for _, v := range on {
		if v {
			n++
		}
	}
	return n
}

// The converter's codes of the reference must give its cycles, every one.
func TestControlReplaysReference(t *testing.T) {
	c, want := readClosedLoop(t)
	l := newLoop(c.board())
	refused := 0
	for w := range want.Codes[0] {
		var codes []int
		for k := range want.Codes {
			codes = append(codes, want.Codes[k][w])
		}
		demanded := l.window(codes)
		for k := range codes {
			if demanded[k] != want.Demanded[k][w] {
				t.Fatalf("window %d, channel %d: found a demand for %d cycles, expected %d", w, k+1, demanded[k], want.Demanded[k][w])
			}
			if found := trues(l.want[k]); found != want.Conducted[k][w] {
				t.Fatalf("window %d, channel %d: found %d cycles that conduct, expected %d", w, k+1, found, want.Conducted[k][w])
			}
			refused += demanded[k] - want.Conducted[k][w]
		}
	}
	if refused == 0 {
		t.Error("found no refused cycle, expected the limit to matter")
	}
	if n := len(want.Codes[0]); n != int(c.Run.End) {
		t.Errorf("found %d windows, expected %g", n, c.Run.End)
	}
}

func TestHysteresis(t *testing.T) {
	set := &models.Control{Kind: models.Hysteresis, Enabled: true, SetPoint: 50, Band: 4}
	below := math.Nextafter(52, 0)
	for _, c := range []struct {
		name     string
		readings []float64
		want     []int
	}{
		{"starts on inside the band", []float64{51.9, 51.9}, []int{10, 10}},
		{"starts on one step below the upper edge", []float64{below}, []int{10}},
		{"starts off at the upper edge", []float64{52, 50.1, 48.1, 48}, []int{0, 0, 0, 10}},
		{"goes round", []float64{20, 48, 50, below, 52, 50, math.Nextafter(48, 50), 48, 51, 53}, []int{10, 10, 10, 10, 0, 0, 0, 10, 10, 0}},
	} {
		l := controller{set: set}
		for i, r := range c.readings {
			if found := l.cycles(r, 10, 1); found != c.want[i] {
				t.Errorf("%s: at reading %d of %g °C: found %d cycles, expected %d", c.name, i+1, r, found, c.want[i])
			}
		}
	}
	l := controller{set: set}
	l.cycles(53, 10, 1)
	l.cycles(51, 10, 1)
	l.reset()
	if found := l.cycles(51, 10, 1); found != 10 {
		t.Errorf("inside the band after the controls were off: found %d cycles, expected 10 as at the first start", found)
	}
}

func TestFixedDuty(t *testing.T) {
	for _, c := range []struct {
		duty float64
		want int
	}{{0, 0}, {0.049, 0}, {0.05, 1}, {0.5, 5}, {0.949, 9}, {0.95, 10}, {1, 10}, {1.5, 10}, {-1, 0}} {
		l := controller{set: &models.Control{Kind: models.FixedDuty, Enabled: true, Duty: q.Ratio(c.duty), SetPoint: 50}}
		if found := l.cycles(80, 10, 1); found != c.want {
			t.Errorf("duty %g: found %d of 10 cycles, expected %d", c.duty, found, c.want)
		}
	}
}

func TestDisabledChannelAsksForNothing(t *testing.T) {
	for _, kind := range []models.ControlKind{models.Hysteresis, models.Proportional, models.FixedDuty} {
		l := controller{set: &models.Control{Kind: kind, SetPoint: 90, Gain: 1, Duty: 1, Band: 2}}
		if found := l.cycles(20, 10, 1); found != 0 || l.integral != 0 {
			t.Errorf("%v: found %d cycles and an integral of %g, expected none", kind, found, l.integral)
		}
	}
}

// Proportional-integral with Kp 0.1 1/K, Ti 100 s and windows of 2 s: the
// integral moves by e/500 a window unless u lies outside [0, 1] and e pushes
// it further out.
func TestAntiWindUp(t *testing.T) {
	const kp, ti, w = 0.1, 100.0, 2.0
	for _, c := range []struct {
		name     string
		integral float64
		reading  float64
		cycles   int
		after    float64
	}{
		{"within range, below", 0.25, 45, 75, 0.25 + kp/ti*5*w},
		{"within range, above", 0.75, 55, 25, 0.75 - kp/ti*5*w},
		{"at exactly 1 it still learns", 0.5, 45, 100, 0.5 + kp/ti*5*w},
		{"at exactly 0 it still learns", 0.5, 55, 0, 0.5 - kp/ti*5*w},
		{"saturated high and pushed higher", 0.6, 40, 100, 0.6},
		{"saturated low and pushed lower", 0.4, 60, 0, 0.4},
		{"saturated high, pushed back", 2, 55, 100, 2 - kp/ti*5*w},
		{"saturated low, pushed back", -2, 45, 0, -2 + kp/ti*5*w},
		{"no error", 0.3, 50, 30, 0.3},
		{"saturated by the integral alone", 1.5, 50, 100, 1.5},
		{"rounded to the nearest", 0, 49.86, 1, kp / ti * 0.14 * w},
	} {
		l := controller{set: &models.Control{Kind: models.Proportional, Enabled: true, SetPoint: 50, Gain: kp, Integral: ti}, integral: c.integral}
		if found := l.cycles(c.reading, 100, w); found != c.cycles {
			t.Errorf("%s: found %d cycles, expected %d", c.name, found, c.cycles)
		}
		if math.Abs(l.integral-c.after) > 1e-15 {
			t.Errorf("%s: found the integral at %g, expected %g", c.name, l.integral, c.after)
		}
	}
	l := controller{set: &models.Control{Kind: models.Proportional, Enabled: true, SetPoint: 50, Gain: kp}}
	for range 100 {
		if found := l.cycles(45, 100, w); found != 50 {
			t.Fatalf("proportional alone: found %d cycles, expected 50", found)
		}
	}
}

// Whatever is read, the demand is a whole number of cycles of the window and
// the integral stays within what one step can add to the range of u.
func TestProportionalStaysInRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		set := &models.Control{Kind: models.Proportional, Enabled: true, SetPoint: q.Celsius(rapid.Float64Range(0, 200).Draw(t, "set point")),
			Gain: rapid.Float64Range(0, 10).Draw(t, "gain"), Integral: q.Second(rapid.Float64Range(1, 1e4).Draw(t, "integral time"))}
		l := controller{set: set}
		n := rapid.IntRange(1, 6000).Draw(t, "cycles")
		w := rapid.Float64Range(0.01, 120).Draw(t, "window")
		largest := 255.0 // K, the widest error that readings of -55 °C to 200 °C allow
		bound := 1 + set.Gain*largest*(1+w/float64(set.Integral))
		for range 50 {
			c := l.cycles(rapid.Float64Range(-55, 200).Draw(t, "reading"), n, w)
			if c < 0 || c > n {
				t.Fatalf("found %d cycles, expected 0 to %d", c, n)
			}
			if !(math.Abs(l.integral) <= bound) {
				t.Fatalf("found the integral at %g, expected within %g", l.integral, bound)
			}
		}
	})
}

func TestIndicator(t *testing.T) {
	type step struct {
		reading float64
		on      bool
		want    Indicator
	}
	up, down := math.Nextafter(53, 60), math.Nextafter(47, 40)
	for _, c := range []struct {
		name  string
		steps []step
	}{
		{"warms up, holds, is disturbed and comes back", []step{
			{20, true, Heating}, {down, true, Heating}, {47, true, InBand}, {53, true, InBand}, {down, true, Drifted}, {up, true, Drifted}, {50, true, InBand}}},
		{"over temperature only above the limit", []step{
			{60, true, Heating}, {math.Nextafter(60, 70), true, OverTemp}, {70, true, OverTemp}, {60, true, Heating}}},
		{"over temperature does not count as having been in band", []step{{70, true, OverTemp}, {20, true, Heating}}},
		{"over temperature after having been in band", []step{{50, true, InBand}, {61, true, OverTemp}, {55, true, Drifted}}},
		{"controls off forget the band", []step{{50, true, InBand}, {50, false, IndicatorOff}, {30, true, Heating}, {50, true, InBand}}},
		{"off is off whatever is read", []step{{20, false, IndicatorOff}, {99, false, IndicatorOff}}},
	} {
		l := controller{set: &models.Control{Enabled: true, SetPoint: 50, InBand: 3, OverTemp: 60}}
		for i, s := range c.steps {
			if found := l.indicate(s.reading, s.on); found != s.want || l.shown != s.want {
				t.Errorf("%s: at step %d: found %q, expected %q", c.name, i+1, found, s.want)
			}
		}
	}
	disabled := controller{set: &models.Control{SetPoint: 50, InBand: 3, OverTemp: 60}}
	if found := disabled.indicate(50, true); found != IndicatorOff {
		t.Errorf("disabled channel: found %q, expected %q", found, IndicatorOff)
	}
}

// What a table of the converter's steps says is what the converter itself says,
// however the temperature goes: slowly up and down, in jumps, across steps'
// edges, out of range, with probes of either kind and none.
func TestSensedAgainstProbe(t *testing.T) {
	beta := models.Probe{R25: 10e3, Beta: 3950, Top: 10e3, Bits: 12}
	cubic := models.Probe{A: 0.00112846385449, B: 0.000234227257951, C: 8.73395136752e-8, Top: 10e3, Bits: 10}
	drifted, rising, open, shorted, coarse, fine := beta, beta, beta, beta, beta, beta
	drifted.Offset = -7
	rising.Beta = -3950 // not of the usual kind: nothing can be remembered
	open.Open, shorted.Shorted = true, true
	coarse.Bits, fine.Bits = 1, 24
	for i, p := range []models.Probe{beta, cubic, drifted, rising, open, shorted, coarse, fine} {
		var s sensed
		check := func(temp float64) {
			t.Helper()
			got, want := s.reading(&p, temp), p.Reading(p.Code(temp))
			if got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
				t.Fatalf("probe %d at %.17g °C: found %g °C, expected %g °C", i+1, temp, got, want)
			}
		}
		for k := range 20000 {
			x := float64(k)
			check(60 + 45*math.Sin(x/900) + 0.02*math.Sin(x*x))
			if k%50 == 0 {
				check(math.Mod(x*37.31, 300) - 80)
			}
			if k%100 == 0 { // on both sides of a step's edge
				low, _ := p.Span(p.Code(60 + 45*math.Sin(x/900)))
				for _, d := range []float64{-2e-7, -1e-7, -0.999e-7, 0, 1e-12, 1e-7} {
					check(low + d)
				}
			}
		}
		for _, temp := range []float64{math.Inf(1), math.Inf(-1), -150, 1e4, 60} {
			check(temp)
		}
	}
}

// A controller that remembers between which temperatures it decides as before asks
// for, shows and learns the same as one that looks anew each time, however its
// probe goes.
func TestDecideAgainstLookingAnew(t *testing.T) {
	again := 0
	rapid.Check(t, func(t *rapid.T) {
		set := models.Control{
			Enabled: rapid.IntRange(0, 9).Draw(t, "enabled") > 0, Kind: rapid.SampledFrom([]models.ControlKind{models.Proportional, models.Hysteresis, models.FixedDuty}).Draw(t, "kind"),
			SetPoint: q.Celsius(rapid.Float64Range(20, 130).Draw(t, "set point")), Band: q.Kelvin(rapid.Float64Range(0.5, 20).Draw(t, "band")),
			InBand: q.Kelvin(rapid.Float64Range(0.5, 20).Draw(t, "in band")), OverTemp: q.Celsius(rapid.Float64Range(20, 150).Draw(t, "over")),
			Gain: rapid.Float64Range(0, 0.5).Draw(t, "gain"), Integral: q.Second(rapid.Float64Range(0, 500).Draw(t, "integral time")), Duty: q.Ratio(rapid.Float64Range(0, 1).Draw(t, "duty")),
		}
		p := models.Probe{R25: 10e3, Beta: 3950, Top: 10e3, Bits: rapid.IntRange(6, 14).Draw(t, "bits"), Offset: q.Kelvin(rapid.Float64Range(-30, 30).Draw(t, "offset"))}
		p.Open, p.Shorted = rapid.IntRange(0, 19).Draw(t, "open") == 0, rapid.IntRange(0, 19).Draw(t, "shorted") == 0
		const n, w = 50, 1
		c := controller{set: &set, integral: rapid.Float64Range(-2, 2).Draw(t, "integral"), reached: rapid.Bool().Draw(t, "reached")}
		plain := c
		var s sensed
		temp := rapid.Float64Range(0, 140).Draw(t, "from")
		for k := range 400 {
			switch {
			case k%80 == 79:
				temp = rapid.Float64Range(-40, 160).Draw(t, "jump")
			case k%80 > 20:
				temp += 0.01 * rapid.Float64Range(-1, 1).Draw(t, "wander")
			default:
				temp += rapid.Float64Range(-0.2, 1).Draw(t, "climb")
			}
			reading := p.Reading(p.Code(temp))
			shown, cycles := plain.indicate(reading, true), plain.cycles(reading, n, w)
			var found int
			if c.holds(temp) {
				found = c.again(n)
				again++
			} else {
				found = c.decide(&p, &s, temp, n, w)
			}
			if found != cycles || c.shown != shown || c.integral != plain.integral {
				t.Fatalf("step %d, at %g °C: found %d cycles, %q and an integral of %g, expected %d, %q and %g", k, temp, found, c.shown, c.integral, cycles, shown, plain.integral)
			}
		}
	})
	if again == 0 {
		t.Error("found no decision taken again, expected many")
	}
}
