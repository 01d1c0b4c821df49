package validate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	q "boilwright/models/quantity"
)

// Bound tells which figure of a share is required.
type Bound int

// The bounds.
const (
	Point Bound = iota // the share itself
	Lower              // lower end of its interval
	Upper              // upper end
)

var boundNames = []string{"", "lower", "upper"}

// OverallName stands for all rules together where a rule is named.
const OverallName = "overall"

// Measures of one rule, or of all together, and what is counted of all rules.
var (
	ofRule = []struct {
		name, doc string
		of        func(Counts) Share
	}{
		{"sensitivity", "share of what is true that is said", Counts.Sensitivity},
		{"specificity", "share of what is not true that is not said", Counts.Specificity},
		{"ppv", "positive predictive value: share of what is said that is true", Counts.Positive},
		{"npv", "negative predictive value: share of what is not said that is not true", Counts.Negative},
	}
	ofShare = []struct {
		name, doc string
		of        func(*Report) Share
	}{
		{"coverage", "share of units of which a rule concludes something", func(r *Report) Share { return r.Overall.Coverage() }},
		{"correct", "share of these of which all conclusions are right", func(r *Report) Share { return r.Overall.Correct() }},
	}
	ofCount = []struct {
		name, doc string
		of        func(*Report) uint64
	}{
		{"conflicts", "units of which rules disagree", func(r *Report) uint64 { return r.Overall.Conflicting }},
		{"never", "rules that never apply", func(r *Report) uint64 { return uint64(len(r.Never())) }},
		{"unsolved", "boards without a solution", func(r *Report) uint64 { return r.Unsolved }},
	}
)

// Measure is something that can be required.
type Measure struct{ Name, Doc string }

// Measures lists what can be required, in order.
func Measures() []Measure {
	var out []Measure
	for _, x := range ofRule {
		out = append(out, Measure{x.name, x.doc})
	}
	for _, x := range ofShare {
		out = append(out, Measure{x.name, x.doc})
	}
	for _, x := range ofCount {
		out = append(out, Measure{x.name, x.doc})
	}
	return out
}

func measureNames() []string {
	var out []string
	for _, m := range Measures() {
		out = append(out, m.Name)
	}
	return out
}

// Requirement is one stated requirement.
type Requirement struct {
	Text     string
	Rule     string // OverallName for all together; empty for every rule, and of what is no rule's
	Measure  string
	Bound    Bound
	Relation string // ">=", ">", "<=", "<"
	Value    float64
}

var relations = []string{">=", "<=", ">", "<"}

// ParseRequirement reads a requirement:
//
//	[RULE:] MEASURE[.lower|.upper] RELATION VALUE
//
// such as "sensitivity >= 0.95", "half-supply: specificity.lower >= 90 %",
// "overall: sensitivity >= 0.8", "conflicts <= 0". A measure of rules without a
// rule is required of every rule. The error tells what was found and expected.
func ParseRequirement(text string) (Requirement, error) {
	r := Requirement{Text: text}
	rest := text
	if i := strings.LastIndexByte(text, ':'); i >= 0 { // names of rules may have one
		r.Rule, rest = strings.TrimSpace(text[:i]), text[i+1:]
		if r.Rule == "" {
			return r, errors.New("found no rule before the colon, expected its name")
		}
	}
	at := strings.IndexAny(rest, "<>")
	if at < 0 {
		return r, fmt.Errorf("found %q, expected [RULE:] MEASURE RELATION VALUE, such as \"sensitivity >= 0.95\"", text)
	}
	name := strings.TrimSpace(rest[:at])
	for _, x := range relations {
		if strings.HasPrefix(rest[at:], x) {
			r.Relation = x
			break
		}
	}
	value := strings.TrimSpace(rest[at+len(r.Relation):])
	measure, bound, bounded := strings.Cut(name, ".")
	r.Measure = measure
	if !slices.Contains(measureNames(), measure) {
		return r, fmt.Errorf("found measure %q, expected one of %s", measure, strings.Join(measureNames(), ", "))
	}
	if bounded {
		if r.Bound = Bound(slices.Index(boundNames, bound)); r.Bound < Lower {
			return r, fmt.Errorf("found %q after the measure, expected lower or upper", bound)
		}
	}
	if r.counts() {
		n, err := strconv.ParseUint(value, 10, 63)
		switch {
		case err != nil:
			return r, fmt.Errorf("found %q, expected a whole number of 0 or more", value)
		case bounded:
			return r, fmt.Errorf("found %s of %s, expected it of a share only", bound, measure)
		case r.Rule != "":
			return r, fmt.Errorf("found %s of a rule, expected it without one", measure)
		}
		r.Value = float64(n)
		return r, nil
	}
	if r.Rule != "" && !r.ofRule() {
		return r, fmt.Errorf("found %s of a rule, expected it without one", measure)
	}
	x, err := q.As[q.Ratio](value)
	if err != nil {
		return r, err
	}
	if !(x >= 0 && x <= 1) {
		return r, fmt.Errorf("found %s, expected 0 to 1", value)
	}
	r.Value = float64(x)
	return r, nil
}

