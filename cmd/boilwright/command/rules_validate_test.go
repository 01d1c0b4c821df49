package command

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const halfRule = `
[[rule]]
name = "half-supply"
when = 'near(volts("output", "standby"), supply / 2, 0.1)'
concludes = ["opto-one-way"]
`

// output runs the program, expects success, and returns what it prints.
func output(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if code := Execute(context.Background(), args, strings.NewReader(""), &out, &errs); code != Done {
		t.Fatalf("%q: exit code %d: %s", args, code, errs.String())
	}
	return out.String()
}

// The command that is printed for a board on which a rule fails shows it
// failing, whichever the flags of which boards are drawn are.
func TestCounterexampleCommands(t *testing.T) {
	file := filepath.Join(t.TempDir(), "half.toml")
	if err := os.WriteFile(file, []byte(halfRule), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, flags := range [][]string{
		{"--each", "2", "--from", "5", "--seed", "3", "--only", "opto-one-way", "--only", "dye:triac-one-way"},
		{"-n", "40", "--healthy", "0.1", "--more", "0.5", "--only", "opto-one-way", "--only", "triac-one-way", "--tolerance", "supply.voltage=uniform 0.95 to 1.05"},
	} {
		var d validationDocument
		text := output(t, append([]string{"rules", "validate", file, "open-vat-230", "--redraw", "0", "--json"}, flags...)...)
		if err := json.Unmarshal([]byte(text), &d); err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, kind := range []struct {
			word string
			of   []exampleDocument
		}{{"missed", d.Rules[0].Misses}, {"false alarm", d.Rules[0].Alarms}} {
			for _, e := range kind.of {
				n++
				var x explanationDocument
				again := append(unquoted(t, e.Command)[1:], "--json")
				if err := json.Unmarshal([]byte(output(t, again...)), &x); err != nil {
					t.Fatal(err)
				}
				if len(x.Verdicts) != 1 || x.Verdicts[0].Verdicts[0] != kind.word || string(x.Verdicts[0].Channel) != string(e.Channel) || strings.Join(x.Faults, " ") != strings.Join(e.Faults, " ") || x.Index != e.Index {
					t.Errorf("%s: found %+v, %v, expected %q on %s with %v", e.Command, x.Verdicts, x.Faults, kind.word, e.Channel, e.Faults)
				}
			}
		}
		if n < 4 {
			t.Errorf("%q: found %d boards, expected some of each mistake", flags, n)
		}
	}
}

// unquoted takes a printed command apart as a shell does.
func unquoted(t *testing.T, command string) []string {
	t.Helper()
	var words []string
	for i, part := range strings.Split(command, "'") {
		if i%2 == 1 {
			words = append(words, part)
		} else {
			words = append(words, strings.Fields(part)...)
		}
	}
	return words
}

func TestShellWord(t *testing.T) {
	for in, want := range map[string]string{
		"rules.toml": "rules.toml", "half the supply": "'half the supply'", "": "''", "it's": `'it'\''s'`, "a;b": "'a;b'", "$HOME": "'$HOME'", "*": "'*'",
	} {
		if got := shellWord(in); got != want {
			t.Errorf("%q: found %s, expected %s", in, got, want)
		}
	}
}

func TestAsOperand(t *testing.T) {
	for in, want := range map[string]string{"rules.toml": "rules.toml", "-": "-", "-r.toml": "./-r.toml", "--json": "./--json"} {
		if got := asOperand(in); got != want {
			t.Errorf("%q: found %s, expected %s", in, got, want)
		}
	}
}
