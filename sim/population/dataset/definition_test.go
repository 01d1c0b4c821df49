package dataset_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/population/dataset"
)

// TestParseBad: every mistake of a population file is told at once, in the
// order of the places.
func TestParseBad(t *testing.T) {
	_, err := dataset.Parse("p.toml", []byte(`boards = 5
observe = [
  "volts dye:output standby",
  "volts dye:outptu standby",
  "vlots",
  "ohms dye:element rms",
]
waveforms = ["unplugged", "heating", "heating"]
only = ["opto-one-wy", "dye:opto-one-way,severity=3"]
healthy = 2
[tolerances]
gate.resistence = "uniform 0.8 to 1.2"
"supply.voltage" = "even"
[weights]
"9:opto-one-way" = 1
`), version)
	if err == nil {
		t.Fatal("found no error")
	}
	var last int
	for _, want := range []string{
		`p.toml:4:3: observe: volts: found point "dye:outptu", expected one of`,
		`p.toml:5:3: observe: found observable "vlots", expected one of`,
		`p.toml:6:3: observe: ohms: found 2 arguments, expected ohms(point)`,
		`p.toml:8:14: waveforms: found state "unplugged", expected standby, heating or holding`,
		`p.toml:8:38: waveforms: found state "heating" twice`,
		`p.toml:9:9: only:`,
		`p.toml:9:24: only:`,
		`p.toml:10:11: healthy: found the integer 2`,
		`p.toml:12:19: tolerances.gate.resistence: found parameter "gate.resistence"`,
		`p.toml:13:20: tolerances.supply.voltage: found law "even"`,
		`p.toml:15:20: weights.9:opto-one-way:`,
	} {
		i := strings.Index(err.Error(), want)
		if i < 0 {
			t.Errorf("found\n%v\nexpected within it %q", err, want)
		} else if i < last {
			t.Errorf("found %q too early", want)
		}
		last = max(last, i)
	}
	if _, err := dataset.Load("nowhere.toml", version); err == nil || !strings.Contains(err.Error(), "nowhere.toml: found no readable file") {
		t.Errorf("a missing file: found %v", err)
	}
	_, err = dataset.Parse("p.toml", []byte("boards = 0\nboard = 'other.toml'"), version)
	if err == nil || !strings.Contains(err.Error(), "p.toml:1:10: boards") || !strings.Contains(err.Error(), "p.toml:2:9: board") {
		t.Errorf("a missing board: found %v", err)
	}
}

func board(t testing.TB) *models.Board {
	t.Helper()
	f, err := boardfile.Embedded(boardfile.EmbeddedNames()[0])
	if err != nil {
		t.Fatal(err)
	}
	return f.Board
}

// TestObservables: a form with its arguments, with stars, and without.
func TestObservables(t *testing.T) {
	b := board(t)
	names := func(text string) []string {
		list, err := dataset.Observables(b, text)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		var out []string
		for _, o := range list {
			out = append(out, o.Name)
		}
		return out
	}
	if got := names("  volts dye:output  standby rms "); !slices.Equal(got, []string{"volts dye:output standby rms"}) {
		t.Errorf("found %v", got)
	}
	every := names("volts")
	standby := names("volts * standby")
	if len(every) != 3*len(standby) || len(standby)%len(b.Meters) != 0 || !slices.Equal(every, names("volts * * *")) {
		t.Errorf("found %d of every state and %d of standby", len(every), len(standby))
	}
	for _, n := range standby {
		if !strings.Contains(n, " standby ") {
			t.Errorf("found %q", n)
		}
	}
	if got := names("volts dye:output * rms"); !slices.Equal(got, []string{"volts dye:output standby rms", "volts dye:output heating rms", "volts dye:output holding rms"}) {
		t.Errorf("found %v", got)
	}
	// A name with a space, and a board without what is asked for.
	b.Meters[0].Name = "pocket meter"
	if got := names("volts supply standby pocket meter"); !slices.Equal(got, []string{"volts supply standby pocket meter"}) {
		t.Errorf("found %v", got)
	}
	for _, bad := range []string{"", "volts dye:output standby rms more", "volts dye:output rms", "volts pocket"} {
		if got, err := dataset.Observables(b, bad); err == nil {
			t.Errorf("%q: found %d observables, expected an error", bad, len(got))
		}
	}
	b.Protection.Fuse.Fitted, b.Protection.Residual.Fitted = false, false
	if _, err := dataset.Observables(b, "tripped"); err == nil || !strings.Contains(err.Error(), "has none of") {
		t.Errorf("found %v", err)
	}
}

