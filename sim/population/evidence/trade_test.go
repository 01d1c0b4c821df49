package evidence_test

import (
	"math"
	"testing"

	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: found %v, expected %v ± %v", what, got, want, within)
	}
}

// full is a spec without tolerances in which faults have their full severity.
func full(places ...population.Place) population.Spec {
	s := exact()
	for _, at := range places {
		s.Rates.Faults = append(s.Rates.Faults, population.Rate{Place: at, Weight: 1})
	}
	return s
}

// TestHalfWave: of a full sine, a half-wave has half the mean of |v| and half
// the mean of v²; so a direct-coupled meter that averages and is calibrated on a
// sine shows 0.50 of the full wave's rms and one of true rms 1/√2 of it, and the
// mean of v is √2/π of it. IEC 60050-103 (mean and root-mean-square value, form
// factor); the drop of the triac and the meter's steps are within 2 %.
func TestHalfWave(t *testing.T) {
	at := population.Place{Fault: "triac-one-way", Channel: 1}
	p := drawn(t, boardfile.Default(), full(at))
	plan := planned(t, p,
		find(t, p, "volts", "supply", "standby", "rms"),
		find(t, p, "volts", "dye:output", "standby", "average"), find(t, p, "volts", "dye:output", "standby", "rms"),
		find(t, p, "volts", "dye:output", "standby", "direct"), find(t, p, "warms", "dye", "standby"), find(t, p, "warms", "soak", "standby"))
	v := observed(t, plan, given(t, p, 0, at))
	supply := v[0]
	near(t, "average", v[1]/supply, 0.5, 0.01)
	near(t, "rms", v[2]/supply, 1/math.Sqrt2, 0.014)
	near(t, "direct", math.Abs(v[3])/supply, math.Sqrt2/math.Pi, 0.009)
	near(t, "share of the power", v[4], 0.5, 0.02)
	near(t, "share of a healthy neighbour", v[5], 0, 0.001)
}

// TestPlug: a resistive load on a sine draws P = V²/R and I = V/R (Ohm's and
// Joule's laws): the plates of the three elements, less what the supply's
// impedance and the triacs drop, a few percent of the voltage.
func TestPlug(t *testing.T) {
	b := boardfile.Default()
	p := drawn(t, b, exact())
	plan := planned(t, p, find(t, p, "plug_watts", "heating"), find(t, p, "plug_amps", "heating"), find(t, p, "plug_watts", "standby"),
		find(t, p, "amps", "supply-lead", "heating", "clamp-hall"), find(t, p, "warms", "steam", "heating"),
		find(t, p, "tripped", "fuse"), find(t, p, "tripped", "residual-current-device"))
	v := observed(t, plan, given(t, p, 0))
	watts := 1200.0 + 1500 + 1000 // the plates of the board
	near(t, "power", v[0], watts*0.95, 0.05*watts)
	near(t, "current", v[1], v[0]/float64(b.Supply.Voltage), 0.03*v[1])
	near(t, "clamp", v[3], v[1], 0.02*v[1])
	near(t, "standby", v[2], 0, 2)
	near(t, "share", v[4], v[0]/watts, 0.01)
	near(t, "fuse", v[5], 0, 0)
	near(t, "residual-current device", v[6], 0, 0)
}

// TestUnplugged: an element's resistance is V²/P of its plate; a probe that is
// open and a path that is open read open (common practice, no source).
func TestUnplugged(t *testing.T) {
	b := boardfile.Default()
	open, probe := population.Place{Fault: "element-open", Channel: 1}, population.Place{Fault: "probe-open", Channel: 2}
	p := drawn(t, b, full(open, probe))
	plan := planned(t, p, find(t, p, "ohms", "soak:element"), find(t, p, "ohms", "dye:element"), find(t, p, "probe_ohms", "soak"), find(t, p, "probe_ohms", "steam"), find(t, p, "insulation"))
	v := observed(t, plan, given(t, p, 0, open, probe))
	near(t, "element", v[0], 230*230/1200.0, 0.05*230*230/1200)
	if !(v[1] > 100*v[0]) {
		t.Errorf("open element: found %v Ω, expected far more than %v Ω", v[1], v[0])
	}
	if !(v[2] > 0) || math.IsInf(v[2], 0) {
		t.Errorf("probe: found %v Ω, expected a resistance", v[2])
	}
	if !math.IsInf(v[3], 1) {
		t.Errorf("open probe: found %v Ω, expected open", v[3])
	}
	if !(v[4] >= 1e6) { // IEC 60335-1 asks for 2 MΩ of basic insulation (from memory)
		t.Errorf("insulation: found %v Ω, expected megohms", v[4])
	}
}

