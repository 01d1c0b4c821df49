package plots

import (
	"fmt"
	"math"
	"testing"
)

func demoConfusion() ConfusionInput {
	in := ConfusionInput{Columns: []string{"opto-one-way", "opto-one-way or triac-one-way", "triac-shorted", "healthy", "no rule", "rules disagree"}}
	in.Title = "What was concluded by what was true: all channels"
	in.Rows = []ConfusionRow{
		{"healthy", []uint64{0, 12, 0, 15980, 240, 3}, []bool{false, false, false, true, false, false}},
		{"opto-one-way", []uint64{40, 61, 3, 0, 20, 5}, []bool{true, true, false, false, false, false}},
		{"triac-one-way", []uint64{33, 58, 0, 0, 9, 0}, []bool{false, true, false, false, false, false}},
		{"triac-shorted", []uint64{0, 0, 88, 0, 0, 0}, []bool{false, false, true, false, false, false}},
		{"opto-one-way + scale", []uint64{1, 0, 0, 0, 1, 0}, []bool{true, true, false, false, false, false}},
	}
	return in
}

// TestConfusionTells checks words and data against the numbers above.
func TestConfusionTells(t *testing.T) {
	s, err := Confusion(demoConfusion())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "5 rows of what was true, 6 columns",
		"opto-one-way, 129 units: right in 78 %; most often opto-one-way or triac-one-way, 47 %.", // 101 and 61 of 129
		"healthy, 16235 units: right in 98 %; most often healthy, 98 %.", "triac-shorted, 88 units: right in 100 %")
	contains(t, "caption", s.Caption(), "Framed cells", "Simulated")
	if n := s.Data()[0].Rows(); n != 15 {
		t.Errorf("found %d rows of data, want one for each of 15 counts above 0", n)
	}
}

// TestConfusionManyGathers draws more rows and columns than fit: the rare ones
// are gathered, and no unit is lost.
func TestConfusionManyGathers(t *testing.T) {
	in := manyConfusion()
	g := in.gathered()
	if len(g.Rows) != mostTruths || len(g.Columns) != mostConclusions {
		t.Fatalf("found %d rows and %d columns, want %d and %d", len(g.Rows), len(g.Columns), mostTruths, mostConclusions)
	}
	all, kept := uint64(0), uint64(0)
	for i := range in.Rows {
		all += in.Rows[i].units()
	}
	for i := range g.Rows {
		kept += g.Rows[i].units()
	}
	if all != kept {
		t.Errorf("found %d units after gathering, want %d", kept, all)
	}
	if last := g.Rows[len(g.Rows)-1]; last.Name != "7 others" || last.Right[0] {
		t.Errorf("found last row %+v, want 7 others, of which nothing is right or wrong", last)
	}
	s, err := Confusion(in)
	checkLabels(t, must(t, s, err))
}

// manyConfusion is more than fits, with long names.
func manyConfusion() ConfusionInput {
	in := ConfusionInput{}
	for j := range 30 {
		in.Columns = append(in.Columns, fmt.Sprintf("conclusion-%d or another-one-%d or a-third-%d", j, j, j))
	}
	for i := range 70 {
		r := ConfusionRow{Name: fmt.Sprintf("truth-number-%d + something else that is there", i)}
		for j := range 30 {
			r.Counts, r.Right = append(r.Counts, uint64((i*j*j*37)%1003*1009)), append(r.Right, i%30 == j)
		}
		in.Rows = append(in.Rows, r)
	}
	return in
}

func TestConfusionShadesFall(t *testing.T) {
	last := 256.0
	for i := range 101 {
		c, text := shadeOf(float64(i) / 100)
		if k := contrastRatio(c, text); k < 3.5 {
			t.Errorf("share %d %%: found a contrast of %.2f between number and cell, want at least 3.5", i, k)
		}
		luma := 0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B) // ITU-R BT.601
		if luma > last {
			t.Fatalf("share %d %%: found luma %g above %g, want it to fall with the share", i, luma, last)
		}
		last = luma
	}
	if last > 110 {
		t.Errorf("found luma %g for all of a row, want a dark cell", last)
	}
}

func demoShares() SharesInput {
	none := ShareMark{math.NaN(), math.NaN(), math.NaN()}
	in := SharesInput{Series: []string{"average", "rms", "direct"}, Columns: []string{"sensitivity", "specificity"}}
	in.Title = "Where the meter in hand matters"
	in.Rows = []ShareRow{
		{"half the supply means an opto-coupler that conducts one way", [][]ShareMark{{{0.96, 0.91, 0.98}, {0.03, 0.01, 0.08}, {1, 0.96, 1}}, {{0.999, 0.99, 1}, {0.97, 0.96, 0.98}, {0.9, 0.88, 0.92}}}},
		{"shorted", [][]ShareMark{{{1, 0.97, 1}, {1, 0.97, 1}, {0.99, 0.94, 1}}, {{1, 0.999, 1}, {1, 0.999, 1}, {1, 0.999, 1}}}},
		{"never tried", [][]ShareMark{{none, none, none}, {{0.5, 0.1, 0.9}, none, none}}},
	}
	return in
}

func TestSharesTell(t *testing.T) {
	s, err := Shares(demoShares())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "sensitivity: average 0.96, between 0.91 and 0.98; rms 0.03", "never tried: sensitivity: nothing counted. specificity: average 0.5, between 0.1 and 0.9.")
	in := demoShares()
	for i := range 60 {
		r := in.Rows[1]
		r.Name = fmt.Sprintf("%s %d", longName, i)
		in.Rows = append(in.Rows, r)
	}
	s, err = Shares(in)
	checkLabels(t, must(t, s, err))
	contains(t, "caption", s.Caption(), "The 40 rows in which the marks differ most; 23 more are not drawn.")
	contains(t, "text alternative", s.Alt(), "half the supply means")
	in = demoShares()
	in.Series = []string{longName, longName + "2", longName + "3"}
	s, err = Shares(in)
	checkLabels(t, must(t, s, err))
}

func TestConfusionRefuses(t *testing.T) {
	in := demoConfusion()
	in.Rows[1].Counts = in.Rows[1].Counts[:2]
	if _, err := Confusion(in); err == nil {
		t.Error("found a row with 2 counts of 6 taken, want an error")
	} else {
		contains(t, "error", err.Error(), "opto-one-way", "2 counts", "expected 6")
	}
	if _, err := Confusion(ConfusionInput{}); err == nil {
		t.Error("found an empty map taken, want an error")
	}
	for _, change := range []func(*SharesInput){
		func(in *SharesInput) { in.Rows[0].Marks[0][0].Low = 0.97 },
		func(in *SharesInput) { in.Rows[0].Marks[0][0].High = 1.2 },
		func(in *SharesInput) { in.Rows[0].Marks[1] = nil },
		func(in *SharesInput) { in.Series = nil },
		func(in *SharesInput) { in.Columns = nil },
		func(in *SharesInput) { in.Rows = nil },
	} {
		in := demoShares()
		change(&in)
		if _, err := Shares(in); err == nil {
			t.Errorf("found %+v taken, want an error", in)
		}
	}
}
