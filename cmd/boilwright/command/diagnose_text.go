package command

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults/infer"
	"boilwright/models"
	"boilwright/sim/boardfile"
)

// Suspects and alternatives that are printed without --all.
const (
	mostSuspects  = 8
	leastSuspect  = 0.003
	mostOtherTest = 3
)

func (o *diagnoseOptions) print(w io.Writer, t *target, b *infer.Bench, d *infer.Diagnosis) error {
	fmt.Fprintln(w, t.title())
	fmt.Fprintln(w, notice)
	if note := t.file.Board.Note; strings.HasPrefix(note, boardfile.PlateNote) {
		fmt.Fprintln(w, wrapped(note))
	}
	fmt.Fprintln(w)
	printEvidence(w, d)
	o.printSuspects(w, d)
	if o.all {
		printAgainst(w, b, d)
	}
	for _, m := range d.Meters {
		fmt.Fprintln(w, wrapped("meter: "+meterText(&m)))
	}
	for _, g := range d.Alike {
		fmt.Fprintln(w, wrapped("no test left here separates "+strings.Join(g, ", ")))
	}
	for i := range d.Unlikely {
		x := &d.Unlikely[i]
		fmt.Fprintln(w, wrapped(fmt.Sprintf("unlikely (%s) but not excluded: %s; told by %s, which then shows %s", share(x.Probability), x.Suspect, x.Test.Describe(b.Board), x.Shows)))
		fmt.Fprintln(w, indented("  ", "caution: "+x.Test.Caution()))
	}
	for _, x := range d.Warnings {
		fmt.Fprintln(w, wrapped("note: "+x))
	}
	if len(d.Meters)+len(d.Alike)+len(d.Unlikely)+len(d.Warnings) > 0 {
		fmt.Fprintln(w)
	}
	printConclusion(w, b, d)
	if len(d.Evidence) == 0 || o.all {
		fmt.Fprintln(w)
		fmt.Fprintln(w, wrapped("prior weights: "+strings.Join(b.Priors.Sources, ", ")+"; see --print-priors"))
	}
	return nil
}

func printEvidence(w io.Writer, d *infer.Diagnosis) {
	if len(d.Evidence) == 0 {
		return
	}
	first := d.Suspects[0].Name
	tab := newTable(w, "", "evidence", "for or against "+first)
	for i, e := range d.Evidence {
		move := fmt.Sprintf("%+.1f bits", d.Moves[i].Bits)
		if slices.Contains(d.Unexplained, i) {
			move += ", which nothing in the catalogue explains well"
		}
		text := e.Text
		if slices.ContainsFunc(d.Evidence, func(o infer.Evidence) bool { return o.Text == text && o.Test.Key() != e.Test.Key() }) {
			text += ": " + e.Test.Show(e.Value) // one text may give watts and amperes
		}
		tab.row(text, move)
	}
	tab.flush()
	fmt.Fprintln(w)
}

func (o *diagnoseOptions) printSuspects(w io.Writer, d *infer.Diagnosis) {
	tab := newTable(w, "", "share", "suspect", "what to do")
	for i, s := range d.Suspects {
		if !o.all && (i >= mostSuspects || s.Probability < leastSuspect) {
			break
		}
		tab.row(share(s.Probability), s.Text, s.Action)
	}
	tab.row(share(d.Other), "something not in the catalogue", "")
	tab.flush()
	fmt.Fprintln(w)
}

// printAgainst writes what each piece of evidence would be under the first
// suspects, beside what was seen.
func printAgainst(w io.Writer, b *infer.Bench, d *infer.Diagnosis) {
	var names []string
	for _, s := range d.Suspects[:min(4, len(d.Suspects))] {
		names = append(names, s.Name)
	}
	for i := range d.Evidence {
		e := &d.Evidence[i]
		fmt.Fprintln(w, e.Test.Describe(b.Board))
		fmt.Fprintln(w, indented("  ", "caution: "+e.Test.Caution()))
		tab := newTable(w, "  ")
		tab.row(e.Test.Show(e.Value), "was seen")
		for _, x := range b.Shows(&e.Test, names) {
			tab.row(x.Text, x.Suspect)
		}
		tab.flush()
		fmt.Fprintln(w)
	}
}

func meterText(m *infer.MeterBelief) string {
	of := "not told"
	if len(m.Of) > 0 {
		of = strings.Join(m.Of, " or ")
	}
	var parts []string
	for i, n := range m.Names {
		if m.Probability[i] >= 0.05 {
			parts = append(parts, n+" "+share(m.Probability[i]))
		}
	}
	return of + "; explained by " + strings.Join(parts, ", ")
}

