package readings_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// dead carries out a test on the unplugged board at 20 °C.
func dead(t testing.TB, b *models.Board, test readings.Test, plus, minus models.Node, lifted ...string) readings.Dead {
	t.Helper()
	d, err := readings.Unplugged(b, circuit.Uniform(len(b.Channels), 20), test, plus, minus, lifted...)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func parallel(ohms ...float64) float64 {
	g := 0.0
	for _, r := range ohms {
		g += 1 / r
	}
	return 1 / g
}

// TestElementOhms: from the output to the neutral an ohmmeter shows the
// element with its wiring, to the leakage of what lies in parallel.
func TestElementOhms(t *testing.T) {
	for _, name := range []string{"dye-bench-230", "dye-bench-120"} {
		b := embedded(t, name)
		for k := range b.Channels {
			c := &b.Channels[k]
			want := float64(c.Element.Resistance + c.Wire + c.Link.Resistance)
			d := dead(t, b, readings.Ohmmeter, models.At(models.Output, k), neutral)
			near(t, fmt.Sprintf("%s, channel %d", name, k+1), d.Ohms, want, want, 1e-5)
			if d.Open || d.Beeps || !math.IsNaN(d.Volts) || d.Plus != models.At(models.Output, k) || d.Minus != neutral {
				t.Errorf("%s, channel %d: %+v", name, k+1, d)
			}
			// Leads exchanged.
			near(t, "leads exchanged", dead(t, b, readings.Ohmmeter, neutral, models.At(models.Output, k)).Ohms, d.Ohms, want, 1e-6)
		}
	}
	// A hot element reads more: R20·(1 + a·(T − 20 °C)).
	b := single(t, "dye-bench-230")
	temps := circuit.Uniform(1, 20)
	temps.Element[0] = 220
	d, err := readings.Unplugged(b, temps, readings.Ohmmeter, load, neutral)
	if err != nil {
		t.Fatal(err)
	}
	e := &b.Channels[0].Element
	near(t, "hot", d.Ohms, float64(e.Resistance)*(1+float64(e.Coefficient)*200), 50, 1e-5)
}

// TestParallelPath: a film across the load lies in parallel with it; a lifted
// part is out of the reading. A shorted triac brings its element in parallel
// between line and neutral.
func TestParallelPath(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	c := &b.Channels[0]
	r := float64(c.Element.Resistance + c.Wire + c.Link.Resistance)
	b.Bridges = append(b.Bridges, models.Bridge{Name: "film", From: output, To: neutral, Resistance: 100})
	near(t, "film and load", dead(t, b, readings.Ohmmeter, output, neutral).Ohms, parallel(r, 100), r, 1e-5)
	near(t, "film lifted", dead(t, b, readings.Ohmmeter, output, neutral, "bridge film").Ohms, r, r, 1e-5)
	near(t, "wire lifted", dead(t, b, readings.Ohmmeter, output, neutral, "wire1").Ohms, 100, r, 1e-5)
	if d := dead(t, b, readings.Ohmmeter, output, neutral, "wire1", "bridge film"); d.Ohms < 1e6 {
		t.Errorf("both lifted: %g Ω, expected megohms of leakage", d.Ohms)
	}

	b = embedded(t, "dye-bench-230")
	if d := dead(t, b, readings.Ohmmeter, line, neutral); d.Ohms < 1e6 {
		t.Errorf("a healthy board reads %g Ω from line to neutral, expected megohms", d.Ohms)
	}
	shortTriac(b, 0)
	near(t, "one shorted triac, line to neutral", dead(t, b, readings.Ohmmeter, line, neutral).Ohms, r+0.02, r, 1e-5)
	shortTriac(b, 1)
	second := b.Channels[1]
	near(t, "two of them", dead(t, b, readings.Ohmmeter, line, neutral).Ohms,
		parallel(r+0.02, float64(second.Element.Resistance+second.Wire+second.Link.Resistance)+0.02), r, 1e-5)
}

// TestTriacOhms: healthy, a triac reads the megohms of its leakage, in
// parallel with opto, gate resistor and gate shunt, and in series with other
// channels around its own load; shorted it reads nothing, and beeps.
func TestTriacOhms(t *testing.T) {
	b := single(t, "dye-bench-230")
	c := &b.Channels[0]
	gOff, gOpto := c.Triac.OffAt(20), float64(c.Opto.Off)
	want := parallel(1/gOff, 1/gOpto+float64(c.GateResistance+c.GateShunt))
	near(t, "healthy, 20 °C", dead(t, b, readings.Ohmmeter, output, line).Ohms, want, want, 1e-9)
	temps := circuit.Uniform(1, 20)
	temps.Junction[0] = 80 // 2⁶ times the leakage
	d, err := readings.Unplugged(b, temps, readings.Ohmmeter, output, line)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "hot", d.Ohms, parallel(1/(64*gOff), 1/gOpto+float64(c.GateResistance+c.GateShunt)), want, 1e-9)
	shortTriac(b, 0)
	d = dead(t, b, readings.Continuity, output, line)
	near(t, "shorted", d.Ohms, 0.02, 0.02, 1e-5)
	if !d.Beeps || d.Open {
		t.Errorf("a shorted triac: %+v, expected a beep", d)
	}
}

