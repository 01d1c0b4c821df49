package command

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/readings"
)

func (a *app) figurePair() *cobra.Command {
	o := &struct {
		figureOptions
		headingFlags
		conditionFlags
		point    string
		duration durationValue
	}{conditionFlags: newConditions(readings.Heating.String()), duration: durationValue(time.Hour)}
	cmd := &cobra.Command{
		Use:   "pair [BOARD]",
		Short: "Draw a fault beside a healthy board",
		Long: wrapped(`Draw the board with its faults beside the healthy one, on the same scales: the waveform at a test point, what
each meter shows there, and the temperatures of a run.`),
		Example:           `  boilwright figure pair --fault dye:opto-half-wave --language de`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			if _, err := format(o.out); err != nil {
				return err
			}
			t, err := o.load(cmd, args)
			if err != nil {
				return err
			}
			if len(t.set) == 0 {
				return misuse("found no --fault, expected at least one to show beside the healthy board")
			}
			k, err := t.shown("")
			if err != nil {
				return err
			}
			point, err := t.pointFor(o.point, k)
			if err != nil {
				return err
			}
			s, err := pairSheet(cmd.Context(), t, point, &o.conditionFlags, &o.headingFlags, time.Duration(o.duration), o.seed)
			if err != nil {
				return err
			}
			return o.finish(cmd, t, s)
		}),
	}
	o.figureOptions.add(cmd, "pair", true)
	o.headingFlags.add(cmd)
	o.conditionFlags.add(cmd, liveStates...)
	addPointFlag(cmd, &o.point)
	cmd.Flags().VarP(&o.duration, "duration", "d", "simulated `TIME` of the run")
	return cmd
}

func addPointFlag(cmd *cobra.Command, point *string) {
	cmd.Flags().StringVar(point, "point", "", "the test `POINT` [the output of the channel shown]")
	complete(cmd, "point", completePoint)
}

// pointFor is the test point of a sheet: the named one, or a channel's output.
func (t *target) pointFor(name string, k int) (readings.Point, error) {
	if name == "" {
		name = t.names[k] + ":output"
	}
	p, err := readings.FindPoint(t.file.Board, name)
	if err != nil {
		return p, misused(err)
	}
	if p.Control {
		return p, misuse("--point: found %s of the control side, expected a point of the mains side", name)
	}
	return p, nil
}

// pointTrace is the waveform at a test point with no meter on it.
func pointTrace(b *models.Board, p readings.Point, c readings.Conditions, cycles, points int) (plots.Trace, *readings.Waveform, error) {
	w, err := readings.Record(b, c, cycles)
	if err != nil {
		return plots.Trace{}, nil, err
	}
	sig, err := w.Solver.Voltage(p.Plus, p.Minus)
	if err != nil {
		return plots.Trace{}, nil, err
	}
	ends, at := w.Recording.Instants(sig)
	t := plots.Trace{Name: p.Title, Unit: "V"}
	gap := w.Recording.Duration() / float64(points)
	for i := 0; i+1 < len(ends); i += 2 {
		a, z := ends[i], ends[i+1]
		t.Time, t.Value = append(t.Time, a), append(t.Value, at[i])
		var between []float64
		for j := 1; a+float64(j)*gap < z; j++ {
			between = append(between, a+float64(j)*gap)
		}
		t.Time, t.Value = append(t.Time, between...), append(t.Value, w.Recording.At(sig, between)...)
		t.Time, t.Value = append(t.Time, z), append(t.Value, at[i+1])
	}
	for i := 1; i < len(t.Time); i++ { // rounding at the start of a half-cycle
		t.Time[i] = max(t.Time[i], t.Time[i-1])
	}
	return t, w, nil
}

// plotReading is a reading as a figure takes it.
func plotReading(v readings.Value) plots.Reading {
	return plots.Reading{Value: v.Shown, Uncertainty: v.Uncertainty, Over: v.Over}
}

// pairSheet draws a target beside its healthy board.
func pairSheet(ctx context.Context, t *target, p readings.Point, flags *conditionFlags, words *headingFlags, d time.Duration, seed uint64) (*plots.Sheet, error) {
	faulty, err := t.applied()
	if err != nil {
		return nil, err
	}
	healthy := t.file.Board
	c, err := flags.conditions(healthy, liveStates...)
	if err != nil {
		return nil, err
	}
	well := &target{file: t.file, names: t.names}
	h, err := words.teaching(well, func(l *plots.Language) string { return flags.describeIn(l, c, healthy) })
	if err != nil {
		return nil, err
	}
	in := plots.PairInput{Heading: h, Frequency: float64(healthy.Supply.Frequency), Point: p.Name}
	in.Names = [2]string{h.Language.T("healthy"), list(t.texts(), "")}
	for _, m := range healthy.Meters[:min(7, len(healthy.Meters))] {
		in.Meters = append(in.Meters, m.Name)
	}
	err = parallel(4, func(i int) error {
		b, x := []*models.Board{healthy, faulty}[i%2], []*target{well, t}[i%2]
		if i < 2 {
			var err error
			if in.Traces[i], _, err = pointTrace(b, p, c, 1, 1200); err != nil {
				return err
			}
			values, err := readings.At(b, p, healthy.Meters[:len(in.Meters)], c)
			if err != nil {
				return err
			}
			for _, v := range values {
				in.Readings[i] = append(in.Readings[i], plotReading(v))
			}
			return nil
		}
		r, _, err := simulate(ctx, x, seed, sim.Options{Duration: d})
		if err != nil {
			return err
		}
		if r.Status == sim.Interrupted || len(r.Samples) < 2 {
			return errInterrupted
		}
		in.Water[i%2] = waterCurves(r)
		return nil
	})
	if err != nil {
		return nil, err
	}
	return plots.Pair(in)
}

// waterCurves are the water temperatures of a run, by boiler.
func waterCurves(r *sim.Result) []plots.Curve {
	out := make([]plots.Curve, len(r.Board.Channels))
	for k := range out {
		out[k].Name = r.Board.Channels[k].Name
		for i := range r.Samples {
			out[k].X, out[k].Y = append(out[k].X, r.Samples[i].Time.Seconds()), append(out[k].Y, r.Samples[i].Channels[k].Water)
		}
	}
	return out
}
