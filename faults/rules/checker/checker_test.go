package checker

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"boilwright/faults/rules"
	"boilwright/sim/boardfile"
)

// TestMain is also the external program: the test's own file, started again.
func TestMain(m *testing.M) {
	if len(os.Args) == 3 && os.Args[1] == "external" {
		external(os.Args[2])
		return
	}
	os.Exit(m.Run())
}

// external judges as its mode says.
func external(mode string) {
	in := bufio.NewScanner(os.Stdin)
	in.Buffer(nil, 4<<20)
	in.Scan()
	var h Header
	if err := json.Unmarshal(in.Bytes(), &h); err != nil || h.Schema != Schema || mode == "refuses" {
		fmt.Fprintln(os.Stderr, "no such header")
		os.Exit(1)
	}
	a := Answer{Schema: Schema, Observables: []string{"volts dye:output standby average", "indicator dye", "tripped fuse"}, Rules: []string{"half", "fine"}}
	switch mode {
	case "old":
		a.Schema = "boilwright/checker/0"
	case "wants more":
		a.Observables = append(a.Observables, "moods dye")
	case "in hand":
		a.InHand = true
	}
	say := func(v any) {
		line, _ := json.Marshal(v)
		fmt.Printf("%s\n", line)
	}
	say(a)
	for in.Scan() {
		var q Question
		if err := json.Unmarshal(in.Bytes(), &q); err != nil {
			os.Exit(1)
		}
		v := Verdict{ID: q.ID}
		volts, number := q.Values[0].(float64)
		switch {
		case !number && q.Values[0] == "inf":
			v.Error = "beyond every range"
		case mode == "dies at 13" && volts == 13:
			fmt.Fprintln(os.Stderr, "first\nunlucky")
			os.Exit(7)
		case mode == "hangs at 13" && volts == 13:
			time.Sleep(time.Hour)
		case mode == "garbage at 13" && volts == 13:
			fmt.Println("{]")
			continue
		case mode == "long at 13" && volts == 13:
			fmt.Println(strings.Repeat("x", MaxLine+1))
			continue
		case mode == "wrong id at 13" && volts == 13:
			v.ID = 99
		case mode == "half a line at 13" && volts == 13:
			fmt.Print(`{"id":`)
			os.Exit(0)
		case volts > 100:
			v.Conclusions = []Conclusion{{Rule: "fine", Channel: "dye"}, {Rule: "half", Channel: "dye", Faults: []string{"opto-one-way"}}}
		}
		if mode == "in hand" && q.Meter == "" {
			v.Error = "no meter"
		}
		say(v)
	}
}

func begin(t *testing.T, mode string, limit time.Duration, restarts int) (*Checker, error) {
	t.Helper()
	name, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c, err := Start(t.Context(), boardfile.Default(), Options{Args: []string{name, "external", mode}, Limit: limit, Restarts: restarts})
	if err == nil {
		t.Cleanup(c.Close)
	}
	return c, err
}

func ask(t *testing.T, c *Checker, index uint64, volts float64) (string, error) {
	t.Helper()
	got, err := c.Judge(t.Context(), nil, &rules.Case{Index: index, Values: []float64{volts, 2, 1}})
	var out []string
	for _, x := range got {
		out = append(out, fmt.Sprintf("%s %d %v", x.Rule, x.Channel, x.Faults))
	}
	return strings.Join(out, "; "), err
}

// TestChecker: needs, rules and conclusions come across, in the order of the
// rules.
func TestChecker(t *testing.T) {
	c, err := begin(t, "plain", time.Minute, 0)
	if err != nil {
		t.Fatal(err)
	}
	if n := c.Needs(); len(n) != 3 || n[0].Name != "volts dye:output standby average" || n[0].Unit != "V" {
		t.Errorf("needs: found %+v", n)
	}
	if c.InHand() || strings.Join(c.Rules(), " ") != "half fine" {
		t.Errorf("found in hand %t, rules %v", c.InHand(), c.Rules())
	}
	if got, err := ask(t, c, 1, 115); err != nil || got != "half 1 [opto-one-way]; fine 1 []" {
		t.Errorf("found %q, %v", got, err)
	}
	if got, err := ask(t, c, 2, 50); err != nil || got != "" {
		t.Errorf("found %q, %v", got, err)
	}
	if got, err := ask(t, c, 3, math.Inf(1)); err != nil || got != "" {
		t.Errorf("found %q, %v", got, err)
	}
	if tr := c.Troubles(); len(tr) != 1 || tr[0].Times != 1 || tr[0].Index != 3 || !strings.Contains(tr[0].Problem, "beyond every range") {
		t.Errorf("troubles: found %+v", tr)
	}
	if _, err := c.Judge(t.Context(), nil, &rules.Case{}); err == nil {
		t.Error("found no error of a case without values")
	}
	c.Close()
	if _, err := ask(t, c, 4, 115); err == nil {
		t.Error("found no error of a case after the end")
	}
}

// TestCheckerInHand: the meter is told.
func TestCheckerInHand(t *testing.T) {
	c, err := begin(t, "in hand", time.Minute, 0)
	if err != nil || !c.InHand() {
		t.Fatalf("found %v", err)
	}
	if got, err := ask(t, c, 1, 115); err != nil || got == "" || len(c.Troubles()) > 0 {
		t.Errorf("found %q, %v, %+v", got, err, c.Troubles())
	}
}

