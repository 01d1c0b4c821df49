package names_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"boilwright/models/names"
)

func Example() {
	fmt.Println(names.Nearest("triac-shorts", []string{"triac-open", "triac-shorted"}))
	// Output: triac-shorted
}

// Examples of the literature, from memory: kitten and sitting are 3 apart
// (Levenshtein); ca and abc 3 where no part is edited twice (optimal string
// alignment), 2 otherwise.
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"ca", "abc", 3}, {"saturday", "sunday", 3}, {"", "abc", 3}, {"ab", "ba", 1}, {"Ω", "V", 1}, {"same", "same", 0}, {"größe", "grosse", 3}, {"abc", "", 3}, {"", "", 0}} {
		if got := names.Distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: found %d, expected %d", c.a, c.b, got, c.want)
		}
	}
}

// A distance is zero for equal texts only, the same both ways, and no more
// than the longer text.
func TestDistanceLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.StringOfN(rapid.RuneFrom([]rune("abcΩ")), 0, 8, -1).Draw(t, "a"), rapid.StringOfN(rapid.RuneFrom([]rune("abcΩ")), 0, 8, -1).Draw(t, "b")
		d := names.Distance(a, b)
		if (d == 0) != (a == b) || d != names.Distance(b, a) || d > max(len([]rune(a)), len([]rune(b))) {
			t.Errorf("%q to %q: found %d", a, b, d)
		}
	})
}

func TestNearest(t *testing.T) {
	known := []string{"gate-open", "gate-leak", "triac-open"}
	for text, want := range map[string]string{"gate-opne": "gate-open", "Gate-Leak": "gate-leak", "": "", "thermostat": "", "triac_open": "triac-open", strings.Repeat("gate-open", 20): ""} {
		if got := names.Nearest(text, known); got != want {
			t.Errorf("%q: found %q, expected %q", text, got, want)
		}
	}
	known = []string{"voltage", "frequency", "draw"}
	for text, want := range map[string]string{"volage": "voltage", "votlage": "voltage", "Voltage": "voltage", "freqency": "frequency", "darw": "draw", "current": "", "x": ""} {
		if got := names.Nearest(text, known); got != want {
			t.Errorf("%q: found %q, expected %q", text, got, want)
		}
	}
}
