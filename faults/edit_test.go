package faults

import (
	"math"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// applied puts a written fault on channel 2 of a healthy board.
func applied(t *testing.T, o orientation, text string) *models.Board {
	t.Helper()
	j, err := Parse(text, []string{"soak", "dye", "steam"})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Set{j}.Applied(healthyBoard(o.side, o.mt1))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The nodes of each path by hand from the drawing of a channel: L, triac,
// OUT, load, N, or L, load, OUT, triac, N; gate path from MT2 through the opto
// and the gate resistor to the gate.
func TestPathsFollowTheTriac(t *testing.T) {
	nodes := map[orientation]struct{ mt1, mt2 string }{
		{models.LineSide, models.MT1Supply}:    {"rail", "out2"},
		{models.LineSide, models.MT1Load}:      {"out2", "rail"},
		{models.NeutralSide, models.MT1Supply}: {"N", "out2"},
		{models.NeutralSide, models.MT1Load}:   {"out2", "N"},
	}
	for o, n := range nodes {
		for _, c := range []struct {
			text, from, to string
			want           models.Bridge
		}{
			{"dye:triac-shorted", n.mt2, n.mt1, models.Bridge{Resistance: 0.02, Part: models.TriacPart}},
			{"dye:triac-shorted,resistance=0.5 Ω", n.mt2, n.mt1, models.Bridge{Resistance: 0.5, Part: models.TriacPart}},
			{"dye:triac-one-way", n.mt2, n.mt1, models.Bridge{Resistance: 0.025, Threshold: 0.9, OneWay: true, Part: models.TriacPart}},
			{"dye:triac-one-way,polarity=negative", n.mt1, n.mt2, models.Bridge{Resistance: 0.025, Threshold: 0.9, OneWay: true, Part: models.TriacPart}},
			{"dye:opto-shorted", n.mt2, "opto2", models.Bridge{Resistance: 1, Part: models.GatePart}},
			{"dye:opto-one-way", n.mt2, "opto2", models.Bridge{Resistance: 5, Threshold: 1.2, OneWay: true, Part: models.GatePart}},
			{"dye:opto-one-way,polarity=negative", "opto2", n.mt2, models.Bridge{Resistance: 5, Threshold: 1.2, OneWay: true, Part: models.GatePart}},
			{"dye:opto-breakover,threshold=60 V", n.mt2, "opto2", models.Bridge{Resistance: 5, Threshold: 60, OneWay: true, Part: models.GatePart}},
			{"dye:gate-leak", "gate2", n.mt1, models.Bridge{Resistance: 5, Part: models.GatePart}},
			{"dye:film-earth", "out2", "PE", models.Bridge{Resistance: 20e3}},
			{"dye:snubber-capacitor-shorted", "snubber2", n.mt1, models.Bridge{Resistance: 1, Part: models.SnubberPart}},
		} {
			b := applied(t, o, c.text)
			if len(b.Bridges) != 1 {
				t.Fatalf("%s %s: found %d paths, expected 1", o, c.text, len(b.Bridges))
			}
			got := b.Bridges[0]
			if got.From.String() != c.from || got.To.String() != c.to {
				t.Errorf("%s %s: found %s to %s, expected %s to %s", o, c.text, got.From, got.To, c.from, c.to)
			}
			c.want.Channel, c.want.From, c.want.To, c.want.Name = 1, got.From, got.To, got.Name
			if got != c.want {
				t.Errorf("%s %s: found %+v, expected %+v", o, c.text, got, c.want)
			}
		}
	}
}

// No path's name tells which fault made it.
func TestPathNamesTellNoFault(t *testing.T) {
	for i := range catalogue {
		b, err := Set{place(&catalogue[i])}.Applied(healthyBoard(models.LineSide, models.MT1Load))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range b.Bridges {
			if strings.Contains(p.Name, catalogue[i].Name) {
				t.Errorf("found a path named %q", p.Name)
			}
		}
	}
}

// What a drive fault does to the LED current, by the board's own formula, and
// against the trigger current.
func TestDriveAndLED(t *testing.T) {
	for _, c := range []struct {
		text    string
		on, off bool // does the opto get its LED trigger current
	}{
		{"dye:triac-open", true, false}, // the drive is healthy
		{"dye:opto-dead", false, false},
		{"dye:opto-weak-led", false, false},
		{"dye:opto-weak-led,factor=1.1", true, false},
		{"dye:drive-stuck-on", true, true},
		{"dye:drive-stuck-off", false, false},
		{"dye:drive-open", false, false},
		{"dye:drive-low", false, false},
		{"dye:drive-low,voltage=9 V", true, false},
	} {
		b := applied(t, orientations[0], c.text)
		d, o := &b.Channels[1].Drive, &b.Channels[1].Opto
		need := o.TriggerAt(25)
		on := d.LEDCurrent(o, float64(d.On)) >= need
		off := d.LEDCurrent(o, float64(d.Off)) >= need
		if on != c.on || off != c.off {
			t.Errorf("%s: found firing %v when driven and %v when not, expected %v and %v", c.text, on, off, c.on, c.off)
		}
	}
}

// An opto that fires when hot only: D8's healthy need rises with temperature,
// this one's falls.
func TestWeakLEDHotOnly(t *testing.T) {
	b := applied(t, orientations[0], "dye:opto-weak-led,factor=3,coefficient=-2 %/K")
	d, o := &b.Channels[1].Drive, &b.Channels[1].Opto
	i := d.LEDCurrent(o, float64(d.On))
	if i >= o.TriggerAt(20) || i < o.TriggerAt(60) {
		t.Errorf("found a need of %g A at 20 °C and %g A at 60 °C with %g A there, expected firing at 60 °C only", o.TriggerAt(20), o.TriggerAt(60), i)
	}
	b = applied(t, orientations[0], "dye:opto-weak-led,coefficient=0 /K")
	o = &b.Channels[1].Opto
	if o.TriggerAt(-40) != o.TriggerAt(120) {
		t.Error("found a need that changes with temperature, expected none of it")
	}
}

// A leak of 8 kΩ from line to earth carries 30 mA at 240 V (Ohm's law): the
// rated residual current of common devices. The element has 18 Ω before it.
func TestElementLeaking(t *testing.T) {
	b := applied(t, orientations[0], "dye:element-leaking,resistance=8 kΩ,position=50 %")
	e := &b.Channels[1].Element
	if i := 240 / float64(e.Insulation); math.Abs(i-0.030) > 1e-15 {
		t.Errorf("found %g A, expected 30 mA", i)
	}
	if e.Split != 0.5 || e.Open {
		t.Errorf("found %+v, expected the leak half-way along a whole element", e)
	}
}

// EN 50160 (as quoted in secondary texts): a voltage within +10 % and −15 % of
// nominal, harmonics of at most 5 % (3rd), 6 % (5th) and 5 % (7th), a total
// distortion of at most 8 %. The defaults of the supply's faults are inside.
func TestSupplyDefaultsAreInsideEN50160(t *testing.T) {
	h := healthyBoard(models.LineSide, models.MT1Supply)
	low := applied(t, orientations[0], "board:supply-low").Supply.Voltage / h.Supply.Voltage
	high := applied(t, orientations[0], "board:supply-high").Supply.Voltage / h.Supply.Voltage
	if !(low >= 0.85-1e-12 && low < 1 && high > 1 && high <= 1.10) {
		t.Errorf("found factors %g and %g, expected 0.85 to 1.10", low, high)
	}
	limit := map[int]float64{3: 0.05, 5: 0.06, 7: 0.05}
	sum := 0.0
	h.Supply.Harmonics = nil // else what is there counts as well
	s := distorted(t, h, "board:supply-distorted")
	for _, x := range s.Harmonics {
		r := float64(x.Voltage / s.Voltage)
		if r > limit[x.Order]+1e-12 {
			t.Errorf("harmonic %d: found %g, expected at most %g", x.Order, r, limit[x.Order])
		}
		sum += r * r
	}
	if math.Sqrt(sum) > 0.08 {
		t.Errorf("found a total distortion of %g, expected at most 0.08", math.Sqrt(sum))
	}
	// All three flatten the crest, and the zeros stay where they were.
	crest := 230 * math.Sqrt2 * (1 - 0.05 - 0.05 - 0.03)
	if math.Abs(s.EMF(math.Pi/2)-crest) > 1e-9 || math.Abs(s.EMF(math.Pi)) > 1e-9 {
		t.Errorf("found a crest of %g V and %g V at the zero, expected %g V and 0", s.EMF(math.Pi/2), s.EMF(math.Pi), crest)
	}
}

func TestSupplyBounds(t *testing.T) {
	for _, c := range []struct {
		text string
		v    q.Volt
		ok   bool
	}{
		{"board:supply-high", 240, true},
		{"board:supply-high,factor=1.09", 240, false}, // 261.6 V
		{"board:supply-low", 120, true},
		{"board:supply-low,factor=0.7", 120, false}, // 84 V
	} {
		j, err := Parse(c.text, nil)
		if err != nil {
			t.Fatal(err)
		}
		b := healthyBoard(models.LineSide, models.MT1Supply)
		b.Supply.Voltage = c.v
		_, err = Set{j}.Applied(b)
		if (err == nil) != c.ok {
			t.Errorf("%s at %v: found error %v", c.text, c.v, err)
		}
	}
}

// A board without the part says so, and is not edited.
func TestNeeds(t *testing.T) {
	b := healthyBoard(models.LineSide, models.MT1Supply)
	b.Upstream = nil
	b.Channels[1].Snubber = models.Snubber{}
	b.Channels[1].Thermostat = models.Thermostat{}
	b.Channels[1].Opto.Inhibit = q.Volt(math.Inf(1))
	for i := range catalogue {
		f := &catalogue[i]
		_, err := Set{place(f)}.Applied(b)
		if (err != nil) != (f.needs != nil) {
			t.Errorf("%s: found error %v", f.Name, err)
		}
		if err != nil && (!strings.Contains(err.Error(), "found") || !strings.Contains(err.Error(), "expected") || !strings.Contains(err.Error(), f.Name)) {
			t.Errorf("found the error %q, expected what was found and expected, and for which fault", err)
		}
	}
}

// The geometric law at half severity is the geometric mean.
func TestSeverityLaws(t *testing.T) {
	for _, c := range []struct {
		text string
		got  func(*models.Board) float64
		want float64
	}{
		{"dye:triac-shorted,severity=50 %", func(b *models.Board) float64 { return float64(b.Bridges[0].Resistance) }, math.Sqrt(1e9 * 0.02)},
		{"dye:film-opto,severity=50 %", func(b *models.Board) float64 { return float64(b.Bridges[0].Resistance) }, math.Sqrt(1e9 * 10e3)},
		{"dye:element-leaking,severity=50 %", func(b *models.Board) float64 { return float64(b.Channels[1].Element.Insulation) }, math.Sqrt(1e9 * 10e3)},
		{"dye:triac-weak-latching,severity=50 %", func(b *models.Board) float64 { return float64(b.Channels[1].Triac.Latching) }, 0.05 * math.Sqrt(5)},
		{"dye:terminal-resistance,severity=50 %", func(b *models.Board) float64 { return float64(b.Channels[1].Wire) }, 0.51},
		{"dye:drive-low,severity=50 %", func(b *models.Board) float64 { return float64(b.Channels[1].Drive.On) }, 7.5},
		{"dye:opto-no-window,severity=50 %", func(b *models.Board) float64 { return float64(b.Channels[1].Opto.Inhibit) }, 40},
		{"dye:snubber-capacitor-open,severity=25 %", func(b *models.Board) float64 { return float64(b.Channels[1].Snubber.Capacitance) }, 7.5e-9},
	} {
		got := c.got(applied(t, orientations[0], c.text))
		if math.Abs(got-c.want) > 1e-12*c.want {
			t.Errorf("%s: found %g, expected %g", c.text, got, c.want)
		}
	}
}

// Which polarity is which: quadrants I and II have MT2 positive (the usual
// naming of a triac's quadrants), and an opto that still fires in one polarity
// is restricted to it.
func TestPolarities(t *testing.T) {
	want := func(text string, factors [4]float64) {
		t.Helper()
		healthy := healthyBoard(models.LineSide, models.MT1Supply).Channels[1].Triac.Trigger
		got := applied(t, orientations[0], text).Channels[1].Triac.Trigger
		for k, f := range factors {
			if got[k] != healthy[k]*q.Ampere(f) {
				t.Errorf("%s: found %v in quadrant %d, expected %g times %v", text, got[k], k+1, f, healthy[k])
			}
		}
	}
	want("dye:triac-insensitive", [4]float64{20, 20, 1, 1})
	want("dye:triac-insensitive,polarity=negative,factor=3", [4]float64{1, 1, 3, 3})
	for text, fires := range map[string]int{"dye:opto-half-wave": 1, "dye:opto-half-wave,polarity=negative": -1} {
		if got := applied(t, orientations[0], text).Channels[1].Opto.Fires; got != fires {
			t.Errorf("%s: found %d, expected %d", text, got, fires)
		}
	}
}

// What the controller reads of a healthy and of a faulty probe at 60 °C, by
// the board's own converter.
func TestProbeReadings(t *testing.T) {
	for _, c := range []struct {
		text     string
		min, max float64
	}{
		{"dye:probe-detached", 59.9, 60.1}, // right for its own temperature
		{"dye:probe-drift", 64.8, 65.2},
		{"dye:probe-drift,drift=-8 K", 51.8, 52.2},
		{"dye:probe-open", -55, -40},
		{"dye:probe-shorted", 150, 200},
	} {
		p := &applied(t, orientations[0], c.text).Channels[1].Probe
		if got := p.Reading(p.Code(60)); got < c.min || got > c.max {
			t.Errorf("%s: found a reading of %g °C, expected %g to %g", c.text, got, c.min, c.max)
		}
	}
}

// A leaking relief valve takes steam from the start of the world to its end.
func TestReliefLeaking(t *testing.T) {
	draws := applied(t, orientations[0], "dye:relief-leaking,flow=0.1 g/s,severity=50 %").Channels[1].Boiler.Draws
	d := draws[len(draws)-1]
	if on, _ := d.Active(longest - 1); !on || !d.Steam || d.Refill != -1 || math.Abs(float64(d.Flow)-0.05e-3) > 1e-18 {
		t.Errorf("found the draw %+v, expected 0.05 g/s of steam at all times", d)
	}
}
