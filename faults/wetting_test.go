package faults

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"boilwright/models"
)

// steamAt is a cold moment with the water of channel 3 at a temperature.
func steamAt(at time.Duration, t float64) models.Moment {
	m := cold(at)
	m.Water[2] = t
	m.AmbientPressure = 101325
	return m
}

// wetnessAt shows a moment and returns the wetness of the first injection.
func wetnessAt(r *Run, m models.Moment) float64 {
	r.Version(m)
	return r.Wetness(m)[0]
}

// drawWetting draws a film that wets and dries.
func drawWetting(t *rapid.T) Wetting {
	part := func(label string) float64 { return rapid.Float64Range(0, 1).Draw(t, label) }
	w := Wetting{
		Dries: time.Duration(rapid.Int64Range(int64(shortestDrying), int64(time.Hour)).Draw(t, "dries")),
		Leak:  3 * part("leak"), Drip: part("drip"), Wet: part("wet"),
	}
	if w.Leak > 0 {
		w.Steam = rapid.IntRange(0, 3).Draw(t, "steam")
	}
	if rapid.Bool().Draw(t, "power") {
		w.Exponent = rapid.Float64Range(0.1, 10).Draw(t, "exponent")
	}
	if rapid.Bool().Draw(t, "coated") {
		w.Coating = rapid.Float64Range(1, 1e6).Draw(t, "coating")
	}
	return w
}

// From a closed form: a film that is wet through and has no leak dries as
// exp(−t/τ), however often it is looked at, and in the end there is none.
func TestDriesToZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, err := Set{{Fault: "film-opto", Channel: 1, Severity: 1, Course: Course{Wetting: Wetting{Dries: 10 * time.Minute, Wet: 1}}}}.Start(1)
		if err != nil {
			t.Fatal(err)
		}
		at := time.Duration(0)
		for range rapid.IntRange(1, 30).Draw(t, "looks") {
			at += time.Duration(rapid.Int64Range(1, int64(5*time.Minute)).Draw(t, "later"))
			if got, want := wetnessAt(r, cold(at)), math.Exp(-at.Minutes()/10); math.Abs(got-want) > 1e-12 {
				t.Fatalf("at %v: found wetness %g, expected %g", at, got, want)
			}
		}
		if s := severityAt(r, at+time.Hour+2*time.Minute); s != 0 {
			t.Fatalf("found severity %g after more than six time constants, expected none", s)
		}
	})
}

// The settled wetness by hand: the saturation pressure at 120 °C is
// 198.67 kPa (steam tables of IAPWS-IF97, rounded; from memory), which is
// 0.9735 bar above 101.325 kPa. A boiler below the boiling point of the place
// pushes no steam out.
func TestSettledWetness(t *testing.T) {
	for _, c := range []struct {
		text  string
		water float64
		want  float64
	}{
		{"leak=50 %,steam=3", 120, 0.5 * 0.9735},
		{"leak=50 %,steam=3,drip=10 %", 120, 0.1 + 0.5*0.9735},
		{"leak=50 %,steam=steam", 99.9, 0},
		{"leak=50 %,drip=10 %", 120, 0.1}, // its own boiler is cold
		{"leak=50 %,steam=3", math.NaN(), 0},
		{"leak=50 %,steam=3", -5, 0},
		{"leak=500 %,steam=3", 120, 1},
		{"leak=1 %,steam=3", 2000, 1}, // beyond the critical point
		{"dew-point=19 °C", 120, 0},
		{"dew-point=21 °C", 120, 1},
		{"dew-point=20 °C", 120, 0},
	} {
		r := started(t, 1, "dye:film-opto,dries=1 s,"+c.text)
		r.Version(steamAt(0, c.water))
		if got := wetnessAt(r, steamAt(time.Hour, c.water)); math.Abs(got-c.want) > 2e-4 {
			t.Errorf("%s at %g °C: found wetness %g, expected %g", c.text, c.water, got, c.want)
		}
	}
	// The pressure of the place counts: 120 °C at 150 kPa is 0.4867 bar.
	r := started(t, 1, "dye:film-opto,dries=1 s,leak=1,steam=3")
	m := steamAt(time.Hour, 120)
	m.AmbientPressure = 150e3
	if got := wetnessAt(r, m); math.Abs(got-0.4867) > 2e-4 {
		t.Errorf("found wetness %g at an ambient pressure of 150 kPa, expected 0.4867", got)
	}
}

