package rules_test

import (
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"boilwright/faults/rules"
	"boilwright/models"
	"boilwright/sim/boardfile"
)

// oneRule is a file with one rule of a condition.
func oneRule(when, more string) []byte {
	return []byte("[[rule]]\nname = 'r'\nwhen = '''" + when + "'''\n" + more)
}

const triac = "concludes = 'triac-shorted'"

func compiled(t testing.TB, text []byte, b *models.Board) *rules.Program {
	t.Helper()
	p, err := rules.Parse("r.toml", text, b)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// judged returns the channels on which the rules of p conclude something, where
// observables have the values of a function and else 0.
func judged(t testing.TB, p *rules.Program, meter int, value func(name string) float64) []string {
	t.Helper()
	c := &rules.Case{Index: 7, Meter: meter}
	for _, o := range p.Needs() {
		c.Values = append(c.Values, value(o.Name))
	}
	got, err := p.Judge(t.Context(), nil, c)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, x := range got {
		where := "board"
		if x.Channel >= 0 {
			where = boardfile.Default().Channels[x.Channel].Name
		}
		out = append(out, where+": "+x.Rule)
	}
	return out
}

// TestConditions: what conditions come to on a board of 230 V whose dye
// channel's output is at 115 V with the averaging meter.
func TestConditions(t *testing.T) {
	b := boardfile.Default()
	value := func(name string) float64 {
		switch name {
		case "volts dye:output standby average":
			return 115
		case "warm_up dye":
			return math.Inf(1)
		case "temperature dye 20":
			return 61
		case "tripped fuse":
			return 1
		case "indicator dye":
			return 2 // in band
		}
		return 0
	}
	average := slices.IndexFunc(b.Meters, func(m models.Meter) bool { return m.Name == "average" })
	for when, want := range map[string]bool{
		`volts("output", "standby") > 100`:                               true,
		`volts("output", "standby", "average") > 100`:                    true,
		`volts("output", "standby", "rms") > 100`:                        false,
		`volts("dye:output", "standby") > 100 && channel == "dye"`:       true,
		`between(volts("output", "standby"), 0.45 * supply, supply / 2)`: true,
		`near(volts("output", "standby"), supply / 2, 0.01)`:             true,
		`near(volts("output", "standby"), 110, 0.01)`:                    false,
		`warm_up() > 60`:        true,
		`math.isInf(warm_up())`: true,
		`temperature(20) < set_point - 20 && temperature(20) > 0`:              true,
		`tripped("fuse") && warm_up() > 1`:                                     true,
		`indicator() == "in band" && channel == "dye"`:                         true,
		`math.greatest(volts("output", "standby"), 1, 2) == 115`:               true,
		`[volts("output", "standby"), 3].exists(v, v == 115)`:                  true,
		`[1, 2].exists_one(v, v == 1) && warm_up() > 1`:                        true,
		`size(channel) == 3 && warm_up() > 1`:                                  true,
		`volts("output", "standby") in [115, 116]`:                             true,
		`channel in ["dye", "soak"] && warm_up() > 1`:                          true,
		`7 % 2 == 1 && warm_up() > 1`:                                          true,
		`warm_up() - warm_up() > 0 || warm_up() > 1`:                           true,
		`warm_up() > 1 || warm_up() - warm_up() > 0`:                           true,
		`(warm_up() - warm_up() > 0) && warm_up() > 1`:                         false,
		`rated_watts > 1499 && rated_watts < 1501 && warm_up() > 1`:            true,
		`warm_up() > 1 ? volts("output", "standby") > 1 : true`:                true,
		`volts("output", "standby") / 0 > 1e300 && math.abs(-supply) == 230`:   true,
		`[115, 3][0] == volts("output", "standby")`:                            true,
		`plug_watts("standby") == 0 && lid_rise() == 0 && channel == 'dye'`:    true,
		`volts("supply", "standby") == 0 && volts("output", "standby") == 115`: true,
	} {
		p := compiled(t, oneRule(when, triac+"\nchannel='dye'"), b)
		got := judged(t, p, average, value)
		if found := slices.Equal(got, []string{"dye: r"}); found != want || len(got) > 1 {
			t.Errorf("%s: found %v, expected %t on the dye channel", when, got, want)
		}
	}
}

// TestProblems: every mistake of a file is told with its place.
func TestProblems(t *testing.T) {
	for text, want := range map[string]string{
		`volts("outptu", "standby") > 1`:   `r.toml:3:11: rule[1].when: found point "soak:outptu", expected one of`,
		`volts("output", "stanby") > 1`:    `r.toml:3:11: rule[1].when: found state "stanby"`,
		"true &&\n  voltz('x') > 1":        `r.toml:4:8: rule[1].when: found "voltz", expected an observable, a constant or a function; did you mean volts`,
		`volts("output", "standby") > "a"`: `r.toml:3:38: rule[1].when: found _>_ of (double, string), expected operands that it takes`,
		`volts("output", "standby")`:       `r.toml:3:11: rule[1].when: found a condition that is a double, expected one that is true or false`,
		`supply > `:                        `r.toml:3:20: rule[1].when: found mismatched input`,
		`{"a": 1}["a"] == 1`:               `found a map or a message`,
		`volts(channel, "standby") > 1`:    `r.toml:3:17: rule[1].when: found an argument of volts that has to be worked out, expected a text in quotes, or a number: volts(point, state, meter)`,
		`channel.matches("(a+)+")`:         `found "matches"`,
		`volts() > 1`:                      `found no arguments, expected volts(point, state, meter)`,
		`amps("element-lead", "x") > 1`:    `r.toml:3:11: rule[1].when: found 2 arguments, expected amps(lead, state, clamp)`,
		`has(supply.x)`:                    `expected`,
	} {
		_, err := rules.Parse("r.toml", oneRule(text, triac), boardfile.Default())
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: found %v, expected %s", text, err, want)
		}
	}
}

