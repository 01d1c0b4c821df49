package validate

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"
)

func TestParseRequirement(t *testing.T) {
	for _, x := range []struct {
		text string
		want Requirement
	}{
		{"sensitivity >= 0.95", Requirement{Measure: "sensitivity", Relation: ">=", Value: 0.95}},
		{"half-supply: specificity>0.9", Requirement{Rule: "half-supply", Measure: "specificity", Relation: ">", Value: 0.9}},
		{"half supply : ppv.lower >= 90 %", Requirement{Rule: "half supply", Measure: "ppv", Bound: Lower, Relation: ">=", Value: 0.9}},
		{"overall: npv.upper < 1", Requirement{Rule: OverallName, Measure: "npv", Bound: Upper, Relation: "<", Value: 1}},
		{"coverage.lower >= 0.8", Requirement{Measure: "coverage", Bound: Lower, Relation: ">=", Value: 0.8}},
		{"conflicts <= 0", Requirement{Measure: "conflicts", Relation: "<=", Value: 0}},
	} {
		x.want.Text = x.text
		if got, err := ParseRequirement(x.text); err != nil || got != x.want {
			t.Errorf("%q: found %+v, %v, expected %+v", x.text, got, err, x.want)
		}
	}
	for _, x := range []struct{ text, want string }{
		{"", "expected [RULE:] MEASURE RELATION VALUE"},
		{"sensitivity 0.9", "expected [RULE:] MEASURE"},
		{": sensitivity >= 0.9", "found no rule"},
		{"sense >= 0.9", `found measure "sense"`},
		{"sensitivity.middle >= 0.9", `found "middle"`},
		{"sensitivity. >= 0.9", "expected lower or upper"},
		{"sensitivity >= 1.5", "expected 0 to 1"},
		{"sensitivity >= NaN", "NaN"},
		{"sensitivity >= ", ""},
		{"conflicts <= 0.5", "expected a whole number"},
		{"conflicts.lower <= 1", "of a share only"},
		{"x: conflicts <= 1", "expected it without one"},
		{"x: coverage >= 1", "expected it without one"},
	} {
		if got, err := ParseRequirement(x.text); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%q: found %+v, %v, expected an error with %q", x.text, got, err, x.want)
		}
	}
}

// sampleReport has two rules, of which the second never applied.
func sampleReport() *Report {
	return &Report{Asked: 10, Done: 10,
		Rules: []Rule{
			{Claim: Claim{Rule: "first"}, Counts: Counts{TP: 9, FN: 1, TN: 19, FP: 1}},
			{Claim: Claim{Rule: "second <&\x01>"}, Counts: Counts{FN: 5, TN: 25}},
		},
		Overall:   Overall{Units: 30, Covered: 10, Right: 9, Conflicting: 2, Counts: Counts{TP: 9, FN: 6, TN: 14, FP: 1}},
		Conflicts: []Conflict{{First: 0, Second: 1, Units: 2}},
	}
}

func TestCheck(t *testing.T) {
	r := sampleReport()
	for _, x := range []struct {
		text string
		met  []bool
	}{
		{"sensitivity >= 0.9", []bool{true, false}},
		{"sensitivity > 0.9", []bool{false, false}},
		// 9 of 10: 0.5958 to 0.9821, from the formula at 30 digits.
		{"first: sensitivity.lower >= 0.5958", []bool{true}},
		{"first: sensitivity.lower >= 0.5959", []bool{false}},
		{"first: sensitivity.upper <= 0.9822", []bool{true}},
		{"ppv >= 0", []bool{true, false}}, // nothing was said: not met
		{"overall: sensitivity >= 0.6", []bool{true}},
		{"coverage >= 0.3333", []bool{true}},
		{"correct < 0.9", []bool{false}},
		{"conflicts <= 1", []bool{false}},
		{"conflicts <= 2", []bool{true}},
		{"never < 1", []bool{false}},
		{"unsolved <= 0", []bool{true}},
	} {
		q, err := ParseRequirement(x.text)
		if err != nil {
			t.Fatal(err)
		}
		got, err := q.Check(r)
		if err != nil || len(got) != len(x.met) {
			t.Fatalf("%q: found %v, %v, expected %d checks", x.text, got, err, len(x.met))
		}
		for i, c := range got {
			if c.Met != x.met[i] {
				t.Errorf("%q of %q: found %v, %s", x.text, c.Of, c.Met, c.Why)
			}
		}
	}
	q := Requirement{Text: "third: ppv > 0", Rule: "third", Measure: "ppv", Relation: ">"}
	if _, err := q.Check(r); err == nil || !strings.Contains(err.Error(), `found rule "third"`) {
		t.Errorf("found %v, expected an unknown rule", err)
	}
	r.Done = 9
	q, _ = ParseRequirement("conflicts <= 5")
	if got, err := q.Check(r); err != nil || got[0].Met || !strings.Contains(got[0].Why, "interrupted after 9 of 10") {
		t.Errorf("found %v, %v, expected an interrupted validation to meet nothing", got, err)
	}
	q, _ = ParseRequirement("second <&\x01>: ppv > 0")
	if got, err := q.Check(sampleReport()); err != nil || !math.IsNaN(got[0].Found) {
		t.Errorf("found %v, %v, expected no number", got, err)
	}
}

func TestJUnit(t *testing.T) {
	var checks []Check
	for _, text := range []string{"sensitivity >= 0.9", "conflicts <= 0"} {
		q, err := ParseRequirement(text)
		if err != nil {
			t.Fatal(err)
		}
		c, err := q.Check(sampleReport())
		if err != nil {
			t.Fatal(err)
		}
		checks = append(checks, c...)
	}
	var b bytes.Buffer
	if err := WriteJUnit(&b, `a "b" <c>.toml`, []Property{{"seed", "1"}}, checks, "simulated & so"); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	open := 0
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, b.String())
		}
		switch tok.(type) {
		case xml.StartElement:
			open++
		case xml.EndElement:
			open--
		}
	}
	if open != 0 {
		t.Errorf("found %d elements open", open)
	}
	var got junitSuites
	if err := xml.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	s := got.Suite
	if got.XMLName.Local != "testsuites" || got.Tests != 3 || got.Failures != 2 || s.Name != `a "b" <c>.toml` || s.Tests != 3 || s.Failures != 2 || s.Out != "simulated & so" {
		t.Errorf("found %+v", got)
	}
	if len(s.Properties) != 1 || s.Properties[0] != (junitProperty{"seed", "1"}) {
		t.Errorf("found properties %v", s.Properties)
	}
	if len(s.Cases) != 3 || s.Cases[0].Failure != nil || s.Cases[0].Class != "first" || s.Cases[0].Name != "sensitivity >= 0.9" {
		t.Fatalf("found cases %+v", s.Cases)
	}
	if f := s.Cases[1].Failure; f == nil || s.Cases[1].Class != "second <&>" || !strings.Contains(f.Message, "0.0000, 0 of 5") || !strings.Contains(f.Text, "required sensitivity >= 0.9: ") {
		t.Errorf("found %+v", s.Cases[1])
	}
	if s.Cases[2].Class != "all rules" || s.Cases[2].Failure == nil {
		t.Errorf("found %+v", s.Cases[2])
	}
}
