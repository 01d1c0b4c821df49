package pages_test

import (
	"bytes"
	"encoding/xml"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"boilwright/faults/rules"
	"boilwright/faults/rules/validate"
	"boilwright/plots"
	"boilwright/plots/pages"
)

// validation is a report on three rules, in which name stands wherever the
// words of others do.
func validation(t testing.TB, name string) *pages.Validation {
	t.Helper()
	half := validate.Rule{
		Claim:   validate.Claim{Rule: name, Faults: []string{"opto-one-way"}},
		Counts:  validate.Counts{TP: 48, FP: 2, FN: 52, TN: 898},
		ByMeter: []validate.Counts{{TP: 48, FP: 1, FN: 2, TN: 449}, {FP: 1, FN: 50, TN: 449}},
		ByFault: []validate.FaultCount{{Fault: "opto-one-way", Units: 100, Applied: 48, Right: true}, {Fault: "triac-one-way", Units: 10, Applied: 2}},
		Ranks:   []validate.Rank{{Mistake: validate.FalseAlarm, Parameter: "supply", AUC: 0.2, Clear: true, Tried: 4, Flipped: 3}},
	}
	never := validate.Rule{Claim: validate.Claim{Rule: "never", Faults: []string{"scale", "triac-open", "gate-open", "link-open"}}, Counts: validate.Counts{FN: 3, TN: 997}, ByMeter: make([]validate.Counts, 2)}
	well := validate.Rule{Claim: validate.Claim{Rule: "well"}, Counts: validate.Counts{TP: 890, FN: 10, TN: 100}, ByMeter: []validate.Counts{{TP: 445, FN: 5, TN: 50}, {TP: 445, FN: 5, TN: 50}}}
	total := validate.Overall{Units: 1000, Covered: 938, Conflicting: 4, Right: 930, Counts: validate.Counts{TP: 48, FP: 2, FN: 52, TN: 898}}
	r := &validate.Report{
		Asked: 250, Done: 250, Healthy: 125, Unsolved: 1, Problem: name, ProblemAt: 77,
		Channels: []string{"vat", "dye"}, Meters: []string{"average", name}, InHand: []int{0, 1},
		Rules: []validate.Rule{half, never, well}, Overall: total, ByMeter: []validate.Overall{total, total},
		Conflicts: []validate.Conflict{{First: 0, Second: 2, Units: 4, Index: 9}},
	}
	requirement, err := validate.ParseRequirement("well: sensitivity >= 0.95")
	if err != nil {
		t.Fatal(err)
	}
	s, err := plots.Confusion(plots.ConfusionInput{Heading: plots.Heading{Title: name}, Columns: []string{name, "no rule"}, Rows: []plots.ConfusionRow{{Name: name, Counts: []uint64{3, 4}, Right: []bool{true, false}}}})
	if err != nil {
		t.Fatal(err)
	}
	var svg bytes.Buffer
	if err := s.Encode(&svg, "svg", plots.Size{}); err != nil {
		t.Fatal(err)
	}
	small := &pages.Drawing{Title: name, Alt: name, SVG: []byte("<?xml version=\"1.0\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\"></svg>\n"), File: "meters.svg"}
	return &pages.Validation{
		Rules: name, Board: name, Note: name, Seed: 1, Drawn: "drawn at the rates of the population", Command: "boilwright rules validate '" + name + "'",
		Notice: "everything here is simulated", Caution: name + " live", Report: r, Troubles: []rules.Trouble{{Rule: name, Times: 3, Index: 8, Problem: name}},
		Checks: []validate.Check{{Requirement: requirement, Of: "well", Found: 0.9889, Met: true, Why: name}},
		Meters: small, Confusion: []*pages.Drawing{{Title: s.Title(), Alt: s.Alt(), SVG: svg.Bytes(), File: "confusion.svg"}},
		Failures: []pages.Failure{{Rule: 0, Examples: []pages.Counterexample{
			{Mistake: validate.Miss, Index: 12, Channel: "vat", Meters: name, Distance: 0.41, Truth: "vat:opto-one-way", Seen: name, Command: "boilwright rules explain '" + name + "' --index 12"},
			{Mistake: validate.FalseAlarm, Index: 40, Channel: name, Distance: 0.5, Truth: name, Command: name, Lacking: name},
		}}},
	}
}