// However the time is cut, the wetness is the same: the settled wetness goes
// evenly between two moments, and where it does so anyway the cuts are not
// seen.
func TestWettingDoesNotDependOnSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tau := time.Duration(rapid.Int64Range(int64(time.Second), int64(time.Hour)).Draw(t, "tau"))
		total := time.Duration(rapid.Int64Range(int64(time.Second), int64(10*time.Hour)).Draw(t, "total"))
		w0, a, b := rapid.Float64Range(0, 1).Draw(t, "w0"), rapid.Float64Range(0, 1).Draw(t, "a"), rapid.Float64Range(0, 1).Draw(t, "b")
		want := follow(w0, a, b, total, tau)
		n := rapid.IntRange(2, 500).Draw(t, "steps")
		got, at := w0, time.Duration(0)
		target := func(t time.Duration) float64 { return a + (b-a)*t.Seconds()/total.Seconds() }
		for k := 1; k <= n; k++ {
			next := time.Duration(float64(total) * float64(k) / float64(n))
			got = follow(got, target(at), target(next), next-at, tau)
			at = next
		}
		if math.Abs(got-want) > 1e-9 {
			t.Fatalf("found wetness %g in %d steps, expected %g", got, n, want)
		}
		if want < min(w0, a, b)-1e-15 || want > max(w0, a, b)+1e-15 {
			t.Fatalf("found wetness %g, expected it between %g, %g and %g", want, w0, a, b)
		}
	})
}

// The closed form against a plain explicit integration of dw/dt = (w_s − w)/τ
// with small steps.
func TestWettingAgainstSmallSteps(t *testing.T) {
	const w0, a, b, n = 0.2, 0.9, 0.3, 200000
	tau, total := 7*time.Minute, 20*time.Minute
	w, dt := w0, total.Seconds()/n
	for k := range n {
		s := a + (b-a)*(float64(k)+0.5)/n
		w += dt * (s - w) / tau.Seconds()
	}
	// An explicit step is off by less than dt/τ in all.
	if got := follow(w0, a, b, total, tau); math.Abs(got-w) > dt/tau.Seconds() {
		t.Errorf("found wetness %g, expected %g", got, w)
	}
}

// More leak, drip, pressure or wetness at the onset never makes it drier.
func TestWettingIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		less := drawWetting(t)
		less.Steam = 3
		more := less
		switch rapid.SampledFrom([]string{"leak", "drip", "wet"}).Draw(t, "more") {
		case "leak":
			more.Leak += rapid.Float64Range(0, 1).Draw(t, "by")
		case "drip":
			more.Drip = rapid.Float64Range(less.Drip, 1).Draw(t, "to")
		case "wet":
			more.Wet = rapid.Float64Range(less.Wet, 1).Draw(t, "to")
		}
		if less.Leak == 0 {
			less.Steam = 0
		}
		if more.Leak == 0 {
			more.Steam = 0
		}
		run := func(w Wetting) *Run {
			r, err := Set{{Fault: "film-triac", Channel: 1, Severity: 1, Course: Course{Wetting: w}}}.Start(1)
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		x, y := run(less), run(more)
		at := time.Duration(0)
		for range rapid.IntRange(1, 20).Draw(t, "looks") {
			at += time.Duration(rapid.Int64Range(1, int64(10*time.Minute)).Draw(t, "later"))
			m := steamAt(at, rapid.Float64Range(20, 140).Draw(t, "water"))
			if a, b := wetnessAt(x, m), wetnessAt(y, m); a > b+1e-12 || a < 0 || b > 1 {
				t.Fatalf("at %v: found wetness %g and %g with more of it", at, a, b)
			}
		}
	})
}

