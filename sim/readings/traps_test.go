package readings_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// This file holds the traps that a technician meets at the test points. Each
// tells which reading misleads, and which one separates. Where a comment names
// no source the trap is common practice, no source; its figures are the laws of
// Ohm and Kirchhoff.

// with returns b with faults, written as at the command line, in it.
func with(t testing.TB, b *models.Board, texts ...string) *models.Board {
	t.Helper()
	var names []string
	for _, c := range b.Channels {
		names = append(names, c.Name)
	}
	set, err := faults.ParseSet(texts, names)
	if err != nil {
		t.Fatal(err)
	}
	faulty, err := set.Applied(b)
	if err != nil {
		t.Fatal(err)
	}
	return faulty
}

// ideal is a board of one channel on an ideal 240 V 50 Hz source, with 48 Ω for
// a load and a triac without any drop.
func ideal(t testing.TB) *models.Board {
	b := textbook(t, 240)
	c := &b.Channels[0]
	c.Snubber = models.Snubber{}
	c.Triac.Threshold, c.Triac.Slope = 0, 0
	return b
}

// shows returns what the named meter makes of a named point.
func shows(t testing.TB, b *models.Board, name, meterName string, s readings.State) float64 {
	t.Helper()
	return look(t, b, point(t, b, name), meterName, conditions(b, s)).Indicated
}

