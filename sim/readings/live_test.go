package readings_test

import (
	"fmt"
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/readings"
)

// TestHalfWaveByDetector: a channel that conducts in one polarity reads 0.50,
// 0.55, 0.55 and 0.71 of the supply by detector, and all or nothing by a meter
// with one diode: common practice, no source; the digits are those of form
// factors in closed form. The supply's own drop and the triac's take up to
// 2 %, as they do from a healthy channel.
func TestHalfWaveByDetector(t *testing.T) {
	for _, fromMT2 := range []bool{true, false} {
		b := embedded(t, "dye-bench-240")
		p := point(t, b, "soak:output")
		healthy := conditions(b, readings.Heating)
		healthy.Off = []bool{false, true, true}
		full := look(t, b, p, "rms", healthy).Indicated
		if !(full > 0.98*240 && full < 240) {
			t.Errorf("a healthy channel reads %.2f V, expected 240 V less some drop", full)
		}
		oneWayOpto(b, fromMT2)
		standby := conditions(b, readings.Standby)
		for _, x := range []struct {
			meter    string
			fraction float64
			digits   string
		}{
			{"average", 0.5, "0.50"}, {"average-coupled", 0.551101965822, "0.55"}, {"rms-coupled", 0.545305082239, "0.55"},
			{"rms", math.Sqrt2 / 2, "0.71"}, {"low-impedance", math.Sqrt2 / 2, "0.71"},
		} {
			v := look(t, b, p, x.meter, standby)
			if got := fmt.Sprintf("%.2f", v.Indicated/full); got != x.digits {
				t.Errorf("%s: reads %s of a healthy channel, want %s", x.meter, got, x.digits)
			}
			near(t, x.meter+" against a healthy channel", v.Indicated, x.fraction*full, full, 1e-3)
			if drop := 1 - v.Indicated/(x.fraction*240); !(drop > 0 && drop < 0.02) {
				t.Errorf("%s: reads %.2f V, %.2f %% below the ideal half-wave, expected up to 2 %%", x.meter, v.Indicated, 100*drop)
			}
		}
		// An opto that conducts from MT2 does so while the line is negative.
		sign := 1.0
		if fromMT2 {
			sign = -1
		}
		near(t, "direct voltage", look(t, b, p, "direct", standby).Indicated, sign*math.Sqrt2/math.Pi*full, full, 1e-3)
		swapped := p
		swapped.Plus, swapped.Minus = p.Minus, p.Plus
		all, nothing := look(t, b, p, "one-diode", standby).Indicated, look(t, b, swapped, "one-diode", standby).Indicated
		if fromMT2 {
			all, nothing = nothing, all
		}
		near(t, "one diode, all", all, full, full, 2e-3)
		near(t, "one diode, nothing", nothing, 0, full, 1e-3)
	}
}

// TestShortedTriac: a shorted triac puts the full supply on its load in
// standby, by every detector; the other channels stay off. Common practice,
// no source; the share of the 20 mΩ is Ohm's law.
func TestShortedTriac(t *testing.T) {
	b := embedded(t, "dye-bench-240")
	shortTriac(b, 0)
	c := conditions(b, readings.Standby)
	e := &b.Channels[0]
	r := float64(e.Element.Resistance + e.Wire + e.Link.Resistance)
	for _, m := range []string{"average", "average-coupled", "rms-coupled", "rms", "one-diode", "low-impedance"} {
		supply := look(t, b, point(t, b, "supply"), m, c).Indicated
		out := look(t, b, point(t, b, "soak:output"), m, c).Indicated
		if !(supply > 0.98*240 && supply < 240) {
			t.Errorf("%s: supply reads %.2f V, expected 240 V less some drop", m, supply)
		}
		near(t, m+" across the load", out, supply*r/(r+0.02), supply, 1e-5)
	}
	if v := look(t, b, point(t, b, "dye:output"), "rms", c); v.Indicated > 1 {
		t.Errorf("the neighbour's output reads %.3f V, expected hardly anything", v.Indicated)
	}
	if v := look(t, b, point(t, b, "soak:triac"), "rms", c); v.Indicated > 0.2 {
		t.Errorf("%.3f V across the shorted triac, expected hardly anything", v.Indicated)
	}
}

