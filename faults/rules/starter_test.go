package rules_test

import (
	"math"
	"strings"
	"testing"

	"boilwright/faults/rules"
	"boilwright/sim/boardfile"
)

// TestStarter: the rules of thumb fit every embedded board, say that they have
// no source, and are all evaluated fast.
func TestStarter(t *testing.T) {
	for _, name := range boardfile.EmbeddedNames() {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := rules.Starter(f.Board)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if n := len(p.List); n < 12 || n > 20 {
			t.Errorf("%s: found %d rules, expected 12 to 20", name, n)
		}
		for _, r := range p.List {
			if r.Source != "common practice, no source" {
				t.Errorf("%s: found the source %q", r.Name, r.Source)
			}
			if !r.Fast {
				t.Errorf("%s: its condition takes CEL's own machine", r.Name)
			}
			if r.Live != (r.Caution() != "") {
				t.Errorf("%s: live %t with the caution %q", r.Name, r.Live, r.Caution())
			}
			if (strings.Contains(r.When, "volts(") && !strings.Contains(r.When, "diode_volts")) && !r.Live {
				t.Errorf("%s: found no live test in %s", r.Name, r.When)
			}
		}
	}
}

// TestStarterHalf: on a resistive load with one half-wave of a sine of 230 V
// rms, an rms meter shows 230/√2 = 163 V and an averaging one half of 230 V:
// 115 V. So "half the supply" holds for the averaging one only; closed form.
func TestStarterHalf(t *testing.T) {
	b := boardfile.Default()
	p, err := rules.Starter(b)
	if err != nil {
		t.Fatal(err)
	}
	shown := map[string]float64{"rms": 230 / math.Sqrt2, "average": 115}
	for m := range b.Meters {
		want, known := shown[b.Meters[m].Name]
		if !known {
			continue
		}
		got := judged(t, p, m, func(name string) float64 {
			switch {
			case strings.HasPrefix(name, "volts dye:output standby "+b.Meters[m].Name):
				return want
			case strings.HasPrefix(name, "diode_volts"), strings.HasPrefix(name, "ohms soak:triac"), strings.HasPrefix(name, "ohms steam:triac"):
				return math.Inf(1)
			}
			return 0
		})
		found := false
		for _, x := range got {
			found = found || x == "dye: half the supply while off"
		}
		if found != (b.Meters[m].Name == "average") {
			t.Errorf("%s: found %v", b.Meters[m].Name, got)
		}
	}
}
