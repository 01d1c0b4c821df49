package circuit

import (
	"math"
	"slices"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// controlBoard has two channels with the drive and LED of a common board.
func controlBoard() *models.Board {
	b := healthyBoard(44, 35)
	for k := range b.Channels {
		b.Channels[k].Drive = models.Drive{On: 12, Saturation: 0.2, Resistance: 820, OffConductance: 1e-9}
		o := &b.Channels[k].Opto
		o.Forward, o.LEDSlope = 1.1, 5
	}
	return b
}

// TestUnpluggedLED: at the pins of a control plug that is pulled off, R_LED
// and the junction of the LED one way round (Ohm's law and the sum of the
// drops), nothing the other. That a diode test of 1 mA shows 1.1 V to 1.3 V
// across an infrared LED is common practice, no source.
func TestUnpluggedLED(t *testing.T) {
	b := controlBoard()
	for k := range b.Channels {
		plus, minus, anode := models.At(models.PlugPlus, k), models.At(models.PlugMinus, k), models.At(models.Anode, k)
		for _, i := range []float64{1e-7, 1e-4, 1e-3, 0.02} {
			near(t, "pins", voltsAt(t, unplugged(t, b, plus, minus), i), 1.1+825*i, 1, 1e-9)
			near(t, "LED", voltsAt(t, unplugged(t, b, anode, minus), i), 1.1+5*i, 1, 1e-9)
			near(t, "R_LED", voltsAt(t, unplugged(t, b, plus, anode), i), 820*i, 820*i, 1e-9)
		}
		if v := voltsAt(t, unplugged(t, b, anode, minus), 1e-3); v < 1.1 || v > 1.3 {
			t.Errorf("diode test of the LED: %g V, expected 1.1 V to 1.3 V", v)
		}
		for _, leads := range [][2]models.Node{{minus, plus}, {minus, anode}} {
			if v, open, err := unplugged(t, b, leads[0], leads[1]).Voltage(1e-3); err != nil || !open {
				t.Errorf("%v to %v: %g V, open %v, %v; expected open", leads[0], leads[1], v, open, err)
			}
		}
		if v, open, err := unplugged(t, b, plus, minus).Voltage(-1e-3); err != nil || !open {
			t.Errorf("current backwards: %g V, open %v, %v; expected open", v, open, err)
		}
		for _, part := range []string{"led1", "led-resistor1"} {
			if _, open, err := unplugged(t, b, plus, minus, part).Voltage(1e-3); err != nil || open != (k == 0) {
				t.Errorf("channel %d with %s lifted: open %v, %v", k+1, part, open, err)
			}
		}
	}
	// Which part is open shows at the LED itself.
	dead, parted := controlBoard(), controlBoard()
	dead.Channels[0].Opto.LEDSlope = q.Ohm(inf)
	parted.Channels[0].Drive.Resistance = q.Ohm(inf)
	for _, x := range []struct {
		name  string
		board *models.Board
		led   bool
	}{{"dead LED", dead, false}, {"open connector", parted, true}} {
		minus := models.At(models.PlugMinus, 0)
		if _, open, err := unplugged(t, x.board, models.At(models.PlugPlus, 0), minus).Voltage(1e-3); err != nil || !open {
			t.Errorf("%s: at the pins open %v, %v; expected open", x.name, open, err)
		}
		if _, open, err := unplugged(t, x.board, models.At(models.Anode, 0), minus).Voltage(1e-3); err != nil || open == x.led {
			t.Errorf("%s: at the LED open %v, %v", x.name, open, err)
		}
	}
}

// TestUnpluggedTransistor: the output of a drive transistor without base
// current is open but for its leak; a punctured one is a resistance both ways.
// Its base junction shows 0.6 V to 0.7 V at 1 mA (common practice, no source)
// and a parted one nothing.
func TestUnpluggedTransistor(t *testing.T) {
	b := controlBoard()
	collector, emitter, base := models.At(models.Collector, 1), models.At(models.Emitter, 1), models.At(models.Base, 1)
	near(t, "healthy", voltsAt(t, unplugged(t, b, collector, emitter), 1e-9), 1, 1, 1e-9)
	if v := voltsAt(t, unplugged(t, b, base, emitter), 1e-3); v < 0.6 || v > 0.7 {
		t.Errorf("base junction at 1 mA: %g V, expected 0.6 V to 0.7 V", v)
	}
	if _, open, err := unplugged(t, b, emitter, base).Voltage(1e-3); err != nil || !open {
		t.Errorf("base junction backwards: open %v, %v", open, err)
	}
	b.Channels[1].Drive.OffConductance = 0.5
	for _, i := range []float64{1e-3, -1e-3} {
		near(t, "punctured", voltsAt(t, unplugged(t, b, collector, emitter), i), 2*i, 2e-3, 1e-9)
	}
	// The emitters of all channels are joined.
	near(t, "to another emitter", voltsAt(t, unplugged(t, b, collector, models.At(models.Emitter, 0)), 1e-3), 2.01e-3, 2e-3, 1e-9)
	b.Channels[1].Drive.Open = true
	if _, open, err := unplugged(t, b, base, emitter).Voltage(1e-3); err != nil || !open {
		t.Errorf("parted base junction: open %v, %v", open, err)
	}
}

// TestControlSideInsulated: no direct current at 500 V from any node of the
// mains side to any of the control side, films and broken parts included: an
// optocoupler insulates.
func TestControlSideInsulated(t *testing.T) {
	b := controlBoard()
	b.Bridges = []models.Bridge{{Name: "film", From: models.At(models.Output, 0), To: models.At(models.OptoOutput, 0), Resistance: 1e3}}
	for _, mains := range []models.Node{models.At(models.Line, 0), models.At(models.Neutral, 0), models.At(models.ProtectiveEarth, 0), models.At(models.OptoOutput, 1), models.At(models.Gate, 0)} {
		for p := models.PlugPlus; p <= models.Base; p++ {
			for _, leads := range [][2]models.Node{{mains, models.At(p, 0)}, {models.At(p, 1), mains}} {
				u := unplugged(t, b, leads[0], leads[1])
				if _, open, err := u.Voltage(1e-9); err != nil || !open {
					t.Errorf("%v to %v: open %v, %v", leads[0], leads[1], open, err)
				}
				if i, err := u.Current(500, 1e-3); err != nil || i != 0 {
					t.Errorf("%v to %v: %g A at 500 V, %v; expected none", leads[0], leads[1], i, err)
				}
			}
		}
	}
}

func TestControlSideErrors(t *testing.T) {
	b := controlBoard()
	temps := Uniform(2, 25)
	minus := models.At(models.PlugMinus, 0)
	for _, c := range []struct {
		name   string
		plus   models.Node
		lifted []string
		want   string
	}{
		{"a channel that isn't there", models.At(models.Anode, 2), nil, "anode3"},
		{"both at one pin", minus, nil, "two nodes"},
		{"no such part", models.At(models.Anode, 0), []string{"led3"}, `"led3"`},
	} {
		if _, err := NewUnplugged(b, temps, c.plus, minus, c.lifted...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: found error %v, expected %q in it", c.name, err, c.want)
		}
	}
	bridged := b.Clone()
	bridged.Bridges = []models.Bridge{{Name: "film", From: models.At(models.Gate, 0), To: models.At(models.PlugPlus, 0), Resistance: 1e3}}
	if _, err := New(bridged); err == nil || !strings.Contains(err.Error(), "plug-plus1") {
		t.Errorf("a path to the control side: found error %v, expected its node refused", err)
	}
	b.Channels[0].Drive.Resistance = -1
	if _, err := NewUnplugged(b, temps, models.At(models.Anode, 0), minus); err == nil || !strings.Contains(err.Error(), "led-resistor1") {
		t.Errorf("a negative resistance: error %v", err)
	}
	b.Channels[0].Drive.Resistance = 820
	parts, err := ControlBranches(b)
	if err != nil || !slices.Contains(parts, "led2") || !slices.Contains(parts, "transistor1") || slices.Contains(parts, leads) {
		t.Errorf("branches %v, %v", parts, err)
	}
	// A part of the other side may be lifted: it changes nothing.
	near(t, "mains part lifted", voltsAt(t, unplugged(t, b, models.At(models.Anode, 0), minus, "wire1"), 1e-3), 1.105, 1, 1e-9)
}

// TestUnpluggedOnlyWay: a junction that is the only way from lead to lead
// conducts, without any leakage beside it.
func TestUnpluggedOnlyWay(t *testing.T) {
	out, l := models.At(models.Output, 0), models.At(models.Line, 0)
	b := healthyBoard(44)
	b.Channels[0].Triac.Off, b.Channels[0].Opto.Off = 0, 0
	b.Bridges = []models.Bridge{{Name: "one way", From: out, To: l, Resistance: 0.02, Threshold: 0.9, OneWay: true}}
	near(t, "one way", voltsAt(t, unplugged(t, b, out, l), 1e-3), 0.9+2e-5, 1, 1e-12)
	if v, open, err := unplugged(t, b, l, out).Voltage(1e-3); err != nil || !open || !math.IsInf(v, 1) {
		t.Errorf("the other way: %g V, open %v, %v; expected open", v, open, err)
	}
}
