package readings_test

import (
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// unpluggedTest carries out a test at a point of the unplugged board, one way
// round and the other.
func unpluggedTest(t *testing.T, b *models.Board, name string, test readings.Test, lifted ...string) (one, other readings.Dead) {
	t.Helper()
	p, err := readings.FindUnpluggedPoint(b, name)
	if err != nil {
		t.Fatal(err)
	}
	return dead(t, b, test, p.Plus, p.Minus, lifted...), dead(t, b, test, p.Minus, p.Plus, lifted...)
}

// ways is a diode test both ways round, to the hundredth of a volt; +Inf is
// open.
func ways(t *testing.T, b *models.Board, name string) [2]float64 {
	t.Helper()
	one, other := unpluggedTest(t, b, name, readings.DiodeTest)
	to := func(d readings.Dead) float64 { return math.Round(d.Volts*100) / 100 }
	return [2]float64{to(one), to(other)}
}

// TestControlSideUnplugged: what a diode test at 1 mA tells of the control
// side. A healthy LED shows 1.1 V to 1.3 V (common practice, no source) and at
// the plug the drop of R_LED on top (Ohm's law); each fault leaves its own
// pattern of three points, but a weak LED and a controller that gives no base
// current leave none.
func TestControlSideUnplugged(t *testing.T) {
	open := math.Inf(1)
	type pattern struct{ plug, led, output, base [2]float64 }
	healthy := pattern{[2]float64{1.93, open}, [2]float64{1.11, open}, [2]float64{open, open}, [2]float64{0.66, open}}
	for _, x := range []struct {
		name string
		edit func(c *models.Channel)
		want func(p *pattern)
	}{
		{"healthy", func(*models.Channel) {}, func(*pattern) {}},
		{"dead LED", func(c *models.Channel) { c.Opto.LEDSlope = q.Ohm(open) }, func(p *pattern) { p.plug[0], p.led[0] = open, open }},
		{"open connector", func(c *models.Channel) { c.Drive.Resistance = q.Ohm(open) }, func(p *pattern) { p.plug[0] = open }},
		{"weak LED", func(c *models.Channel) { c.Opto.Trigger *= 3 }, func(*pattern) {}},
		{"low drive", func(c *models.Channel) { c.Drive.On = 3 }, func(*pattern) {}},
		{"punctured transistor", func(c *models.Channel) { c.Drive.OffConductance = 0.5 }, func(p *pattern) { p.output = [2]float64{} }},
		{"parted transistor", func(c *models.Channel) { c.Drive.Open = true }, func(p *pattern) { p.base[0] = open }},
	} {
		b := embedded(t, "dye-bench-230")
		x.edit(&b.Channels[1])
		got := pattern{ways(t, b, "dye:drive"), ways(t, b, "dye:led"), ways(t, b, "dye:transistor"), ways(t, b, "dye:transistor-base")}
		want := healthy
		x.want(&want)
		if got != want {
			t.Errorf("%s: found %v, expected %v", x.name, got, want)
		}
		if got := (pattern{ways(t, b, "soak:drive"), ways(t, b, "soak:led"), ways(t, b, "soak:transistor"), ways(t, b, "soak:transistor-base")}); got != healthy {
			t.Errorf("%s: the neighbour's control side is %v, expected %v", x.name, got, healthy)
		}
	}
}

// TestControlSideOhms: an ohmmeter shows a punctured transistor and R_LED with
// the LED lifted out; a junction it calls megohms, or open the other way.
func TestControlSideOhms(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	one, other := unpluggedTest(t, b, "dye:drive", readings.Ohmmeter)
	if one.Ohms < 1e6 || !other.Open {
		t.Errorf("through the LED: %g Ω one way, open %v the other; expected megohms and open", one.Ohms, other.Open)
	}
	r := dead(t, b, readings.Ohmmeter, models.At(models.PlugPlus, 1), models.At(models.Anode, 1))
	near(t, "R_LED", r.Ohms, float64(b.Channels[1].Drive.Resistance), 820, 1e-9)
	if one, _ := unpluggedTest(t, b, "dye:transistor", readings.Ohmmeter); !one.Open {
		t.Errorf("a healthy transistor's output: %g Ω, expected open", one.Ohms)
	}
	b.Channels[1].Drive.OffConductance = 0.5
	one, other = unpluggedTest(t, b, "dye:transistor", readings.Continuity)
	near(t, "punctured", one.Ohms, 2, 2, 1e-9)
	if !one.Beeps || !other.Beeps {
		t.Errorf("a punctured transistor: %+v and %+v, expected a beep both ways", one, other)
	}
	// An optocoupler insulates: from the mains side to the plug all is open.
	for _, mains := range []models.Node{line, neutral, earth, gate, opto} {
		for _, x := range []readings.Test{readings.Ohmmeter, readings.DiodeTest, readings.Continuity} {
			if d := dead(t, b, x, mains, models.At(models.PlugPlus, 0)); !d.Open || d.Beeps {
				t.Errorf("%v from %v to the plug: %+v, expected open", x, mains, d)
			}
		}
	}
	// The insulation test from line and neutral to earth is the mains side's
	// own.
	with, err := readings.Unplugged(b, circuit.Uniform(3, 20), readings.Insulation, models.Node{}, models.Node{})
	if err != nil {
		t.Fatal(err)
	}
	b.Channels[0].Drive, b.Channels[0].Opto.LEDSlope = models.Drive{}, 0
	if without := dead(t, b, readings.Insulation, line, earth); without.Ohms != with.Ohms {
		t.Errorf("insulation of %g Ω with and %g Ω without the control side", with.Ohms, without.Ohms)
	}
}

// TestLEDPoint: across the LED a junction drop when it conducts; across a dead
// one what a meter leaves of the drive voltage behind R_LED: 3 kΩ beside 820 Ω
// take 3000/3820 of it (Ohm's law). An open connector leaves nothing.
func TestLEDPoint(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	p := point(t, b, "dye:led")
	b.Meters = append(b.Meters, models.Meter{Name: "low direct", Detector: models.Direct, Resistance: 3e3})
	read := func(meter string, s readings.State) float64 { return look(t, b, p, meter, conditions(b, s)).Indicated }
	near(t, "undriven", read("direct", readings.Standby), 0, 1, 0)
	near(t, "driven", read("low direct", readings.Heating), 1.1+5*(10.7-1.1*820/3e3)/(825+5*820/3e3), 1, 1e-12)
	if v := read("direct", readings.Heating); v < 1.1 || v > 1.3 {
		t.Errorf("driven: %g V across the LED, expected 1.1 V to 1.3 V", v)
	}
	if v := look(t, b, p, "direct", conditions(b, readings.Holding)); !v.Varies || v.Low != 0 || v.High < 1.1 {
		t.Errorf("in bursts: %+v, expected nothing to one drop", v)
	}
	b.Channels[1].Opto.LEDSlope = q.Ohm(math.Inf(1))
	near(t, "dead, 10 MΩ", read("direct", readings.Heating), 11.8*10e6/(10e6+820), 12, 1e-12)
	near(t, "dead, 3 kΩ", read("low direct", readings.Heating), 11.8*3000/3820, 12, 1e-12)
	b.Channels[1].Drive.Resistance = q.Ohm(math.Inf(1))
	near(t, "open connector", read("direct", readings.Heating), 0, 1, 0)
	// The plug's own voltage tells a dead controller from a dead opto.
	if v := look(t, b, point(t, b, "dye:drive"), "direct", conditions(b, readings.Heating)); v.Shown != 11.8 {
		t.Errorf("at the plug of a dead opto: %g V, expected 11.8 V", v.Shown)
	}
	b.Channels[1].Drive.On = 0
	if v := look(t, b, point(t, b, "dye:drive"), "direct", conditions(b, readings.Heating)); v.Shown != 0 {
		t.Errorf("at the plug of a dead drive: %g V, expected none", v.Shown)
	}
}
