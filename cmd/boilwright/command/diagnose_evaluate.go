package command

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"boilwright/faults/infer"
)

// trialSeed is that of the boards of trials: another than the bench's.
const trialSeed = 2

// evaluation is what the trials came to.
type evaluation struct {
	separability []infer.Separability
	separable    map[string]bool
	rows         []evaluationRow
}

// evaluationRow is one trial, or a part of its cases.
type evaluationRow struct {
	name  string
	score infer.Score
}

// printEvaluation tries the diagnosis on boards that it has not drawn.
func (o *diagnoseOptions) printEvaluation(cmd *cobra.Command, t *target, w *infer.Bench) error {
	ctx := cmd.Context()
	began := time.Now()
	e := &evaluation{separable: map[string]bool{}}
	e.separability = w.Separate(ctx, len(w.Board.Channels)/2)
	w.Flush()
	for _, s := range e.separability {
		e.separable[s.Fault] = s.Separable()
	}
	answers := 0
	for _, x := range []struct {
		name  string
		trial infer.Trial
	}{
		{"all faults evenly", infer.Trial{}},
		{"faults by prior", infer.Trial{ByPrior: true}},
		{"fault left out of the catalogue", infer.Trial{LeftOut: true}},
		{"board out of tolerance", infer.Trial{OutOfTolerance: true}},
	} {
		x.trial.Cases, x.trial.Seed = o.evaluate, trialSeed
		cases, err := w.Evaluate(ctx, x.trial)
		if err != nil {
			return err
		}
		w.Flush()
		e.rows = append(e.rows, evaluationRow{x.name, infer.Sum(cases, nil)})
		if !x.trial.LeftOut && !x.trial.OutOfTolerance {
			e.rows = append(e.rows, evaluationRow{x.name + ", separable ones", infer.Sum(cases, e.separable)})
		}
		for i := range cases {
			answers += cases[i].Tests + 1
		}
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	// Time is told apart: the report is the same whenever it is made.
	fmt.Fprintf(cmd.ErrOrStderr(), "%d answers in %v\n", answers, time.Since(began).Round(time.Second))
	if o.asJSON {
		return writeJSON(cmd.OutOrStdout(), e.document(t))
	}
	return e.print(cmd.OutOrStdout(), t)
}

func (e *evaluation) print(w io.Writer, t *target) error {
	fmt.Fprintln(w, t.title())
	fmt.Fprintln(w, notice)
	fmt.Fprintln(w)
	var apart, alike []string
	for _, s := range e.separability {
		if s.Separable() {
			apart = append(apart, s.Fault)
		} else {
			alike = append(alike, fmt.Sprintf("%s %.2f", s.Fault, s.Error))
		}
	}
	fmt.Fprintln(w, wrapped(fmt.Sprintf("separable with all tests, on one channel (Bayes error under 1 %%), %d of %d: %s", len(apart), len(e.separability), list(apart, "none"))))
	fmt.Fprintln(w, wrapped("not separable, with their Bayes error: "+list(alike, "none")))
	fmt.Fprintln(w)
	tab := newTable(w, "", "trial", "cases", "suspect right", "its calibration", "action right", "its calibration", "not explained", "tests", "live", "complained", "live then", "fixed sequence")
	part := func(n, of int) string {
		if of == 0 {
			return "-"
		}
		return fmt.Sprintf("%.0f %%", 100*float64(n)/float64(of))
	}
	for _, r := range e.rows {
		s := &r.score
		right, action := part(s.Right, s.Cases), part(s.RightAction, s.Cases)
		calibration, actions := fmt.Sprintf("%.3f", s.Calibration), fmt.Sprintf("%.3f", s.ActionCalibration)
		if strings.HasPrefix(r.name, "fault left out") || strings.HasPrefix(r.name, "board out") {
			right, action, calibration, actions = "", "", "", ""
		}
		tab.row(r.name, fmt.Sprint(s.Cases), right, calibration, action, actions, part(s.None, s.Cases),
			fmt.Sprintf("%.1f", s.Tests), fmt.Sprintf("%.2f", s.Live), fmt.Sprint(s.Complained), fmt.Sprintf("%.2f", s.LiveThen), fmt.Sprintf("%.2f", s.Fixed))
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	fmt.Fprintln(w, wrapped(`complaint: which channels warm in standby and heating. The fixed sequence is the supply, then on each channel
complained of the output in standby and heating, the drive plug and the triac heating, all live (common practice, no source);
it is compared over the cases with a complaint.`))
	fmt.Fprintln(w)
	tab = newTable(w, "", "number", "was", "found")
	for _, c := range e.rows[0].score.Confusions {
		tab.row(fmt.Sprint(c.Number), c.Truth, c.Found)
	}
	return tab.flush()
}

type evaluationDocument struct {
	Schema       string              `json:"schema" doc:"kind and version of this document"`
	Notice       string              `json:"notice" doc:"what to keep in mind"`
	Board        boardDocument       `json:"board" doc:"what was looked at"`
	Separability []separabilityDoc   `json:"separability" doc:"by fault, with all tests"`
	Trials       []trialDocument     `json:"trials" doc:"by kind"`
	Confusions   []confusionDocument `json:"confusions" doc:"of the first trial"`
}

type separabilityDoc struct {
	Fault     string `json:"fault" doc:"of the catalogue, or healthy"`
	Error     number `json:"bayes_error" doc:"mean probability left to others"`
	Separable bool   `json:"separable" doc:"below 1 %"`
}

type trialDocument struct {
	Name        string `json:"name" doc:"of the trial"`
	Cases       int    `json:"cases" doc:"boards"`
	Right       int    `json:"suspect_right" doc:"first suspect was what was put in"`
	Action      int    `json:"action_right" doc:"first action was the one for it"`
	Calibration number `json:"calibration_error" doc:"expected calibration error of the first suspect, ten bins"`
	OfAction    number `json:"action_calibration_error" doc:"the same of the first action"`
	None        int    `json:"not_explained" doc:"reported as something not in the catalogue, or with evidence that nothing in it explains"`
	Tests       number `json:"tests" doc:"asked for, mean"`
	Live        number `json:"live" doc:"of them live, mean"`
	Complained  int    `json:"complained" doc:"cases with a complaint"`
	LiveThen    number `json:"live_complained" doc:"live tests in those, mean"`
	Fixed       number `json:"live_fixed" doc:"live tests of the fixed sequence in those, mean"`
}

type confusionDocument struct {
	Number int    `json:"number" doc:"of cases"`
	Truth  string `json:"truth" doc:"what was put in"`
	Found  string `json:"found" doc:"first suspect"`
}

func (e *evaluation) document(t *target) *evaluationDocument {
	d := &evaluationDocument{Schema: schemaName("evaluation"), Notice: notice, Board: t.document(), Separability: []separabilityDoc{}, Trials: []trialDocument{}, Confusions: []confusionDocument{}}
	for _, s := range e.separability {
		d.Separability = append(d.Separability, separabilityDoc{s.Fault, number(s.Error), s.Separable()})
	}
	for _, r := range e.rows {
		s := &r.score
		d.Trials = append(d.Trials, trialDocument{r.name, s.Cases, s.Right, s.RightAction, number(s.Calibration), number(s.ActionCalibration), s.None, number(s.Tests), number(s.Live), s.Complained, number(s.LiveThen), number(s.Fixed)})
	}
	for _, c := range e.rows[0].score.Confusions {
		d.Confusions = append(d.Confusions, confusionDocument{c.Number, c.Truth, c.Found})
	}
	return d
}
