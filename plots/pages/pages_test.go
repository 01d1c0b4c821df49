package pages_test

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/plots/pages"
	"boilwright/sim"
	"boilwright/sim/readings"
)

var update = flag.Bool("update", false, "rewrite the pages in testdata")

// board is as much of a board as pages need.
func board() *models.Board {
	b := &models.Board{Name: "a small board", Note: "invented for tests"}
	b.Supply.Voltage = 230
	b.Monitor.PowerResolution, b.Monitor.CurrentResolution, b.Monitor.Accuracy = 0.1, 0.01, 0.02
	b.Channels = make([]models.Channel, 1)
	b.Channels[0].Name = "vat"
	b.Channels[0].Element.Resistance = 52.9 // 1 kW at 230 V
	return b
}

// study is a board whose output shows the given volts on the two meters in
// standby and in heating, and whose triac measures the given ohms.
func study(fault string, standby, heating [2]float64, ohms, watts float64) *pages.Study {
	p := point()
	value := func(meter string, v float64) readings.Value {
		return readings.Value{Point: p, Meter: meter, Indicated: v, Shown: v, Resolution: 0.1, Uncertainty: 0.5, Low: v, High: v}
	}
	row := func(v [2]float64) [][]readings.Value {
		return [][]readings.Value{{value("rms", v[0]), value("direct", v[1])}}
	}
	dead := func(reversed bool) pages.Dead {
		d := readings.Dead{Test: readings.Ohmmeter, Plus: p.Plus, Minus: p.Minus, Ohms: ohms, Open: math.IsInf(ohms, 1)}
		return pages.Dead{Point: p.Name, Reversed: reversed, Dead: d}
	}
	s := &pages.Study{
		Standby: row(standby), Heating: row(heating), Dead: []pages.Dead{dead(false), dead(true)},
		Plug: [2]pages.Plug{{Watts: watts, Amperes: watts / 230}, {Watts: 1000, Amperes: 4.35}},
		Hour: &pages.Hour{Duration: time.Hour, Plug: 7.2e5, Outcomes: []sim.Outcome{{
			Channel: "vat", Reached: 5 * time.Minute, Peak: 56, Final: 55, LinkOpened: -1, Energy: 7e5, Verdict: sim.Reaches,
		}}},
	}
	if fault != "" {
		f, ok := faults.Find(fault)
		if !ok {
			panic(fault)
		}
		s.Fault, s.Text = &f, "vat:"+fault
		s.Waveforms = pages.Figure{File: fault + "-waveforms.svg", Title: f.Title, Alt: "two cycles [of] volts"}
	}
	return s
}

func point() readings.Point {
	return readings.Point{Name: "vat:output", Title: "output", Plus: models.At(models.Output, 0), Minus: models.At(models.Neutral, 0), Live: true}
}

// reference is three faults: two that the meters cannot tell apart and the
// ohmmeter can, and one that the board cannot have.
func reference() *pages.Reference {
	r := &pages.Reference{
		Board: board(), Conditions: "readings at 25 °C", Notice: "everything here is simulated", Points: []readings.Point{point()},
		Meters:  []models.Meter{{Name: "rms", Detector: models.RMSDirect}, {Name: "direct", Detector: models.Direct}},
		Healthy: study("", [2]float64{0, 0}, [2]float64{230, 0}, math.Inf(1), 0),
		Faults: []*pages.Study{
			study("triac-shorted", [2]float64{229.8, 0}, [2]float64{230, 0}, 0.02, 999),
			study("triac-one-way", [2]float64{162.6, 103.5}, [2]float64{230, 0}, 4.5e6, 499),
			study("opto-shorted", [2]float64{229.1, 0}, [2]float64{229.5, 0}, 330, 990),
		},
	}
	gone := study("upstream-link-open", [2]float64{}, [2]float64{}, 0, 0)
	gone.Standby, gone.Heating, gone.Dead, gone.Hour, gone.Waveforms = nil, nil, nil, nil, pages.Figure{}
	gone.Lacking = "found no link ahead of the channels, expected one"
	r.Faults = append(r.Faults, gone)
	o := &r.Faults[0].Hour.Outcomes[0]
	o.Verdict, o.Peak, o.LinkOpened, o.Final = sim.LinkEnded, 118, 8*time.Minute, 55.4
	return r
}

