package circuit

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// The tests of this file hold facts of the trade that must come out of the
// circuit and are written nowhere into it: common practice, no source. Where
// a closed form can be written down for the part values at hand it is.

// TestHealthyFiring: a healthy channel fires where its gate path supplies
// I_GT, 2 to 4 degrees after the zero at 230 V, later at 120 V, and later
// with neighbours that drop the shared voltage first. Common practice, no
// source.
func TestHealthyFiring(t *testing.T) {
	on := drives(12)
	a230 := firstFiring(t, healthyBoard(44), 6, on, 0, 4)
	if !(a230 > 2 && a230 < 4) {
		t.Errorf("fired at %.3f° on 230 V, expected 2° to 4°", a230)
	}
	b := healthyBoard(44)
	b.Supply.Voltage, b.Supply.Frequency = 120, 60
	b.Supply.LineInductance = q.Henry(0.25 / (120 * math.Pi))
	a120 := firstFiring(t, b, 6, on, 0, 4)
	if !(a120 > a230+1 && a120 < 10) {
		t.Errorf("fired at %.3f° on 120 V, expected later than at %.3f° on 230 V", a120, a230)
	}
	// The second channel fires first (lower I_GT); its current through the
	// shared impedance holds up the first.
	b = healthyBoard(44, 20)
	b.Channels[1].Triac.Trigger = [4]q.Ampere{0.015, 0.015, 0.015, 0.015}
	with := firstFiring(t, b, 6, drives(12, 12), 0, 4)
	without := firstFiring(t, b, 6, drives(12, 0), 0, 4)
	if !(with > without) {
		t.Errorf("fired at %.6f° with a neighbour and %.6f° without, expected later with it", with, without)
	}
}

// TestFiringVoltage compares a healthy channel's firing on an ideal source
// with the voltage at which its gate path carries I_GT:
//
//	v = V_P0 + V_J + (I_GT + V_J/R_GK)(R_G + r_P) + R_load·i
//
// with V_J = V_G0 + r_G·I_GT and i the current of load, gate path and leakage.
func TestFiringVoltage(t *testing.T) {
	b := healthyBoard(44)
	b.Supply.LineResistance, b.Supply.LineInductance = 0, 0
	b.Channels[0].Snubber = models.Snubber{}
	a := firstFiring(t, b, 3, drives(12), 0, 2)
	vj := 0.8 + 10*0.025
	i := 0.025 + vj/330
	v := 1.2 + vj + i*(330+5)
	v += (44 + 0.02 + 0.005) * (i + 5e-8*v)
	near(t, "firing angle", a, math.Asin(v/(math.Sqrt2*230))*180/math.Pi, 180, 1e-10)
}

// TestGhostThroughLeakage: without a snubber the reading of a 10 MΩ meter on
// an open load depends on the leakage, which doubles every 10 K of the
// junction: a part of the supply when cool, nearly all of it when hot. Common
// practice, no source.
func TestGhostThroughLeakage(t *testing.T) {
	n, out := models.At(models.Neutral, 0), models.At(models.Output, 0)
	read := func(tj, meter float64) float64 {
		b := healthyBoard(44)
		c := &b.Channels[0]
		c.Snubber, c.Element.Open = models.Snubber{}, true
		b.Supply.LineInductance = 0 // no path for it but the leakage
		b.Bridges = []models.Bridge{{Name: "meter", From: out, To: n, Resistance: q.Ohm(meter)}}
		s := mustNew(t, b)
		temps := Uniform(1, 25)
		temps.Junction[0] = tj
		s.SetTemperatures(temps)
		r := mustRecord(t, s, 2, drives(0))
		return math.Sqrt(r.Moments(voltOf(t, s, out, n)).MeanSquare)
	}
	for _, tj := range []float64{25, 45, 85, 125} {
		g := 5e-8*math.Exp2((tj-25)/10) + 1/(1/2e-9+660)
		near(t, fmt.Sprintf("10 MΩ meter at %g °C", tj), read(tj, 1e7), 230*1e7/(1e7+1/g+0.4), 230, 1e-9)
	}
	if cool, hot := read(25, 1e7), read(105, 1e7); !(cool < 0.5*230 && hot > 0.98*230) {
		t.Errorf("read %.1f V cool and %.1f V hot, expected under half the supply and nearly all of it", cool, hot)
	}
	if low := read(105, 3000); !(low < 10) {
		t.Errorf("a 3 kΩ meter read %.2f V through hot leakage, expected volts", low)
	}
}