// The conductance of the path is g_wet·wⁿ/k at the step of wetness, where it
// is above that of 1 GΩ, and the severity 0 is no film.
func TestFilmConductance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWetting(t)
		j := New("film-gate", 1).With("resistance", rapid.Float64Range(100, 1e6).Draw(t, "resistance"))
		j.Severity = rapid.Float64Range(0, 1).Draw(t, "severity")
		j.Course.Wetting = w
		r, err := Set{j}.Start(1)
		if err != nil {
			t.Fatal(err)
		}
		m := steamAt(0, 125)
		r.Version(m)
		m.Time = time.Duration(rapid.Int64Range(1, int64(2*time.Hour)).Draw(t, "time"))
		b := healthyBoard(models.LineSide, models.MT1Supply)
		if err := r.Edit(b, m); err != nil {
			t.Fatal(err)
		}
		step := float64(r.states[0].film.step) / wetSteps
		if wet := r.Wetness(m)[0]; math.Abs(step-wet) > wetDeadband/wetSteps {
			t.Fatalf("found step %g of a wetness of %g, expected it within three quarters of a step", step, wet)
		}
		static := j
		static.Course = Course{}
		still, err := Set{static}.Applied(healthyBoard(models.LineSide, models.MT1Supply))
		if err != nil {
			t.Fatal(err)
		}
		if len(still.Bridges) == 0 {
			if len(b.Bridges) > 0 {
				t.Fatal("found a film of severity 0")
			}
			return
		}
		want := math.Pow(step, orOne(w.Exponent)) / orOne(w.Coating) / float64(still.Bridges[0].Resistance)
		switch {
		case len(b.Bridges) == 0 && want > 1.0000001/nothing:
			t.Fatalf("found no film, expected %g S", want)
		case len(b.Bridges) > 0 && math.Abs(1/float64(b.Bridges[0].Resistance)/want-1) > 1e-9:
			t.Fatalf("found %g S, expected %g S", 1/float64(b.Bridges[0].Resistance), want)
		}
	})
}

// Ohm's law on a round number: 10 kΩ, half wet, squared, coated a
// hundredfold, is 4 MΩ.
func TestCoatingDivides(t *testing.T) {
	resistance := func(text string) float64 {
		r := started(t, 1, text)
		b := healthyBoard(models.LineSide, models.MT1Supply)
		if err := r.Edit(b, cold(0)); err != nil {
			t.Fatal(err)
		}
		return float64(b.Bridges[0].Resistance)
	}
	for text, want := range map[string]float64{
		"dye:film-opto,dries=1 h,wet=100 %":                              10e3,
		"dye:film-opto,dries=1 h,wet=50 %":                               20e3,
		"dye:film-opto,dries=1 h,wet=50 %,exponent=2":                    40e3,
		"dye:film-opto,dries=1 h,wet=50 %,exponent=2,coating=100":        4e6,
		"dye:film-earth,dries=1 h,wet=100 %,coating=100":                 2e6,
		"dye:film-gate,resistance=1 kΩ,dries=1 h,wet=25 %":               4e3,
		"dye:film-triac,resistance=1 GΩ,dries=1 h,wet=1":                 1e9,
		"dye:film-triac,severity=50 %,resistance=1 kΩ,dries=1 h,wet=0.5": 2e6,
	} {
		if got := resistance(text); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("%s: found %g Ω, expected %g Ω", text, got, want)
		}
	}
	// What is applied whole is as wet as it gets, behind its coating.
	b, err := parsed(t, "dye:film-opto,dries=1 h,exponent=2,coating=100").Applied(healthyBoard(models.LineSide, models.MT1Supply))
	if err != nil || math.Abs(float64(b.Bridges[0].Resistance)/1e6-1) > 1e-12 {
		t.Errorf("found %v, %v, expected 1 MΩ", b.Bridges, err)
	}
}