// TestCheckerFails: a program that ends or hangs on a case is started again,
// the case is given up after the second time, and the next ones are judged.
func TestCheckerFails(t *testing.T) {
	for mode, limit := range map[string]time.Duration{"dies at 13": time.Minute, "half a line at 13": time.Minute, "hangs at 13": time.Second} {
		c, err := begin(t, mode, limit, 3)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := ask(t, c, 1, 13); err != nil || got != "" {
			t.Errorf("%s: found %q, %v", mode, got, err)
		}
		if tr := c.Troubles(); len(tr) != 1 || tr[0].Times != 1 || tr[0].Index != 1 {
			t.Errorf("%s: troubles: found %+v", mode, tr)
		} else if mode == "dies at 13" && !strings.Contains(tr[0].Problem, `the program has ended; its standard error ends with "unlucky"`) {
			t.Errorf("%s: found %+v", mode, tr)
		}
		if got, err := ask(t, c, 2, 115); err != nil || got == "" {
			t.Errorf("%s: the next case: found %q, %v", mode, got, err)
		}
		if c.Restarts() != 2 {
			t.Errorf("%s: found %d restarts, expected 2", mode, c.Restarts())
		}
		if mode == "hangs at 13" {
			continue
		}
		if _, err := ask(t, c, 3, 13); err != nil {
			t.Errorf("%s: found %v", mode, err)
		}
		if _, err := ask(t, c, 4, 115); err == nil || !strings.Contains(err.Error(), "as often as it may") {
			t.Errorf("%s: found %v, expected the end of restarts", mode, err)
		}
	}
}

// TestCheckerRefused: lines that are no answers end the work, with their
// number.
func TestCheckerRefused(t *testing.T) {
	for mode, want := range map[string]string{
		"garbage at 13":  "line 3: found \"{]\", expected a JSON object",
		"long at 13":     "line 3: found a line of more than 1048576 bytes",
		"wrong id at 13": "line 3: id: found 99, expected 2",
	} {
		c, err := begin(t, mode, time.Minute, 3)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ask(t, c, 1, 12); err != nil {
			t.Errorf("%s: found %v", mode, err)
		}
		if _, err := ask(t, c, 2, 13); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: found %v, expected %s", mode, err, want)
		}
	}
	for mode, want := range map[string]string{
		"old":        `line 1: schema: found "boilwright/checker/0", expected "boilwright/checker/1"`,
		"wants more": `line 1: observables: found "moods dye"`,
		"refuses":    `the program has ended; its standard error ends with "no such header"`,
	} {
		if _, err := begin(t, mode, time.Minute, 3); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: found %v, expected %s", mode, err, want)
		}
	}
	if _, err := Start(t.Context(), boardfile.Default(), Options{}); err == nil {
		t.Error("found no error of no program")
	}
	if _, err := Start(t.Context(), boardfile.Default(), Options{Args: []string{"/nowhere/at/all"}}); err == nil {
		t.Error("found no error of a program that is not there")
	}
}

// TestCheckerCancelled: cancelling ends the wait for an answer.
func TestCheckerCancelled(t *testing.T) {
	c, err := begin(t, "hangs at 13", time.Hour, 3)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	go cancel()
	if _, err := c.Judge(ctx, nil, &rules.Case{Values: []float64{13, 2, 1}}); !errors.Is(err, context.Canceled) {
		t.Errorf("found %v, expected that it was cancelled", err)
	}
}

// TestVerdict: what a verdict may not be.
func TestVerdict(t *testing.T) {
	channels := []string{"soak", "dye"}
	for text, want := range map[string]string{
		`{"id":1,"conclusions":[{"rule":"a","channel":"dye","faults":["triac-shorted"]}]}`: "",
		`{"id":1,"conclusions":[{"rule":"a","faults":["supply-low"]}]}`:                    "",
		`{"id":1}`:                              "",
		`{"id":1,"conclusions":[{"rule":"z"}]}`: `conclusions[1].rule: found "z"`,
		`{"id":1,"conclusions":[{"rule":"a","channel":"tea"}]}`:                         `conclusions[1].channel: found "tea"`,
		`{"id":1,"conclusions":[{"rule":"a","channel":"dye","faults":["ghost"]}]}`:      `faults: found "ghost"`,
		`{"id":1,"conclusions":[{"rule":"a","channel":"dye","faults":["supply-low"]}]}`: `a fault of a board`,
		`{"id":1,"conclusions":[{"rule":"a","faults":["triac-shorted"]}]}`:              `a fault of a channel`,
		`{"id":1,"conclusions":[{"rule":"a","faults":["supply-low","supply-low"]}]}`:    `a second time`,
		`{"id":1,"error":"e","conclusions":[{"rule":"a"}]}`:                             `found conclusions beside`,
		`{"id":1,"mood":2}`: `unknown field`,
		`{"id":1} {"id":2}`: `expected one JSON object`,
		`{"id":-1}`:         `expected a JSON object`,
		``:                  `expected a JSON object`,
	} {
		_, err := verdict([]byte(text), 1, channels, []string{"a", "b"})
		switch {
		case want == "" && err != nil:
			t.Errorf("%s: found %v", text, err)
		case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
			t.Errorf("%s: found %v, expected %s", text, err, want)
		}
	}
}

// FuzzVerdict: no line makes a conclusion that names what is not there.
func FuzzVerdict(f *testing.F) {
	f.Add([]byte(`{"id":1,"conclusions":[{"rule":"a","channel":"dye","faults":["triac-shorted"]}]}`))
	f.Add([]byte(`{"id":1,"error":"x"}`))
	f.Add([]byte(`{"id":1e0,"conclusions":[null]}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		got, err := verdict(line, 1, []string{"soak", "dye"}, []string{"a"})
		if err != nil && got != nil {
			t.Errorf("found conclusions beside %v", err)
		}
		for _, c := range got {
			if c.Rule != "a" || c.Channel < -1 || c.Channel > 1 {
				t.Errorf("found %+v", c)
			}
		}
	})
}