// TestGhostThroughSnubber: with the load open in standby a 10 MΩ meter shows
// nearly the whole supply through the snubber, a 3 kΩ meter volts. Common
// practice, no source.
func TestGhostThroughSnubber(t *testing.T) {
	n, out := models.At(models.Neutral, 0), models.At(models.Output, 0)
	read := func(meter, drive float64) (volts float64, fired int) {
		b := healthyBoard(44)
		b.Channels[0].Element.Open = true
		b.Supply.Damping = 50
		b.Bridges = []models.Bridge{{Name: "meter", From: out, To: n, Resistance: q.Ohm(meter)}}
		s := mustNew(t, b)
		mustSkip(t, s, 4, drives(drive))
		r := mustRecord(t, s, 2, drives(drive))
		return math.Sqrt(r.Moments(voltOf(t, s, out, n)).MeanSquare), len(Conduction(r.Events, 0))
	}
	high, _ := read(1e7, 0)
	low, _ := read(3000, 0)
	if !(high > 0.99*230 && high < 1.01*230) {
		t.Errorf("10 MΩ meter read %.2f V in standby, expected nearly the whole supply", high)
	}
	if !(low > 1 && low < 5) {
		t.Errorf("3 kΩ meter read %.2f V in standby, expected a few volts", low)
	}
	// Driven, the meter itself is the load: 3 kΩ draws 108 mA at the peak and
	// latches the triac, 10 MΩ never does.
	volts, fired := read(3000, 12)
	if fired != 2 || !(volts > 0.95*230) {
		t.Errorf("3 kΩ meter on a driven channel read %.2f V with %d half-cycles of conduction, expected the supply and 2", volts, fired)
	}
	if _, fired := read(1e7, 12); fired != 0 {
		t.Error("a 10 MΩ meter latched the triac, expected never")
	}
}

// leakBoard has a leak across the opto output and no drive.
func leakBoard(leak float64) *models.Board {
	b := healthyBoard(44)
	b.Supply.LineResistance, b.Supply.LineInductance = 0, 0
	c := &b.Channels[0]
	c.Snubber, c.Triac.Off, c.Opto.Off = models.Snubber{}, 0, 0
	b.Bridges = []models.Bridge{{Name: "leak", From: models.At(models.Output, 0), To: models.At(models.OptoOutput, 0), Resistance: q.Ohm(leak), Part: models.GatePart}}
	return b
}

// TestLeakAcrossOpto: a leak across the opto output fires the triac late, at
//
//	v = V_J + (I_GT + V_J/R_GK)(R_G + R_leak) + R_load·i
//
// with V_J = V_G0 + r_G·I_GT, later with more resistance, and beyond a certain
// resistance never. Common practice, no source; the voltage is Kirchhoff's.
func TestLeakAcrossOpto(t *testing.T) {
	const igt = 0.025 + 1e-11 // a demand counts beyond 1e-11 A
	const vj, load = 0.8 + 10*igt, 44.025
	i := igt + vj/330
	last := 0.0
	for _, leak := range []float64{1, 100, 1000, 3000, 6000, 9000, 11000} {
		v := vj + i*(330+leak) + load*i
		want := math.Asin(v/(math.Sqrt2*230)) * 180 / math.Pi
		got := firstFiring(t, leakBoard(leak), 3, drives(0), 0, 2)
		near(t, fmt.Sprintf("leak of %g Ω", leak), got, want, 180, 1e-10)
		if !(got > last) {
			t.Errorf("leak of %g Ω: fired at %v°, expected later than %v°", leak, got, last)
		}
		last = got
	}
	critical := (math.Sqrt2*230-vj)/i - 330 - load
	if a := firstFiring(t, leakBoard(critical*(1-1e-9)), 3, drives(0), 0, 2); !(math.Abs(a-90) < 0.02) {
		t.Errorf("fired at %v° with the greatest leak resistance, expected at the peak", a)
	}
	if a := firstFiring(t, leakBoard(critical*(1+1e-9)), 3, drives(0), 0, 2); !math.IsNaN(a) {
		t.Errorf("fired at %v° beyond the greatest leak resistance, expected never", a)
	}
}

