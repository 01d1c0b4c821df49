package command

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/faults/rules/validate"
	"boilwright/sim/population/evidence"
)

// shareText writes a share with its interval; empty out of none.
func shareText(s validate.Share) string {
	if s.Of == 0 {
		return ""
	}
	low, high := s.Interval()
	n := validate.Decimals(s.Value(), low, high)
	return fmt.Sprintf("%.*f (%.*f-%.*f)", n, s.Value(), n, low, n, high)
}

// ratioText writes a share alone.
func ratioText(s validate.Share) string {
	if s.Of == 0 {
		return ""
	}
	return strconv.FormatFloat(s.Value(), 'f', validate.Decimals(s.Value()), 64)
}

// claimText writes what a rule concludes, shortened.
func claimText(r *validate.Rule) string {
	if n := len(r.Faults); n > 3 {
		return fmt.Sprintf("%s or %d others", validate.Concluded(r.Faults[:2]), n-2)
	}
	return validate.Concluded(r.Faults)
}

func (v *validation) print(cmd *cobra.Command, w io.Writer) error {
	r := v.report
	t := v.work.target
	fmt.Fprintf(w, "%s on %s\n", v.side.name, t.title())
	if n := t.file.Board.Note; n != "" {
		fmt.Fprintln(w, indented("  ", n+"."))
	}
	drawn := "faults at the default rates"
	if v.options.each > 0 {
		drawn = fmt.Sprintf("%d of each fault in each place", v.options.each)
	}
	fmt.Fprintf(w, "%d boards drawn from index %d with seed %d: %d healthy; %s\n", r.Done, v.options.from, v.options.seed, r.Healthy, drawn)
	if r.Unsolved > 0 {
		fmt.Fprintln(w, wrapped(fmt.Sprintf("%d without a solution, counted in nothing else, the first: board %d: %s", r.Unsolved, r.ProblemAt, r.Problem)))
	}
	hand := ""
	if len(r.Meters) > 0 {
		hand = ", each with " + list(r.Meters, "") + " in hand"
	}
	fmt.Fprintln(w, wrapped(fmt.Sprintf("%d units: channels of these boards%s. With 95 %% score intervals; units of one board are not independent, so that those of all meters and channels together are too narrow. PPV and NPV hold at these rates only.", r.Overall.Units, hand)))
	if c := v.side.caution(); c != "" {
		fmt.Fprintln(w, wrapped("* "+c))
	}
	fmt.Fprintln(w)
	tab := newTable(w, "", "rule", "concludes", "applied", "prevalence", "sensitivity", "specificity", "PPV", "NPV")
	for i := range r.Rules {
		x := &r.Rules[i]
		tab.row(append([]string{x.Rule, claimText(x), strconv.FormatUint(x.Counts.Applied(), 10), ratioText(x.Counts.Prevalence())}, measures(x.Counts)...)...)
	}
	tab.row(append([]string{"all together", "any fault", strconv.FormatUint(r.Overall.Counts.Applied(), 10), ratioText(r.Overall.Counts.Prevalence())}, measures(r.Overall.Counts)...)...)
	if err := tab.flush(); err != nil {
		return err
	}
	o := &r.Overall
	correct := ""
	if o.Covered > 0 {
		correct = fmt.Sprintf("; all conclusions right in %s of these", shareText(o.Correct()))
	}
	if o.Units > 0 {
		fmt.Fprintf(w, "\n%s\n", wrapped(fmt.Sprintf("Coverage %s: units of which a rule concludes something%s. Rules disagree in %d.", shareText(o.Coverage()), correct, o.Conflicting)))
	}
	if err := v.printMeters(w); err != nil {
		return err
	}
	if len(r.Conflicts) > 0 {
		fmt.Fprint(w, "\nrules that disagree\n\n")
		tab := newTable(w, "  ", "units", "rule", "and", "first on board")
		for _, c := range r.Conflicts[:min(10, len(r.Conflicts))] {
			tab.row(strconv.FormatUint(c.Units, 10), r.Rules[c.First].Rule, r.Rules[c.Second].Rule, strconv.FormatUint(c.Index, 10))
		}
		if err := tab.flush(); err != nil {
			return err
		}
		if n := len(r.Conflicts) - 10; n > 0 {
			fmt.Fprintf(w, "  and %d more pairs\n", n)
		}
	}
	if never := r.Never(); len(never) > 0 {
		var names []string
		for _, x := range never {
			names = append(names, x.Rule)
		}
		fmt.Fprintf(w, "\n%s\n", wrapped("Never applied: "+strings.Join(names, "; ")+"."))
	}
	for _, x := range v.side.troubles() {
		of := x.Rule
		if of == "" { // a program's, of all its rules
			of = v.side.name
		}
		fmt.Fprintf(w, "\n%s\n", wrapped(fmt.Sprintf("%s: could not be told %d times, the first on board %d: %s", of, x.Times, x.Index, x.Problem)))
	}
	if v.options.table && len(r.Confusion) > 0 {
		if err := printConfusion(w, &r.Confusion[0]); err != nil {
			return err
		}
	}
	for i := range r.Rules {
		if err := v.printFailures(cmd, w, i); err != nil {
			return err
		}
	}
	if n := len(v.files); n > 0 {
		fmt.Fprintf(w, "\nreport: %s\n", v.files[n-1])
	}
	_, err := fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

func measures(c validate.Counts) []string {
	return []string{shareText(c.Sensitivity()), shareText(c.Specificity()), ratioText(c.Positive()), ratioText(c.Negative())}
}

// differ tells whether sensitivity or specificity differ by more than chance:
// intervals that do not overlap.
func differ(counts []validate.Counts) bool {
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

// printMeters tells of the rules for which the meter in hand matters.
func (v *validation) printMeters(w io.Writer) error {
	r := v.report
	var heads bool
	var tab *table
	for i := range r.Rules {
		x := &r.Rules[i]
		if len(r.Meters) < 2 || !differ(x.ByMeter) {
			continue
		}
		if !heads {
			heads = true
			fmt.Fprint(w, "\nwhere the meter in hand matters\n\n")
			tab = newTable(w, "  ", "rule", "meter", "sensitivity", "specificity", "PPV", "NPV")
		}
		name := x.Rule
		for k, c := range x.ByMeter {
			tab.row(append([]string{name, r.Meters[k]}, measures(c)...)...)
			name = " "
		}
	}
	if tab == nil {
		return nil
	}
	return tab.flush()
}

func printConfusion(w io.Writer, c *validate.Confusion) error {
	fmt.Fprintf(w, "\nwhat was concluded by what was true, units of %s\n\n", c.Channel)
	tab := newTable(w, "  ", append([]string{"truth"}, c.Concluded...)...)
	for _, row := range c.Rows {
		cells := []string{row.Truth}
		for _, n := range row.Counts {
			text := ""
			if n > 0 {
				text = strconv.FormatUint(n, 10)
			}
			cells = append(cells, text)
		}
		tab.row(cells...)
	}
	return tab.flush()
}

// printFailures tells how one rule fails: by what, and on which boards.
func (v *validation) printFailures(cmd *cobra.Command, w io.Writer, i int) error {
	x := &v.report.Rules[i]
	if x.Counts.FN+x.Counts.FP == 0 {
		return nil
	}
	fmt.Fprintf(w, "\n%s: %d misses, %d false alarms\n", x.Rule, x.Counts.FN, x.Counts.FP)
	var alarms []string
	by := slices.Clone(x.ByFault)
	slices.SortStableFunc(by, func(a, b validate.FaultCount) int { return int(b.Applied) - int(a.Applied) })
	for _, f := range by {
		if !f.Right && f.Applied > 0 && len(alarms) < 5 {
			alarms = append(alarms, fmt.Sprintf("%s (%d of %d)", f.Fault, f.Applied, f.Units))
		}
	}
	if len(alarms) > 0 {
		fmt.Fprintln(w, indented("  ", "also applied to: "+strings.Join(alarms, ", ")))
	}
	var thirds []validate.Counts
	for _, b := range x.BySupply {
		thirds = append(thirds, b.Counts)
	}
	if differ(thirds) {
		var parts []string
		for _, b := range x.BySupply {
			parts = append(parts, fmt.Sprintf("%s: sensitivity %s, specificity %s", b.Name, orDash(ratioText(b.Counts.Sensitivity())), orDash(ratioText(b.Counts.Specificity()))))
		}
		fmt.Fprintln(w, indented("  ", "by thirds of the drawn supply voltage: "+strings.Join(parts, "; ")))
	}
	var told []validate.Rank
	for _, k := range x.Ranks {
		if k.Clear || k.Flipped > 0 {
			told = append(told, k)
		}
	}
	if len(told) > 0 {
		tab := newTable(w, "  ", "parameter", "goes with", "strength", "higher on", "turned with it at its own value")
		for _, k := range told[:min(6, len(told))] {
			where := "wrong ones"
			if k.AUC < 0.5 {
				where = "right ones"
			}
			turned := ""
			if k.Tried > 0 {
				turned = fmt.Sprintf("%d of %d", k.Flipped, k.Tried)
			}
			tab.row(k.Parameter, mistakeWord(k.Mistake), strconv.FormatFloat(k.Strength(), 'f', 2, 64), where, turned)
		}
		if err := tab.flush(); err != nil {
			return err
		}
	}
	for _, kind := range []struct {
		name string
		of   []validate.Example
	}{{"missed on", x.Misses}, {"false alarm on", x.Alarms}} {
		for k := range kind.of {
			v.printExample(cmd, w, kind.name, x, &kind.of[k])
		}
	}
	return nil
}

func mistakeWord(m validate.Mistake) string {
	if m == validate.Miss {
		return "misses"
	}
	return "false alarms"
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// printExample tells one board on which a rule is wrong.
func (v *validation) printExample(cmd *cobra.Command, w io.Writer, name string, x *validate.Rule, e *validate.Example) {
	t := v.work.target
	text := fmt.Sprintf("%s board %d, %s", name, e.Index, channelWord(t, e.Channel))
	if m := v.meterWords(e.Meters); m != "" {
		text += ", with " + m
	}
	text += fmt.Sprintf("; %.2f standard deviations from the ordinary board; truth: %s", e.Distance, list(faultTexts(e.Faults, t.names), validate.Healthy))
	fmt.Fprintln(w, indented("  ", text))
	if seen := v.side.seen(x.Rule, e, t); seen != "" {
		fmt.Fprintln(w, indented("    ", "sees: "+seen))
	}
	fmt.Fprintln(w, "    "+v.again(cmd, x.Rule, e))
}

// again is the command for an example of a rule.
func (v *validation) again(cmd *cobra.Command, rule string, e *validate.Example) string {
	more := []string{}
	if v.side.rules != nil {
		more = append(more, "--rule", rule)
	}
	if e.Channel != faults.WholeBoard {
		more = append(more, "--channel", v.work.target.names[e.Channel])
	}
	if len(e.Meters) > 0 && e.Meters[0] >= 0 {
		more = append(more, "--meter", v.work.target.file.Board.Meters[e.Meters[0]].Name)
	}
	return v.options.again(cmd, v.side, v.work, e.Index, more...)
}

func channelWord(t *target, channel int) string {
	if channel == faults.WholeBoard {
		return "the board"
	}
	return t.names[channel]
}

func (v *validation) meterWords(meters []int) string {
	var names []string
	for _, m := range meters {
		if m >= 0 {
			names = append(names, v.work.target.file.Board.Meters[m].Name)
		}
	}
	if len(names) > 1 && len(names) == len(v.report.Meters) {
		return "any meter in hand"
	}
	return strings.Join(names, ", ")
}

func faultTexts(set faults.Set, names []string) []string {
	texts := []string{}
	for _, j := range set {
		texts = append(texts, j.Text(names))
	}
	return texts
}

// mostSeen is how many values are told of an example.
const mostSeen = 6

// seen tells what a rule of a file looked at on an example, with the first of
// the meters in hand.
func (s *ruleSide) seen(rule string, e *validate.Example, t *target) string {
	var parts []string
	more := 0
	for _, r := range s.rules {
		if r.Name != rule {
			continue
		}
		for k := range s.needs {
			if !looks(&r, &s.needs[k], e.Channel, e.Meters[:min(1, len(e.Meters))], t.names) {
				continue
			}
			if len(parts) >= mostSeen {
				more++
				continue
			}
			text := s.needs[k].Name + " " + observed(&s.needs[k], e.Values[k])
			if s.needs[k].Live {
				text += " *"
			}
			parts = append(parts, text)
		}
	}
	if more > 0 {
		parts = append(parts, fmt.Sprintf("and %d more", more))
	}
	return strings.Join(parts, "; ")
}

// observed writes a value of an observable with its unit.
func observed(o *evidence.Observable, v float64) string {
	switch {
	case o.Kind == evidence.Whether:
		return map[bool]string{true: "yes", false: "no"}[v != 0]
	case o.Kind == evidence.Word && v >= 0 && int(v) < len(o.Words):
		return o.Words[int(v)]
	case math.IsInf(v, 1) && o.Unit == "min":
		return "never"
	case math.IsInf(v, 1) && !o.Live:
		return "open"
	case math.IsInf(v, 1):
		return "over range"
	}
	if math.Abs(v) < 1e-9 {
		v = 0 // what rounding leaves of nothing
	}
	return strings.TrimSpace(strconv.FormatFloat(v, 'g', 4, 64) + " " + o.Unit)
}
