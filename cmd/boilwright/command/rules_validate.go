package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"boilwright/faults/rules/validate"
	"boilwright/sim/readings"
)

// validateOptions are the flags of the command rules validate.
type validateOptions struct {
	ruleFlags
	require  []string
	junit    string
	redraw   int
	examples int
	table    bool
	report   string
	asJSON   bool
}

func (a *app) rulesValidate() *cobra.Command {
	o := &validateOptions{}
	cmd := &cobra.Command{
		Use:   "validate FILE [BOARD]",
		Short: "Find out where rules hold, on boards whose faults are known",
		Long: wrapped(`Draw boards with known faults, observe each, let the rules of a file judge it with every meter in hand, and
tell how often each is right: sensitivity, specificity and predictive values with their 95 % score intervals, by meter;
rules that disagree and rules that never apply; which drawn parameter goes with wrong verdicts, and turns them; and the
most ordinary boards on which each rule fails, with a command that shows each again.

What is counted is one channel of one board with one meter in hand; for a rule about the board one board with one meter
in hand. A channel without a fault of its own is healthy. Predictive values hold at the rates of the drawn faults only,
which are assumption.

A rule file is a path, "-" for standard input, or "starter" for the rules of thumb. With --checker a program judges
instead of a file, see "boilwright rules lines"; its arguments are what lies between spaces, without quotes.

--require states a requirement, [RULE:] MEASURE[.lower|.upper] RELATION VALUE; one of rules without a rule is required
of every rule, and with "overall" of all together. The exit code is 4 where one is not met. Measures:`) + "\n\n" + measuresText() + "\n\n" + wrapped(`An interrupted validation tells what is done.`),
		Example: `  boilwright rules validate starter -n 500
  boilwright rules validate my-rules.toml --each 20 --require 'sensitivity.lower >= 0.9' --junit rules.xml
  boilwright rules validate my-rules.toml --each 20 --report report.html
  boilwright rules validate my-rules.toml --meter rms --require 'half-supply: specificity >= 95 %'
  boilwright rules validate --checker './judge --fast' -n 200`,
		Args:              o.args(1),
		ValidArgsFunction: completeRuleFile,
		PreRunE: func(cmd *cobra.Command, _ []string) error {
			if o.redraw < 0 || o.redraw > 1000 {
				return misuse("--redraw: found %d, expected 0 to 1000", o.redraw)
			}
			if o.examples < 0 || o.examples > 100 {
				return misuse("--counterexamples: found %d, expected 0 to 100", o.examples)
			}
			if err := checkReport(o.report); err != nil {
				return err
			}
			return o.check(cmd)
		},
		RunE: a.do(o.do),
	}
	o.ruleFlags.add(cmd, 500)
	f := cmd.Flags()
	f.StringArrayVarP(&o.require, "require", "r", nil, "exit with 4 unless `REQUIREMENT` is met, such as \"sensitivity >= 0.95\"; repeatable")
	f.StringVar(&o.junit, "junit", "", "with --require: write what was required and found to `FILE`, as JUnit XML")
	f.IntVar(&o.redraw, "redraw", 4, "judge so many boards, `NUMBER`, of each mistake again with a parameter at the board's own value")
	f.IntVar(&o.examples, "counterexamples", 3, "tell `NUMBER` boards of each mistake, the most ordinary ones")
	f.BoolVar(&o.table, "confusion", false, "also print what was concluded by what was true")
	f.StringVar(&o.report, "report", "", "write a report with figures to `FOLDER`, or to a file in .html or .md")
	complete(cmd, "require", completeMeasure)
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func measuresText() string {
	var b strings.Builder
	t := newTable(&b, "  ")
	for _, m := range validate.Measures() {
		t.row(m.Name, m.Doc)
	}
	t.flush()
	return strings.TrimRight(b.String(), "\n")
}

func completeMeasure(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var words []string
	for _, m := range validate.Measures() {
		words = append(words, m.Name+"\t"+m.Doc)
	}
	return words, wordOpen
}

// validation is a validation that is done, with what tells of it.
type validation struct {
	options *validateOptions
	work    *ruleWork
	side    *ruleSide
	report  *validate.Report
	checks  []validate.Check
	files   []string // of the report
}

func (o *validateOptions) do(cmd *cobra.Command, args []string) error {
	defer debug.SetGCPercent(debug.SetGCPercent(300))
	var required []validate.Requirement
	var errs []error
	for _, text := range o.require {
		r, err := validate.ParseRequirement(text)
		if err != nil {
			errs = append(errs, fmt.Errorf("requirement %q: %w", text, err))
		}
		required = append(required, r)
	}
	if len(errs) > 0 {
		return misused(errors.Join(errs...))
	}
	if o.junit != "" && len(required) == 0 {
		return misuse("found --junit, expected it with --require only")
	}
	if o.junit == "-" {
		return misuse("--junit: found standard output, expected the name of a file")
	}
	files, boardArgs := o.files(args, 1)
	w, err := o.work(cmd, boardArgs)
	if err != nil {
		return err
	}
	side, err := o.side(cmd, w, files)
	if err != nil {
		return err
	}
	defer side.close()
	for i := range required {
		if err := side.knows(&required[i]); err != nil {
			return misused(err)
		}
	}
	job := validate.Job{Source: w.source, Judge: side.judge, Claims: side.claims, Observer: side.plan, Redraw: o.redraw}
	job.Examples = o.examples
	p := newProgress(cmd, "rules validate")
	job.Progress = func(done uint64) { p.show(time.Duration(done), time.Duration(w.source.To-w.source.From)) }
	r, err := job.Run(cmd.Context())
	p.end()
	if r == nil || err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	v := &validation{options: o, work: w, side: side, report: r}
	for i := range required {
		c, err := required[i].Check(r)
		if err != nil {
			return misused(err)
		}
		v.checks = append(v.checks, c...)
	}
	return v.finish(cmd, err)
}

// finish writes what came out, and makes the error that it comes to.
func (v *validation) finish(cmd *cobra.Command, ended error) error {
	o, out := v.options, cmd.OutOrStdout()
	if o.junit != "" {
		about := []validate.Property{{Name: "board", Value: v.work.target.file.Name}, {Name: "seed", Value: fmt.Sprint(o.seed)}, {Name: "from", Value: fmt.Sprint(o.from)}, {Name: "boards", Value: fmt.Sprint(v.report.Done)}}
		err := writeFile(o.junit, out, func(w io.Writer) error {
			return validate.WriteJUnit(w, v.side.name, about, v.checks, notice)
		})
		if err != nil {
			return err
		}
	}
	if o.report != "" {
		var err error
		if v.files, err = v.writeReport(cmd, o.report); err != nil {
			return err
		}
	}
	err := buffered(out, func(w io.Writer) error {
		if o.asJSON {
			return writeJSON(w, v.document(cmd))
		}
		return v.print(cmd, w)
	})
	if err != nil {
		return err
	}
	var errs []error
	for _, c := range v.checks {
		if !c.Met {
			of := ""
			if c.Of != "" && c.Requirement.Rule == "" {
				of = " of " + c.Of
			}
			errs = append(errs, fmt.Errorf("required %s%s: %s", c.Requirement.Text, of, c.Why))
		}
	}
	switch {
	case v.report.Done < v.report.Asked:
		return fmt.Errorf("%w: %d of %d boards", errInterrupted, v.report.Done, v.report.Asked)
	case ended != nil:
		return fmt.Errorf("%w: not all boards were drawn again", errInterrupted)
	case len(errs) > 0:
		return unmet(errors.Join(errs...))
	}
	return nil
}

// caution is what belongs beside what the rules look at.
func (s *ruleSide) caution() string {
	for _, o := range s.needs {
		if o.Live {
			return readings.LiveCaution
		}
	}
	return ""
}

// knows tells of a requirement of a rule that there is not, where rules are
// known beforehand.
func (s *ruleSide) knows(r *validate.Requirement) error {
	names := s.judge.Rules()
	if r.Rule == "" || r.Rule == validate.OverallName || names == nil || slices.Contains(names, r.Rule) {
		return nil
	}
	return fmt.Errorf("requirement %q: found rule %q, expected %s, or one of %s", r.Text, r.Rule, validate.OverallName, list(names, ""))
}