// firing returns the angle in degrees at which the first channel fires in the
// even half-cycle of a settled board; NaN for never.
func firing(t testing.TB, b *models.Board, c readings.Conditions) float64 {
	t.Helper()
	w, err := readings.Record(b, c, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range circuit.Conduction(w.Recording.Events, 0) {
		if a.Half == w.First {
			return a.Firing
		}
	}
	return math.NaN()
}

// rmsFrom is the rms of a sine of unit rms that begins at an angle in degrees
// in each half-cycle (texts on power electronics, phase control):
//
//	√(1 − α/π + sin 2α/(2π))
func rmsFrom(degrees float64) float64 {
	a := degrees * math.Pi / 180
	return math.Sqrt(1 - a/math.Pi + math.Sin(2*a)/(2*math.Pi))
}

// TestTrapOpenLoadLooksLive: with the load open anywhere, a 10 MΩ meter shows
// nearly the supply on the output in standby, which looks like a shorted
// triac. A 3 kΩ meter shows volts: the supply stands behind the snubber's
// reactance. With the drive on the 3 kΩ meter is itself a load that latches
// the triac, and shows the supply.
func TestTrapOpenLoadLooksLive(t *testing.T) {
	healthy := embedded(t, "dye-bench-240")
	c := &healthy.Channels[0]
	through := func(meter float64) float64 {
		w := 2 * math.Pi * 50
		series := complex(float64(c.Snubber.Resistance), -1/(w*float64(c.Snubber.Capacitance)))
		leak := c.Triac.OffAt(20) + 1/(1/float64(c.Opto.Off)+float64(c.GateResistance+c.GateShunt))
		z := 1 / (1/series + complex(leak, 0))
		return 240 * cmplx.Abs(complex(meter, 0)/(complex(meter, 0)+z))
	}
	for _, x := range []string{"element-open", "link-open", "wire-open"} {
		b := with(t, healthy, "soak:"+x)
		// An open link leaves 5 pF beside the meter, a 2000th of the snubber's.
		near(t, x+", 10 MΩ", shows(t, b, "soak:output", "rms", readings.Standby), through(1e7), 240, 6e-4)
		near(t, x+", 3 kΩ", shows(t, b, "soak:output", "low-impedance", readings.Standby), through(3e3), through(3e3), 2e-3)
		near(t, x+", 3 kΩ driven", shows(t, b, "soak:output", "low-impedance", readings.Heating), 240, 240, 0.03)
		if n := shows(t, b, "dye:output", "rms", readings.Standby); n > 0.2 {
			t.Errorf("%s: the neighbour reads %.3f V, expected hardly anything", x, n)
		}
	}
	// A shorted triac on a sound load shows the same to the 10 MΩ meter, and
	// the supply to the 3 kΩ meter too.
	b := with(t, healthy, "soak:triac-shorted")
	for _, m := range []string{"rms", "low-impedance"} {
		near(t, "shorted, "+m, shows(t, b, "soak:output", m, readings.Standby), 240, 240, 0.02)
	}
	if v := shows(t, healthy, "soak:output", "rms", readings.Standby); v > 0.1 {
		t.Errorf("a healthy output reads %.3f V, expected hardly anything", v)
	}
}

// TestTrapSmallLoad: a test lamp in place of the element. At 25 W the triac
// latches late, once the load's current reaches I_L = 50 mA, 1.102 ms after
// the zero (closed form, asin(I_L·R/V_pk)/ω); at 5 W never. The lamp lights all
// the same, for the gate path carries its current, and so it does where the
// triac is open: only the real load tells.
func TestTrapSmallLoad(t *testing.T) {
	load := func(watts float64) *models.Board {
		b := ideal(t)
		c := &b.Channels[0]
		c.Element.Resistance, c.Triac.Latching = q.Ohm(240*240/watts), 0.05
		return b
	}
	driven := func(b *models.Board) readings.Conditions {
		c := conditions(b, readings.Heating)
		c.Temps.Junction[0] = 25 // where I_L has its nominal value
		return c
	}
	for _, x := range []struct{ watts, micros float64 }{{100, 270.42006}, {25, 1102.2783}} {
		b := load(x.watts)
		near(t, fmt.Sprintf("%g W, µs to the firing", x.watts), firing(t, b, driven(b))/180*1e4, x.micros, x.micros, 1e-6)
	}
	lamp := load(5)
	if a := firing(t, lamp, driven(lamp)); !math.IsNaN(a) {
		t.Errorf("5 W: fired at %v°, expected never", a)
	}
	healthy := shows(t, lamp, "soak:output", "rms", readings.Heating)
	open := shows(t, with(t, lamp, "soak:triac-open"), "soak:output", "rms", readings.Heating)
	near(t, "5 W, open triac against a healthy one", open, healthy, 240, 1e-6)
	// R/(R + R_G + r_P) of the supply less the drops of opto and junction.
	c := &lamp.Channels[0]
	r := float64(c.Element.Resistance)
	want := 240 * r / (r + float64(c.GateResistance+c.Opto.Slope+c.Triac.GateSlope))
	if !(healthy < want && healthy > want-3) {
		t.Errorf("5 W: reads %.2f V, expected up to 3 V less than %.2f V", healthy, want)
	}
	element := ideal(t)
	near(t, "1200 W, healthy", shows(t, element, "soak:output", "rms", readings.Heating), 240, 240, 2e-3)
	if v := shows(t, with(t, element, "soak:triac-open"), "soak:output", "rms", readings.Heating); !(v > 240*48/(48+345.0)-3 && v < 240*48/(48+345.0)) {
		t.Errorf("1200 W, open triac: reads %.2f V, expected just below what R_G and 48 Ω leave", v)
	}
}

// TestTrapLeadOrder: a meter with one diode shows the whole supply or nothing
// on a half-wave, by which lead is where, and the same both ways round on a
// whole wave: 1.0 and 0.0 of the supply are its law (derived, closed form).
func TestTrapLeadOrder(t *testing.T) {
	healthy := ideal(t)
	p := point(t, healthy, "soak:output")
	swapped := p
	swapped.Plus, swapped.Minus = p.Minus, p.Plus
	read := func(b *models.Board, s readings.State) (one, other float64) {
		c := conditions(b, s)
		return look(t, b, p, "one-diode", c).Indicated, look(t, b, swapped, "one-diode", c).Indicated
	}
	one, other := read(healthy, readings.Heating)
	near(t, "healthy, leads exchanged", other, one, one, 1e-9)
	near(t, "healthy", one, 240, 240, 2e-3)
	for _, x := range []struct {
		fault      string
		all, other float64 // in the order of the test point, and exchanged
	}{
		// MT2 is the output: positive conducts while the line is negative.
		{"soak:triac-one-way,threshold=0 V,resistance=1 mΩ,polarity=positive", 0, 240},
		{"soak:triac-one-way,threshold=0 V,resistance=1 mΩ,polarity=negative", 240, 0},
	} {
		one, other := read(with(t, healthy, x.fault), readings.Standby)
		near(t, x.fault, one, x.all, 240, 1e-4)
		near(t, x.fault+", leads exchanged", other, x.other, 240, 1e-4)
	}
}

// TestTrapParallelPaths: what an ohmmeter shows in circuit is everything that
// joins its leads. A sound triac reads tens of ohms through two elements and a
// neighbour's shorted triac, and an open element reads the neighbour's; lifting
// one leg shows the part itself.
func TestTrapParallelPaths(t *testing.T) {
	healthy := embedded(t, "dye-bench-230")
	path := func(k int) float64 {
		c := &healthy.Channels[k]
		return float64(c.Element.Resistance + c.Wire + c.Link.Resistance)
	}
	ohms := func(b *models.Board, plus, minus models.Node, lifted ...string) float64 {
		return dead(t, b, readings.Ohmmeter, plus, minus, lifted...).Ohms
	}
	if r := ohms(healthy, output, line); r < 1e6 {
		t.Errorf("a healthy triac reads %g Ω in circuit, expected megohms", r)
	}
	b := with(t, healthy, "dye:triac-shorted")
	want := path(0) + path(1) + 0.02
	near(t, "a sound triac beside a shorted one", ohms(b, output, line), want, want, 1e-4)
	if r := ohms(b, output, line, "wire1"); r < 1e6 {
		t.Errorf("with its load lifted it reads %g Ω, expected megohms", r)
	}

	b = with(t, healthy, "soak:element-open", "soak:triac-shorted", "dye:triac-shorted")
	want = path(1) + 0.04
	near(t, "an open element beside shorted triacs", ohms(b, output, neutral), want, want, 1e-4)
	if d := dead(t, b, readings.Ohmmeter, wire, neutral, "wire1"); d.Ohms < 10e6 {
		t.Errorf("with one leg lifted it reads %g Ω, expected nearly open", d.Ohms)
	}

	// Film across the opto's output: across the triac it shows with R_G and
	// R_GK, and goes with the gate resistor's leg.
	b = single(t, "dye-bench-230")
	c := &b.Channels[0]
	lone := ohms(b, output, line)
	filmed := with(t, b, "soak:film-opto,resistance=100 kΩ")
	series := 1e5 + float64(c.GateResistance+c.GateShunt)
	near(t, "film on the opto, across the triac", ohms(filmed, output, line), series, series, 0.01)
	if r := ohms(filmed, output, line, "gate-resistor1"); r < lone {
		t.Errorf("with the gate resistor lifted %g Ω, expected at least the %g Ω of a clean board", r, lone)
	}
}

// TestTrapLeakOnlyHot: I_GT falls as exp(−(Tj − 25)/T_g), so that a film across
// the opto that never fires a cool triac fires a hot one. The unit is good on
// the bench and fails in use; the film shows on a cold ohmmeter all the while.
func TestTrapLeakOnlyHot(t *testing.T) {
	const leak = 15e3
	b := ideal(t)
	c := &b.Channels[0]
	filmed := with(t, b, "soak:film-opto,resistance=15 kΩ")
	at := func(tj float64) readings.Conditions {
		x := conditions(b, readings.Standby)
		x.Temps.Junction[0] = tj
		return x
	}
	// The gate current at which the crest of the supply just fires:
	// V_pk = V_J + (I + V_J/R_GK)(R_G + R_leak + R_load), V_J = V_G0 + r_G·I.
	rG, rGK := float64(c.Triac.GateSlope), float64(c.GateShunt)
	vG := float64(c.Triac.GateThreshold)
	chain := leak + float64(c.GateResistance) + 48
	peak := math.Sqrt2 * 240
	i := (peak - vG - vG/rGK*chain) / (rG + (1+rG/rGK)*chain)
	hot := 25 - float64(c.Triac.TriggerScale)*math.Log(i/float64(c.Triac.Trigger[models.QuadrantI]))
	if !(hot > 40 && hot < 100) {
		t.Fatalf("fires from %.1f °C on, expected it between a bench and a board in use", hot)
	}
	if a := firing(t, filmed, at(hot-0.01)); !math.IsNaN(a) {
		t.Errorf("just below %.1f °C: fired at %v°, expected never", hot, a)
	}
	if a := firing(t, filmed, at(hot+0.01)); !(a > 88 && a <= 90) {
		t.Errorf("just above %.1f °C: fired at %v°, expected near the crest", hot, a)
	}
	p := point(t, b, "soak:output")
	cold := look(t, filmed, p, "rms", at(25)).Indicated
	if !(cold > 0.5 && cold < 1) {
		t.Errorf("at 25 °C: reads %.3f V, expected 48 Ω's part behind 15 kΩ", cold)
	}
	a := firing(t, filmed, at(110))
	near(t, "at 110 °C", look(t, filmed, p, "rms", at(110)).Indicated, 240*rmsFrom(a), 240, 1e-3)
	if a > 60 {
		t.Errorf("at 110 °C: fired at %v°, expected well before the crest", a)
	}
	near(t, "the film, cold and unplugged", dead(t, filmed, readings.Ohmmeter, output, opto).Ohms, leak, leak, 1e-3)
	if v := look(t, b, p, "rms", at(110)).Indicated; v > 0.1 {
		t.Errorf("clean, at 110 °C: reads %.3f V, expected hardly anything", v)
	}
}

// TestTrapHalfIsTriacOrOpto: half the supply in standby comes from a triac or
// from an opto that conducts one way. Unplugged with the gate resistor lifted,
// what still conducts one way is the triac. An opto that breaks over only under
// mains voltage reads good unplugged: the live reading repeated with the gate
// resistor lifted separates it.
func TestTrapHalfIsTriacOrOpto(t *testing.T) {
	b := single(t, "dye-bench-240")
	full := shows(t, b, "soak:output", "rms", readings.Heating)
	c := &b.Channels[0]
	for _, x := range []struct {
		fault        string
		least, most  float64 // of the supply, live
		drop         [2]float64
		lifted, half bool // conducts with R_G lifted: unplugged; live
	}{
		{"soak:triac-one-way", 0.705, 0.709, [2]float64{0.85, 0.95}, true, true},
		// Opto, R_G, and what R_GK carries of 1 mA.
		{"soak:opto-one-way", 0.705, 0.709, [2]float64{1.5, 2.2}, false, false},
		// It fires where the supply passes 100 V: a little less than half.
		{"soak:opto-breakover,threshold=100 V", 0.68, 0.705, [2]float64{math.Inf(1), math.Inf(1)}, false, false},
	} {
		faulty := with(t, b, x.fault)
		if got := shows(t, faulty, "soak:output", "rms", readings.Standby) / full; !(got > x.least && got < x.most) {
			t.Errorf("%s: reads %.4f of a healthy channel, expected %g to %g", x.fault, got, x.least, x.most)
		}
		if got := math.Abs(shows(t, faulty, "soak:output", "direct", readings.Standby)) / full; !(got > 0.4 && got < 0.46) {
			t.Errorf("%s: direct voltage %.4f of a healthy channel, expected near 0.45", x.fault, got)
		}
		d := dead(t, faulty, readings.DiodeTest, output, line)
		if !(d.Volts >= x.drop[0] && d.Volts <= x.drop[1]) {
			t.Errorf("%s: diode test %g V, expected %g V to %g V", x.fault, d.Volts, x.drop[0], x.drop[1])
		}
		if back := dead(t, faulty, readings.DiodeTest, line, output); !back.Open {
			t.Errorf("%s: diode test the other way %g V, expected open", x.fault, back.Volts)
		}
		if lifted := dead(t, faulty, readings.DiodeTest, output, line, "gate-resistor1"); lifted.Open == x.lifted {
			t.Errorf("%s: with the gate resistor lifted the diode test reads %g V, expected conduction to be %v", x.fault, lifted.Volts, x.lifted)
		}
		live := shows(t, with(t, faulty, "soak:gate-resistor-open"), "soak:output", "rms", readings.Standby)
		if half := live > 0.7*full; half != x.half || !half && live > 0.5 {
			t.Errorf("%s: live with the gate resistor lifted %.3f V, expected half of the supply to be %v", x.fault, live, x.half)
		}
	}
	near(t, "drop of the triac alone", dead(t, with(t, b, "soak:triac-one-way"), readings.DiodeTest, output, line).Volts,
		float64(c.Triac.Threshold)+1e-3*float64(c.Triac.Slope), 1, 1e-4)
}

// TestTrapLateFiringReadsHalf: a leak across the opto that fires near 90° gives
// an average-responding meter and a direct-coupled true-rms meter exactly what
// a half-wave gives: 0.5 and √½ of the supply. The direct-voltage range tells:
// 0.45 of the supply for the half-wave, nothing for late firing (form factors
// in closed form); a coupled true-rms meter tells as well, 0.545 against
// 0.707.
func TestTrapLateFiringReadsHalf(t *testing.T) {
	healthy := ideal(t)
	c := &healthy.Channels[0]
	// v = V_J + (I_GT + V_J/R_GK)(R_G + R_leak) + R_load·i at 89.9°.
	igt := c.Triac.TriggerAt(models.QuadrantI, 20)
	vJ := float64(c.Triac.GateThreshold) + float64(c.Triac.GateSlope)*igt
	i := igt + vJ/float64(c.GateShunt)
	leak := (math.Sqrt2*240*math.Sin(89.9*math.Pi/180)-vJ)/i - float64(c.GateResistance) - 48
	set := faults.Set{faults.New("film-opto", 0).With("resistance", leak)}
	late, err := set.Applied(healthy)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "firing angle", firing(t, late, conditions(late, readings.Standby)), 89.9, 90, 1e-4)
	half := with(t, healthy, "soak:triac-one-way,threshold=0 V,resistance=1 mΩ")
	for _, x := range []struct {
		meter      string
		late, half float64 // of the supply
	}{
		{"average", 0.5, 0.5}, {"rms", math.Sqrt2 / 2, math.Sqrt2 / 2},
		{"direct", 0, -math.Sqrt2 / math.Pi}, {"rms-coupled", math.Sqrt2 / 2, 0.545305082239}, {"average-coupled", 0.5, 0.551101965822},
	} {
		near(t, x.meter+", late firing", shows(t, late, "soak:output", x.meter, readings.Standby)/240, x.late, 1, 4e-3)
		near(t, x.meter+", half-wave", shows(t, half, "soak:output", x.meter, readings.Standby)/240, x.half, 1, 1e-4)
	}
	near(t, "no direct voltage", shows(t, late, "soak:output", "direct", readings.Standby), 0, 240, 1e-6)
}

