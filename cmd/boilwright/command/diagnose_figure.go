package command

import (
	"math"
	"regexp"

	"boilwright/faults/infer"
	"boilwright/plots"
)

// mostDrawn is how many suspects a figure of evidence shows, healthy besides.
const mostDrawn = 10

// titles are the titles of test points, which would leave no room on an axis.
var titles = regexp.MustCompile(` \([^)]*\)`)

// drawEvidence draws what was measured beside where it lies under the
// likeliest suspects, for the first one or two pieces of evidence that are
// measured, and returns the names of the files.
func drawEvidence(name string, t *target, w *infer.Bench, d *infer.Diagnosis) ([]string, error) {
	suspects := []string{}
	healthy := false
	for _, s := range d.Suspects {
		if len(suspects) < mostDrawn {
			suspects = append(suspects, s.Name)
			healthy = healthy || s.Name == "healthy"
		}
	}
	if !healthy {
		suspects = append(suspects, "healthy")
	}
	h := heading(t, "what was measured, and where it lies under each suspect")
	h.Title = "What was measured against the suspects"
	h.Subtitle = t.title()
	h.Caption = "First row: what was measured, with the meter's bounds where they were given. Other rows: from the least to the most that boards within their tolerances show, the line in the middle."
	in := plots.BandsInput{Heading: h}
	var shown [][]infer.Range
	for i := range d.Evidence {
		e := &d.Evidence[i]
		if e.Test.Unit() == "" || math.IsInf(e.Value, 0) || e.Value < 0 || len(shown) == 2 {
			continue
		}
		ranges := w.Ranges(&e.Test, suspects)
		kept := ranges[:0]
		for _, r := range ranges {
			if r.Low >= 0 && !math.IsInf(r.High, 0) {
				kept = append(kept, r)
			}
		}
		if len(kept) == 0 {
			continue
		}
		shown = append(shown, kept)
		in.Columns = append(in.Columns, plots.BandColumn{Quantity: titles.ReplaceAllString(e.Test.Describe(w.Board), ""), Unit: e.Test.Unit(),
			Bands: []plots.Band{{Nominal: e.Value, Low: e.Value - math.Min(e.Uncertainty, e.Value), High: e.Value + e.Uncertainty}}})
	}
	if len(shown) == 0 {
		return nil, misuse("--figure: found no measured value among the evidence, expected at least one in volts, ohms, watts, amperes, degrees or minutes")
	}
	in.Rows = []string{"measured"}
	for _, name := range suspects {
		var bands []plots.Band
		for _, ranges := range shown {
			for _, r := range ranges {
				if r.Suspect == name {
					bands = append(bands, plots.Band{Nominal: (r.Low + r.High) / 2, Low: r.Low, High: r.High})
				}
			}
		}
		if len(bands) < len(shown) {
			continue // it shows nothing that could be drawn, such as an open circuit
		}
		in.Rows = append(in.Rows, name)
		for i := range bands {
			in.Columns[i].Bands = append(in.Columns[i].Bands, bands[i])
		}
	}
	s, err := plots.Bands(in)
	if err != nil {
		return nil, err
	}
	return writeSheet(name, s, plots.Size{}, false)
}