// printConclusion writes what to do now: act, or test.
func printConclusion(w io.Writer, b *infer.Bench, d *infer.Diagnosis) {
	if d.Decided {
		a := d.Actions[0]
		fmt.Fprintln(w, wrapped("do: "+a.Do+" ("+share(a.Probability)+"; "+d.Stop+")"))
		for _, c := range a.Check {
			fmt.Fprintln(w, indented("  ", "check: "+c))
		}
		printConfirm(w, b, d.Confirm)
		return
	}
	if d.Next == nil {
		fmt.Fprintln(w, wrapped(d.Stop))
		for i, a := range d.Actions {
			if i < 3 && a.Probability >= 0.01 {
				fmt.Fprintln(w, indented("  ", share(a.Probability)+" "+a.Do))
			}
		}
		printConfirm(w, b, d.Confirm)
		return
	}
	printTest(w, b.Board, "next test: ", d.Next)
	if len(d.Others) > 0 {
		fmt.Fprintln(w, "\nor:")
		for i := range d.Others {
			if i < mostOtherTest {
				x := &d.Others[i]
				fmt.Fprintln(w, indented("  ", fmt.Sprintf("%s (%s, %.2f bits)", x.Test.Describe(b.Board), x.Test.Risk(), x.Gain)))
				fmt.Fprintln(w, indented("    ", "caution: "+x.Caution))
			}
		}
	}
}

func printTest(w io.Writer, b *models.Board, head string, a *infer.Advice) {
	fmt.Fprintln(w, wrapped(fmt.Sprintf("%s%s (%s, about %.0f min, %.2f bits)", head, a.Test.Describe(b), a.Test.Risk(), a.Test.Effort(), a.Gain)))
	fmt.Fprintln(w, indented("  ", "caution: "+a.Caution))
	if a.Limit != "" {
		fmt.Fprintln(w, indented("  ", "time: "+a.Limit))
	}
	tab := newTable(w, "  ")
	for _, x := range a.Expect {
		tab.row(x.Text, x.Suspect)
	}
	tab.flush()
	values := []string{"VALUE"}
	if c := a.Test.Choices(); len(c) == 2 {
		values = c
	}
	for i, v := range values {
		if form, text, ok := a.Test.Write(b, v); ok {
			fmt.Fprintf(w, "  %s: --%s %q\n", [...]string{"then add", "or"}[i], form, text)
		}
	}
	fmt.Fprintf(w, "  can't do it: --cannot %q\n", a.Test.Key())
}

func printConfirm(w io.Writer, b *infer.Bench, rs []infer.Reading) {
	if len(rs) == 0 {
		return
	}
	fmt.Fprintln(w, "after the repair, a healthy board shows:")
	for i := range rs {
		r := &rs[i]
		fmt.Fprintln(w, indented("  ", r.Test.Describe(b.Board)+": "+r.Text))
		fmt.Fprintln(w, indented("    ", "caution: "+r.Test.Caution()))
	}
}

// printAlarm writes the alarm that an energy monitor can give.
func (o *diagnoseOptions) printAlarm(cmd *cobra.Command, t *target, w *infer.Bench) error {
	a := w.Alarm()
	w.Flush()
	out := cmd.OutOrStdout()
	if o.asJSON {
		return writeJSON(out, alarmDocumentOf(t, a))
	}
	fmt.Fprintln(out, t.title())
	fmt.Fprintln(out, notice)
	fmt.Fprintln(out)
	fmt.Fprintln(out, wrapped(fmt.Sprintf("alarm on power drawn while off: above %.3g W for %.0f s", a.Watts, a.Seconds)))
	fmt.Fprintln(out, wrapped(fmt.Sprintf("a healthy board draws at most %.3g W in standby; the least that a fault which heats a boiler draws is %.3g W", a.Healthy, a.Least)))
	if a.Minutes > 0 {
		fmt.Fprintln(out, wrapped(fmt.Sprintf("from cold the first link opens after %.0f min at the earliest", a.Minutes)))
	}
	fmt.Fprintln(out, wrapped("it tells: "+list(a.Tells, "nothing")))
	fmt.Fprintln(out, wrapped("it misses, drawing less: "+list(a.Below, "none")))
	_, err := fmt.Fprintln(out, wrapped("it misses, drawing what a healthy board draws while off: "+list(a.Silent, "none")))
	return err
}