// The contract with a simulation for a film: equal versions are equal boards,
// one moment has one version, a version changes by one step of wetness, and a
// film at rest between two steps changes nothing.
func TestWettingVersions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := New("film-opto", 1)
		j.Course.Wetting = drawWetting(t)
		j.Onset.From = time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "from"))
		s := Set{j, New("triac-open", 0)}
		r, err := s.Start(1)
		if err != nil {
			t.Fatal(err)
		}
		healthy := healthyBoard(models.LineSide, models.MT1Supply)
		boards := map[uint64]*models.Board{}
		for _, m := range randomMoments(t) {
			v, next := r.Version(m)
			if again, n := r.Version(m); again != v || n != next || next <= m.Time {
				t.Fatalf("at %v: found version %d until %v, then %d until %v", m.Time, v, next, again, n)
			}
			b := healthy.Clone()
			if err := r.Edit(b, m); err != nil {
				t.Fatal(err)
			}
			if old := boards[v]; old != nil && !reflect.DeepEqual(old, b) {
				t.Fatalf("found two boards under version %d", v)
			}
			boards[v] = b
		}
	})
	// A wetness that swings by less than half a step leaves the version.
	j := New("film-opto", 1)
	j.Course.Wetting = Wetting{Dries: time.Second, Drip: 0.5, Leak: 0.004, Steam: 3}
	r, err := Set{j}.Start(1)
	if err != nil {
		t.Fatal(err)
	}
	versions := map[uint64]bool{}
	for k := range 200 {
		v, _ := r.Version(steamAt(time.Duration(k)*10*time.Second, []float64{110, 125}[k%2]))
		if k > 2 {
			versions[v] = true
		}
	}
	if len(versions) != 1 {
		t.Errorf("found %d versions of a wetness that swings by a third of a step, expected one", len(versions))
	}
}

// Half a step lies between the wetness at which a step is taken and that at
// which it is given up.
func TestWettingSteps(t *testing.T) {
	level := func(f *film, w float64) int {
		f.wetness, f.settled = w/wetSteps, w/wetSteps
		j := New("film-opto", 0)
		j.Course.Wetting = Wetting{Dries: longest, Drip: w / wetSteps}
		f.at -= time.Nanosecond
		m := cold(0)
		f.show(&j, 0, &m)
		return f.step
	}
	f := &film{begun: true, step: 10}
	for _, c := range []struct {
		wet  float64
		step int
	}{{10.5, 10}, {10.74, 10}, {10.76, 11}, {10.5, 11}, {10.26, 11}, {10.24, 10}, {30, 30}, {0.2, 0}, {0.7, 0}, {63.9, 64}} {
		if got := level(f, c.wet); got != c.step {
			t.Errorf("at %g steps: found step %d, expected %d", c.wet, got, c.step)
		}
	}
}

// A film without the keys of wetness is what it was: the same severities, the
// same number of versions, no wetness.
func TestStaticFilm(t *testing.T) {
	r := started(t, 1, "dye:film-opto,severity=37 %,from=1 min")
	if v, next := r.Version(cold(0)); v != 0 || next != time.Minute {
		t.Errorf("found version %d until %v", v, next)
	}
	if v, next := r.Version(cold(time.Minute)); v != 1 || next != never || severityAt(r, time.Minute) != 0.37 {
		t.Errorf("found version %d until %v at severity %g, expected 1, never, 0.37", v, next, severityAt(r, time.Minute))
	}
	if w := r.Wetness(cold(time.Minute))[0]; !math.IsNaN(w) {
		t.Errorf("found wetness %g of a film that has none", w)
	}
}