// TestOpenElementStandby: with its element open a healthy channel's output
// reads nearly the whole supply on a 10 MΩ meter in standby, and volts on a
// 3 kΩ meter. Common practice, no source.
func TestOpenElementStandby(t *testing.T) {
	for _, name := range []string{"dye-bench-240", "dye-bench-230", "dye-bench-120"} {
		b := embedded(t, name)
		b.Channels[0].Element.Open = true
		p, c := point(t, b, "soak:output"), conditions(b, readings.Standby)
		v := float64(b.Supply.Voltage)
		if got := look(t, b, p, "rms", c).Indicated; !(got > 0.99*v && got <= 1.001*v) {
			t.Errorf("%s: 10 MΩ meter reads %.2f V, expected nearly the whole supply", name, got)
		}
		if got := look(t, b, p, "low-impedance", c).Indicated; !(got > 1 && got < 0.02*v) {
			t.Errorf("%s: 3 kΩ meter reads %.2f V, expected a few volts", name, got)
		}
	}
}

// TestGhostVoltage compares what meters read through a snubber of 10 nF and
// 100 Ω on an ideal 240 V 50 Hz with the complex divider, the load open, and
// connected.
func TestGhostVoltage(t *testing.T) {
	open := textbook(t, 240)
	open.Channels[0].Element.Open = true
	for _, x := range []struct {
		ohms q.Ohm
		want float64
		show float64
	}{{10e6, 239.876111, 239.9}, {1e6, 228.672960, 228.7}, {3e3, 2.2618394, 2.262}} {
		m := meter(t, open, "rms")
		m.Resistance = x.ohms
		v, err := readings.At(open, point(t, open, "soak:output"), []models.Meter{m}, conditions(open, readings.Standby))
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("through the snubber, %g Ω", float64(x.ohms)), v[0].Indicated, x.want, x.want, 3e-8)
		near(t, fmt.Sprintf("as displayed, %g Ω", float64(x.ohms)), v[0].Shown, x.show, x.show, 1e-12)
	}
	b := textbook(t, 240)
	m := meter(t, b, "rms")
	m.Resistance = q.Ohm(math.Inf(1))
	v, err := readings.At(b, point(t, b, "soak:output"), []models.Meter{m}, conditions(b, readings.Standby))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "with 48 Ω connected", v[0].Indicated, 0.03619114346, 0.036, 1e-9)
}

// TestAcrossBreak: across the break of an element that is fed, a 10 MΩ meter
// reads V·R_m/(R_m + R), R being the 48 Ω on the near side.
func TestAcrossBreak(t *testing.T) {
	b := textbook(t, 240)
	c := &b.Channels[0]
	c.Element.Open, c.Element.Resistance, c.Element.Split = true, 96, 0.5
	b.Bridges = append(b.Bridges, models.Bridge{Name: "short", From: output, To: line, Resistance: 1e-6})
	gap := readings.Point{Name: "break", Plus: mid, Minus: neutral, Live: true}
	near(t, "across the break", look(t, b, gap, "rms", conditions(b, readings.Standby)).Indicated, 239.998848006, 240, 1e-11)
}