// TestOpenTriacDriven: an open triac with its drive on sends the load current
// through the gate resistor, which takes about 100 W. Common practice, no
// source.
func TestOpenTriacDriven(t *testing.T) {
	b := healthyBoard(44)
	b.Channels[0].Triac.Open = true
	s := mustNew(t, b)
	mustSkip(t, s, 4, drives(12))
	rec, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
	if err != nil {
		t.Fatal(err)
	}
	gate := rec.Gate[0] / rec.Duration
	if !(gate > 80 && gate < 140) {
		t.Errorf("gate path takes %.1f W, expected about 100 W", gate)
	}
	// Nearly all of it in R_G: (V/(R_G + R_load + r))²·R_G.
	r := mustRecord(t, s, 2, drives(12))
	rms := math.Sqrt(r.Moments(ampOf(t, s, "gate-resistor1")).MeanSquare)
	near(t, "loss of R_G", rms*rms*330, math.Pow(230/(330+5+10+44.4), 2)*330, gate, 0.03)
	if len(Conduction(r.Events, 0)) != 0 {
		t.Error("an open triac fired")
	}
	if el := rec.Element[0] / rec.Duration; !(el < 0.02*1200) {
		t.Errorf("element takes %.1f W, expected hardly any heat", el)
	}
}

// TestShortedTriac: a shorted triac heats at full power without any drive;
// a short in one direction at half power, with a direct component. Common
// practice, no source.
func TestShortedTriac(t *testing.T) {
	rail, out := models.At(models.Rail, 0), models.At(models.Output, 0)
	run := func(br models.Bridge) (power, mean float64) {
		b := healthyBoard(44)
		br.From, br.To, br.Part = rail, out, models.TriacPart
		b.Bridges = []models.Bridge{br}
		s := mustNew(t, b)
		mustSkip(t, s, 2, drives(0))
		var e, dur float64
		for range 2 {
			rec, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{0}})
			if err != nil {
				t.Fatal(err)
			}
			e += rec.Element[0]
			dur += rec.Duration
		}
		r := mustRecord(t, s, 2, drives(0))
		return e / dur, r.Moments(ampOf(t, s, "wire1")).Mean
	}
	full, mean := run(models.Bridge{Name: "short", Resistance: 0.02})
	near(t, "power of a short", full, 44*math.Pow(230/44.445, 2), full, 1e-3)
	near(t, "its mean current", mean, 0, 5, 1e-9)
	half, mean := run(models.Bridge{Name: "short", Resistance: 0.02, Threshold: 0.9, OneWay: true})
	if !(half > 0.48*full && half < 0.5*full) {
		t.Errorf("a short in one direction heats with %.1f W of %.1f W, expected just under half", half, full)
	}
	near(t, "its mean current", mean, math.Sqrt2/math.Pi*230/44.445, mean, 0.01)
}

// TestSharedImpedance: with a shared line impedance one channel's current
// lowers the voltage of the others; without one it cannot. Common practice,
// no source.
func TestSharedImpedance(t *testing.T) {
	power := func(b *models.Board, second float64) float64 {
		s := mustNew(t, b)
		mustSkip(t, s, 2, drives(12, second))
		rec, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12, second}})
		if err != nil {
			t.Fatal(err)
		}
		return rec.Element[0]
	}
	b := healthyBoard(44, 35)
	alone, both := power(b, 0), power(b, 12)
	if ratio := both / alone; !(ratio > 0.96 && ratio < 0.995) {
		t.Errorf("a neighbour changes the power by a factor of %.5f, expected a loss of a few percent", ratio)
	}
	b.Supply.LineResistance, b.Supply.LineInductance = 0, 0
	near(t, "power on an ideal source", power(b, 12), power(b, 0), alone, 1e-12)
}