// TestWarmUp: water that is heated without losses rises by P/(m·c) (4180 J/(kg·K)
// near 40 °C, IAPWS R7-97); with the metal that is heated along, and losses, more slowly. A
// dead triac never heats; one that is shorted in standby warms the lid.
func TestWarmUp(t *testing.T) {
	b := boardfile.Default()
	open, shorted := population.Place{Fault: "triac-open", Channel: 0}, population.Place{Fault: "triac-shorted", Channel: 1}
	p := drawn(t, b, full(open, shorted))
	var wanted []evidence.Observable
	for _, form := range []string{"slope", "warm_up", "peak", "final", "overshoot", "indicator"} {
		for _, name := range []string{"soak", "dye"} {
			wanted = append(wanted, find(t, p, form, name))
		}
	}
	wanted = append(wanted, find(t, p, "temperature", "dye", "0"), find(t, p, "temperature", "dye", "60"), find(t, p, "lid_rise"))
	plan := planned(t, p, wanted...)
	at := func(values []float64, form, name string) float64 {
		for i, o := range wanted {
			if o.Form == form && (len(o.Args) == 0 || o.Args[0] == name) {
				return values[i]
			}
		}
		t.Fatalf("%s %s is not observed", form, name)
		return 0
	}
	word := func(values []float64, name string) string {
		return find(t, p, "indicator", name).Words[int(at(values, "indicator", name))]
	}
	healthy := observed(t, plan, given(t, p, 0))
	lossless := 1500.0 / (2.0 * 4180) * 60 // the dye boiler's plate and water
	if s := at(healthy, "slope", "dye"); !(s > 0.5*lossless && s < lossless) {
		t.Errorf("slope: found %v K/min, expected less than %v K/min, and more than half of it", s, lossless)
	}
	set := 85.0
	if w := at(healthy, "warm_up", "dye"); !(w > (set-float64(b.Ambient)-3)/lossless && w < 60) {
		t.Errorf("warm-up: found %v min, expected within the hour", w)
	}
	near(t, "start", at(healthy, "temperature", "dye"), float64(b.Ambient), 0.5)
	near(t, "end", healthy[len(wanted)-2], at(healthy, "final", "dye"), 1)
	near(t, "final", at(healthy, "final", "dye"), set, 2)
	near(t, "overshoot", at(healthy, "overshoot", "dye"), math.Max(0, at(healthy, "peak", "dye")-set), 1e-9)
	if got := word(healthy, "dye"); got != "in band" {
		t.Errorf("indicator: found %q, expected in band", got)
	}
	near(t, "lid in standby", at(healthy, "lid_rise", ""), 0, 1)

	dead := observed(t, plan, given(t, p, 0, open))
	if w := at(dead, "warm_up", "soak"); !math.IsInf(w, 1) {
		t.Errorf("warm-up without a triac: found %v min, expected never", w)
	}
	if got := word(dead, "soak"); got != "heating" {
		t.Errorf("indicator without a triac: found %q, expected heating", got)
	}
	hot := observed(t, plan, given(t, p, 0, shorted))
	if o := at(hot, "overshoot", "dye"); !(o > 5) {
		t.Errorf("overshoot of a shorted triac: found %v K, expected above 5 K", o)
	}
	if r := at(hot, "lid_rise", ""); !(r > 3) {
		t.Errorf("lid over a shorted triac in standby: found %v K, expected above 3 K", r)
	}
}

// TestProbeKeepsCold: a thermistor that falls with temperature and is shorted
// reads hot, so that its channel is not driven while the others heat (common
// practice, no source).
func TestProbeKeepsCold(t *testing.T) {
	at := population.Place{Fault: "probe-shorted", Channel: 1}
	p := drawn(t, boardfile.Default(), full(at))
	plan := planned(t, p, find(t, p, "warms", "dye", "heating"), find(t, p, "warms", "soak", "heating"),
		find(t, p, "volts", "dye:output", "heating", "rms"), find(t, p, "volts", "soak:output", "heating", "rms"), find(t, p, "probe_ohms", "dye"))
	v := observed(t, plan, given(t, p, 0, at))
	near(t, "share of its element", v[0], 0, 1e-3)
	if !(v[1] > 0.9) {
		t.Errorf("share of its neighbour: found %v, expected nearly all", v[1])
	}
	near(t, "output", v[2], 0, 1)
	if !(v[3] > 200) {
		t.Errorf("output of its neighbour: found %v V, expected the supply", v[3])
	}
	if !(v[4] < 10) {
		t.Errorf("probe: found %v Ω, expected nearly nothing", v[4])
	}
}
