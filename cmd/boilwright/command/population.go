package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// What is done with each board of a population.
const (
	jobDraw     = "draw"
	jobReadings = "readings"
	jobRun      = "run"
)

// populationOptions are the flags of the command population.
type populationOptions struct {
	drawFlags
	job         string
	states      []string
	points      []string
	meters      []string
	leads       []string
	clamps      []string
	monitor     bool
	duration    durationValue
	out, format string
	values      bool
	board       string
	explain     bool
	asJSON      bool
}

// Formats of the boards' file.
const (
	formatLines = "lines"
	formatCSV   = "csv"
)

func (a *app) population() *cobra.Command {
	o := &populationOptions{duration: durationValue(time.Hour)}
	cmd := &cobra.Command{
		Use:   "population [BOARD]",
		Short: "Draw many boards from tolerances and faults, and measure or run each",
		Long: wrapped(`Draw many boards around one: parts within their tolerances, each on its own supply, in its own room,
with meters of their own calibration, and with faults at given rates, whose ground truth is kept. Of each, only draw
it, take readings at the test points, or run it over a time; print what they come to, and write each to a file, as a
JSON document a line or as comma-separated values.

A board of a population follows from the board, the seed, its index and the flags of what is drawn alone: any part of
it can be computed anywhere, and one of them looked at again. "--from 4711 -n 1 --board FILE" writes a drawn board;
with the faults that are told of it, every other command takes it.

--explain prints what is drawn, how, and where that comes from. How often faults are met is assumption.

An interrupted population keeps what is done.`),
		Example: `  boilwright population -n 1000
  boilwright population -n 1000 --job run --out boards.jsonl
  boilwright population -n 100 --only dye:opto-one-way --healthy 0 --state standby --point dye:output
  boilwright population -n 500 --job draw --tolerance "gate.resistance=uniform 0.8 to 1.2" --out drawn.csv
  boilwright population --explain`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		PreRunE:           func(cmd *cobra.Command, _ []string) error { return o.validate(cmd) },
		RunE:              a.do(o.do),
	}
	states := allStates[:3]
	f := cmd.Flags()
	o.drawFlags.add(cmd, 100)
	f.StringVar(&o.job, "job", jobReadings, "what is done with each: `JOB` draw, readings or run")
	f.StringArrayVarP(&o.states, "state", "s", nil, "of readings: `STATE` "+list(states, "")+"; repeatable [standby]")
	f.StringArrayVarP(&o.points, "point", "p", nil, "of readings: a test point, `NAME`; repeatable [all]")
	f.StringArrayVarP(&o.meters, "meter", "m", nil, "of readings: a meter of the board, `NAME`; repeatable [all]")
	f.StringArrayVar(&o.leads, "lead", nil, "of readings: also put the clamp ammeters round a lead, `NAME`; repeatable")
	f.StringArrayVar(&o.clamps, "clamp", nil, "with --lead: a clamp ammeter of the board, `NAME`; repeatable [all]")
	f.BoolVar(&o.monitor, "monitor", false, "of readings: also read the energy monitor")
	f.VarP(&o.duration, "duration", "d", "of a run: simulated `TIME`")
	f.StringVarP(&o.out, "out", "o", "", "write every board to `FILE`; - is standard output")
	f.StringVar(&o.format, "format", "", "of --out: `FORMAT` lines (JSON) or csv [csv for a name that ends so, otherwise lines]")
	f.BoolVar(&o.values, "values", false, "with --out: also write the drawn values")
	f.StringVar(&o.board, "board", "", "with -n 1: write the drawn board, without its faults, to `FILE`; - is standard output")
	f.BoolVar(&o.explain, "explain", false, "print what is drawn, its law and its source, and do nothing else")
	complete(cmd, "job", completeWords(jobDraw, jobReadings, jobRun))
	complete(cmd, "state", completeWords(states...))
	complete(cmd, "point", completePoint)
	complete(cmd, "meter", completeMeter)
	complete(cmd, "lead", fromBoard(leadNames))
	complete(cmd, "clamp", fromBoard(clampNames))
	complete(cmd, "format", completeWords(formatLines, formatCSV))
	addJSONFlag(cmd, &o.asJSON)
	cmd.AddCommand(a.populationData(), a.populationMerge(), a.populationJob())
	return cmd
}

