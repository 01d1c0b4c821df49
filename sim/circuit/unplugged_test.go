package circuit

import (
	"math"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

func unplugged(t *testing.T, b *models.Board, plus, minus models.Node, lifted ...string) *Unplugged {
	t.Helper()
	u, err := NewUnplugged(b, Uniform(len(b.Channels), 25), plus, minus, lifted...)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func voltsAt(t *testing.T, u *Unplugged, amps float64) float64 {
	t.Helper()
	v, open, err := u.Voltage(amps)
	if err != nil || open {
		t.Fatalf("open %v, %v", open, err)
	}
	return v
}

// TestUnpluggedResistance: resistances in circuit with their parallel paths
// (Ohm and Kirchhoff), and with a part lifted.
func TestUnpluggedResistance(t *testing.T) {
	b := healthyBoard(44, 35)
	for k := range b.Channels {
		b.Channels[k].Triac.Off, b.Channels[k].Opto.Off = 0, 0
	}
	out, n, l := models.At(models.Output, 0), models.At(models.Neutral, 0), models.At(models.Line, 0)
	for _, i := range []float64{1e-4, -1e-4, 1e-3, 0.1} {
		near(t, "load", voltsAt(t, unplugged(t, b, out, n), i), 44.025*i, 44*i, 1e-12)
	}
	// A resistor of 100 Ω beside it.
	b.Bridges = []models.Bridge{{Name: "film", From: out, To: n, Resistance: 100}}
	near(t, "load and film", voltsAt(t, unplugged(t, b, out, n), 1e-3), 1e-3/(1/44.025+1/100.0), 0.03, 1e-12)
	near(t, "film alone", voltsAt(t, unplugged(t, b, out, n, "wire1"), 1e-3), 0.1, 0.1, 1e-12)
	b.Bridges = nil
	// Nothing leads from L to N but the triacs: open.
	if _, open, err := unplugged(t, b, l, n).Voltage(1e-6); err != nil || !open {
		t.Errorf("L to N of a board without leakage: open %v, %v, expected open", open, err)
	}
	// With leakage, both channels in parallel: junctions stay open at 1 µA.
	for k := range b.Channels {
		b.Channels[k].Triac.Off, b.Channels[k].Opto.Off = 5e-8, 2e-9
	}
	g := func(load float64) float64 { return 1 / (load + 1/(5e-8+1/(1/2e-9+660))) }
	want := 1e-9 / (g(44.025) + g(35.025))
	near(t, "leakage", voltsAt(t, unplugged(t, b, l, n), 1e-9), want, want, 1e-9)
}

// TestUnpluggedJunctions: at 1 mA a triac shorted in one direction shows one
// junction drop one way, an opto that conducts in one polarity more than one
// with the gate's resistors in series. Common practice, no source; the
// voltages are sums of the drops.
func TestUnpluggedJunctions(t *testing.T) {
	out, l := models.At(models.Output, 0), models.At(models.Line, 0)
	b := healthyBoard(44)
	b.Channels[0].Triac.Off, b.Channels[0].Opto.Off = 1e-12, 1e-12 // next to no leakage
	b.Bridges = []models.Bridge{{Name: "half-short", From: out, To: l, Resistance: 0.02, Threshold: 0.9, OneWay: true}}
	near(t, "half-shorted triac", voltsAt(t, unplugged(t, b, out, l), 1e-3), 0.9+0.02e-3, 1, 1e-9)
	// The other way no meter reaches the voltage that leakage would take.
	if v := voltsAt(t, unplugged(t, b, l, out), 1e-3); !(v > 1e8) {
		t.Errorf("half-shorted triac the other way: %g V, expected as good as open", v)
	}
	b.Bridges = []models.Bridge{{Name: "half-opto", From: out, To: models.At(models.OptoOutput, 0), Resistance: 5, Threshold: 1.2, OneWay: true}}
	near(t, "opto at 1 mA", voltsAt(t, unplugged(t, b, out, l), 1e-3), 1.2+1e-3*(5+330+330), 1, 2e-9)
	// At 10 mA the gate junction takes over from R_GK.
	vj := (0.01 + 0.8/10) / (1.0/330 + 1.0/10)
	near(t, "opto at 10 mA", voltsAt(t, unplugged(t, b, out, l), 0.01), 1.2+0.01*335+vj, 5, 2e-9)
	// The current at a given voltage is the inverse.
	u := unplugged(t, b, out, l)
	i, err := u.Current(1.865, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "current at 1.865 V", i, 1e-3, 1e-3, 1e-8)
	if i, err := u.Current(1000, 0.1); err != nil || i != 0.1 {
		t.Errorf("current beyond the limit: %v, %v, expected the limit 0.1 A", i, err)
	}
	if i, err := u.Current(-1000, 0.1); err != nil || math.Abs(i) > 1e-8 {
		t.Errorf("current the other way: %v, %v, expected none", i, err)
	}
}

func TestUnpluggedErrors(t *testing.T) {
	b := healthyBoard(44)
	out, n := models.At(models.Output, 0), models.At(models.Neutral, 0)
	temps := Uniform(1, 25)
	for _, c := range []struct {
		name        string
		plus, minus models.Node
		lifted      []string
		want        string
	}{
		{"source", models.At(models.Source, 0), n, nil, "source"},
		{"supply neutral", out, models.Node{}, nil, "supply-neutral"},
		{"same node", out, out, nil, "two nodes"},
		{"rail without a link", models.At(models.Rail, 0), n, nil, "rail"},
		{"lifted part", out, n, []string{"gate-resistor7"}, "gate-resistor7"},
	} {
		_, err := NewUnplugged(b, temps, c.plus, c.minus, c.lifted...)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: found error %v, expected %q in it", c.name, err, c.want)
		}
	}
	b.Channels[0].Wire = q.Ohm(inf)
	if v, open, err := unplugged(t, b, out, n).Voltage(1e-6); err != nil || !open {
		t.Errorf("open wire: %v V, open %v, %v, expected open", v, open, err)
	}
}