// TestTrapNeutralSide: with the triac in the neutral a healthy output is at the
// supply's voltage against earth in standby, which on a board with its triacs in
// the line means a shorted triac; and a shorted one is near earth. Across the
// load both boards read alike.
func TestTrapNeutralSide(t *testing.T) {
	for _, x := range []struct {
		board           string
		healthy, broken float64 // to earth
	}{{"dye-bench-230", 0, 230}, {"neutral-side-230", 230, 0}} {
		healthy := embedded(t, x.board)
		shorted := with(t, healthy, "soak:triac-shorted")
		near(t, x.board+", healthy to earth", shows(t, healthy, "soak:output-earth", "rms", readings.Standby), x.healthy, 230, 1e-3)
		near(t, x.board+", shorted to earth", shows(t, shorted, "soak:output-earth", "rms", readings.Standby), x.broken, 230, 0.015)
		near(t, x.board+", healthy across the load", shows(t, healthy, "soak:output", "rms", readings.Standby), 0, 230, 1e-3)
		near(t, x.board+", shorted across the load", shows(t, shorted, "soak:output", "rms", readings.Standby), 230, 230, 0.015)
	}
}

// TestTrapEarthForNeutral: a meter's lead on protective earth instead of on the
// neutral reads almost the same on a sound board, misses a bad neutral joint,
// and where the earth is missing calls a live conductor nearly dead.
func TestTrapEarthForNeutral(t *testing.T) {
	b := single(t, "dye-bench-230")
	both := func(b *models.Board) (toNeutral, toEarth float64) {
		return shows(t, b, "soak:output", "rms", readings.Heating), shows(t, b, "soak:output-earth", "rms", readings.Heating)
	}
	n, e := both(b)
	near(t, "sound board", e, n, 230, 0.005)

	loose := with(t, b, "board:loose-neutral,resistance=10 Ω")
	n, e = both(loose)
	c, s := &b.Channels[0], &b.Supply
	r := float64(c.Element.Resistance + c.Wire + c.Link.Resistance)
	z := cmplx.Abs(complex(r+float64(s.LineResistance+s.NeutralResistance)+10, 2*math.Pi*50*float64(s.LineInductance+s.NeutralInductance)))
	near(t, "loose neutral, to neutral", n, 230*r/z, 230, 0.006)
	near(t, "loose neutral, to earth", e, 230*(r+10+float64(s.NeutralResistance))/z, 230, 0.006)
	near(t, "loose neutral, neutral to earth", shows(t, loose, "neutral-earth", "rms", readings.Heating), 230*10/z, 230, 0.003)
	if v := shows(t, loose, "neutral-earth", "rms", readings.Standby); v > 0.1 {
		t.Errorf("loose neutral, unloaded: %.3f V from neutral to earth, expected hardly anything", v)
	}

	floating := with(t, b, "board:earth-missing")
	near(t, "missing earth, line to earth, 10 MΩ", shows(t, floating, "line-earth", "rms", readings.Standby),
		230*1e7/(1e7+float64(c.Element.Insulation)), 230, 1e-4)
	if v := shows(t, floating, "line-earth", "low-impedance", readings.Standby); v > 0.01 {
		t.Errorf("missing earth, line to earth, 3 kΩ: %.4f V, expected nothing", v)
	}
	near(t, "missing earth, line to neutral", shows(t, floating, "supply", "rms", readings.Standby), 230, 230, 1e-4)
}