// TestFingerprint: what changes a row changes it, what does not leaves it.
func TestFingerprint(t *testing.T) {
	base := define(t, small).Fingerprint()
	for _, same := range []string{"# a note\n" + small, strings.Replace(small, "healthy = 0.3", "healthy = 3e-1", 1), strings.Replace(small, "gate.resistance", "'gate.resistance'", 1)} {
		if define(t, same).Fingerprint() != base {
			t.Errorf("found another fingerprint of\n%s", same)
		}
	}
	seen := map[string]string{base: small}
	for _, pair := range [][2]string{{"seed = 5", "seed = 6"}, {"boards = 23", "boards = 24"}, {"healthy = 0.3", "healthy = 0.30000000001"}, {"more = 0.4", "more = 0.5"}, {"  \"tripped\",\n", ""},
		{"waveforms", "parameters = false\nwaveforms"}, {`["standby"]`, `["heating"]`}, {"to 1.2", "to 1.21"}, {"= 4", "= 4.5"}, {"boards", "only = 'opto-one-way'\nboards"}} {
		text := strings.Replace(small, pair[0], pair[1], 1)
		f := define(t, text).Fingerprint()
		if other, ok := seen[f]; ok || text == small {
			t.Errorf("found the same fingerprint of\n%s\nand\n%s", other, text)
		}
		seen[f] = text
	}
	if d, err := dataset.Parse("small.toml", []byte(small), "0.0.1"); err != nil || d.Fingerprint() == base {
		t.Errorf("another version: found the same fingerprint, or %v", err)
	}
}

// TestFingerprintFiles: the content of a board and of what it is based on
// counts, not where the files are, what they are called, or how they are
// written.
func TestFingerprintFiles(t *testing.T) {
	load := func(board, base, baseText string) string {
		dir := t.TempDir()
		for name, text := range map[string]string{
			"p.toml": "boards = 3\nboard = '" + board + "'\n",
			board:    "based-on = '" + base + "'\n",
			base:     baseText,
		} {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		d, err := dataset.Load(filepath.Join(dir, "p.toml"), "9.9.9")
		if err != nil {
			t.Fatal(err)
		}
		return d.Fingerprint()
	}
	const text = "based-on = 'dye-bench-230'\nname = 'ours'\nambient.temperature = '21 °C'\n"
	want := load("a.toml", "b.toml", text)
	if got := load("our board.toml", "theirs.toml", "# a note\n"+text); got != want {
		t.Error("other names and a note: found another fingerprint")
	}
	if got := load("a.toml", "b.toml", strings.Replace(text, "21", "21.0001", 1)); got == want {
		t.Error("a base with another value: found the same fingerprint")
	}
}

// TestWeights: a fault of twice the weight is drawn twice as often; one of
// weight 0 never. 400 boards leave a standard deviation of 2.4 % of them.
func TestWeights(t *testing.T) {
	d := define(t, `boards = 400
healthy = 0
more = 0
only = ["dye:opto-one-way", "soak:opto-one-way", "dye:triac-shorted", "dye:triac-open"]
[weights]
"dye:opto-one-way" = 2
"soak:opto-one-way" = 0
triac-shorted = 3
"dye:triac-open" = 1
`)
	count := map[string]int{}
	for i := range d.Boards {
		r, err := d.Row(context.Background(), i)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range r.Faults {
			count[f.Fault]++
			if f.Channel == 1 && f.Fault == "opto-one-way" && d.Board.Board.Channels[1].Name == "soak" {
				t.Error("found a fault of weight 0")
			}
		}
	}
	// Of triac-shorted one of three places is drawn: a third of 3.
	if a, b, c := count["opto-one-way"], count["triac-shorted"], count["triac-open"]; a+b+c != 400 || a < 160 || a > 240 || b < 60 || b > 140 || c < 60 || c > 140 {
		t.Errorf("found %v, expected about 200, 100 and 100", count)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := d.Row(ctx, 0); !errors.Is(err, context.Canceled) {
		t.Errorf("found %v, expected to be cancelled", err)
	}
}