// TestOrientations: whichever conductor the triac sits in, whichever way
// round it is and whatever lies ahead of it, a blocking channel has the
// supply across its triac and nothing across its load, and a driven one the
// other way round. With the triac in the neutral the output of a healthy
// blocking channel is live against earth; with it in the line it is not.
// Common practice, no source.
func TestOrientations(t *testing.T) {
	for _, side := range []models.TriacSide{models.LineSide, models.NeutralSide} {
		for _, mt1 := range []models.MT1Side{models.MT1Supply, models.MT1Load} {
			for _, upstream := range []bool{false, true} {
				b := single(t, "dye-bench-230")
				b.Channels[0].Side, b.Channels[0].MT1 = side, mt1
				if upstream {
					l := b.Channels[0].Link
					b.Upstream = &l
				}
				what := fmt.Sprintf("triac in the %v, MT1 to the %v, upstream link %v", side, mt1, upstream)
				read := func(name string, s readings.State) float64 {
					return look(t, b, point(t, b, "soak:"+name), "rms", conditions(b, s)).Indicated
				}
				for _, x := range []struct {
					point     string
					state     readings.State
					low, high float64
				}{
					{"output", readings.Standby, 0, 0.2}, {"element", readings.Standby, 0, 0.2}, {"triac", readings.Standby, 229.5, 230.1},
					{"opto-output", readings.Standby, 229, 230.1}, {"gate", readings.Standby, 0, 0.01},
					{"output", readings.Heating, 225, 229.5}, {"element", readings.Heating, 225, 229.5}, {"triac", readings.Heating, 0.5, 3},
					{"link", readings.Standby, 0, 0.001}, {"link", readings.Heating, 0.02, 0.03}, // 5 A through 5 mΩ
				} {
					if got := read(x.point, x.state); !(got >= x.low && got <= x.high) {
						t.Errorf("%s: %s in %v reads %.3f V, expected %g V to %g V", what, x.point, x.state, got, x.low, x.high)
					}
				}
				toEarth, driven := read("output-earth", readings.Standby), read("output-earth", readings.Heating)
				if live := side == models.NeutralSide; live != (toEarth > 229) || !live && toEarth > 0.2 {
					t.Errorf("%s: output to earth in standby reads %.3f V", what, toEarth)
				}
				if hot := side == models.LineSide; hot != (driven > 225) || !hot && driven > 5 {
					t.Errorf("%s: output to earth when heating reads %.3f V", what, driven)
				}
				mt1Node, mt2Node := models.At(models.Rail, 0), output
				if side == models.NeutralSide {
					mt1Node = neutral
				}
				if mt1 == models.MT1Load {
					mt1Node, mt2Node = mt2Node, mt1Node
				}
				faulty := b.Clone()
				faulty.Bridges = []models.Bridge{{Name: "one way", From: mt2Node, To: mt1Node, Resistance: 0.02, OneWay: true, Threshold: 0.9}}
				if got := look(t, faulty, point(t, b, "soak:triac"), "direct", conditions(b, readings.Standby)).Indicated; !(got < -90 && got > -110) {
					t.Errorf("%s: a triac shorted from MT2 to MT1 keeps a direct voltage of %.2f V, expected the missing half-wave", what, got)
				}
				gatePath(t, what, b, mt1Node, mt2Node)
				if upstream {
					deadRail(t, what, b)
				}
			}
		}
	}
}

// gatePath puts a leak of 1 MΩ across the opto's output, with which nothing
// fires, and compares the points along the gate path with Ohm's law.
func gatePath(t *testing.T, what string, b *models.Board, mt1, mt2 models.Node) {
	t.Helper()
	b = b.Clone()
	b.Bridges = []models.Bridge{{Name: "leak", From: mt2, To: opto, Resistance: 1e6}}
	b.Channels[0].Opto.Off = 0
	rG, rGK := float64(b.Channels[0].GateResistance), float64(b.Channels[0].GateShunt)
	i := 230 / (1e6 + rG + rGK)
	c := conditions(b, readings.Standby)
	near(t, what+", gate resistor", look(t, b, point(t, b, "soak:gate-resistor"), "rms", c).Indicated, i*rG, i*rG, 2e-3)
	near(t, what+", gate", look(t, b, point(t, b, "soak:gate"), "rms", c).Indicated, i*rGK, i*rGK, 2e-3)
	// The meter's 10 MΩ lies beside the leak's 1 MΩ.
	near(t, what+", opto output", look(t, b, point(t, b, "soak:opto-output"), "rms", c).Indicated, 230*(1-(rG+rGK)/(1e7/11)), 230, 2e-4)
	v, err := readings.Record(b, c, 1)
	if err != nil {
		t.Fatal(err)
	}
	across, err := v.Solver.Voltage(gate, mt1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, what+", gate against MT1", models.RMSDirect.Indicated(v.Recording.Moments(across)), i*rGK, i*rGK, 2e-3)
}