// TestTrapTwinElements: with two elements of nearly equal power an energy
// monitor shows that one channel is dead and not which, even where the elements
// are known to 2 %; a meter on the outputs does.
func TestTrapTwinElements(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	b.Channels[1].Element.Resistance = b.Channels[0].Element.Resistance * 0.99
	rows := table(t, b, readings.Tolerance{ElementLow: -0.02, ElementHigh: 0.02})
	soakDead, dyeDead, steamDead := row(t, rows, "off on on"), row(t, rows, "on off on"), row(t, rows, "on on off")
	if !slices.Contains(rows[soakDead].Same, dyeDead) || !slices.Contains(rows[dyeDead].Same, soakDead) {
		t.Errorf("rows %+v and %+v are told apart, expected not", rows[soakDead].Power, rows[dyeDead].Power)
	}
	if d := rows[dyeDead].Power.Nominal/rows[soakDead].Power.Nominal - 1; !(math.Abs(d) < 0.006) {
		t.Errorf("one dead or the other: power differs by %.2f %%, expected about half of 1 %%", 100*d)
	}
	if slices.Contains(rows[soakDead].SamePower, steamDead) {
		t.Errorf("rows %+v and %+v are not told apart, expected 180 W between them", rows[soakDead].Power, rows[steamDead].Power)
	}
	for _, name := range []string{"soak", "dye"} {
		faulty := with(t, b, name+":opto-dead")
		for _, other := range []string{"soak", "dye", "steam"} {
			v := shows(t, faulty, other+":output", "rms", readings.Heating)
			if deadOne := other == name; deadOne != (v < 1) || !deadOne && v < 220 {
				t.Errorf("%s dead: %s reads %.2f V", name, other, v)
			}
		}
	}
}