// TestOneWayTriac: at 1 mA a triac shorted in one direction shows one junction
// drop one way and open the other; an ohmmeter calls it megohms or open either
// way. Common practice, no source; the drop is the junction's own V + r·i.
func TestOneWayTriac(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	b.Bridges = append(b.Bridges, models.Bridge{Name: "one way", From: output, To: line, Threshold: 0.9, Resistance: 0.02, OneWay: true, Part: models.TriacPart})
	one := dead(t, b, readings.DiodeTest, output, line)
	near(t, "one way", one.Volts, 0.9+0.001*0.02, 0.9, 1e-5)
	other := dead(t, b, readings.DiodeTest, line, output)
	if one.Open || !other.Open || !math.IsInf(other.Volts, 1) || !math.IsNaN(one.Ohms) {
		t.Errorf("one way %+v, the other way %+v; expected a drop and open", one, other)
	}
	for _, d := range []readings.Dead{dead(t, b, readings.Continuity, output, line), dead(t, b, readings.Continuity, line, output)} {
		if d.Beeps || d.Ohms < 1e6 {
			t.Errorf("continuity %+v, expected no beep and megohms", d)
		}
	}
	healthy := embedded(t, "dye-bench-230")
	for _, leads := range [][2]models.Node{{output, line}, {line, output}} {
		if d := dead(t, healthy, readings.DiodeTest, leads[0], leads[1]); !d.Open {
			t.Errorf("a healthy triac shows %g V on the diode test, expected open", d.Volts)
		}
	}
}