// deadRail opens the upstream link: nothing is left across triac and load, and
// the line's own points keep the supply.
func deadRail(t *testing.T, what string, b *models.Board) {
	t.Helper()
	b = b.Clone()
	b.Upstream.Open = true
	for _, name := range []string{"triac", "output", "element", "opto-output"} {
		if got := look(t, b, point(t, b, "soak:"+name), "rms", conditions(b, readings.Standby)).Indicated; got > 30 {
			t.Errorf("%s: behind an open upstream link %s reads %.2f V, expected little", what, name, got)
		}
	}
	near(t, what+", supply ahead of an open link", look(t, b, point(t, b, "supply"), "rms", conditions(b, readings.Standby)).Indicated, 230, 230, 1e-4)
}

// TestToEarth: in standby the line reads the supply against earth, the
// neutral nothing; loaded, the neutral reads its own drop. Without its earth
// the board's earth floats on insulation: a 10 MΩ meter reads little of the
// supply (Ohm's law), and nothing warns.
func TestToEarth(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	standby, heating := conditions(b, readings.Standby), conditions(b, readings.Heating)
	read := func(name string, c readings.Conditions) float64 {
		return look(t, b, point(t, b, name), "rms", c).Indicated
	}
	near(t, "line to earth", read("line-earth", standby), 230, 230, 1e-4)
	near(t, "neutral to earth", read("neutral-earth", standby), 0, 230, 1e-5)
	current := 0.0
	for _, c := range b.Channels {
		current += read("soak:output", heating) / float64(c.Element.Resistance)
	}
	impedance := math.Hypot(float64(b.Supply.NeutralResistance), 2*math.Pi*50*float64(b.Supply.NeutralInductance))
	near(t, "neutral to earth, loaded", read("neutral-earth", heating), current*impedance, current*impedance, 0.01)

	// With line and neutral exchanged at the plug the board's L is the dead
	// one; across both nothing shows.
	exchanged := b.Clone()
	exchanged.Supply.Exchanged = true
	for _, x := range []struct {
		point string
		want  float64
	}{{"line-earth", 0}, {"neutral-earth", 230}, {"supply", 230}, {"soak:output-earth", 230}} {
		near(t, x.point+", exchanged", look(t, exchanged, point(t, b, x.point), "rms", standby).Indicated, x.want, 230, 1e-3)
	}

	b.Earth.Resistance = q.Ohm(math.Inf(1))
	leak := 0.0
	for k := range b.Channels {
		leak += 1 / float64(b.Channels[k].Element.Insulation)
	}
	near(t, "line to a floating earth", read("line-earth", standby), 230*1e7/(1e7+1/leak), 230, 1e-4)
}

// TestOpenLink: across an open thermal link of a channel that is fed the whole
// supply stands, and nothing across its element. Common practice, no source.
func TestOpenLink(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	b.Channels[0].Link.Open = true
	shortTriac(b, 0)
	c := conditions(b, readings.Standby)
	near(t, "across the open link", look(t, b, point(t, b, "soak:link"), "rms", c).Indicated, 230, 230, 1e-4)
	for _, m := range []string{"rms", "low-impedance"} {
		near(t, m+" across the element", look(t, b, point(t, b, "soak:element"), m, c).Indicated, 0, 230, 1e-5)
		near(t, m+" at the output", look(t, b, point(t, b, "soak:output"), m, c).Indicated, 230, 230, 2e-4)
	}
}