func (o *populationOptions) validate(cmd *cobra.Command) error {
	changed := cmd.Flags().Changed
	if o.format == "" {
		o.format = formatLines
		if strings.HasSuffix(o.out, ".csv") {
			o.format = formatCSV
		}
	}
	if o.job != jobDraw && o.job != jobReadings && o.job != jobRun {
		return misuse("--job: found %q, expected %s, %s or %s", o.job, jobDraw, jobReadings, jobRun)
	}
	for _, of := range []struct{ flag, job string }{{"state", jobReadings}, {"point", jobReadings}, {"meter", jobReadings}, {"lead", jobReadings}, {"clamp", jobReadings}, {"monitor", jobReadings}, {"duration", jobRun}} {
		if changed(of.flag) && o.job != of.job {
			return misuse("found --%s with --job %s, expected it with --job %s only", of.flag, o.job, of.job)
		}
	}
	if err := o.drawFlags.check(); err != nil {
		return err
	}
	switch {
	case len(o.clamps) > 0 && len(o.leads) == 0:
		return misuse("found --clamp, expected it with --lead only")
	case o.format != formatLines && o.format != formatCSV:
		return misuse("--format: found %q, expected %s or %s", o.format, formatLines, formatCSV)
	case o.out == "" && (changed("format") || o.values):
		return misuse("found --format or --values, expected it with --out only")
	case o.values && o.format == formatCSV && o.job != jobDraw:
		return misuse("found --values with comma-separated values of job %s, expected --format %s", o.job, formatLines)
	case o.board != "" && o.boards != 1:
		return misuse("found --board with %d boards, expected it with -n 1 only", o.boards)
	case o.asJSON && (o.out == "-" || o.board == "-"), o.out == "-" && o.board == "-":
		return misuse("found more than one document for standard output, expected one of --json, --out - and --board -")
	}
	return nil
}

func (o *populationOptions) do(cmd *cobra.Command, args []string) error {
	t, err := (&faultFlags{}).load(cmd, args)
	if err != nil {
		return err
	}
	s, err := o.spec(t)
	if err != nil {
		return err
	}
	p, err := population.New(t.file.Board, s, o.seed)
	if err != nil {
		return misused(err)
	}
	out := cmd.OutOrStdout()
	if o.explain {
		return o.printExplained(out, t, p, s)
	}
	w := &populationWork{options: o, target: t, population: p, tally: newTally(o, t, p)}
	if o.job == jobReadings {
		job := population.ReadingsJob{Points: o.points, Meters: o.meters, Leads: o.leads, Clamps: o.clamps, Monitor: o.monitor}
		for _, name := range o.states {
			state, err := readings.ParseState(name)
			if err != nil {
				return misused(err)
			}
			job.States = append(job.States, state)
		}
		if w.plan, err = p.Readings(job); err != nil {
			return misused(err)
		}
		w.tally.measured(w.plan)
	}
	if o.board != "" {
		if err := o.writeBoard(p, out); err != nil {
			return err
		}
	}
	files := []string{}
	work := func(dst io.Writer) error { return w.each(cmd, dst) }
	if o.out == "" {
		err = work(nil)
	} else {
		err = writeFile(o.out, out, work)
		if o.out != "-" {
			files = append(files, o.out)
		}
	}
	if err != nil {
		return err
	}
	switch {
	case o.out == "-" || o.board == "-":
	case o.asJSON:
		err = writeJSON(out, w.tally.document(files))
	default:
		err = w.tally.print(out, files)
	}
	if err == nil && w.tally.done < o.boards {
		err = fmt.Errorf("%w: %d of %d boards", errInterrupted, w.tally.done, o.boards)
	}
	return err
}

// writeBoard writes the board of the only member, its faults left out.
func (o *populationOptions) writeBoard(p *population.Population, out io.Writer) error {
	m, err := p.Member(o.from)
	if err != nil {
		return err
	}
	return writeFile(o.board, out, func(w io.Writer) error {
		_, err := w.Write(boardfile.Marshal(m.Board))
		return err
	})
}

// populationWork is the work of the command under way.
type populationWork struct {
	options    *populationOptions
	target     *target
	population *population.Population
	plan       *population.ReadingsPlan
	tally      *tally
}

// finished is what has become of one board, with the text to be written.
type finished struct {
	member   population.Member
	measured population.Measured
	outcome  population.Outcome
	text     []byte
}

// each does the work of every board and writes it to dst, if not nil. What is
// done when it is interrupted is kept.
func (w *populationWork) each(cmd *cobra.Command, dst io.Writer) error {
	o := w.options
	if dst != nil && o.format == formatCSV {
		if err := w.writeHeads(dst); err != nil {
			return err
		}
	}
	p := newProgress(cmd, "population")
	defer p.end()
	defer boundMemory(o.workers)()
	err := population.Each(cmd.Context(), o.from, o.from+o.boards, population.Workers{Count: o.workers}, func(ctx context.Context, i uint64) (f finished, err error) {
		if f.member, err = w.population.Member(i); err != nil {
			return f, wrongInput(err)
		}
		switch o.job {
		case jobReadings:
			f.measured = w.plan.Measure(f.member)
		case jobRun:
			f.outcome, err = population.RunJob{Duration: time.Duration(o.duration)}.Run(ctx, f.member)
		}
		if err == nil && dst != nil {
			f.text, err = w.text(&f)
		}
		return f, err
	}, func(_ uint64, f finished) error {
		w.tally.take(&f)
		p.show(time.Duration(w.tally.done), time.Duration(o.boards))
		if dst == nil {
			return nil
		}
		_, err := dst.Write(f.text)
		return err
	})
	if errors.Is(err, context.Canceled) {
		return nil // told by the number of boards that are done
	}
	return err
}