// TestTroubles: a rule that can't be evaluated does not apply, is counted, and
// leaves the others alone; the first board is told whatever the order.
func TestTroubles(t *testing.T) {
	p := compiled(t, []byte(`
[[rule]]
name = "beyond the list"
when = '[1, 2][7] == volts("supply", "standby", "rms") && channel != ""'
concludes = "healthy"
channel = "dye"
[[rule]]
name = "the least of nothing"
when = 'math.least(volts("supply", "standby", "rms") / 0, 1) < 2'
concludes = "healthy"
channel = "soak"
[[rule]]
name = "fine"
when = 'volts("supply", "standby", "rms") == 0'
concludes = "healthy"
channel = "dye"
`), boardfile.Default())
	if got := p.Rules(); len(got) != 3 || got[1] != "the least of nothing" {
		t.Errorf("rules: found %v", got)
	}
	if p.List[0].Fast || !p.List[1].Fast {
		t.Errorf("found fast %t and %t, expected the second only", p.List[0].Fast, p.List[1].Fast)
	}
	for _, index := range []uint64{9, 3, 5} {
		got, err := p.Judge(t.Context(), nil, &rules.Case{Index: index, Values: []float64{0}})
		if err != nil || len(got) != 1 || got[0].Rule != "fine" || !got[0].Healthy() {
			t.Errorf("found %v, %v", got, err)
		}
	}
	tr := p.Troubles()
	if len(tr) != 2 || tr[0].Rule != "beyond the list" || tr[0].Times != 3 || tr[0].Index != 3 || !strings.Contains(tr[0].Problem, "index") {
		t.Errorf("troubles: found %+v", tr)
	}
	if len(tr) == 2 && (tr[1].Times != 3 || !strings.Contains(tr[1].Problem, "NaN")) {
		t.Errorf("troubles: found %+v", tr[1])
	}
	if _, err := p.Judge(t.Context(), nil, &rules.Case{}); err == nil {
		t.Error("found no error of a case without values")
	}
}

// TestInHand: what is read with the meter in hand is needed once for each
// meter, and each case is judged by its own.
func TestInHand(t *testing.T) {
	b := boardfile.Default()
	p := compiled(t, oneRule(`volts("output", "standby") > 100`, triac), b)
	if !p.InHand() || len(p.Needs()) != len(b.Channels)*len(b.Meters) {
		t.Fatalf("found in hand %t, %d needs, expected %d × %d", p.InHand(), len(p.Needs()), len(b.Channels), len(b.Meters))
	}
	for m := range b.Meters {
		got := judged(t, p, m, func(name string) float64 {
			if name == "volts steam:output standby "+b.Meters[2].Name {
				return 115
			}
			return 0
		})
		if (len(got) == 1 && got[0] == "steam: r") != (m == 2) {
			t.Errorf("%s: found %v", b.Meters[m].Name, got)
		}
	}
	if _, err := p.Judge(t.Context(), nil, &rules.Case{Meter: len(b.Meters), Values: make([]float64, len(p.Needs()))}); err == nil {
		t.Error("found no error of a meter that is not there")
	}
	if p := compiled(t, oneRule(`volts("output", "standby", "rms") > 100`, triac), b); p.InHand() {
		t.Error("found in hand, expected that the meter is named")
	}
}

// TestMistakes: all of a file at once, by position.
func TestMistakes(t *testing.T) {
	_, err := rules.Parse("r.toml", []byte(`[[rule]]
name = "a"
when = "true"
about = "bord"
concludes = ["supply-lo"]
[[rule]]
name = "a"
about = "board"
when = "supply > 1"
concludes = ["healthy", "supply-low"]
channel = "dye"
`), boardfile.Default())
	want := []string{
		`r.toml:4:9: rule[1].about: found "bord", expected channel or board; did you mean board`,
		`r.toml:5:14: rule[1].concludes: found "supply-lo", expected a fault's name, or "healthy"; did you mean supply-low`,
		`r.toml:7:8: rule[2].name: found "a" a second time, expected another name, the first is at line 2`,
		`r.toml:10:14: rule[2].concludes: found "healthy" among others, expected it alone, or faults`,
		`r.toml:11:11: rule[2].channel: found "dye", expected none in a rule about the board`,
	}
	if err == nil || err.Error() != strings.Join(want, "\n") {
		t.Errorf("found\n%v\nexpected\n%s", err, strings.Join(want, "\n"))
	}
}

// TestJudgeAtOnce: several goroutines may judge with one program.
func TestJudgeAtOnce(t *testing.T) {
	p := compiled(t, fifty(), boardfile.Default())
	var wg sync.WaitGroup
	for g := range 4 {
		wg.Go(func() {
			values := make([]float64, len(p.Needs()))
			for i := range values {
				values[i] = float64(60 * g)
			}
			var first int
			for i := range 200 {
				got, err := p.Judge(t.Context(), nil, &rules.Case{Index: uint64(i), Meter: i % 2, Values: values})
				if i == 0 {
					first = len(got)
				}
				if err != nil || len(got) != first {
					t.Errorf("found %d conclusions, %v, expected %d as the first time", len(got), err, first)
					return
				}
			}
		})
	}
	wg.Wait()
}