// TestOneWayOpto: an opto that conducts in one polarity shows more than one
// drop: its own, R_G's, and the gate junction's or what R_GK carries of 1 mA.
// Common practice, no source; the sum is Kirchhoff's. An opto that breaks over
// only under mains voltage reads open.
func TestOneWayOpto(t *testing.T) {
	for _, shunt := range []float64{330, 1000, math.Inf(1)} {
		b := single(t, "dye-bench-230")
		b.Channels[0].GateShunt = q.Ohm(shunt)
		oneWayOpto(b, true)
		c := &b.Channels[0]
		const i = 1e-3
		v0, r := float64(c.Triac.GateThreshold), float64(c.Triac.GateSlope)
		atGate := i * shunt
		if atGate > v0 { // the junction conducts beside R_GK: (v − V_G0)/r_G + v/R_GK = i
			atGate = (i + v0/r) / (1/r + 1/shunt)
		}
		want := float64(c.Opto.Threshold) + i*float64(c.Opto.Slope+c.GateResistance) + atGate
		d := dead(t, b, readings.DiodeTest, output, line)
		near(t, fmt.Sprintf("gate shunt of %g Ω", shunt), d.Volts, want, want, 1e-4)
		if d.Open || d.Volts < 1.5 {
			t.Errorf("%+v, expected more than one drop", d)
		}
		if back := dead(t, b, readings.DiodeTest, line, output); !back.Open {
			t.Errorf("the other way %+v, expected open", back)
		}
		if lifted := dead(t, b, readings.DiodeTest, output, line, "gate-resistor1"); !lifted.Open {
			t.Errorf("with the gate resistor lifted %+v, expected open", lifted)
		}
		// Across the opto itself it is one junction.
		near(t, "across the opto", dead(t, b, readings.DiodeTest, output, opto).Volts, float64(c.Opto.Threshold)+i*float64(c.Opto.Slope), 1, 1e-4)

		b.Bridges[0].Threshold = 150
		if d := dead(t, b, readings.DiodeTest, output, line); !d.Open {
			t.Errorf("an opto that breaks over at 150 V shows %g V on the diode test, expected open", d.Volts)
		}
	}
}

// TestGateOhms: with R_GK fitted an ohmmeter shows it, for its test current
// stays below the junction; without it the diode test shows the junction, in
// both directions. Common practice, no source.
func TestGateOhms(t *testing.T) {
	b := single(t, "dye-bench-230")
	c := &b.Channels[0]
	c.GateShunt = 330
	near(t, "gate to MT1", dead(t, b, readings.Ohmmeter, gate, line).Ohms, 330, 330, 1e-4)
	near(t, "R_G", dead(t, b, readings.Ohmmeter, opto, gate).Ohms, float64(c.GateResistance), 330, 1e-4)
	c.GateShunt = q.Ohm(math.Inf(1))
	drop := float64(c.Triac.GateThreshold) + 1e-3*float64(c.Triac.GateSlope)
	near(t, "junction", dead(t, b, readings.DiodeTest, gate, line).Volts, drop, drop, 1e-4)
	near(t, "junction, leads exchanged", dead(t, b, readings.DiodeTest, line, gate).Volts, drop, drop, 1e-4)
	c.Triac.GateOpen = true
	if d := dead(t, b, readings.DiodeTest, gate, line); !d.Open {
		t.Errorf("a broken gate lead shows %g V, expected open", d.Volts)
	}
	c.GateResistance = q.Ohm(math.Inf(1))
	if d := dead(t, b, readings.Ohmmeter, gate, line); !d.Open || !math.IsInf(d.Ohms, 1) {
		t.Errorf("a gate that nothing connects: %+v, expected open", d)
	}
}