func page(t testing.TB, r *pages.Reference, fault int) string {
	t.Helper()
	var b bytes.Buffer
	if err := r.WritePage(&b, r.Faults[fault]); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestGolden compares a page and the index with reviewed ones.
func TestGolden(t *testing.T) {
	r := reference()
	r.Faults[0].Fault = &faults.Fault{ // the catalogue's texts have tests of their own
		Name: "triac-shorted", Part: faults.TriacPart, Title: "Triac shorted", What: "What it is.", Physics: "What changes.", Seen: "What it shows.",
		LookAlikes: []string{"opto-shorted", "upstream-link-open"}, Danger: "The danger.", Severity: "the law", Graded: true,
		Separates: []faults.Step{{Do: "An unplugged step."}, {Live: true, Do: "A live step."}, {Do: "Another."}},
		Keys: []faults.Key{
			{Name: "resistance", Dimension: q.Resistance, Default: 0.02, Min: 1e-3, Max: 1e9, Doc: "of the path"},
			{Name: "polarity", Default: 1, Choices: []faults.Choice{{Word: "positive", Value: 1}, {Word: "negative", Value: -1}}, Doc: "its direction"},
			{Name: "slope", Dimension: q.Resistance, Own: "r_T of the triac", Min: 1e-3, Max: 1, Doc: "its slope"},
		},
	}
	var index bytes.Buffer
	if err := r.WriteIndex(&index, false); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct{ file, got string }{{"testdata/page.golden.md", page(t, r, 0)}, {"testdata/index.golden.md", index.String()}} {
		if *update {
			if err := os.WriteFile(x.file, []byte(x.got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(x.file)
		if err != nil {
			t.Fatal(err)
		}
		if x.got != string(want) {
			t.Errorf("%s: found\n%s\nexpected\n%s", x.file, x.got, want)
		}
	}
}

// TestAlike: 229.8 V and 229.1 V, each ±0.5 V, cannot be told apart; 229.8 V
// and 162.6 V can, and so can 229.8 V ±0.1 V and 229.1 V ±0.1 V.
func TestAlike(t *testing.T) {
	r := reference()
	shorted, oneWay, opto, gone := r.Faults[0], r.Faults[1], r.Faults[2], r.Faults[3]
	for _, x := range []struct {
		a, b *pages.Study
		want bool
	}{{shorted, opto, true}, {opto, shorted, true}, {shorted, oneWay, false}, {shorted, r.Healthy, false}, {shorted, gone, false}, {gone, gone, false}, {shorted, shorted, true}} {
		if got := pages.Alike(x.a, x.b); got != x.want {
			t.Errorf("%s and %s: found %v, expected %v", x.a.Text, x.b.Text, got, x.want)
		}
	}
	for _, s := range []*pages.Study{shorted, opto} {
		s.Standby[0][0].Uncertainty = 0.1
	}
	if pages.Alike(shorted, opto) {
		t.Error("found readings 0.7 V apart alike on a meter of ±0.1 V")
	}
	opto.Standby[0][0] = shorted.Standby[0][0]
	opto.Heating[0][1].Over = true
	if pages.Alike(shorted, opto) {
		t.Error("found a reading over range like one within it")
	}
}

// TestSeparation: what live tests leave open, the ohmmeter decides; the table
// says with which results.
func TestSeparation(t *testing.T) {
	r := reference()
	text := page(t, r, 0)
	for _, want := range []string{
		"**Live readings in standby and heating do not separate it from [`opto-shorted`](opto-shorted.md)**, the first test in the table does.",
		"live readings in standby and heating do not separate it from [`opto-shorted`](opto-shorted.md); other tests named below do.",
		"| [`opto-shorted`](opto-shorted.md) | looks, readings | ohmmeter at `vat:output`, + on out1: 20.0 mΩ / 330 Ω | none | none |",
		"standby, `vat:output`, meter `direct`: 0.0 V / 103.5 V |",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("found no %q in\n%s", want, text)
		}
	}
	// 330 Ω and 340 Ω lie within an ordinary ohmmeter's and its leads' error.
	for i := range r.Faults[0].Dead {
		r.Faults[0].Dead[i].Ohms = 340
	}
	text = page(t, r, 0)
	for _, want := range []string{
		"| looks, readings | none of these; see the steps above | none | none |",
		"**No test simulated here separates it from [`opto-shorted`](opto-shorted.md).**",
		"; no test simulated here separates it from [`opto-shorted`](opto-shorted.md).",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("found 340 Ω told from 330 Ω, no %q in\n%s", want, text)
		}
	}
}

// TestShowsBest: a fault that heats in standby shows there; one that differs
// nowhere is drawn heating, and so is a channel that no longer heats.
func TestShowsBest(t *testing.T) {
	r := reference()
	if got := r.ShowsBest(r.Faults[0]); got != readings.Standby {
		t.Errorf("triac-shorted: found %v", got)
	}
	if got := r.ShowsBest(r.Healthy); got != readings.Heating {
		t.Errorf("healthy: found %v", got)
	}
	open := study("element-open", [2]float64{230, 0}, [2]float64{231, 0}, math.Inf(1), 0)
	open.Plug[1] = pages.Plug{}
	if got := r.ShowsBest(open); got != readings.Heating {
		t.Errorf("element-open: found %v", got)
	}
}

// TestCautions: every live step of every fault of the catalogue has its
// caution, with the fault's own danger, right after it, and so has every table
// of live readings.
func TestCautions(t *testing.T) {
	r := reference()
	for _, f := range faults.Catalogue() {
		s := study(f.Name, [2]float64{}, [2]float64{}, 1, 0)
		r.Faults = []*pages.Study{s}
		paragraphs := strings.Split(page(t, r, 0), "\n\n")
		live := 0
		for i, p := range paragraphs {
			switch {
			case strings.Contains(p, "**Live.**"):
				live++
				next := strings.TrimSpace(paragraphs[i+1])
				if !strings.HasPrefix(next, "> **Caution.** ") || !strings.Contains(next, f.Danger[:20]) || !strings.Contains(next, "proved on a known source") {
					t.Errorf("%s: found %q after a live step, expected the caution", f.Name, next)
				}
			case strings.HasPrefix(p, "### Standby") || strings.HasPrefix(p, "### Heating"):
				if !strings.HasPrefix(paragraphs[i+1], "> **Caution.** Live test: only by") {
					t.Errorf("%s: found %q under %q, expected the caution", f.Name, paragraphs[i+1], p)
				}
			}
		}
		want := 0
		for _, x := range f.Separates {
			if x.Live {
				want++
			}
		}
		if live != want {
			t.Errorf("%s: found %d live steps, expected %d", f.Name, live, want)
		}
	}
}

// TestLinks: links lead to pages that are written, to nothing else.
func TestLinks(t *testing.T) {
	r := reference()
	r.Pages = []string{"triac-shorted"}
	if text := page(t, r, 0); strings.Contains(text, "opto-shorted.md") || !strings.Contains(text, "`opto-shorted`") {
		t.Errorf("found a link to a page that is not written, or no name, in\n%s", text)
	}
	var index bytes.Buffer
	if err := r.WriteIndex(&index, true); err != nil {
		t.Fatal(err)
	}
	if s := index.String(); strings.Count(s, ".md)") != 1 || !strings.Contains(s, "(triac-shorted.md)") || !strings.Contains(s, "interrupted") {
		t.Errorf("found\n%s", s)
	}
}

// TestMissing: a fault that the board cannot have, and one whose simulation
// failed half way, still have pages that say so.
func TestMissing(t *testing.T) {
	r := reference()
	if text := page(t, r, 3); !strings.Contains(text, "cannot have this fault: found no link ahead of the channels") || strings.Contains(text, "### Standby") {
		t.Errorf("found\n%s", text)
	}
	s := r.Faults[1]
	s.Hour, s.Failed = nil, "at 3 min: no solution"
	if text := page(t, r, 1); !strings.Contains(text, "missing here:** at 3 min: no solution.") || strings.Contains(text, "of operation") {
		t.Errorf("found\n%s", text)
	}
	s.Standby, s.Heating, s.Dead = nil, nil, nil
	if text := page(t, r, 1); !strings.Contains(text, "## Not simulated") || !strings.Contains(text, "no solution") {
		t.Errorf("found\n%s", text)
	}
}

// TestEscape: names of a board are text, whatever is in them.
func TestEscape(t *testing.T) {
	r := reference()
	r.Board.Name = "a|b *c* [d](e) <f> `g`"
	r.Board.Channels[0].Name = "v|at"
	text := page(t, r, 0)
	if !strings.Contains(text, "a\\|b \\*c\\* \\[d\\](e) \\<f\\> \\`g\\`") || !strings.Contains(text, "v\\|at") {
		t.Errorf("found\n%s", text)
	}
}

// TestTables: every row of a table has as many cells as its head.
func TestTables(t *testing.T) {
	r := reference()
	texts := []string{}
	for i := range r.Faults {
		texts = append(texts, page(t, r, i))
	}
	var index bytes.Buffer
	if err := r.WriteIndex(&index, false); err != nil {
		t.Fatal(err)
	}
	for _, text := range append(texts, index.String()) {
		cells := 0
		for _, l := range strings.Split(text, "\n") {
			if !strings.HasPrefix(l, "| ") {
				cells = 0
				continue
			}
			n := strings.Count(strings.ReplaceAll(l, "\\|", ""), "|")
			if cells != 0 && n != cells {
				t.Errorf("found %d borders in %q, expected %d", n, l, cells)
			}
			cells = n
		}
	}
}

// A page of one fault, from plain data.
func ExampleReference_WritePage() {
	f, _ := faults.Find("opto-no-window")
	s := &pages.Study{Fault: &f, Text: "1:opto-no-window", Lacking: "found an opto that fires at any angle"}
	r := &pages.Reference{Board: &models.Board{Name: "bench"}, Notice: "simulated", Faults: []*pages.Study{s}, Healthy: &pages.Study{}}
	var page bytes.Buffer
	if err := r.WritePage(&page, s); err != nil {
		fmt.Println(err)
		return
	}
	for _, l := range strings.Split(page.String(), "\n")[:5] {
		fmt.Println(l)
	}
	// Output:
	// # Opto without its zero-cross window
	//
	// `opto-no-window`. Part: opto. It belongs to one channel. [All faults](index.md)
	//
	// > Simulated.
}
