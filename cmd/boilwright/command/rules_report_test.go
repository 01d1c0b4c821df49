package command

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"boilwright/faults/rules/validate"
	"boilwright/plots"
)

func TestRightWords(t *testing.T) {
	for _, x := range []struct {
		said, truth string
		want        bool
	}{
		{"healthy", "healthy", true},
		{"healthy", "scale", false},
		{"scale", "healthy", false},
		{"no rule", "healthy", false},
		{"no rule", "scale", false},
		{"rules disagree", "scale", false},
		{"opto-shorted or triac-shorted", "triac-shorted", true},
		{"triac-shorted", "opto-shorted + triac-shorted", true},
		{"opto-open", "opto-shorted + triac-shorted", false},
		{"opto", "opto-shorted", false},
	} {
		if got := rightWords(x.said, x.truth); got != x.want {
			t.Errorf("%q of %q: found right %v, want %v", x.said, x.truth, got, x.want)
		}
	}
}

func TestCheckReport(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "a.txt")
	if err := os.WriteFile(file, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(folder, "x.html"), 0o777); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"": "", folder: "", filepath.Join(folder, "new"): "", filepath.Join(folder, "new.html"): "", filepath.Join(folder, "new.md"): "",
		"-": "found standard output", file: "expected a folder", filepath.Join(folder, "x.html"): "found the folder",
	} {
		err := checkReport(name)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: found %v, want %q", name, err, want)
		}
	}
}

// TestSharesOfMeters checks that a figure has as many meters as it can show
// apart, and that one without any has a mark for each rule.
func TestSharesOfMeters(t *testing.T) {
	r := &validate.Report{Rules: []validate.Rule{{Claim: validate.Claim{Rule: "a"}, ByMeter: []validate.Counts{{TP: 3, FN: 1}}}}}
	in := sharesOf(r, plots.Heading{})
	if len(in.Series) != 1 || len(in.Rows) != 1 || in.Rows[0].Marks[0][0].Value != 0.75 {
		t.Errorf("found %+v, want one mark at 3/4", in)
	}
	for range 20 {
		r.Meters = append(r.Meters, "m")
	}
	r.Rules[0].ByMeter = make([]validate.Counts, 20)
	in = sharesOf(r, plots.Heading{})
	if len(in.Series) != plots.MostSeries() || len(in.Rows[0].Marks[1]) != plots.MostSeries() {
		t.Errorf("found %d meters, want %d", len(in.Series), plots.MostSeries())
	}
	if _, err := plots.Shares(in); err != nil {
		t.Errorf("found %v, want a figure of nothing counted", err)
	}
}