// TestInsulation: the 500 V test goes from line and neutral joined to
// protective earth and finds a leak from either side of the element, whatever
// nodes are named. Limits of in-service tests are 1 MΩ, and 0.3 MΩ for
// equipment with heating elements (DIN VDE 0701-0702). Live, the leak carries
// V/R: 240 V over 320 kΩ is 0.75 mA, over 48 kΩ 5 mA, over 8 kΩ 30 mA, over
// 1 MΩ 0.24 mA, over 0.3 MΩ 0.8 mA (Ohm's law).
func TestInsulation(t *testing.T) {
	for _, x := range []struct{ ohms, milliamps float64 }{{320e3, 0.75}, {48e3, 5}, {8e3, 30}, {1e6, 0.24}, {0.3e6, 0.8}} {
		b := textbook(t, 240)
		c := &b.Channels[0]
		c.Element.Insulation, c.Element.Split = q.Ohm(x.ohms), 0 // at the fed end
		shortTriac(b, 0)
		d := dead(t, b, readings.Insulation, gate, opto)
		near(t, fmt.Sprintf("insulation of %g Ω", x.ohms), d.Ohms, x.ohms, x.ohms, 1e-3)
		if d.Plus != line || d.Minus != earth || d.Open {
			t.Errorf("insulation test %+v, expected it from L to PE", d)
		}
		s, err := circuit.New(b)
		if err != nil {
			t.Fatal(err)
		}
		leak, err := s.Current("earth")
		if err != nil {
			t.Fatal(err)
		}
		in := func(int64) circuit.Input { return circuit.Input{Factor: 1, Drive: []float64{0}} }
		if _, err := s.Record(2, in); err != nil {
			t.Fatal(err)
		}
		rec, err := s.Record(2, in)
		if err != nil {
			t.Fatal(err)
		}
		rms := math.Sqrt(rec.Moments(leak).MeanSquare)
		near(t, fmt.Sprintf("live leak of %g Ω in mA", x.ohms), 1000*rms, x.milliamps, x.milliamps, 1e-3)
	}

	b := embedded(t, "dye-bench-230")
	healthy := dead(t, b, readings.Insulation, line, earth)
	near(t, "healthy", healthy.Ohms, parallel(1e9, 1e9, 1e9), 1e9, 1e-4)
	b.Channels[1].Element.Insulation = 0.3e6
	near(t, "one leak of 0.3 MΩ", dead(t, b, readings.Insulation, line, earth).Ohms, parallel(0.3e6, 1e9, 1e9), 0.3e6, 1e-3)
	b.Channels[1].Element.Insulation = 1
	if d := dead(t, b, readings.Insulation, line, earth); !(d.Ohms > 1 && d.Ohms < 100) {
		t.Errorf("an element that touches its sheath: %g Ω, expected ohms", d.Ohms)
	}
	for k := range b.Channels {
		b.Channels[k].Element.Insulation = q.Ohm(math.Inf(1))
	}
	if d := dead(t, b, readings.Insulation, line, earth); !d.Open || !math.IsInf(d.Ohms, 1) {
		t.Errorf("without any path: %+v, expected open", d)
	}
}

// TestLeakBehindBreak: a leak on the near side of a broken element lies behind
// the blocking triac: the insulation test adds the triac's leakage to it.
func TestLeakBehindBreak(t *testing.T) {
	b := single(t, "dye-bench-230")
	c := &b.Channels[0]
	c.Element.Insulation, c.Element.Open = 0.3e6, true
	c.Opto.Off = 0
	want := 0.3e6 + 1/c.Triac.OffAt(20)
	near(t, "leak behind a break", dead(t, b, readings.Insulation, line, earth).Ohms, want, want, 1e-4)
	shortTriac(b, 0)
	near(t, "the same with the triac bridged", dead(t, b, readings.Insulation, line, earth).Ohms, 0.3e6, 0.3e6, 1e-3)
}

// TestLinkOhms: a closed link beeps; an open one leaves megohms of leakage
// around the board, or nothing once its wire is lifted too.
func TestLinkOhms(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	d := dead(t, b, readings.Continuity, wire, load)
	near(t, "closed", d.Ohms, float64(b.Channels[0].Link.Resistance), 0.005, 1e-5)
	if !d.Beeps {
		t.Error("a closed link does not beep")
	}
	b.Channels[0].Link.Open = true
	d = dead(t, b, readings.Continuity, wire, load)
	if d.Beeps || d.Ohms < 1e6 {
		t.Errorf("an open link: %+v, expected megohms", d)
	}
	if d := dead(t, b, readings.Ohmmeter, wire, load, "wire1"); !d.Open {
		t.Errorf("an open link with its wire lifted: %+v, expected open", d)
	}
	if d := dead(t, b, readings.Ohmmeter, output, neutral); d.Ohms < 1e6 {
		t.Errorf("behind an open link the element reads %g Ω at the output, expected megohms", d.Ohms)
	}
	b.Upstream = &models.ThermalLink{Resistance: 0.005, Stray: 5e-12, Open: true}
	if d := dead(t, b, readings.Continuity, line, models.At(models.Rail, 0)); d.Beeps || !d.Open {
		t.Errorf("an open upstream link: %+v, expected open", d)
	}
	b.Upstream.Open = false
	if d := dead(t, b, readings.Continuity, line, models.At(models.Rail, 0)); !d.Beeps {
		t.Errorf("a closed upstream link: %+v, expected a beep", d)
	}
}