func TestParseWetting(t *testing.T) {
	j := New("film-opto", 1)
	j.Course.Wetting = Wetting{Dries: 10 * time.Minute, Leak: 0.5, Steam: 3, Drip: 0.1, Wet: 0.4, Exponent: 2, DewPoint: 15, Coating: 100}
	const text = "dye:film-opto,leak=0.5,steam=3,dries=10 min,exponent=2,dew-point=15 °C,coating=100,wet=40 %,drip=0.1"
	got, err := Parse(text, studio)
	if err != nil || !reflect.DeepEqual(got, j) {
		t.Fatalf("found %+v, %v, expected %+v", got, err, j)
	}
	const back = "dye:film-opto,dries=10 min,leak=50 %,steam=steam,drip=10 %,wet=40 %,exponent=2,dew-point=15 °C,coating=100"
	if s := got.Text(studio); s != back {
		t.Errorf("found it written %q, expected %q", s, back)
	}
	for _, c := range []struct {
		text     string
		position int
		found    string
		expected string
	}{
		{"dye:scale,dries=10 min", 11, `the key "dries"`, "a key of scale (factor)"},
		{"dye:film-opto,drys=10 min", 15, `the key "drys"`, "did you mean dries?"},
		{"dye:film-opto,leak=50 %", 20, "50 %", "dries with it"},
		{"dye:film-opto,dries=0 s", 21, `"0 s"`, "1 s to"},
		{"dye:film-opto,dries=10", 21, "a number without a unit", "a time"},
		{"dye:film-opto,dries=1 min,wet=2", 31, "2", "0 to 1"},
		{"dye:film-opto,dries=1 min,coating=0.5", 35, "50 %", "1 to"},
		{"dye:film-opto,dries=1 min,exponent=0", 36, "0", "10 % to 10"},
		{"dye:film-opto,dries=1 min,dew-point=0 °C", 37, "0 °C", "100 °C"},
		{"dye:film-opto,dries=1 min,dew-point=15 K", 37, "a temperature difference", "a temperature"},
		{"dye:film-opto,dries=1 min,leak=1,steam=rinse", 40, `"rinse"`, "one of the channels"},
		{"dye:film-opto,dries=1 min,steam=3", 33, "a boiler", "leak with it"},
		{"dye:film-opto,dries=1 min,growing=1 h", 35, "a growing severity", "none"},
		{"dye:film-opto,dries=1 min,on=1 s,off=1 s", 5, "an intermittent film that wets and dries (course)", "one of the two"},
		{"dye:film-opto,dries=1 min,dries=2 min", 27, "the key dries again", "once"},
	} {
		_, err := Parse(c.text, studio)
		e, ok := err.(*ParseError)
		if !ok || e.Position != c.position || e.Found != c.found || !strings.Contains(e.Expected, c.expected) {
			t.Errorf("%s: found %v, expected position %d, found %s, expected …%s…", c.text, err, c.position, c.found, c.expected)
		}
	}
	// What no text can say is refused as well.
	nan := math.NaN()
	for _, w := range []Wetting{{Dries: -1}, {Dries: time.Hour, Leak: nan}, {Dries: time.Hour, Wet: -1}, {Dries: time.Hour, Exponent: math.Inf(1)},
		{Dries: time.Hour, Coating: 0.5}, {Dries: longest + 1}, {Dries: time.Hour, Leak: 1, Steam: -1}, {Wet: 1}} {
		j.Course.Wetting = w
		if j.Check(nil) == nil {
			t.Errorf("found %+v taken", w)
		}
	}
	j.Course.Wetting = Wetting{Dries: time.Hour, Leak: 1, Steam: 4}
	if err := j.Check(healthyBoard(models.LineSide, models.MT1Supply)); err == nil || !strings.Contains(err.Error(), "1 to 3") {
		t.Errorf("found %v, expected channel 4 of 3 refused", err)
	}
	k := New("scale", 1)
	k.Course.Wetting = Wetting{Dries: time.Hour}
	if k.Check(nil) == nil {
		t.Error("found scale taken as a film")
	}
}

func TestWettingKeys(t *testing.T) {
	known := map[string]bool{}
	for _, k := range CommonKeys() {
		known[k.Name] = true
	}
	text := "dye:film-gate"
	for _, k := range WettingKeys() {
		if known[k.Name] || len(k.Doc) < 8 {
			t.Errorf("found the key %+v, expected a name and a doc of its own", k)
		}
		known[k.Name] = true
		text += "," + k.Name + "=" + k.Example
	}
	if _, err := Parse(text, studio); err != nil {
		t.Error(err)
	}
	for i := range catalogue {
		f := &catalogue[i]
		if f.Wets != (f.Part == ContaminationPart) {
			t.Errorf("%s: found Wets %v of part %s", f.Name, f.Wets, f.Part)
		}
		for _, k := range f.Keys {
			if f.Wets && (known[k.Name] || k.Name != filmKey) {
				t.Errorf("%s: found the key %s, expected %s alone", f.Name, k.Name, filmKey)
			}
		}
	}
}
