package readings_test

import (
	"fmt"
	"strings"
	"testing"

	"boilwright/sim/boardfile"
	"boilwright/sim/readings"
)

// TestPoints: on every demonstration board each test point has a name of its
// own, is found by it, can be measured, and says whether it is live.
func TestPoints(t *testing.T) {
	for _, name := range boardfile.EmbeddedNames() {
		b := embedded(t, name)
		pts := readings.Points(b)
		if want := 3 + 10*len(b.Channels); len(pts) != want {
			t.Errorf("%s: %d test points, want %d", name, len(pts), want)
		}
		table, err := readings.Table(b, pts, b.Meters, conditions(b, readings.Standby))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		seen := map[string]bool{}
		for i, p := range pts {
			if seen[p.Name] || p.Title == "" {
				t.Errorf("%s: point %q: seen before, or without a title", name, p.Name)
			}
			seen[p.Name] = true
			if got, err := readings.FindPoint(b, p.Name); err != nil || got != p {
				t.Errorf("%s: point %q is found as %+v, %v", name, p.Name, got, err)
			}
			if p.Live == p.Control || p.Plus == p.Minus || p.Control != p.Plus.Place.Control() {
				t.Errorf("%s: point %q: live %v, control %v, from %v to %v", name, p.Name, p.Live, p.Control, p.Plus, p.Minus)
			}
			if p.Channel >= 0 != strings.HasPrefix(p.Name, b.Channels[max(0, p.Channel)].Name+":") {
				t.Errorf("%s: point %q belongs to channel %d", name, p.Name, p.Channel)
			}
			if len(table[i]) != len(b.Meters) {
				t.Errorf("%s: %d readings at %q, want one a meter", name, len(table[i]), p.Name)
			}
		}
	}
	b := embedded(t, "dye-bench-230")
	if got, want := len(readings.UnpluggedPoints(b)), len(readings.Points(b))+2*len(b.Channels); got != want {
		t.Errorf("%d test points on the unplugged board, want %d", got, want)
	}
	for _, name := range []string{"dye:transistor", "dye:transistor-base"} {
		p, err := readings.FindUnpluggedPoint(b, name)
		if err != nil || !p.Control || p.Channel != 1 {
			t.Errorf("%s: %+v, %v", name, p, err)
		}
		if _, err := readings.FindPoint(b, name); err == nil {
			t.Errorf("%s is a point with the supply on, expected one of the unplugged board only", name)
		}
		if _, err := readings.At(b, p, b.Meters, conditions(b, readings.Heating)); err == nil || !strings.Contains(err.Error(), "unplugged") {
			t.Errorf("%s with the supply on: error %v", name, err)
		}
	}
	_, err := readings.FindPoint(b, "soak:nowhere")
	if err == nil || !strings.Contains(err.Error(), `"soak:nowhere"`) || !strings.Contains(err.Error(), "soak:output") {
		t.Errorf("an unknown point: error %v, expected it to say what was found and what there is", err)
	}
}

// TestCautions: what must stand beside a test says who may do it, behind
// what, with what, and in which state the board is dangerous.
func TestCautions(t *testing.T) {
	for _, words := range []string{"live", "competent", "licensed", "local rules", "residual-current", "not protect between line and neutral", "category", "before and after", "clipped on", "standby"} {
		if !strings.Contains(readings.LiveCaution, words) {
			t.Errorf("the caution of a live test lacks %q", words)
		}
	}
	for _, words := range []string{"unplug", "lock off", "prove dead", "capacitors", "hot", "pressure"} {
		if !strings.Contains(readings.UnpluggedCaution, words) {
			t.Errorf("the caution of an unplugged test lacks %q", words)
		}
	}
}

func TestStateAndTestNames(t *testing.T) {
	for s := readings.Standby; s <= readings.UnpluggedState; s++ {
		if got, err := readings.ParseState(s.String()); err != nil || got != s {
			t.Errorf("state %v reads as %v, %v", s, got, err)
		}
	}
	for x := readings.Ohmmeter; x <= readings.Insulation; x++ {
		if got, err := readings.ParseTest(x.String()); err != nil || got != x {
			t.Errorf("test %v reads as %v, %v", x, got, err)
		}
	}
}

// FuzzNames: a written state, test or test point is refused with an error that
// quotes it, or is exactly the name of what it reads as.
func FuzzNames(f *testing.F) {
	b := embedded(f, "dye-bench-230")
	for _, s := range []string{"", "standby", "Holding", "unplugged ", "ohmmeter", "diode", "insulation\n", "supply", "soak:output", "soak:", ":output", "steam:drive", "so\xffak:output"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		check := func(what, name string, err error) {
			switch {
			case err != nil && !strings.Contains(err.Error(), fmt.Sprintf("found %s %q, expected one of", what, s)):
				t.Errorf("error %q does not say that it found %s %q", err, what, s)
			case err == nil && name != s:
				t.Errorf("%q reads as %s %q", s, what, name)
			}
		}
		state, err := readings.ParseState(s)
		check("state", state.String(), err)
		test, err := readings.ParseTest(s)
		check("test", test.String(), err)
		p, err := readings.FindPoint(b, s)
		check("test point", p.Name, err)
	})
}