// TestTrapExchangedSupply: with line and neutral exchanged everything works and
// reads right across loads; against earth the healthy board looks like one with
// shorted triacs, and the one with triacs in the neutral like one with triacs
// in the line.
func TestTrapExchangedSupply(t *testing.T) {
	for _, x := range []struct {
		board  string
		before float64 // of the output to earth in standby
	}{{"dye-bench-230", 0}, {"neutral-side-230", 230}} {
		b := embedded(t, x.board)
		swapped := with(t, b, "board:supply-exchanged")
		near(t, x.board+", output to earth", shows(t, b, "soak:output-earth", "rms", readings.Standby), x.before, 230, 1e-3)
		near(t, x.board+", exchanged, output to earth", shows(t, swapped, "soak:output-earth", "rms", readings.Standby), 230-x.before, 230, 1e-3)
		near(t, x.board+", exchanged, line to earth", shows(t, swapped, "line-earth", "rms", readings.Standby), 0, 230, 1e-3)
		near(t, x.board+", exchanged, neutral to earth", shows(t, swapped, "neutral-earth", "rms", readings.Standby), 230, 230, 1e-3)
		for _, s := range []readings.State{readings.Standby, readings.Heating} {
			want := shows(t, b, "soak:output", "rms", s)
			near(t, fmt.Sprintf("%s, exchanged, across the load in %v", x.board, s), shows(t, swapped, "soak:output", "rms", s), want, 230, 1e-6)
		}
	}
}