func (r *Requirement) ofRule() bool {
	for _, x := range ofRule {
		if x.name == r.Measure {
			return true
		}
	}
	return false
}

func (r *Requirement) counts() bool {
	for _, x := range ofCount {
		if x.name == r.Measure {
			return true
		}
	}
	return false
}

// Check is whether a requirement is met, by one rule where it is required of
// rules.
type Check struct {
	Requirement Requirement
	Of          string // rule, OverallName, or empty
	Found       float64
	Met         bool
	Why         string // what was found
}

// Check checks a report against a requirement: once for each rule that it is
// required of. What nothing was counted of is not met, nor is anything by a
// validation that was interrupted. A rule that is not known is an error.
func (r *Requirement) Check(x *Report) ([]Check, error) {
	switch {
	case r.counts():
		for _, m := range ofCount {
			if m.name == r.Measure {
				n := m.of(x)
				return []Check{r.check(x, "", float64(n), strconv.FormatUint(n, 10))}, nil
			}
		}
	case !r.ofRule():
		for _, m := range ofShare {
			if m.name == r.Measure {
				return []Check{r.share(x, "", m.of(x))}, nil
			}
		}
	}
	var out []Check
	for _, m := range ofRule {
		if m.name != r.Measure {
			continue
		}
		if r.Rule == OverallName {
			return []Check{r.share(x, OverallName, m.of(x.Overall.Counts))}, nil
		}
		for i := range x.Rules {
			if r.Rule == "" || r.Rule == x.Rules[i].Rule {
				out = append(out, r.share(x, x.Rules[i].Rule, m.of(x.Rules[i].Counts)))
			}
		}
	}
	if len(out) == 0 && r.Rule != "" {
		return nil, fmt.Errorf("requirement %q: found rule %q, expected one of the rules, or %s", r.Text, r.Rule, OverallName)
	}
	return out, nil
}

// share checks a share or an end of its interval.
func (r *Requirement) share(x *Report, of string, s Share) Check {
	low, high := s.Interval()
	v := [...]float64{s.Value(), low, high}[r.Bound]
	if s.Of == 0 {
		return r.check(x, of, math.NaN(), "no units to count")
	}
	return r.check(x, of, v, fmt.Sprintf("%.4f, %d of %d, 95 %% interval %.4f to %.4f", s.Value(), s.Count, s.Of, low, high))
}

func (r *Requirement) check(x *Report, of string, v float64, why string) Check {
	c := Check{Requirement: *r, Of: of, Found: v, Why: "found " + why}
	switch r.Relation {
	case ">=":
		c.Met = v >= r.Value
	case ">":
		c.Met = v > r.Value
	case "<=":
		c.Met = v <= r.Value
	case "<":
		c.Met = v < r.Value
	}
	if x.Done < x.Asked {
		c.Met, c.Why = false, fmt.Sprintf("interrupted after %d of %d boards; %s", x.Done, x.Asked, c.Why)
	}
	return c
}