// TestMeterThatFires: a 3 kΩ meter across the opto's output is a leak that
// fires the triac: it reads a small part of the supply while the channel
// heats; a 10 MΩ meter reads the supply and fires nothing. Common practice,
// no source.
func TestMeterThatFires(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	p, c := point(t, b, "soak:opto-output"), conditions(b, readings.Standby)
	if got := look(t, b, p, "rms", c).Indicated; got < 229 {
		t.Errorf("10 MΩ reads %.1f V, expected the supply", got)
	}
	low := look(t, b, p, "low-impedance", c).Indicated
	if !(low < 40 && low > 5) {
		t.Errorf("3 kΩ reads %.1f V, expected what is left of a channel that fires late", low)
	}
	b.Bridges = append(b.Bridges, models.Bridge{Name: "meter", From: p.Plus, To: p.Minus, Resistance: 3000})
	if got := look(t, b, point(t, b, "soak:output"), "rms", c).Indicated; got < 220 {
		t.Errorf("the load gets %.1f V while a 3 kΩ meter is across the opto's output, expected nearly all", got)
	}
}

// TestDrivePoint: the drive plug carries the drive voltage of 12 V less the
// 0.2 V of the transistor, which a coupled meter does not see, and which comes
// and goes in bursts.
func TestDrivePoint(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	p := point(t, b, "dye:drive")
	for _, x := range []struct {
		state            readings.State
		meter            string
		shown, low, high float64
	}{
		{readings.Standby, "direct", 0, 0, 0}, {readings.Heating, "direct", 11.8, 11.8, 11.8}, {readings.Holding, "direct", 11.8, 0, 11.8},
		{readings.Heating, "rms-coupled", 0, 0, 0}, {readings.Heating, "rms", 11.8, 11.8, 11.8}, {readings.Holding, "rms-coupled", 0, 0, 0},
	} {
		v := look(t, b, p, x.meter, conditions(b, x.state))
		if v.Shown != x.shown || v.Low != x.low || v.High != x.high || v.Varies != (x.low != x.high) {
			t.Errorf("%s in %v: %v V from %v to %v, varies %v; want %v from %v to %v", x.meter, x.state, v.Shown, v.Low, v.High, v.Varies, x.shown, x.low, x.high)
		}
	}
	c := conditions(b, readings.Heating)
	c.Off = []bool{false, true, false}
	if v := look(t, b, p, "direct", c); v.Shown != 0 {
		t.Errorf("a drive left off reads %v V, want 0", v.Shown)
	}
	if v := look(t, b, point(t, b, "dye:output"), "rms", c); v.Shown > 1 {
		t.Errorf("the output of a drive left off reads %v V", v.Shown)
	}
	if v := look(t, b, point(t, b, "soak:output"), "rms", c); v.Shown < 220 {
		t.Errorf("the output of its neighbour reads %v V", v.Shown)
	}
	b.Channels[1].Drive.Off = 12 // stuck on
	if v := look(t, b, p, "direct", conditions(b, readings.Standby)); v.Shown != 11.8 {
		t.Errorf("a drive stuck on reads %v V in standby, want 11.8", v.Shown)
	}
}