// TestTrapCrossedPlugs: with two drive plugs exchanged every part is good, and
// each channel's controller heats the other's boiler. With only soak asked for,
// soak stays cold and its controller goes on asking, until dye's thermal link
// opens.
func TestTrapCrossedPlugs(t *testing.T) {
	healthy := embedded(t, "dye-bench-230")
	crossed := with(t, healthy, "soak:drive-crossed")
	if want := []models.Crossing{{A: 0, B: 1}}; !slices.Equal(crossed.Crossings, want) {
		t.Fatalf("crossings %v, want %v", crossed.Crossings, want)
	}
	asked := conditions(crossed, readings.Heating)
	asked.Off = []bool{false, true, true}
	for _, x := range []struct {
		point, meter string
		want         float64
	}{{"soak:drive", "direct", 0}, {"dye:drive", "direct", 12}, {"soak:output", "rms", 0}, {"dye:output", "rms", 227}, {"steam:output", "rms", 0}} {
		near(t, x.point+", soak asked for", look(t, crossed, point(t, crossed, x.point), x.meter, asked).Indicated, x.want, 230, 0.01)
	}

	for k := range healthy.Channels {
		c := &healthy.Channels[k]
		c.Control.Enabled, c.Boiler.Draws = k == 0, nil
	}
	names := []string{"soak", "dye", "steam"}
	set, err := faults.ParseSet([]string{"soak:drive-crossed"}, names)
	if err != nil {
		t.Fatal(err)
	}
	edits, err := set.Start(1)
	if err != nil {
		t.Fatal(err)
	}
	r, err := sim.Run(context.Background(), healthy, sim.Options{Duration: 20 * time.Minute, Edits: edits})
	if err != nil {
		t.Fatal(err)
	}
	soak, dye, steam := r.Outcomes[0], r.Outcomes[1], r.Outcomes[2]
	if soak.Verdict != sim.Unheated || steam.Verdict != sim.Unheated || soak.Peak > 35 {
		t.Errorf("soak %q up to %.1f °C, steam %q; expected neither to be heated", soak.Verdict, soak.Peak, steam.Verdict)
	}
	if dye.Verdict != sim.LinkEnded || dye.LinkOpened <= 0 {
		t.Errorf("dye %q, expected its link to open", dye.Verdict)
	}
	// 1500 W until then, less the drops of supply and triac and what the hot
	// element has more of resistance: 2 % each, and 2.5 %.
	if p := dye.Energy / dye.LinkOpened.Seconds(); !(p > 1400 && p < 1450) {
		t.Errorf("dye took %.0f W until its link opened, expected nearly its 1500 W", p)
	}
	sound, err := sim.Run(context.Background(), healthy, sim.Options{Duration: 20 * time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	if v := sound.Outcomes[0].Verdict; v != sim.Reaches || sound.Outcomes[1].Verdict != sim.Unheated {
		t.Errorf("with plugs in their places soak %q, dye %q", v, sound.Outcomes[1].Verdict)
	}
}

// written are all readings at the given points, byte by byte, in standby and
// heating, with two tests on the unplugged board.
func written(t testing.TB, b *models.Board, points ...string) string {
	t.Helper()
	out := ""
	for _, s := range []readings.State{readings.Standby, readings.Heating} {
		for _, name := range points {
			v, err := readings.At(b, point(t, b, name), b.Meters, conditions(b, s))
			if err != nil {
				t.Fatal(err)
			}
			out += fmt.Sprintf("%+v\n", v)
		}
	}
	return out + fmt.Sprintf("%+v %+v\n", dead(t, b, readings.Ohmmeter, output, line), dead(t, b, readings.DiodeTest, output, line))
}

// complete is a board on which every fault of the catalogue can be.
func complete(t testing.TB) *models.Board {
	b := embedded(t, "dye-bench-230")
	b.Upstream = &models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 200, Capacity: 5, ToShell: 0.1}
	for k := range b.Channels {
		b.Channels[k].Thermostat = models.Thermostat{Fitted: true, Opens: 200, Closes: 190, Resistance: 10e-3, Stray: 5e-12}
	}
	return b
}

// place is where a test puts a fault: channel k, or the board.
func place(f *faults.Fault, k int) int {
	if f.Scope == faults.PerBoard {
		return faults.WholeBoard
	}
	return k
}

// TestZeroSeverityReadsHealthy: at severity zero every fault of the catalogue
// leaves every reading as it is, to the byte; at full severity many change
// one.
func TestZeroSeverityReadsHealthy(t *testing.T) {
	b := complete(t)
	points := []string{"soak:output", "line-earth"}
	want := written(t, b, points...)
	changed := 0
	for _, f := range faults.Catalogue() {
		j := faults.New(f.Name, place(&f, 0))
		j.Severity = 0
		zero, err := faults.Set{j}.Applied(b)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if got := written(t, zero, points...); got != want {
			t.Errorf("%s at severity 0: readings differ from a healthy board's:\n%s\nwant\n%s", f.Name, got, want)
		}
		j.Severity = 1
		full, err := faults.Set{j}.Applied(b)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if written(t, full, points...) != want {
			changed++
		}
	}
	if changed < 25 {
		t.Errorf("%d faults change a reading at full severity, expected at least 25 of %d", changed, len(faults.Names()))
	}
}

// TestChannelsAreAlike: on a board of equal channels the same fault on another
// channel gives the same readings, the two channels exchanged. Sound channels
// that would fire at the same instant do so one after the other, for the first
// one's current delays the next; which is first the last bit decides, and it
// moves a driven reading by up to a millivolt.
func TestChannelsAreAlike(t *testing.T) {
	b := complete(t)
	b.Couplings = nil
	for k := range b.Channels {
		name := b.Channels[k].Name
		b.Channels[k] = b.Channels[0]
		b.Channels[k].Name = name
	}
	meters := []models.Meter{meter(t, b, "rms"), meter(t, b, "direct"), meter(t, b, "average-coupled")}
	at := func(b *models.Board, k int, name string, s readings.State) []readings.Value {
		v, err := readings.At(b, point(t, b, b.Channels[k].Name+":"+name), meters, conditions(b, s))
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, f := range faults.Catalogue() {
		if f.Scope == faults.PerBoard || f.Part == faults.BoilerPart {
			continue // nothing electrical of a channel
		}
		var on [2]*models.Board
		for k := range on {
			var err error
			if on[k], err = (faults.Set{faults.New(f.Name, k)}).Applied(b); err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
		}
		for _, s := range []readings.State{readings.Standby, readings.Heating} {
			for k := range b.Channels {
				moved := [3]int{1, 0, 2}[k]
				for _, name := range []string{"output", "triac"} {
					x, y := at(on[0], k, name, s), at(on[1], moved, name, s)
					for i := range meters {
						tol := 1e-9
						if s == readings.Heating {
							tol = 5e-6
						}
						near(t, fmt.Sprintf("%s: %s of channel %d in %v, %s, against channel %d", f.Name, name, k+1, s, meters[i].Name, moved+1),
							y[i].Indicated, x[i].Indicated, 230, tol)
					}
				}
			}
		}
	}
}

// TestShortsAreMonotone: the worse a path around the switch conducts, the more
// voltage is on the load in standby.
func TestShortsAreMonotone(t *testing.T) {
	b := single(t, "dye-bench-230")
	for _, name := range []string{"triac-shorted", "triac-one-way", "triac-leaky", "opto-shorted", "opto-one-way", "film-opto", "film-triac",
		"snubber-capacitor-shorted", "snubber-capacitor-leaky"} {
		if _, ok := faults.Find(name); !ok {
			t.Fatalf("no fault %q in the catalogue", name)
		}
		last := -1.0
		var values []float64
		for step := range 21 {
			j := faults.New(name, 0)
			j.Severity = float64(step) / 20
			faulty, err := faults.Set{j}.Applied(b)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			v := shows(t, faulty, "soak:output", "rms", readings.Standby)
			values = append(values, v)
			if v < last-1e-9 {
				t.Errorf("%s: %.9g V at severity %g, expected no less than the %.9g V before: %.4g", name, v, j.Severity, last, values)
			}
			last = v
		}
		if !(values[20] > values[0]) {
			t.Errorf("%s: %g V at full severity, expected more than the %g V of a healthy board", name, values[20], values[0])
		}
	}
}
