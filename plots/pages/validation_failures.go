package pages

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"boilwright/faults/rules/validate"
)

// mostParameters is how many parameters are told of a rule.
const mostParameters = 6

func (v *Validation) parameters(r *report) {
	var rows [][]string
	for i := range v.Report.Rules {
		c := &v.Report.Rules[i]
		n := 0
		for _, k := range c.Ranks {
			if n >= mostParameters || math.IsNaN(k.AUC) || !k.Clear && k.Flipped == 0 {
				continue
			}
			n++
			where, turned := "wrong units", ""
			if k.AUC < 0.5 {
				where = "right units"
			}
			if k.Tried > 0 {
				turned = fmt.Sprintf("%d of %d", k.Flipped, k.Tried)
			}
			rows = append(rows, []string{c.Rule, k.Parameter, mistakes(k.Mistake), where, strconv.FormatFloat(k.Strength(), 'f', 2, 64), turned})
		}
	}
	r.heading(2, "Which parameters go with mistakes")
	if len(rows) == 0 {
		r.text("None is told: too few mistakes to compare, or none that stands out.")
		return
	}
	r.text("Among units with the same truth, those judged wrongly beside those judged rightly. Strength is 0 where a parameter says nothing about mistakes, and 1 where it separates them. Turned: how many of the wrong units that were judged again, with this parameter at the board's own value, were then judged rightly. Parameters are compared one at a time.")
	r.tabled("", 4, []string{"rule", "parameter", "goes with", "higher on", "strength", "turned"}, rows)
}

func mistakes(m validate.Mistake) string {
	if m == validate.Miss {
		return "misses"
	}
	return "false alarms"
}

func (v *Validation) failures(r *report) {
	r.heading(2, "Counterexamples")
	if len(v.Failures) == 0 {
		r.text("None was found or kept.")
		return
	}
	r.text("For each rule the most ordinary boards on which it is wrong: those whose drawn values are nearest to the board's own. Each command draws its board again and tells what the rules see.")
	if v.Caution != "" {
		r.caution(v.Caution)
	}
	for _, f := range v.Failures {
		c := &v.Report.Rules[f.Rule]
		r.heading(3, c.Rule)
		text := fmt.Sprintf("Concludes %s. %d misses, %d false alarms.", claim(c), c.Counts.FN, c.Counts.FP)
		if also := alsoApplied(c); also != "" {
			text += " Also applied to " + also + "."
		}
		r.text(text)
		for i := range f.Examples {
			v.example(r, &f.Examples[i])
		}
	}
}

// alsoApplied lists the faults to which a rule is wrong to apply.
func alsoApplied(c *validate.Rule) string {
	by := slices.Clone(c.ByFault)
	slices.SortStableFunc(by, func(a, b validate.FaultCount) int {
		switch {
		case a.Applied > b.Applied:
			return -1
		case a.Applied < b.Applied:
			return 1
		}
		return 0
	})
	var out []string
	for _, f := range by {
		if !f.Right && f.Applied > 0 && len(out) < 5 {
			out = append(out, fmt.Sprintf("%s (%d of %d)", f.Fault, f.Applied, f.Units))
		}
	}
	return strings.Join(out, ", ")
}

func (v *Validation) example(r *report, e *Counterexample) {
	what := "False alarm"
	if e.Mistake == validate.Miss {
		what = "Miss"
	}
	text := fmt.Sprintf("%s on board %d, %s", what, e.Index, e.Channel)
	if e.Meters != "" {
		text += ", with " + e.Meters
	}
	r.heading(4, text)
	text = fmt.Sprintf("Truth: %s. %.2f standard deviations from the ordinary board.", e.Truth, e.Distance)
	if e.Seen != "" {
		text += " The rule sees: " + e.Seen + "."
	}
	if e.Lacking != "" {
		text += " No figure: " + e.Lacking + "."
	}
	r.text(text)
	r.command(e.Command)
	r.drawing(e.Figure)
}

func (v *Validation) limits(r *report) {
	r.heading(2, "Limits")
	r.text("Everything here is simulated, from a model of the board, its parts and the meters; what the model does not know, no rule was tried against. A rule that holds here may fail on a real board, and the other way round. " + Rates)
	r.text("A rule is not a licence to work on a live board. Unplugged tests come first; live ones are for competent and, where local rules ask for it, licensed people. Local codes prevail.")
}
