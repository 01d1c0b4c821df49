package command

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults/infer"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
)

// diagnoseOptions are the flags of the command diagnose.
type diagnoseOptions struct {
	forms       map[string]*[]string // evidence by form
	order       []infer.Form
	file        string
	logs        logOptions
	cannot      []string
	priors      string
	wide        bool
	draws       int
	noCache     bool
	cache       string
	interactive bool
	alarm       bool
	evaluate    int
	printPriors bool
	all         bool
	figure      string
	asJSON      bool
}

func (a *app) diagnose() *cobra.Command {
	o := &diagnoseOptions{forms: map[string]*[]string{}, order: infer.Forms(), draws: 12}
	cmd := &cobra.Command{
		Use:   "diagnose [BOARD]",
		Short: "Tell what a reading implies, and which test comes next",
		Long: wrapped(`Tell which faults explain what was seen, how surely, what could be confused with what, what to do, and
which test to do next: unplugged tests before live ones, and no live test where a safer one gains as much. It is the
simulator run backwards: every fault of the catalogue is put into boards drawn from the parts' tolerances, and what
was seen is weighed against what those boards show. A meter that is not known is inferred with the rest.

Without evidence it lists what is assumed beforehand and where to begin. The first answer for a board takes seconds;
what was simulated is kept in a cache, which can be deleted at any time.

` + infer.TypedAdvice),
		Example: `  boilwright diagnose --reading "dye output to neutral, standby, 118 V, averaging meter"
  boilwright diagnose --monitor "standby, 1480 W, 6.4 A" --lid warm
  boilwright diagnose my-board.toml --evidence seen.toml --json
  boilwright diagnose --interactive`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE:              a.do(o.run),
	}
	f := cmd.Flags()
	for _, x := range o.order {
		o.forms[x.Name] = new([]string)
		f.StringArrayVar(o.forms[x.Name], x.Name, nil, named("WORDS", x.Doc)+", such as \""+x.Example+"\"; repeatable")
	}
	f.StringVarP(&o.file, "evidence", "e", "", "read evidence from a TOML `FILE`: the names of the flags above, each with a text or a list of texts")
	o.logs.add(cmd)
	f.StringArrayVar(&o.cannot, "cannot", nil, "a test that can't be done, its `WORDS` as they are printed with it; repeatable")
	f.StringVar(&o.priors, "priors", "", "read prior weights from a CSV `FILE`; see --print-priors")
	f.BoolVar(&o.printPriors, "print-priors", false, "print the prior weights that are taken without --priors, to copy and edit")
	f.BoolVar(&o.wide, "wide", false, "take element and water to be known only to ±15 %; so for a board from a rating plate")
	f.IntVar(&o.draws, "draws", o.draws, "`NUMBER` of boards drawn for each suspect, 2 to 64")
	f.BoolVarP(&o.interactive, "interactive", "i", false, "ask for one test at a time")
	f.BoolVar(&o.alarm, "alarm", false, "print a threshold and a delay for an energy monitor's alarm on power drawn while off, and what it would miss")
	f.IntVar(&o.evaluate, "evaluate", 0, "try the diagnosis on `NUMBER` boards that it has not drawn, of each of four kinds, and print how often it is right; takes minutes")
	f.BoolVar(&o.all, "all", false, "print every suspect, and what was seen against what the first of them show")
	f.StringVar(&o.figure, "figure", "", "also draw what was measured against what each suspect would show, to a `FILE` ending in .png, .svg, .pdf")
	f.BoolVar(&o.noCache, "no-cache", false, "neither read nor write the cache")
	f.StringVar(&o.cache, "cache", "", "`FOLDER` of the cache [in the user's cache folder]")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

// wideTolerances are the default ones, but element and water known only from a
// plate: assumption.
func wideTolerances() population.Tolerances {
	t := population.Default()
	t.Load.Element = population.Within(population.Normal, 0.15)
	t.Boiler.Water = population.Within(population.Normal, 0.15)
	return t
}

func (o *diagnoseOptions) run(cmd *cobra.Command, args []string) error {
	defer debug.SetGCPercent(debug.SetGCPercent(300)) // boards come and go by the dozen
	if o.printPriors {
		_, err := cmd.OutOrStdout().Write(infer.PriorsText())
		return err
	}
	if o.draws < 2 || o.draws > 64 {
		return misuse("--draws: found %d, expected 2 to 64", o.draws)
	}
	if o.evaluate < 0 || o.evaluate > 100_000 {
		return misuse("--evaluate: found %d, expected 1 to 100000", o.evaluate)
	}
	if o.figure != "" {
		if _, err := format(o.figure); err != nil {
			return misuse("--figure: found %q, expected a name ending in .png, .svg, .pdf", o.figure)
		}
	}
	if cmd.Flags().Changed("evaluate") && o.evaluate == 0 {
		return misuse("--evaluate: found 0, expected 1 to 100000")
	}
	if (o.alarm || o.evaluate > 0) && o.given() {
		return misuse("found evidence with --alarm or --evaluate, expected none: they look at no particular board")
	}
	if o.figure != "" && (o.interactive || o.alarm || o.evaluate > 0) {
		return misuse("found --figure with --interactive, --alarm or --evaluate, expected a diagnosis in one go")
	}
	if o.interactive && o.asJSON {
		return misuse("found --interactive with --json, expected one of them")
	}
	t, err := (&faultFlags{}).load(cmd, args)
	if err != nil {
		return err
	}
	w, store, err := o.bench(t)
	if err != nil {
		return err
	}
	defer w.Flush()
	if o.evaluate > 0 {
		return o.printEvaluation(cmd, t, w)
	}
	if o.alarm {
		return o.printAlarm(cmd, t, w)
	}
	es, err := o.evidence(w)
	if err != nil {
		return err
	}
	cannot := infer.Exclude{}
	known := map[string]bool{}
	for _, x := range w.Candidates(channelIndices(t)) {
		known[x.Key()] = true
	}
	for _, c := range o.cannot {
		if !known[c] {
			return misuse("--cannot: found %q, expected the words that are printed with a test", c)
		}
		cannot[c] = true
	}
	if o.interactive {
		return o.ask(cmd, t, w, es, cannot)
	}
	d, err := w.Diagnose(es, cannot)
	if err != nil {
		return misused(err)
	}
	w.Flush()
	if store != nil && store.Err() != nil {
		d.Warnings = append(d.Warnings, "the cache could not be written: "+store.Err().Error())
	}
	var files []string
	if o.figure != "" {
		if files, err = drawEvidence(o.figure, t, w, d); err != nil {
			return err
		}
	}
	if o.asJSON {
		return writeJSON(cmd.OutOrStdout(), diagnosisDocumentOf(t, w, d))
	}
	if err := o.print(cmd.OutOrStdout(), t, w, d); err != nil {
		return err
	}
	for _, f := range files {
		fmt.Fprintln(cmd.OutOrStdout(), f)
	}
	return nil
}

func channelIndices(t *target) []int {
	var all []int
	for i := range t.names {
		all = append(all, i)
	}
	return all
}

// bench prepares the simulations of a board.
func (o *diagnoseOptions) bench(t *target) (*infer.Bench, *infer.FolderStore, error) {
	opt := infer.Options{Draws: o.draws}
	if o.wide || strings.HasPrefix(t.file.Board.Note, boardfile.PlateNote) {
		x := wideTolerances()
		opt.Tolerances = &x
	}
	if o.priors != "" {
		data, err := os.ReadFile(o.priors)
		if err != nil {
			return nil, nil, wrongInput(fmt.Errorf("%s: found no readable file, expected priors as --print-priors prints them", o.priors))
		}
		if opt.Priors, err = infer.ReadPriors(o.priors, bytes.NewReader(data)); err != nil {
			return nil, nil, wrongInput(err)
		}
	}
	w, err := infer.NewBench(t.file.Board, opt)
	if err != nil {
		return nil, nil, wrongInput(fmt.Errorf("%s: %w", t.file.Name, err))
	}
	if o.noCache {
		return w, nil, nil
	}
	dir := o.cache
	if dir == "" {
		user, err := os.UserCacheDir()
		if err != nil {
			return w, nil, nil // no place for a cache: without one
		}
		dir = filepath.Join(user, "boilwright", "diagnose")
	}
	store := infer.NewFolderStore(dir, w.Content(boardfile.Marshal(t.file.Board), build()))
	w.UseStore(store)
	return w, store, nil
}

// build identifies this build of the program, whose simulations differ from
// another's: its version, with the size and time of its file.
func build() string {
	name, err := os.Executable()
	if err != nil {
		return Version
	}
	info, err := os.Stat(name)
	if err != nil {
		return Version
	}
	return fmt.Sprintf("%s, %d bytes of %s", Version, info.Size(), info.ModTime().UTC())
}

// evidence reads all evidence: the file's first, then the flags'.
func (o *diagnoseOptions) evidence(w *infer.Bench) ([]infer.Evidence, error) {
	var es []infer.Evidence
	var errs []error
	if o.file != "" {
		var names []string
		for _, f := range o.order {
			names = append(names, f.Name)
		}
		statements, err := boardfile.LoadEvidence(o.file, names)
		if err != nil {
			return nil, err
		}
		for i := range statements {
			s := &statements[i]
			x, err := w.Parse(s.Form, s.Text)
			if err != nil {
				errs = append(errs, wrongInput(s.Wrong(err)))
			}
			es = append(es, x...)
		}
	}
	for _, f := range o.order {
		for _, text := range *o.forms[f.Name] {
			x, err := w.Parse(f.Name, text)
			if err != nil {
				errs = append(errs, misuse("--%s %q: %v", f.Name, text, err))
			}
			es = append(es, x...)
		}
	}
	x, err := o.logs.evidence(w)
	if err != nil {
		errs = append(errs, err)
	}
	es = append(es, x...)
	if len(es) > infer.MostEvidence {
		return nil, misuse("found %d pieces of evidence, expected at most %d", len(es), infer.MostEvidence)
	}
	for _, c := range w.Contradictions(es) {
		a, b := &es[c[0]], &es[c[1]]
		errs = append(errs, misuse("found %q and %q, expected values that one board can show in one test", a.Text, b.Text))
	}
	if len(errs) > 0 {
		code := Misuse
		for _, e := range errs {
			var x *exitError
			if errors.As(e, &x) && x.code == WrongInput {
				code = WrongInput
			}
		}
		return nil, &exitError{code, errors.Join(errs...)}
	}
	return es, nil
}

// given reports whether any evidence was given.
func (o *diagnoseOptions) given() bool {
	for _, f := range o.forms {
		if len(*f) > 0 {
			return true
		}
	}
	return o.file != "" || o.logs.given()
}

// share writes a probability.
func share(p float64) string {
	switch {
	case p < 0.001:
		return "<0.1 %"
	case p > 0.999:
		return ">99.9 %"
	case p < 0.1 || p > 0.99:
		return fmt.Sprintf("%.1f %%", 100*p)
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// named gives the usage text of a flag a name for its value, unless it has one.
func named(name, usage string) string {
	if strings.Contains(usage, "`") {
		return usage
	}
	return "`" + name + "`: " + usage
}