// TestBeepLimit: continuity beeps below 30 Ω. Common practice, no source.
// The element of a board for 120 V beeps as a short would.
func TestBeepLimit(t *testing.T) {
	b := single(t, "dye-bench-230")
	for _, x := range []struct {
		ohms  q.Ohm
		beeps bool
	}{{29.9, true}, {30.1, false}} {
		b.Channels[0].Element.Resistance = x.ohms
		if d := dead(t, b, readings.Continuity, load, neutral); d.Beeps != x.beeps {
			t.Errorf("%g Ω: beeps %v, want %v", float64(x.ohms), d.Beeps, x.beeps)
		}
		if d := dead(t, b, readings.Ohmmeter, load, neutral); d.Beeps {
			t.Errorf("%g Ω: the ohmmeter beeps", float64(x.ohms))
		}
	}
	if d := dead(t, single(t, "dye-bench-120"), readings.Continuity, output, neutral); !d.Beeps {
		t.Errorf("the element of a 120 V board: %+v, expected a beep", d)
	}
}

// TestOhmmeterRanges: from milliohms to tens of megohms a resistor reads its
// value, above 60 MΩ open.
func TestOhmmeterRanges(t *testing.T) {
	for _, ohms := range []float64{0.01, 1, 599, 601, 5.9e3, 6.1e3, 59e3, 61e3, 599e3, 601e3, 5.9e6, 6.1e6, 59e6, 61e6} {
		b := single(t, "dye-bench-230")
		c := &b.Channels[0]
		c.Triac.Off, c.Opto.Off, c.Element.Insulation = 0, 0, q.Ohm(math.Inf(1))
		b.Bridges = []models.Bridge{{Name: "resistor", From: output, To: neutral, Resistance: q.Ohm(ohms)}}
		d := dead(t, b, readings.Ohmmeter, output, neutral, "wire1")
		if ohms > 60e6 {
			if !d.Open || !math.IsInf(d.Ohms, 1) {
				t.Errorf("%g Ω reads %+v, expected open", ohms, d)
			}
			continue
		}
		near(t, fmt.Sprintf("%g Ω", ohms), d.Ohms, ohms, ohms, 1e-9)
	}
}

func TestUnpluggedErrors(t *testing.T) {
	b := single(t, "dye-bench-230")
	temps := circuit.Uniform(1, 20)
	for _, x := range []struct {
		name        string
		plus, minus models.Node
		test        readings.Test
		lifted      string
		wants       string
	}{
		{"both leads on one node", output, output, readings.Ohmmeter, "", "two nodes"},
		{"a lead at the source", models.At(models.Source, 0), neutral, readings.DiodeTest, "", "unplugged board"},
		{"a lead at the supply's neutral", output, models.Node{}, readings.Ohmmeter, "", "unplugged board"},
		{"a rail that is not there", models.At(models.Rail, 0), neutral, readings.Ohmmeter, "", "upstream link"},
		{"a part that is not there", output, neutral, readings.Ohmmeter, "wire2", `found "wire2"`},
		{"a part that is not there, insulation", line, earth, readings.Insulation, "wire2", `found "wire2"`},
	} {
		var lifted []string
		if x.lifted != "" {
			lifted = []string{x.lifted}
		}
		d, err := readings.Unplugged(b, temps, x.test, x.plus, x.minus, lifted...)
		if err == nil || !strings.Contains(err.Error(), x.wants) {
			t.Errorf("%s: %+v, error %v, expected it to say %q", x.name, d, err, x.wants)
		}
	}
}
