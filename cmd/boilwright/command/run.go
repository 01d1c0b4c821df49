package command

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
)

// runOptions are the flags of the command run.
type runOptions struct {
	faultFlags
	duration, every durationValue
	full            bool
	approximate     bool
	events          bool
	asJSON          bool
	csv             string
	traces          traceOptions
	requirements    []string
}

func (a *app) run() *cobra.Command {
	o := &runOptions{duration: durationValue(time.Hour), every: durationValue(10 * time.Second)}
	cmd := &cobra.Command{
		Use:   "run [BOARD]",
		Short: "Simulate circuit and heat over a time",
		Long: wrapped(`Simulate a board's circuit and heat together, and print what became of each channel, the energy account
and what happened. --csv writes the temperatures, --traces the circuit's waveforms as the run left the board.

--require states what must come out, as CHANNEL:OUTCOME[,within=TIME] with a channel's name or "all"; the exit code
is 4 where it does not. The outcomes are ` + list(outcomeWords(), "") + `.

A run that is interrupted keeps what is done: tables and files end where it stopped.`),
		Example: `  boilwright run --fault dye:triac-shorted
  boilwright run --duration "2 h" --csv hours.csv --require all:reaches,within=20min
  boilwright run my-board.toml -f "soak:opto-dead,from=25 min" --json`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		PreRunE:           func(cmd *cobra.Command, _ []string) error { return o.validate() },
		RunE:              a.do(o.run),
	}
	o.faultFlags.add(cmd, true)
	f := cmd.Flags()
	f.VarP(&o.duration, "duration", "d", "simulated `TIME`")
	f.Var(&o.every, "every", "`TIME` between samples, in whole control windows")
	f.BoolVar(&o.full, "full", false, "solve every half-cycle anew instead of using an equal one's solution: slow")
	f.BoolVar(&o.approximate, "approximate", false, "use solutions again also where a triac is near firing by itself: fast, good to some per cent")
	f.BoolVar(&o.events, "events", false, "list every event, also lamps, draws and valves")
	f.StringVar(&o.csv, "csv", "", "write the temperatures over time to `FILE`; - is standard output")
	f.StringArrayVar(&o.requirements, "require", nil, "state a `CHANNEL:OUTCOME[,within=TIME]`; repeatable")
	complete(cmd, "require", completeRequirement)
	o.traces.add(cmd)
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *runOptions) validate() error {
	if n := btoi(o.csv == "-") + btoi(o.traces.file == "-") + btoi(o.asJSON); n > 1 {
		return misuse("found more than one document for standard output, expected one of --json, --csv - and --traces -")
	}
	if o.csv != "" && o.csv == o.traces.file {
		return misuse("found %s for both --csv and --traces, expected two files", o.csv)
	}
	if o.full && o.approximate {
		return misuse("found --full and --approximate, expected one of them")
	}
	return o.traces.validate()
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (o *runOptions) run(cmd *cobra.Command, args []string) error {
	t, err := o.load(cmd, args)
	if err != nil {
		return err
	}
	wanted, err := parseRequirements(o.requirements, t.names)
	if err != nil {
		return err
	}
	if err := o.traces.check(t.file.Board); err != nil {
		return err
	}
	p := newProgress(cmd, "run")
	result, last, err := simulate(withoutCaveat(cmd.Context()), t, o.seed, sim.Options{
		Duration: time.Duration(o.duration), Every: time.Duration(o.every), Full: o.full, Exact: !o.approximate, Progress: p.show,
	})
	p.end()
	if err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if o.csv != "" {
		if err := writeFile(o.csv, out, func(w io.Writer) error { return writeHistory(w, result) }); err != nil {
			return err
		}
	}
	if o.traces.file != "" {
		if err := o.traces.write(out, result, last); err != nil {
			return err
		}
	}
	verdicts := judge(wanted, result)
	switch {
	case o.csv == "-" || o.traces.file == "-":
	case o.asJSON:
		err = writeJSON(out, o.document(t, result, verdicts))
	default:
		err = o.print(out, t, result, verdicts)
	}
	if err != nil {
		return err
	}
	if err := failed(verdicts); err != nil {
		return err
	}
	if result.Status == sim.Interrupted {
		return fmt.Errorf("%w: %s of %s", errInterrupted, clock(result.Duration), q.FormatDuration(time.Duration(o.duration)))
	}
	return nil
}

// lastMoment passes a run's faults on and keeps the moment that they were
// last shown.
type lastMoment struct {
	sim.Editor
	moment models.Moment
}

func (l *lastMoment) Version(m models.Moment) (uint64, time.Duration) {
	l.moment = m
	return l.Editor.Version(m)
}

// simulate runs a target's board with its faults. It also returns the board
// as the faults have left it.
func simulate(ctx context.Context, t *target, seed uint64, o sim.Options) (*sim.Result, *models.Board, error) {
	faulty, err := t.set.Start(seed)
	if err != nil {
		return nil, nil, wrongInput(err)
	}
	edits := &lastMoment{Editor: faulty}
	if len(t.set) > 0 {
		o.Edits = edits
	}
	result, err := sim.Run(ctx, t.file.Board, o)
	if err != nil {
		return nil, nil, err
	}
	tellCaveat(ctx, result)
	last := t.file.Board.Clone()
	if err := faulty.Edit(last, edits.moment); err != nil {
		return nil, nil, err
	}
	for k := range last.Channels {
		if s := result.Samples; len(s) > 0 && s[len(s)-1].Channels[k].LinkOpen {
			last.Channels[k].Link.Open = true
		}
	}
	return result, last, nil
}

// elementEnergy is the energy into the element of channel k in joules.
func elementEnergy(r *sim.Result, k int) float64 {
	sum := 0.0
	for i := 1; i < len(r.Samples); i++ {
		sum += r.Samples[i].Channels[k].Power * (r.Samples[i].Time - r.Samples[i-1].Time).Seconds()
	}
	return sum
}
