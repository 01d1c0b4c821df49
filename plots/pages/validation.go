package pages

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"boilwright/faults/rules"
	"boilwright/faults/rules/validate"
)

// Validation is everything that the report on a validation of rules is made
// from.
type Validation struct {
	Rules   string // file or program that judged
	Board   string // what the boards were drawn around
	Note    string // what is invented about it; may be empty
	Seed    uint64
	From    uint64 // index of the first board
	Drawn   string // how faults were chosen
	Command string // that repeats it
	Notice  string // what to keep in mind
	Caution string // that belongs beside what the rules look at; empty where they need none

	Report   *validate.Report
	Troubles []rules.Trouble
	Checks   []validate.Check

	Meters    *Drawing // sensitivity and specificity of each rule, by meter; nil for none
	Confusion []*Drawing
	Failures  []Failure // by rule, those without any left out
}

// Failure is the boards on which a rule fails.
type Failure struct {
	Rule     int // in Report.Rules
	Examples []Counterexample
}

// Counterexample is one board on which a rule is wrong.
type Counterexample struct {
	Mistake  validate.Mistake
	Index    uint64
	Channel  string // or the board
	Meters   string // in hand; empty for none
	Distance float64
	Truth    string
	Seen     string // what the rule looked at; empty where that is not known
	Command  string // that shows it again
	Figure   *Drawing
	Lacking  string // why there is no figure though there should be one
}

// WriteMarkdown writes the report in Markdown; figures are files beside it.
func (v *Validation) WriteMarkdown(w io.Writer) error {
	_, err := io.WriteString(w, v.blocks().markdown())
	return err
}

// WriteHTML writes the report as one page for a browser. It holds its figures
// and style, needs nothing beside itself, runs no program and asks the browser
// to load nothing.
func (v *Validation) WriteHTML(w io.Writer) error { return v.blocks().html(w) }

// Rates says of what predictive values and pooled figures depend.
const Rates = "Predictive values, prevalence, and whatever is pooled over faults hold at the rates at which the faults were drawn only. These rates are assumptions, not statistics of the trade."

func (v *Validation) blocks() *report {
	r, x := &report{}, v.Report
	r.heading(1, "Rules against ground truth: "+v.Rules)
	r.text(capital(v.Notice))
	if x.Done < x.Asked {
		r.text(fmt.Sprintf("The validation was interrupted after %d of %d boards; this is what they showed.", x.Done, x.Asked))
	}
	if v.Caution != "" {
		r.caution(v.Caution)
	}
	v.about(r)
	v.required(r)
	v.summary(r)
	v.meters(r)
	v.confusion(r)
	v.conflicts(r)
	v.parameters(r)
	v.failures(r)
	v.limits(r)
	return r
}

// about tells what was validated.
func (v *Validation) about(r *report) {
	x := v.Report
	r.heading(2, "What was validated")
	board := v.Board
	if v.Note != "" {
		board += " (" + v.Note + ")"
	}
	meters := strings.Join(x.Meters, ", ")
	if meters == "" {
		meters = "none: no rule depends on it"
	}
	rows := [][]string{
		{"rules", v.Rules}, {"boards drawn around", board},
		{"boards", fmt.Sprintf("%d from index %d, seed %d; %d of them healthy", x.Done, v.From, v.Seed, x.Healthy)},
		{"faults", v.Drawn}, {"meters in hand", meters},
		{"units counted", fmt.Sprintf("%d: a channel of a board with one meter in hand, or for a rule about the board, a board", x.Overall.Units)},
	}
	if x.Unsolved > 0 {
		rows = append(rows, []string{"without a solution", fmt.Sprintf("%d, counted in nothing else; the first: board %d: %s", x.Unsolved, x.ProblemAt, x.Problem)})
	}
	r.tabled("", 9, []string{"what", "found"}, rows)
	if v.Command != "" {
		r.text("The same again:")
		r.command(v.Command)
	}
}

func (v *Validation) required(r *report) {
	if len(v.Checks) == 0 {
		return
	}
	r.heading(2, "What was required")
	var rows [][]string
	for _, c := range v.Checks {
		met := "not met"
		if c.Met {
			met = "met"
		}
		rows = append(rows, []string{c.Requirement.Text, c.Of, met, c.Why})
	}
	r.tabled("", 9, []string{"requirement", "of", "is", "found"}, rows)
}

func (v *Validation) summary(r *report) {
	x := v.Report
	r.heading(2, "How often each rule is right")
	r.text("Sensitivity: of the units of which a rule's conclusion is true, the share on which it applied. Specificity: of the others, the share on which it did not. In brackets 95 % score intervals (Wilson); the units of one board are not independent, so that intervals pooled over meters and channels are too narrow. " + Rates)
	var rows [][]string
	for i := range x.Rules {
		c := &x.Rules[i]
		rows = append(rows, countCells(c.Rule, claim(c), c.Counts))
	}
	rows = append(rows, countCells("all together", "any fault", x.Overall.Counts))
	r.tabled("", 2, []string{"rule", "concludes", "applied", "prevalence", "sensitivity", "specificity", "positive predictive value", "negative predictive value"}, rows)
	if never := x.Never(); len(never) > 0 {
		r.heading(3, "Rules that never applied")
		var rows [][]string
		for _, c := range never {
			rows = append(rows, []string{c.Rule, claim(c)})
		}
		r.tabled("", 9, []string{"rule", "would conclude"}, rows)
	}
	if len(v.Troubles) > 0 {
		r.heading(3, "Conditions that could not always be evaluated")
		var rows [][]string
		for _, t := range v.Troubles {
			rows = append(rows, []string{t.Rule, strconv.FormatUint(t.Times, 10), strconv.FormatUint(t.Index, 10), t.Problem})
		}
		r.tabled("", 9, []string{"rule", "times", "first on board", "problem"}, rows)
	}
}

