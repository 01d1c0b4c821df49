package rules_test

import (
	"errors"
	"math"
	"testing"

	"boilwright/faults/rules"
	"boilwright/sim/boardfile"
)

// FuzzRules: no rule file, once it is read and compiled, and no value ends in
// anything but conclusions or errors with a place.
func FuzzRules(f *testing.F) {
	f.Add(rules.StarterText(), 115.0)
	f.Add(oneRule(`[volts("output", "standby"), 2].exists(x, x > 1) || size(channel) > 2`, triac), 0.0)
	f.Add(oneRule(`[1, 2][7] == volts("output", "standby")`, triac), math.NaN())
	f.Add([]byte("[[rule]]\nname = \"a\"\nwhen = \"\"\"\n  \\u0031 > \\\n 0\"\"\"\nconcludes = []"), 1.0)
	f.Add([]byte("rule = [{name = 'x', when = 'true', concludes = 'healthy'}, 3]"), 1.0)
	b := boardfile.Default()
	f.Fuzz(func(t *testing.T, data []byte, value float64) {
		if len(data) > 1<<15 {
			return
		}
		p, err := rules.Parse("f.toml", data, b)
		if err != nil {
			var e *boardfile.Error
			if !errors.As(err, &e) || len(e.Entries) == 0 {
				t.Fatalf("found %v, expected mistakes with places", err)
			}
			return
		}
		c := &rules.Case{}
		for range p.Needs() {
			c.Values = append(c.Values, value)
		}
		got, err := p.Judge(t.Context(), nil, c)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range got {
			if x.Rule == "" || x.Channel < -1 || x.Channel >= len(b.Channels) {
				t.Errorf("found %+v", x)
			}
		}
	})
}
