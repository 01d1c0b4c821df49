package boardfile_test

import (
	"bytes"
	"strings"
	"testing"

	"boilwright/sim/boardfile"
)

var evidenceForms = []string{"reading", "look", "monitor"}

func TestParseEvidence(t *testing.T) {
	got, err := boardfile.ParseEvidence("seen.toml", []byte(`# what was seen
monitor = "standby, 1480 W"
reading = [
  "dye:output, standby, 118 V",
  "dye:triac, diode, open",
]
look = "dye, residue"
`), evidenceForms)
	if err != nil {
		t.Fatal(err)
	}
	want := []boardfile.Statement{
		{"monitor", "standby, 1480 W", "seen.toml", 2, 11},
		{"reading", "dye:output, standby, 118 V", "seen.toml", 4, 3},
		{"reading", "dye:triac, diode, open", "seen.toml", 5, 3},
		{"look", "dye, residue", "seen.toml", 7, 8},
	}
	if len(got) != len(want) {
		t.Fatalf("found %d statements, expected %d", len(got), len(want))
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("found %+v, expected %+v", got[i], want[i])
		}
	}
}

func TestParseEvidenceBad(t *testing.T) {
	for text, want := range map[string]string{
		`reeding = "x"`:                          "e.toml:1:1: reeding: found a key that is not known, expected one of reading, look or monitor; did you mean reading",
		`reading = 118`:                          "e.toml:1:11: reading: found the integer 118, expected text",
		`reading = ["a", 1.5]`:                   "e.toml:1:17: reading: found the number 1.5, expected text",
		`reading = ""`:                           `e.toml:1:11: reading: found "", expected text`,
		`reading = 118 V`:                        "e.toml:1:15: syntax: found 118 V, expected a quantity in quotes",
		"look = 'a'\nlook = 'b'":                 "e.toml:2:1: look: found a second definition, expected one, the first is at line 1",
		"[reading]\na = 'b'":                     "e.toml:1:2: reading: found a table, expected text",
		strings.Repeat("#", boardfile.MaxSize+1): "found more than 1 MiB",
	} {
		_, err := boardfile.ParseEvidence("e.toml", []byte(text), evidenceForms)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: found %v, expected %q", text, err, want)
		}
	}
	if _, err := boardfile.LoadEvidence("nowhere.toml", evidenceForms); err == nil || !strings.Contains(err.Error(), "expected an evidence file") {
		t.Errorf("a missing file: found %v", err)
	}
}

func FuzzParseEvidence(f *testing.F) {
	f.Add([]byte(`reading = ["dye:output, standby, 118 V", 'x']`))
	f.Add([]byte("look = {a = 'b'}\n[[monitor]]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := boardfile.ParseEvidence("fuzz", bytes.Clone(data), evidenceForms)
		if err != nil && got != nil {
			t.Errorf("found statements with the error %v", err)
		}
		for _, s := range got {
			if s.Line < 1 || s.Column < 1 || s.Text == "" {
				t.Errorf("found %+v, expected a place and a text", s)
			}
		}
	})
}