// TestLinkOpensAtZero: the arc holds a link's current to its next zero.
// Common practice, no source.
func TestLinkOpensAtZero(t *testing.T) {
	for _, upstream := range []bool{false, true} {
		b := healthyBoard(44, 35)
		if upstream {
			b.Upstream = &models.ThermalLink{Resistance: 0.005, Stray: 5e-12}
		}
		s := mustNew(t, b)
		on := drives(12, 12)
		mustSkip(t, s, 4, on)
		k, branch := 0, "link1"
		if upstream {
			k, branch = -1, "upstream link"
		}
		s.OpenLink(k)
		r := mustRecord(t, s, 4, on)
		at := math.NaN()
		for _, e := range r.Events {
			if e.Kind == LinkOpened && e.Channel == k {
				at = (float64(e.Half-r.first) + e.Degrees/180) * r.half
			}
		}
		if !(at > 0 && at <= 1.01*r.half) {
			t.Fatalf("%s opened at %v s, expected within a half-cycle", branch, at)
		}
		i := ampOf(t, s, branch)
		_, before := r.Sample(i, 0, at*0.98, 50)
		_, after := r.Sample(i, at*1.001, r.Duration(), 200)
		for _, x := range before[2:] {
			if math.Abs(x) < 1e-6 {
				t.Errorf("%s: no current before it opens", branch)
			}
		}
		for _, x := range after {
			if math.Abs(x) > 1e-3 {
				t.Errorf("%s: %g A after it opened, expected microamperes through its stray capacitance", branch, x)
			}
		}
		if !upstream && (!s.LinkOpen(0) || s.LinkOpen(1)) {
			t.Error("expected the first link open and the second closed, found " + strconv.FormatBool(s.LinkOpen(0)) + " " + strconv.FormatBool(s.LinkOpen(1)))
		}
	}
}

// TestOpenLinkStores: the stray capacitance of an open link takes energy and
// gives it back; none of it is lost in the wiring.
func TestOpenLinkStores(t *testing.T) {
	b := healthyBoard(44)
	b.Channels[0].Link.Open, b.Channels[0].Link.Stray = true, 1e-9
	s := mustNew(t, b)
	for range 4 {
		// Driven from the peak: each half-cycle ends with another charge.
		rec, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{0}, Changes: []DriveChange{{After: 0.003, Volts: 12}}})
		if err != nil {
			t.Fatal(err)
		}
		if rec.Wire[0] < 0 {
			t.Errorf("half-cycle %d: wiring lost %g J, expected no less than nothing", rec.Half, rec.Wire[0])
		}
		near(t, "energy balance", rec.Source-rec.Dissipated()-rec.Stored, 0, 1e-9*230*230, 1e-9)
	}
}

// TestFilmAtGate: a film from the other rail to the gate or the opto output
// pulls the gate one way while the opto, driven all the time, would push it
// the other. The run must end, with its energies balanced.
func TestFilmAtGate(t *testing.T) {
	for _, place := range []models.Place{models.Gate, models.OptoOutput} {
		for _, ohms := range []float64{500, 5e3, 2e4, 1e5, 1e6} {
			for _, open := range []bool{false, true} {
				b := healthyBoard(44)
				c := &b.Channels[0]
				c.Opto.Inhibit, c.Link.Open = q.Volt(inf), open
				b.Bridges = []models.Bridge{{Name: "film", From: models.At(models.Neutral, 0), To: models.At(place, 0), Resistance: q.Ohm(ohms)}}
				s := mustNew(t, b)
				for range 4 {
					rec, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
					if err != nil {
						t.Fatalf("film of %g Ω at %v, link open %v: %v", ohms, place, open, err)
					}
					near(t, "energy balance", rec.Source-rec.Dissipated()-rec.Stored, 0, math.Max(rec.Source, 1e-3), 1e-9)
				}
			}
		}
	}
}
