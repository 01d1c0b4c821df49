package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"boilwright/faults"
	q "boilwright/models/quantity"
	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/heat"
)

// recurrenceFault is the story without --fault: the steam boiler leaks above
// the opto of the dye boiler, whose board was dried in a hurry. Its numbers
// are invented, such that the film is too dry at first to fire the triac, and
// wet enough later if steam goes on reaching it.
const recurrenceFault = "dye:film-opto,resistance=5 kΩ,dries=30 min,leak=100 %,steam=steam,wet=40 %,exponent=2"

// recurrenceOptions are the flags of the command recurrence.
type recurrenceOptions struct {
	faultFlags
	duration durationValue
	coating  float64
	out      string
	asJSON   bool
}

func (a *app) recurrence() *cobra.Command {
	o := &recurrenceOptions{duration: durationValue(2 * time.Hour)}
	cmd := &cobra.Command{
		Use:   "recurrence [BOARD]",
		Short: "Tell when a fault comes back after a repair",
		Long: wrapped(`Tell when a film that wets and dries brings the fault back after a repair at time 0: with the leak left as it
is, with the leak mended, so that the film dries unless it condenses, and with the leak left and a conformal coating on
the board. The three run side by side. The next failure is the first of these on a channel of the film: it drifts out
of its band, goes above its over-temperature limit, opens its thermal link, runs dry; or on the whole board: a link
ahead of the channels opens, the supply's fuse melts, the residual-current device trips.

Without --fault it is a steam leak above the opto of the dye boiler,

--fault "` + recurrenceFault + `"

whose numbers are invented, as are all numbers of wetness: they order the three cases and predict no real board.
"boilwright faults film-opto" tells the keys. Faults that do not wet act in all three.`),
		Example: `  boilwright recurrence --out recurrence
  boilwright recurrence -f "soak:film-opto,resistance=4 kΩ,dries=20 min,drip=80 %" --duration "4 h" --json`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE:              a.do(o.run),
	}
	o.faultFlags.add(cmd, true)
	o.texts = []string{recurrenceFault}
	f := cmd.Flags()
	f.VarP(&o.duration, "duration", "d", "simulated `TIME` of each run")
	f.Float64Var(&o.coating, "coating", 100, "`FACTOR` by which the coating divides the film's conductance, 1 to 1e6")
	f.StringVarP(&o.out, "out", "o", "", "also draw the temperatures of each run into `FOLDER`, made where it is missing")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

// recurrenceCase is one of the runs.
type recurrenceCase struct {
	name, does string
	change     func(w *faults.Wetting)

	target  *target
	result  *sim.Result
	wetness float64 // at the end, of the wettest film; NaN for none
	sheet   *plots.Sheet
}

// wetting reports whether an injection is a film that wets and dries.
func wetting(j faults.Injection) bool { return j.Course.Wetting.Dries > 0 }

func (o *recurrenceOptions) cases(t *target) []*recurrenceCase {
	cases := []*recurrenceCase{
		{name: "leak left", does: "the film as given", change: func(*faults.Wetting) {}},
		{name: "leak mended", does: "no leak and no drip any more", change: func(w *faults.Wetting) { w.Leak, w.Drip, w.Steam = 0, 0, 0 }},
		{name: "board coated", does: "leak left, conductance divided by " + q.Format(q.Number, o.coating),
			change: func(w *faults.Wetting) { w.Coating = o.coating }},
	}
	for _, c := range cases {
		u := *t
		u.set = slices.Clone(t.set)
		for i := range u.set {
			if wetting(u.set[i]) {
				c.change(&u.set[i].Course.Wetting)
			}
		}
		c.target = &u
	}
	return cases
}

func (o *recurrenceOptions) run(cmd *cobra.Command, args []string) error {
	if !(o.coating >= 1 && o.coating <= 1e6) {
		return misuse("--coating: found %g, expected 1 to 1e6", o.coating)
	}
	if info, err := os.Stat(o.out); o.out != "" && err == nil && !info.IsDir() {
		return misuse("--out: found the file %s, expected a folder", o.out)
	}
	t, err := o.load(cmd, args)
	var wrong *faults.ParseError
	switch {
	case errors.As(err, &wrong) && !cmd.Flags().Changed("fault"):
		return misuse("--fault: found none, and this board lacks the channels of the default; expected a film of its own such as \"1:film-opto,dries=30 min,drip=80 %%\"")
	case err != nil:
		return err
	case !slices.ContainsFunc(t.set, wetting):
		return misuse("--fault: found no film that wets and dries, expected one such as \"%s:film-opto,dries=30 min,drip=80 %%\"", t.names[0])
	}
	cases := o.cases(t)
	err = parallel(len(cases), func(i int) error { return cases[i].simulate(cmd.Context(), o) })
	if err != nil {
		return err
	}
	files := []string{}
	if o.out != "" {
		if files, err = writeCases(o.out, cases); err != nil {
			return err
		}
	}
	out := cmd.OutOrStdout()
	if o.asJSON {
		err = writeJSON(out, o.document(t, cases, files))
	} else {
		err = o.print(out, t, cases, files)
	}
	if err == nil && slices.ContainsFunc(cases, (*recurrenceCase).interrupted) {
		err = errInterrupted
	}
	return err
}

func (c *recurrenceCase) interrupted() bool { return c.result.Status == sim.Interrupted }

// simulate runs the case, and draws it where that is asked for.
func (c *recurrenceCase) simulate(ctx context.Context, o *recurrenceOptions) error {
	run, err := c.target.set.Start(o.seed)
	if err != nil {
		return wrongInput(err)
	}
	edits := &lastMoment{Editor: run}
	c.result, err = sim.Run(ctx, c.target.file.Board, sim.Options{Duration: time.Duration(o.duration), Edits: edits})
	if err != nil {
		return fmt.Errorf("%s: %w", c.name, err)
	}
	tellCaveat(ctx, c.result)
	c.wetness = math.NaN()
	for _, w := range run.Wetness(edits.moment) {
		if !(c.wetness >= w) && !math.IsNaN(w) {
			c.wetness = w
		}
	}
	if o.out != "" && len(c.result.Samples) > 1 {
		in := plots.FromResult(c.result)
		in.Heading = heading(c.target, fmt.Sprintf("%s (%s), %s of operation, %s", c.name, c.does, clock(c.result.Duration), c.result.Status))
		c.sheet, err = plots.Temperatures(in)
	}
	return err
}

// failures are the kinds of event that count as a failure, in words.
var failures = map[sim.EventKind]string{
	sim.LinkOpened:                      "thermal link opens",
	sim.EventKind(heat.RanDry.String()): "runs dry",
	sim.FuseMelted:                      "supply fuse melts",
	sim.ResidualTrip:                    "residual-current device trips",
}

// failure tells in words what an event fails, and nothing for one that does
// not.
func failure(e sim.Event) string {
	if e.Kind == sim.Shows {
		switch e.Detail {
		case sim.Drifted.String():
			return "drifts out of its band"
		case sim.OverTemp.String():
			return "goes over temperature"
		}
	}
	return failures[e.Kind]
}

// failed returns the events of the case that are failures, of the channels
// of its films and of the whole board, in order of time.
func (c *recurrenceCase) failed() []sim.Event {
	var out []sim.Event
	for _, e := range c.result.Events {
		mine := e.Channel < 0 || slices.ContainsFunc(c.target.set, func(j faults.Injection) bool { return wetting(j) && j.Channel == e.Channel })
		if mine && failure(e) != "" {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b sim.Event) int { return int(min(1, max(-1, a.Time-b.Time))) })
	return out
}

// first returns when a failure first came, or −1.
func (c *recurrenceCase) first(what string) time.Duration {
	for _, e := range c.failed() {
		if failure(e) == what {
			return e.Time
		}
	}
	return -1
}

// place is the channel of an event.
func (c *recurrenceCase) place(e sim.Event) string {
	if e.Channel < 0 {
		return ""
	}
	return c.target.names[e.Channel]
}

// peak is the highest water temperature of a film's channel, in °C.
func (c *recurrenceCase) peak() float64 {
	peak := math.Inf(-1)
	for _, j := range c.target.set {
		if wetting(j) {
			peak = max(peak, c.result.Outcomes[j.Channel].Peak)
		}
	}
	return peak
}

func (o *recurrenceOptions) print(w io.Writer, t *target, cases []*recurrenceCase, files []string) error {
	fmt.Fprintf(w, "%s\n", t.title())
	if n := t.file.Board.Note; n != "" {
		fmt.Fprintln(w, indented("  ", n+"."))
	}
	fmt.Fprintf(w, "after a repair at time 0, %s each\n\n", q.FormatDuration(time.Duration(o.duration)))
	tab := newTable(w, "", "case", "next failure", "what", "over temperature", "link opens", "peak", "wetness then", "what is done")
	for _, c := range cases {
		when, what := "none within the run", ""
		if c.interrupted() {
			when = "none by " + clock(c.result.Duration)
		}
		if f := c.failed(); len(f) > 0 {
			when, what = clock(f[0].Time), failure(f[0])
			if p := c.place(f[0]); p != "" {
				what = p + " " + what
			}
		}
		wet := ""
		if !math.IsNaN(c.wetness) {
			wet = fmt.Sprintf("%.0f %%", 100*c.wetness)
		}
		tab.row(c.name, when, what, clock(c.first("goes over temperature")), clock(c.first(failures[sim.LinkOpened])), degrees(c.peak()), wet, c.does)
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	note(w, "Peak: of the water in the channel of the film. Wetness then: at the end of the run. The numbers of a film are conventions: they order the cases and predict no real board. A board that has been wet is live everywhere until it is dry; a new part alone does not mend the leak, and a coating hides a leak that goes on.")
	if len(files) > 0 {
		fmt.Fprintln(w)
		for _, f := range files {
			fmt.Fprintln(w, f)
		}
	}
	_, err := fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

// writeCases puts the figures into the folder and returns their names.
func writeCases(folder string, cases []*recurrenceCase) ([]string, error) {
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return nil, err
	}
	files := []string{}
	for i, c := range cases {
		if c.sheet == nil {
			continue
		}
		name := filepath.Join(folder, []string{"leak-left", "leak-mended", "board-coated"}[i]+".png")
		written, err := writeSheet(name, c.sheet, plots.Size{Pixels: demoPixels}, false)
		if err != nil {
			return nil, err
		}
		files = append(files, written...)
	}
	return files, nil
}

// The document of the command recurrence.

type recurrenceDocument struct {
	Schema   string                   `json:"schema" doc:"kind and version of this document"`
	Notice   string                   `json:"notice" doc:"what to keep in mind"`
	Board    boardDocument            `json:"board" doc:"what was simulated, with the leak left"`
	Seed     uint64                   `json:"seed" doc:"of what is random"`
	Duration number                   `json:"duration_s" doc:"simulated time of each run that was asked for"`
	Coating  number                   `json:"coating" doc:"factor by which the coating divides the film's conductance"`
	Cases    []recurrenceCaseDocument `json:"cases" doc:"leak left, leak mended, board coated"`
	Files    []string                 `json:"files" doc:"that were written"`
}

type recurrenceCaseDocument struct {
	Case     string            `json:"case" doc:"its name"`
	Does     string            `json:"does" doc:"what is done to film and board"`
	Faults   []string          `json:"faults" doc:"each as --fault takes it"`
	Status   string            `json:"status" doc:"completed or interrupted"`
	Duration number            `json:"duration_s" doc:"simulated time"`
	Failed   optional          `json:"failed_s" doc:"when the next failure came; null for none within the run"`
	Failure  nullable          `json:"failure" doc:"what it was; null for none"`
	Channel  nullable          `json:"channel" doc:"whose it was; null for none and for the whole board"`
	OverTemp optional          `json:"over_temperature_s" doc:"when the channel of the film first went over temperature"`
	Link     optional          `json:"link_opened_s" doc:"when its thermal link, or one ahead of all channels, opened"`
	Wetness  optional          `json:"wetness" doc:"at the end, 0 dry to 1 wet through; null if no film acts"`
	Outcomes []outcomeDocument `json:"outcomes" doc:"by channel"`
}

func (o *recurrenceOptions) document(t *target, cases []*recurrenceCase, files []string) *recurrenceDocument {
	d := &recurrenceDocument{
		Schema: schemaName("recurrence"), Notice: notice, Board: t.document(), Seed: o.seed,
		Duration: number(time.Duration(o.duration).Seconds()), Coating: number(o.coating), Files: files,
	}
	for _, c := range cases {
		x := recurrenceCaseDocument{
			Case: c.name, Does: c.does, Faults: c.target.texts(), Status: c.result.Status.String(), Duration: number(c.result.Duration.Seconds()),
			Failed: missing, OverTemp: seconds(c.first("goes over temperature")), Link: seconds(c.first(failures[sim.LinkOpened])),
			Wetness: optional(c.wetness), Outcomes: outcomeDocuments(c.result),
		}
		if f := c.failed(); len(f) > 0 {
			x.Failed, x.Failure, x.Channel = seconds(f[0].Time), nullable(failure(f[0])), nullable(c.place(f[0]))
		}
		d.Cases = append(d.Cases, x)
	}
	return d
}
