package lessons

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

func demo() *Pack {
	return &Pack{
		Title: "A *small* class", Note: "Simulated; a real board can differ.", Seed: 7,
		Lessons: []Lesson{
			{Name: "one", Title: "Ohm's law", Text: []string{"1. is no list; a < b & c."}, Figures: []Figure{{"circuit.svg", "The circuit", "A source and a resistor."}},
				Questions: []Question{{Ask: "Which current flows at 12 V in 4 Ω?", Answer: "3 A", Why: "12 V/4 Ω."}}},
			{Name: "two", Title: "Which meter", Text: []string{"See below."}, Live: true, Caution: "Live test: only by someone competent.",
				Questions: []Question{{Ask: "What shows the rms meter?", Choices: []string{"110 V", "157 V"}, Right: 1, Why: "Half a sine: 223 V/√2."}},
				Solved:    []Figure{{"meters.svg", "The meters", "All meters."}}},
		},
	}
}

func texts(t *testing.T, p *Pack) map[string]string {
	t.Helper()
	files, err := p.Files()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, f := range files {
		out[f.Name] = f.Text
	}
	return out
}

func TestFiles(t *testing.T) {
	f := texts(t, demo())
	for name, want := range map[string][]string{
		"index.md":       {`# A \*small\* class`, "- [Ohm's law](one.md)", "Seed 7", "[Solutions (for the teacher)](solutions.md)", "a real board can differ"},
		"one.md":         {"# 1. Ohm's law", `1\. is no list; a \< b & c.`, "![The circuit: described in the text below](circuit.svg)", "1. Which current", "[Next: Which meter](two.md)"},
		"two.md":         {"> **Caution.** Live test", "   - A: 110 V\n   - B: 157 V"},
		"solutions.md":   {"**3 A.** 12 V/4 Ω.", "**B: 157 V.** Half a sine", "> **Caution.**", "](meters.svg)"},
		"one.html":       {"<h1>1. Ohm&#39;s law</h1>", "a &lt; b &amp; c", `<img src="circuit.svg"`},
		"two.html":       {`<ol class="choices">`, "<strong>Caution.</strong>"},
		"solutions.html": {"<strong>B: 157 V.</strong>"},
	} {
		for _, w := range want {
			if !strings.Contains(f[name], w) {
				t.Errorf("%s: found no %q in:\n%s", name, w, f[name])
			}
		}
	}
	// A page for pupils tells no answer.
	for _, name := range []string{"one.md", "two.md", "one.html", "two.html", "index.md"} {
		for _, w := range []string{"3 A", "Half a sine", "meters.svg"} {
			if strings.Contains(f[name], w) {
				t.Errorf("%s: found %q, which only the solutions tell", name, w)
			}
		}
	}
	if len(f) != 8 {
		t.Errorf("found %d files, want 8", len(f))
	}
}

// TestWellFormed reads the pages with the rules of XML, which they keep but
// for the elements without an end.
func TestWellFormed(t *testing.T) {
	for name, text := range texts(t, demo()) {
		if !strings.HasSuffix(name, ".html") {
			continue
		}
		d := xml.NewDecoder(strings.NewReader(text))
		d.Strict, d.AutoClose, d.Entity = false, []string{"meta", "img", "br"}, xml.HTMLEntity
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Errorf("%s: %v", name, err)
				break
			}
		}
	}
}

func TestErrors(t *testing.T) {
	for want, change := range map[string]func(*Pack){
		`pack: found title "" and note "Simulated; a real board can differ.", expected both`: func(p *Pack) { p.Title = "" },
		"pack: found no lesson, expected at least one":                                       func(p *Pack) { p.Lessons = nil },
		`lesson 2, "one": expected a name of its own in lower case, digits and hyphens`:      func(p *Pack) { p.Lessons[1].Name = "one" },
		`lesson 1, "index": expected a name of its own in lower case, digits and hyphens`:    func(p *Pack) { p.Lessons[0].Name = "index" },
		`lesson 1, "one": found title "", 1 paragraphs, 1 questions, expected all three`:     func(p *Pack) { p.Lessons[0].Title = "" },
		`lesson 2, "two": found no caution, expected one with live tests`:                    func(p *Pack) { p.Lessons[1].Caution = "" },
		`lesson 1, "one": found figure "../x.svg" with a text alternative of 1 characters, expected NAME.svg or NAME.png and a text`: func(p *Pack) {
			p.Lessons[0].Figures[0] = Figure{"../x.svg", "x", "x"}
		},
		`lesson 1, "one": question 1: found no answer, expected one`:                                               func(p *Pack) { p.Lessons[0].Questions[0].Answer = "" },
		`lesson 2, "two": question 1: found 2 choices with 3 right, expected 2 to 8 and one of them`:               func(p *Pack) { p.Lessons[1].Questions[0].Right = 2 },
		`lesson 2, "two": question 1: found choice "110 V" twice, expected different ones`:                         func(p *Pack) { p.Lessons[1].Questions[0].Choices[1] = "110 V" },
		`lesson 2, "two": question 1: found "" because "Half a sine: 223 V/√2.", expected a question and a reason`: func(p *Pack) { p.Lessons[1].Questions[0].Ask = "" },
	} {
		p := demo()
		change(p)
		if _, err := p.Files(); err == nil || err.Error() != want {
			t.Errorf("found error %v, want %s", err, want)
		}
	}
}

func ExamplePack() {
	p := &Pack{Title: "Ohm's law", Note: "Invented.", Seed: 1, Lessons: []Lesson{{
		Name: "ohm", Title: "A resistor", Text: []string{"A resistor of 4 Ω lies at 12 V."},
		Questions: []Question{{Ask: "Which current flows?", Answer: "3 A", Why: "12 V/4 Ω."}},
	}}}
	files, err := p.Files()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(files[1].Name)
	fmt.Println(files[1].Text)
	// Output:
	// ohm.md
	// # 1. A resistor
	//
	// A resistor of 4 Ω lies at 12 V.
	//
	// ## Questions
	//
	// 1. Which current flows?
	//
	// - [All lessons](index.md)
	//
	// Invented.
}