func (v *Validation) meters(r *report) {
	x := v.Report
	if v.Meters == nil && len(x.Meters) < 2 {
		return
	}
	r.heading(2, "By the meter in hand")
	r.drawing(v.Meters)
	if len(x.Meters) < 2 {
		return
	}
	var rows [][]string
	for i := range x.Rules {
		c := &x.Rules[i]
		if !byMore(c.ByMeter) {
			continue
		}
		for k, n := range c.ByMeter {
			rows = append(rows, append([]string{c.Rule, x.Meters[k]}, measureCells(n)...))
		}
	}
	if len(rows) == 0 {
		r.text("With no rule do the meters differ by more than chance makes of them: the intervals overlap.")
		return
	}
	r.tabled("Rules of which sensitivity or specificity differ by meter, by more than their intervals.", 2, []string{"rule", "meter", "sensitivity", "specificity", "positive predictive value", "negative predictive value"}, rows)
}

// byMore tells whether shares differ by more than their intervals.
func byMore(counts []validate.Counts) bool {
	for _, of := range []func(validate.Counts) validate.Share{validate.Counts.Sensitivity, validate.Counts.Specificity} {
		least, most := math.Inf(1), math.Inf(-1)
		for _, c := range counts {
			if low, high := of(c).Interval(); !math.IsNaN(low) {
				least, most = math.Min(least, high), math.Max(most, low)
			}
		}
		if most > least {
			return true
		}
	}
	return false
}

func (v *Validation) confusion(r *report) {
	if len(v.Confusion) == 0 {
		return
	}
	r.heading(2, "What was concluded by what was true")
	for _, d := range v.Confusion {
		r.drawing(d)
	}
}

// mostConflicts is how many pairs of rules are told.
const mostConflicts = 20

func (v *Validation) conflicts(r *report) {
	x := v.Report
	r.heading(2, "Coverage and conflicts")
	text := fmt.Sprintf("A rule concluded something of %s of the units.", share(x.Overall.Coverage()))
	if x.Overall.Covered > 0 {
		text += fmt.Sprintf(" Of these, all conclusions were right in %s.", share(x.Overall.Correct()))
	}
	r.text(text)
	if len(x.Meters) > 1 {
		var rows [][]string
		for i, name := range x.Meters {
			o := &x.ByMeter[i]
			rows = append(rows, []string{name, strconv.FormatUint(o.Units, 10), share(o.Coverage()), share(o.Correct()), strconv.FormatUint(o.Conflicting, 10)})
		}
		r.tabled("All rules together, by the meter in hand.", 1, []string{"meter", "units", "coverage", "of these all right", "rules disagree"}, rows)
	}
	if len(x.Conflicts) == 0 {
		r.text("No two rules disagreed.")
		return
	}
	var rows [][]string
	for _, c := range x.Conflicts[:min(mostConflicts, len(x.Conflicts))] {
		rows = append(rows, []string{x.Rules[c.First].Rule, x.Rules[c.Second].Rule, strconv.FormatUint(c.Units, 10), strconv.FormatUint(c.Index, 10)})
	}
	caption := fmt.Sprintf("Rules that disagree about a unit: one says healthy and the other does not, or they name no fault in common. Rules disagreed about %d units.", x.Overall.Conflicting)
	if n := len(x.Conflicts) - mostConflicts; n > 0 {
		caption += fmt.Sprintf(" %d rarer pairs are left out.", n)
	}
	r.tabled(caption, 2, []string{"rule", "and", "units", "first on board"}, rows)
}

// claim writes what a rule concludes, shortened.
func claim(c *validate.Rule) string {
	if n := len(c.Faults); n > 3 {
		return fmt.Sprintf("%s or %d others", validate.Concluded(c.Faults[:2]), n-2)
	}
	return validate.Concluded(c.Faults)
}

func countCells(name, concludes string, c validate.Counts) []string {
	return append([]string{name, concludes, strconv.FormatUint(c.Applied(), 10), ratio(c.Prevalence())}, measureCells(c)...)
}

func measureCells(c validate.Counts) []string {
	return []string{share(c.Sensitivity()), share(c.Specificity()), ratio(c.Positive()), ratio(c.Negative())}
}

// share writes a share with its interval, a dash out of none.
func share(s validate.Share) string {
	if s.Of == 0 {
		return "–"
	}
	low, high := s.Interval()
	n := validate.Decimals(s.Value(), low, high)
	return fmt.Sprintf("%.*f (%.*f to %.*f)", n, s.Value(), n, low, n, high)
}

func ratio(s validate.Share) string {
	if s.Of == 0 {
		return "–"
	}
	return strconv.FormatFloat(s.Value(), 'f', validate.Decimals(s.Value()), 64)
}
