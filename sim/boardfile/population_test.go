package boardfile_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"boilwright/sim/boardfile"
)

func TestParsePopulation(t *testing.T) {
	p, err := boardfile.ParsePopulation("p.toml", []byte(`boards = 10_000
seed = 7
healthy = 0.25
more = 0
only = "opto-one-way"
observe = [
  "volts",
  "amps dye:live standby",
]
waveforms = ["heating"]
parameters = false
[tolerances]
gate.resistance = "uniform 0.8 to 1.2"
"supply.voltage" = "fixed"
[weights]
opto-one-way = 3
"dye:triac-shorted" = 0.5
`))
	if err != nil {
		t.Fatal(err)
	}
	if p.Boards != 10000 || p.Seed != 7 || p.Healthy != 0.25 || p.More != 0 || p.Parameters || p.Board.Text != "" {
		t.Errorf("found %+v", p)
	}
	if s := p.Observe; len(s) != 2 || s[1] != (boardfile.Statement{Form: "observe", Text: "amps dye:live standby", File: "p.toml", Line: 8, Column: 3}) {
		t.Errorf("observe: found %+v", s)
	}
	if len(p.Only) != 1 || p.Only[0].Text != "opto-one-way" || len(p.Waveforms) != 1 {
		t.Errorf("only: found %+v, waveforms %+v", p.Only, p.Waveforms)
	}
	if s := p.Tolerances; len(s) != 2 || s[0].Name != "gate.resistance" || s[0].Text != "uniform 0.8 to 1.2" || s[0].Line != 13 || s[1].Name != "supply.voltage" {
		t.Errorf("tolerances: found %+v", s)
	}
	if s := p.Weights; len(s) != 2 || s[0].Name != "opto-one-way" || s[0].Value != 3 || s[1].Name != "dye:triac-shorted" || s[1].Value != 0.5 {
		t.Errorf("weights: found %+v", s)
	}
	p, err = boardfile.ParsePopulation("p.toml", []byte("boards = 1"))
	if err != nil || p.Seed != 1 || p.Healthy != 0.5 || p.More != 0.1 || !p.Parameters {
		t.Errorf("defaults: found %+v, %v", p, err)
	}
}

// TestParsePopulationBad: every mistake is told, each with its place.
func TestParsePopulationBad(t *testing.T) {
	_, err := boardfile.ParsePopulation("p.toml", []byte(`seed = -1
healthy = 1.5
more = 1
bords = 3
observe = ["volts", 3]
parameters = "yes"
board = 5
tolerances = 3
[weights]
opto-one-way = -1
a.b = "x"
`))
	if err == nil {
		t.Fatal("found no error")
	}
	for _, want := range []string{
		"p.toml:1:1: boards: found nothing, expected a whole number, how many boards there are",
		"p.toml:1:8: seed: found the integer -1, expected a whole number from 0 to 9223372036854775807",
		"p.toml:2:11: healthy: found the number 1.5, expected a number from 0 to 1",
		"p.toml:3:8: more: found the integer 1, expected a number from 0 to below 1",
		"p.toml:4:1: bords: found a key that is not known, expected one of board, seed, boards,",
		"did you mean boards",
		"p.toml:5:21: observe: found the integer 3, expected text",
		`p.toml:6:14: parameters: found "yes", expected true or false`,
		"p.toml:7:9: board: found the integer 5, expected the name of an embedded board or the path of a file",
		"p.toml:8:14: tolerances: found the integer 3, expected a table",
		"p.toml:10:16: weights.opto-one-way: found the integer -1, expected a number of 0 or more",
		`p.toml:11:7: weights.a.b: found "x", expected a number of 0 or more`,
	} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("found\n%v\nexpected within it %q", err, want)
		}
	}
	if _, err := boardfile.LoadPopulation("nowhere.toml"); err == nil || !strings.Contains(err.Error(), "expected a population file") {
		t.Errorf("a missing file: found %v", err)
	}
	if _, err := boardfile.ParsePopulation("p", bytes.Repeat([]byte("#"), boardfile.MaxSize+1)); err == nil || !strings.Contains(err.Error(), "1 MiB") {
		t.Errorf("a large file: found %v", err)
	}
}

func TestPopulationBoard(t *testing.T) {
	dir := t.TempDir()
	board := "based-on = \"" + boardfile.EmbeddedNames()[0] + "\"\nname = \"ours\"\n"
	if err := os.WriteFile(filepath.Join(dir, "our.toml"), []byte(board), 0o666); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "p.toml")
	load := func(text string) (*boardfile.File, error) {
		p, err := boardfile.ParsePopulation(file, []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		return p.LoadBoard()
	}
	if f, err := load("boards = 1\nboard = 'our.toml'"); err != nil || f.Board.Name != "ours" {
		t.Errorf("a path from the file's folder: found %v", err)
	}
	if f, err := load("boards = 1"); err != nil || len(f.Board.Channels) == 0 {
		t.Errorf("no board named: found %v", err)
	}
	if _, err := load("boards = 1\nboard = 'other.toml'"); err == nil || !strings.Contains(err.Error(), "p.toml:2:9: board: found \"other.toml\"") {
		t.Errorf("a missing board: found %v", err)
	}
}

func FuzzParsePopulation(f *testing.F) {
	f.Add([]byte("boards = 3\nobserve = ['volts']\n[tolerances]\na.b = 'fixed'\n"))
	f.Add([]byte("seed = 0x10\nboards = 1e3\nweights = {a = 1, b.c = inf}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := boardfile.ParsePopulation("fuzz", bytes.Clone(data))
		if err == nil && (p == nil || p.Boards < 1 || !(p.Healthy >= 0 && p.Healthy <= 1)) {
			t.Errorf("found %+v without an error", p)
		}
	})
}