// TestMetersIndependent: what a meter shows depends neither on the other
// meters asked for nor on their order.
func TestMetersIndependent(t *testing.T) {
	b := embedded(t, "dye-bench-240")
	oneWayOpto(b, true)
	p, c := point(t, b, "soak:output"), conditions(b, readings.Standby)
	all, err := readings.At(b, p, b.Meters, c)
	if err != nil {
		t.Fatal(err)
	}
	turned := slices.Clone(b.Meters)
	slices.Reverse(turned)
	back, err := readings.At(b, p, turned, c)
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(back)
	if !reflect.DeepEqual(all, back) {
		t.Errorf("meters asked for in turn read %+v, want %+v", back, all)
	}
	for i, m := range b.Meters {
		if all[i].Meter != m.Name || all[i].Point != p || all[i].State != readings.Standby {
			t.Errorf("reading %d is of %q at %q in %v", i, all[i].Meter, all[i].Point.Name, all[i].State)
		}
		one, err := readings.At(b, p, []models.Meter{m}, c)
		if err != nil || !reflect.DeepEqual(one[0], all[i]) {
			t.Errorf("%s alone reads %+v, %v; want %+v", m.Name, one, err, all[i])
		}
	}
	if v, err := readings.At(b, p, nil, c); err != nil || len(v) != 0 {
		t.Errorf("no meters read %v, %v", v, err)
	}
}

// TestTableCores: a table is the same on one core and on two, and its rows
// are what At says.
func TestTableCores(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	c := conditions(b, readings.Heating)
	c.Off = []bool{false, true, false}
	pts := readings.Points(b)[:12]
	old := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(old)
	one, err := readings.Table(b, pts, b.Meters, c)
	if err != nil {
		t.Fatal(err)
	}
	runtime.GOMAXPROCS(2)
	two, err := readings.Table(b, pts, b.Meters, c)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(one, two) {
		t.Error("a table on one core and on two differ")
	}
	for _, i := range []int{3, 11} {
		at, err := readings.At(b, pts[i], b.Meters, c)
		if err != nil || !reflect.DeepEqual(at, one[i]) {
			t.Errorf("%s reads %v, %v by itself and %v in the table", pts[i].Name, at, err, one[i])
		}
	}
}

// TestBoardUntouched: putting a meter on a board leaves the board as it was.
func TestBoardUntouched(t *testing.T) {
	b := single(t, "dye-bench-230")
	before := b.Clone()
	if _, err := readings.Table(b, readings.Points(b)[:4], b.Meters, conditions(b, readings.Standby)); err != nil {
		t.Fatal(err)
	}
	if _, err := readings.MonitorTable(b, conditions(b, readings.Standby).Temps, readings.DefaultTolerance); err != nil {
		t.Fatal(err)
	}
	if _, err := readings.Unplugged(b, conditions(b, readings.Standby).Temps, readings.Insulation, line, earth); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(b, before) {
		t.Error("a reading changed the board")
	}
}

func TestLiveErrors(t *testing.T) {
	b := single(t, "dye-bench-230")
	hopeless := b.Clone() // an inductance without a path while the triac blocks
	hopeless.Supply.Damping = q.Ohm(math.Inf(1))
	hopeless.Channels[0].Snubber = models.Snubber{}
	for _, x := range []struct {
		name  string
		b     *models.Board
		p     readings.Point
		state readings.State
		wants []string
	}{
		{"unplugged", b, point(t, b, "supply"), readings.UnpluggedState, []string{"supply", "found state unplugged"}},
		{"no such channel", b, readings.Point{Name: "far", Plus: models.At(models.Output, 5), Minus: neutral}, readings.Heating, []string{"far", "out6"}},
		{"no path", hopeless, point(t, b, "supply"), readings.Standby, []string{"supply", "no path"}},
	} {
		c := conditions(x.b, x.state)
		_, err := readings.At(x.b, x.p, b.Meters[:1], c)
		_, tabled := readings.Table(x.b, []readings.Point{x.p, x.p, x.p}, b.Meters[:1], c)
		if err == nil || tabled == nil {
			t.Errorf("%s: errors %v and %v, expected both", x.name, err, tabled)
			continue
		}
		for _, w := range x.wants {
			if !strings.Contains(err.Error(), w) || !strings.Contains(tabled.Error(), w) {
				t.Errorf("%s: errors %q and %q, expected them to say %q", x.name, err, tabled, w)
			}
		}
	}
}