func written(t testing.TB, v *pages.Validation) (markdown, html string) {
	t.Helper()
	var a, b bytes.Buffer
	if err := v.WriteMarkdown(&a); err != nil {
		t.Fatal(err)
	}
	if err := v.WriteHTML(&b); err != nil {
		t.Fatal(err)
	}
	return a.String(), b.String()
}

// TestValidationGolden compares a report with reviewed ones.
func TestValidationGolden(t *testing.T) {
	v := validation(t, "half the supply")
	v.Confusion = nil // the figure has golden drawings of its own
	markdown, html := written(t, v)
	for _, x := range []struct{ file, got string }{{"testdata/validation.golden.md", markdown}, {"testdata/validation.golden.html", html}} {
		if *update {
			if err := os.WriteFile(x.file, []byte(x.got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(x.file)
		if err != nil {
			t.Fatal(err)
		}
		if string(want) != x.got {
			t.Errorf("%s: found another report than the reviewed one; -update writes it", x.file)
		}
	}
}

// hostile is words that would be something else if they were not kept text.
var hostile = []string{
	"<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "</title></style></svg><iframe src=//x>", "' onmouseover='x", "a & b &lt; &#60;script&#62;",
	"`code` ``` ~~~ | pipe | [a](javascript:x) ![b](http://x) <http://x> *b* _i_ # h", "]]> <!-- --> {{.}} javascript:x", "line\n\n# break\r\n| a | b |", "\x00\x1b[31m\xff\u202eright\u2028", "", " ", "$x$",
}

var tag = regexp.MustCompile(`<[!/a-zA-Z][^>]*>`)

// TestValidationEscapes puts hostile words everywhere: the page has the same
// tags as with harmless words.
func TestValidationEscapes(t *testing.T) {
	names := regexp.MustCompile(`[-0-9a-z]*[0-9a-f]{8}`)
	shape := func(html string) []string {
		// Inside a drawing the words are elements of their own, and their glyphs
		// differ: what is in it is checked below.
		html = regexp.MustCompile(`(?s)<svg.*?</svg>`).ReplaceAllString(html, "<svg/>")
		var out []string
		for _, x := range tag.FindAllString(html, -1) {
			out = append(out, names.ReplaceAllString(regexp.MustCompile(`="[^"]*"`).ReplaceAllString(x, ""), ""))
		}
		return out
	}
	_, html := written(t, validation(t, "harmless"))
	want := shape(html)
	if len(want) < 100 {
		t.Fatalf("found %d tags, want a page of them", len(want))
	}
	for _, name := range hostile {
		markdown, html := written(t, validation(t, name))
		got := shape(html)
		if !slices.Equal(got, want) {
			for i := range min(len(got), len(want)) {
				if got[i] != want[i] {
					t.Errorf("%q: found tag %s where it is %s with harmless words", name, got[i], want[i])
					break
				}
			}
			if len(got) != len(want) {
				t.Errorf("%q: found %d tags, want %d", name, len(got), len(want))
			}
		}
		for _, bad := range []string{"<script", "<iframe", "<img", "<!--", "\x00", "\x1b", "\u202e"} {
			if strings.Contains(regexp.MustCompile(`(?s)<svg.*?</svg>`).ReplaceAllString(html, ""), bad) {
				t.Errorf("%q: found %q in the page", name, bad)
			}
		}
		for _, svg := range regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(html, -1) {
			if err := xml.Unmarshal([]byte(svg), new(struct{})); err != nil {
				t.Errorf("%q: drawing: %v", name, err)
			}
		}
		// In Markdown nothing but a drawing's own file is a link, outside code.
		outside := regexp.MustCompile("(?ms)^(```+)sh\n.*?\n`+$").ReplaceAllString(markdown, "")
		for _, m := range regexp.MustCompile(`(^|[^\\])(\]\([^)]*\)|<[a-zA-Z/!])`).FindAllString(outside, -1) {
			if !strings.HasSuffix(m, "](meters.svg)") && !strings.HasSuffix(m, "](confusion.svg)") {
				t.Errorf("%q: found %q in Markdown, want it escaped", name, m)
			}
		}
		if n := strings.Count("\n"+outside, "\n# "); n != 1 {
			t.Errorf("%q: found %d headings of the first level in Markdown, want 1", name, n)
		}
	}
	markdown, html := written(t, validation(t, "<script>"))
	if !strings.Contains(html, `<th scope="row">&lt;script&gt;</th>`) {
		t.Error("found no rule named <script> in the table of the page")
	}
	if !strings.Contains(markdown, `| \<script\> |`) {
		t.Error("found no rule named <script> in the table in Markdown")
	}
}

// TestValidationIsContained looks at everything that a browser could load.
func TestValidationIsContained(t *testing.T) {
	_, html := written(t, validation(t, "half the supply"))
	links := regexp.MustCompile(`(?i)(?:src|href|srcset|action|data|poster)\s*=\s*["']?([^"'\s>]*)`).FindAllStringSubmatch(html, -1)
	if len(links) < 5 {
		t.Fatalf("found %d references, want those of the contents", len(links))
	}
	for _, m := range links {
		id, internal := strings.CutPrefix(m[1], "#")
		if !internal && !strings.HasPrefix(m[1], "data:") {
			t.Errorf("found a reference to %q, want it within the page", m[1])
		}
		if internal && !strings.Contains(html, `id="`+id+`"`) {
			t.Errorf("found a reference to #%s, and nothing of that name", id)
		}
	}
	for _, m := range regexp.MustCompile(`url\(([^)]{0,40})`).FindAllStringSubmatch(html, -1) {
		if !strings.HasPrefix(m[1], "data:") {
			t.Errorf("found style that loads %q", m[1])
		}
	}
	for _, bad := range []string{"@import", "<script", "<iframe", "<object", "<embed", "<form", " onload="} {
		if strings.Contains(html, bad) {
			t.Errorf("found %s in the page", bad)
		}
	}
	for _, want := range []string{`<html lang="en">`, `http-equiv="Content-Security-Policy" content="default-src &#39;none&#39;;`, `name="viewport"`, `<th scope="col"`, `<th scope="row"`, "<main>", "prefers-color-scheme:dark", "@media print", `role="img"`, "<figcaption>"} {
		if !strings.Contains(html, want) {
			t.Errorf("found no %s in the page", want)
		}
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(html, -1) {
		if ids[m[1]] {
			t.Errorf("found two things named %s", m[1])
		}
		ids[m[1]] = true
	}
}

// TestValidationTells checks numbers against the counts above: 48 of 100 is
// 0.48, its 95 % score interval 0.385 to 0.577 by the formula of Wilson (1927).
func TestValidationTells(t *testing.T) {
	markdown, html := written(t, validation(t, "half the supply"))
	for _, want := range []string{"0.48 (0.38 to 0.58)", "0.9978 (0.9919 to 0.9994)", "95 % score intervals", "never", "scale or triac-open or 2 others", "3 of 4", "Miss on board 12, vat, with half the supply",
		"False alarm on board 40", "Also applied to triac-one-way (2 of 10).", "not statistics of the trade", "Local codes prevail"} {
		for what, got := range map[string]string{"Markdown": markdown, "page": strings.ReplaceAll(html, "\u00a0", " ")} {
			if !strings.Contains(got, want) {
				t.Errorf("%s: found no %q", what, want)
			}
		}
	}
	v := validation(t, "x")
	v.Report.Done = 100
	if m, _ := written(t, v); !strings.Contains(m, "interrupted after 100 of 250 boards") {
		t.Error("found nothing about the interruption")
	}
}
