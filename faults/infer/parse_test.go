package infer_test

import (
	"math"
	"strings"
	"testing"

	"boilwright/faults/infer"
)

func TestParse(t *testing.T) {
	w := bench(t)
	for _, c := range []struct {
		line string
		key  string
		v    float64
		unc  float64
	}{
		{"reading dye output to neutral, standby, 118 V, averaging meter", "volts state=standby point=dye:output", 118, 0},
		{"reading dye:output, standby, 118 V ± 2 V", "volts state=standby point=dye:output", 118, 2},
		{"reading across the dye triac, heating, 1.1 V, rms", "volts state=heating point=dye:triac", 1.1, 0},
		{"reading line to neutral, standby, 231 V", "volts state=standby point=supply", 231, 0},
		{"reading soak opto output, unplugged, 1.5 kΩ", "unplugged point=soak:opto-output with=ohmmeter", 1500, 0},
		{"reading dye:triac, diode, leads exchanged, open", "unplugged point=dye:triac with=diode reversed", math.Inf(1), 0},
		{"reading dye:link, beeps", "unplugged point=dye:link with=continuity", 1, 0},
		{"reading insulation, 2 MΩ", "unplugged with=insulation", 2e6, 0},
		{"reading dye:output, standby, drive plug pulled, 0.1 V", "volts state=standby point=dye:output pulled=2", 0.1, 0},
		{"monitor heating, 3.6 kW", "monitor-watts state=heating", 3600, 0},
		{"temperature dye, 97 °C, 20 min, heating", "temperature state=heating channel=2 minutes=20", 97, 0},
		{"temperature dye, 20 min, 97 °C", "temperature state=heating channel=2 minutes=20", 97, 0},
		{"warm-up steam, 12 min", "warm-up channel=3", 12, 0},
		{"warm-up steam, never", "warm-up channel=3", math.Inf(1), 0},
		{"indicator soak, in band", "indicator channel=1", 1, 0},
		{"warms dye, standby, half", "warms state=standby channel=2", 1, 0},
		{"look dye, no residue", "look channel=2 residue", 0, 0},
		{"tripped rcd", "tripped residual-current device", 1, 0},
		{"lid cold", "lid", 0, 0},
		{"probe dye, 12 kΩ", "probe channel=2", 12000, 0},
		{"link dye, open", "unplugged point=dye:link with=continuity", 0, 0},
	} {
		form, text, _ := strings.Cut(c.line, " ")
		es, err := w.Parse(form, text)
		if err != nil || len(es) != 1 {
			t.Errorf("%s: found %d pieces, %v", c.line, len(es), err)
			continue
		}
		if e := es[0]; e.Test.Key() != c.key || e.Value != c.v || e.Uncertainty != c.unc {
			t.Errorf("%s: found %q %g ± %g, expected %q %g ± %g", c.line, e.Test.Key(), e.Value, e.Uncertainty, c.key, c.v, c.unc)
		}
	}
	if es, err := w.Parse("monitor", "standby, 1480 W, 6.4 A"); err != nil || len(es) != 2 {
		t.Errorf("watts and amperes: found %d pieces, %v; expected 2", len(es), err)
	}
}

// Bad evidence gets one line that says what was found and expected.
func TestParseBad(t *testing.T) {
	w := bench(t)
	for line, want := range map[string]string{
		"reading dye:foo, standby, 3 V":                                `test point "dye:foo"`,
		"reading dye:output, standby, 9000 V":                          "found 9000 V",
		"reading dye:output, standby, 3 Ω":                             "ohms or a test of the unplugged board in state standby",
		"reading dye:output, ohmmeter, 3 V":                            "found volts for ohmmeter",
		"reading dye:triac, diode, 3 Ω":                                "found ohms for the diode test",
		"reading dye:output, 118 V":                                    "volts without a state",
		"reading dye:output, holding, 118 V":                           "found state holding",
		"reading dye:output, standby, open":                            "expected volts",
		"reading dye:output, standby, 118 V, purple meter":             `found meter "purple"`,
		"reading dye:output, standby, 118 V, in the rain":              `"in the rain"`,
		"reading dye:output, standby":                                  "found no value",
		"reading dye:element, -5 Ω":                                    "expected 0 Ω",
		"reading supply, standby, plug pulled, 230 V":                  "pulled plug at supply",
		"reading dye:triac, wobbly1 lifted, 5 Ω":                       "wobbly1",
		"temperature oven, 97 °C":                                      `"oven"`,
		"temperature dye, 97 °C, 3 h":                                  "180 min",
		"temperature dye, 970 °C":                                      "970",
		"monitor 1480 W":                                               "found no state",
		"monitor standby, 40 V":                                        `"40 V"`,
		"indicator dye, purple":                                        "expected one of heating",
		"look dye, ghosts":                                             `"ghosts"`,
		"tripped cable":                                                `"cable"`,
		"warms dye, exchanged with dye, no":                            "another channel",
		"reading dye:output, standby, 118 V ± -2 V, averaging":         "above 0",
		"reading dye:led, standby, " + strings.Repeat("9", 400) + " V": "found",
	} {
		form, text, _ := strings.Cut(line, " ")
		_, err := w.Parse(form, text)
		if err == nil {
			t.Errorf("%s: found nothing wrong", line)
			continue
		}
		if s := err.Error(); !strings.Contains(s, want) || strings.Contains(s, "\n") || !strings.Contains(s, "expected") {
			t.Errorf("%s: found %q, expected one line with %q", line, s, want)
		}
	}
}

func TestContradictions(t *testing.T) {
	w := bench(t)
	var es []infer.Evidence
	for _, text := range []string{"dye:output, standby, 118 V, average", "dye:output, standby, 12 V, average", "dye:output, standby, 119 V, rms", "dye:output, standby, 118.5 V, average"} {
		x, err := w.Parse("reading", text)
		if err != nil {
			t.Fatal(err)
		}
		es = append(es, x...)
	}
	if got := w.Contradictions(es); len(got) != 2 || got[0] != [2]int{0, 1} || got[1] != [2]int{1, 3} {
		t.Errorf("found %v, expected the 12 V against both others of the same meter", got)
	}
}

// What a test says to add as evidence is read as that test.
func TestWrite(t *testing.T) {
	w := bench(t)
	for _, x := range w.Candidates([]int{0, 1}) {
		values := x.Choices()
		if values == nil {
			values = []string{"1 " + x.Unit()}
		}
		for i, value := range values {
			form, text, ok := x.Write(w.Board, value)
			if !ok {
				t.Errorf("%s: found no form", x.Key())
				continue
			}
			es, err := w.Parse(form, text)
			if err != nil || len(es) != 1 || es[0].Test.Key() != x.Key() {
				t.Errorf("%s: found --%s %q, which reads as %v, %v", x.Key(), form, text, es, err)
			} else if x.Choices() != nil && es[0].Value != float64(i) {
				t.Errorf("%s: found --%s %q, which reads as choice %g, expected %d", x.Key(), form, text, es[0].Value, i)
			}
			if _, err := w.Answer(x, value); err != nil {
				t.Errorf("%s: answer %q: %v", x.Key(), value, err)
			}
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, x := range infer.Forms() {
		f.Add(x.Name, x.Example)
	}
	f.Fuzz(func(t *testing.T, form, text string) {
		es, err := bench(t).Parse(form, text)
		if (err == nil) != (len(es) > 0) {
			t.Errorf("%q %q: found %d pieces with %v", form, text, len(es), err)
		}
	})
}
