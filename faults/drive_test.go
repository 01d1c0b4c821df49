package faults_test

import (
	"math"
	"testing"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// withFaults puts written faults on the demonstration board.
func withFaults(t *testing.T, texts ...string) *models.Board {
	t.Helper()
	f, err := boardfile.Embedded("dye-bench-230")
	if err != nil {
		t.Fatal(err)
	}
	var set faults.Set
	for _, text := range texts {
		j, err := faults.Parse(text, []string{"soak", "dye", "steam"})
		if err != nil {
			t.Fatal(err)
		}
		set = append(set, j)
	}
	b, err := set.Applied(f.Board)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// shows tells at which points of dye's control side a diode test, both ways
// round, differs from that of a healthy board.
func shows(t *testing.T, b *models.Board) string {
	t.Helper()
	healthy, out := withFaults(t), ""
	for _, name := range []string{"drive", "led", "transistor", "transistor-base"} {
		p, err := readings.FindUnpluggedPoint(b, "dye:"+name)
		if err != nil {
			t.Fatal(err)
		}
		differs := false
		for _, leads := range [][2]models.Node{{p.Plus, p.Minus}, {p.Minus, p.Plus}} {
			test := func(b *models.Board) readings.Dead {
				d, err := readings.Unplugged(b, circuit.Uniform(3, 25), readings.DiodeTest, leads[0], leads[1])
				if err != nil {
					t.Fatal(err)
				}
				return d
			}
			one, other := test(b), test(healthy)
			differs = differs || one.Open != other.Open || !one.Open && math.Abs(one.Volts-other.Volts) > 0.01
		}
		if differs {
			out += " " + name
		}
	}
	return out
}

// TestControlSideFaultsUnplugged: where the unplugged control side tells of a
// fault, as the catalogue's steps say. A dead LED is open at its pins and at
// the plug, an open connector at the plug alone; a punctured transistor
// conducts and a parted one has lost its base junction. A weak LED, a low
// drive voltage and exchanged plugs show nothing, nor does any fault of the
// mains side.
func TestControlSideFaultsUnplugged(t *testing.T) {
	want := map[string]string{
		"opto-dead": " drive led", "drive-open": " drive", "drive-stuck-on": " transistor", "drive-stuck-off": " transistor-base",
	}
	for _, f := range faults.Catalogue() {
		if f.Scope == faults.PerBoard || f.Part != faults.DrivePart && f.Part != faults.OptoPart && f.Part != faults.TriacPart {
			continue
		}
		if got := shows(t, withFaults(t, "dye:"+f.Name)); got != want[f.Name] {
			t.Errorf("%s: found it shown at%s, expected at%s", f.Name, got, want[f.Name])
		}
		delete(want, f.Name)
	}
	for name := range want {
		t.Errorf("found no fault %s", name)
	}
}

// TestPuncturedTransistor: the conductance of its output rises with the
// severity to that of its resistance; a transistor whose bond has parted stays
// open, whichever comes first.
func TestPuncturedTransistor(t *testing.T) {
	last := 0.0
	for _, severity := range []string{"0 %", "1 %", "50 %", "99 %", "100 %"} {
		d := withFaults(t, "dye:drive-stuck-on,resistance=4 Ω,severity="+severity).Channels[1].Drive
		if g := float64(d.OffConductance); !(g > last || severity == "1 %" && g >= last) {
			t.Errorf("at %s: found %g S, expected more than the %g S before", severity, g, last)
		} else {
			last = g
		}
	}
	if math.Abs(last-0.25) > 1e-15 {
		t.Errorf("found %g S at full severity, expected that of 4 Ω", last)
	}
	for _, texts := range [][]string{{"dye:drive-stuck-on", "dye:drive-stuck-off"}, {"dye:drive-stuck-off", "dye:drive-stuck-on"}} {
		if d := withFaults(t, texts...).Channels[1].Drive; !d.Open || d.OffConductance != 0 || d.On != 0 || d.Off != 0 {
			t.Errorf("%v: found %+v, expected an open transistor", texts, d)
		}
	}
}
