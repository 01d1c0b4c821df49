package command

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/circuit"
	"boilwright/sim/disturbance"
	"boilwright/sim/readings"
)

// sweep is a figure of curves that needs nothing but a board, perhaps with
// faults, and perhaps a channel.
type sweep struct {
	name, short, long, example string
	seeded                     bool
	single                     bool // it looks at one channel
	draw                       func(ctx context.Context, t *target, k int, h plots.Heading, seed uint64) (*plots.Sheet, error)
}

var sweeps = []sweep{
	{
		name: "delay", short: "Draw the firing delay against the resistance of a leak at the gate",
		long: `Draw at which angle of each half-cycle the triac fires while a leak from gate to MT1 takes part of the gate
current, against the leak's resistance. Where a line ends the triac does not fire any more.`,
		example: "  boilwright figure delay --channel dye", single: true, draw: delaySheet,
	},
	{
		name: "standby", short: "Draw what the energy monitor shows in standby for a channel that is stuck",
		long: `Draw what the plug-in energy monitor shows in standby, power and current, if one channel conducts although
nothing is asked for: all the time, or in one half-wave only. Bars allow for the tolerance of the elements and of the
monitor.`,
		example: "  boilwright figure standby", draw: standbySheet,
	},
	{
		name: "warm-up", short: "Draw the warm-up with one, two and all channels",
		long: `Draw the power through the plug and the temperature of the lid while one, two and so on up to all channels
heat up, in the order of the board.`,
		example: "  boilwright figure warm-up", seeded: true, draw: warmUpSheet,
	},
	{
		name: "link", short: "Draw the time that is left before the thermal link opens",
		long: `Draw how long it takes, from each temperature of the water on, until the thermal link opens if the channel's
triac conducts all the time, for each boiler by itself.`,
		example: "  boilwright figure link", seeded: true, draw: linkSheet,
	},
	{
		name: "flicker", short: "Draw the flicker of burst patterns",
		long: `Draw the short-term flicker severity P_st that one channel causes at the supply's terminals, against its duty, for
control windows of several lengths in one run of cycles each, and for cycles that are spread over the window.`,
		example: "  boilwright figure flicker --channel dye", single: true, draw: flickerSheet,
	},
}

func (a *app) figureSweep(x sweep) *cobra.Command {
	o := &struct {
		figureOptions
		headingFlags
		channel string
	}{}
	cmd := &cobra.Command{
		Use: x.name + " [BOARD]", Short: x.short, Long: wrapped(x.long), Example: x.example,
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
			k, err := t.shown(o.channel)
			if err != nil {
				return err
			}
			h, err := o.teaching(t, nil)
			if err != nil {
				return err
			}
			s, err := x.draw(cmd.Context(), t, k, h, o.seed)
			if err != nil {
				return err
			}
			return o.finish(cmd, t, s)
		}),
	}
	o.figureOptions.add(cmd, x.name, x.seeded)
	o.headingFlags.add(cmd)
	if x.single {
		cmd.Flags().StringVar(&o.channel, "channel", "", "the `CHANNEL` looked at [that of the first fault, or the first]")
		complete(cmd, "channel", completeChannel)
	}
	return cmd
}

// titled sets a title where none was given.
func titled(h plots.Heading, format string, args ...any) plots.Heading {
	if h.Title == "" {
		h.Title = h.Language.F(format, args...)
	}
	return h
}

// joined adds a sentence to a caption.
func joined(caption, sentence string) string { return strings.TrimSpace(caption + " " + sentence) }

// delaySheet sweeps the resistance of a leak from gate to MT1.
func delaySheet(_ context.Context, t *target, k int, h plots.Heading, _ uint64) (*plots.Sheet, error) {
	base, err := t.applied()
	if err != nil {
		return nil, err
	}
	const from, to, n = 1.0, 10e3, 81
	ohms := make([]float64, n)
	angles := [2][]float64{make([]float64, n), make([]float64, n)}
	c := readings.Conditions{State: readings.Heating, Temps: circuit.Uniform(len(base.Channels), 25)}
	err = parallel(n, func(i int) error {
		ohms[i] = from * math.Pow(to/from, float64(i)/(n-1))
		b, err := faults.Set{faults.New("gate-leak", k).With("resistance", ohms[i])}.Applied(base)
		if err != nil {
			return wrongInput(err)
		}
		w, err := readings.Record(b, c, 1)
		if err != nil {
			return err
		}
		angles[0][i], angles[1][i] = math.NaN(), math.NaN()
		for _, a := range circuit.Conduction(w.Recording.Events, k) {
			if j := a.Half - w.First; j >= 0 && j < 2 && !math.IsNaN(a.Firing) {
				angles[j][i] = a.Firing
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	l := h.Language
	h = titled(h, "Firing delay of channel %s against a leak at its gate", t.names[k])
	return plots.Curves(plots.CurvesInput{
		Heading: h, Quantity: l.T("resistance of the leak from gate to MT1"), Unit: "Ω", Log: true,
		Panels: []plots.CurvePanel{{Quantity: l.T("firing delay"), Unit: "°", Zero: true, Curves: []plots.Curve{
			{Name: l.T("positive half-cycle"), X: ohms, Y: angles[0]}, {Name: l.T("negative half-cycle"), X: ohms, Y: angles[1]},
		}}},
	})
}

// standbySheet is the rows of the energy monitor's table in which at most one
// channel conducts.
func standbySheet(_ context.Context, t *target, _ int, h plots.Heading, _ uint64) (*plots.Sheet, error) {
	b, err := t.applied()
	if err != nil {
		return nil, err
	}
	rows, err := readings.MonitorTable(b, circuit.Uniform(len(b.Channels), 25), readings.DefaultTolerance)
	if err != nil {
		return nil, misused(err)
	}
	l := h.Language
	in := plots.BandsInput{Heading: titled(h, "Standby: which boiler is on?"), Columns: []plots.BandColumn{{Quantity: l.T("power"), Unit: "W"}, {Quantity: l.T("current"), Unit: "A"}}}
	type row struct {
		name           string
		power, current readings.Band
	}
	var found []row
	for _, r := range rows {
		name, on := l.T("nothing conducts"), 0
		for k, m := range r.Modes {
			switch m {
			case readings.FullWave:
				name, on = t.names[k], on+1
			case readings.HalfWave:
				name, on = l.F("%s, one half-wave", t.names[k]), on+1
			case readings.Reversed:
				on += 2
			}
		}
		if on > 1 {
			continue
		}
		found = append(found, row{name, r.Power, r.Current})
	}
	slices.SortStableFunc(found, func(a, b row) int { return cmp.Compare(a.power.Nominal, b.power.Nominal) })
	for _, r := range found {
		in.Rows = append(in.Rows, r.name)
		for i, x := range []readings.Band{r.power, r.current} {
			in.Columns[i].Bands = append(in.Columns[i].Bands, plots.Band{Nominal: x.Nominal, Low: x.Low, High: x.High})
		}
	}
	in.Caption = joined(in.Caption, l.T(plots.StandbyCaution))
	return plots.Bands(in)
}

// warmUpSheet runs the board with more and more channels.
func warmUpSheet(ctx context.Context, t *target, _ int, h plots.Heading, seed uint64) (*plots.Sheet, error) {
	n := min(7, len(t.names))
	l := h.Language
	in := plots.CurvesInput{Heading: titled(h, "Warm-up with %s channels", l.F("1 to %s", q.Format(q.Number, float64(n)))), Quantity: l.T("time"), Unit: "min",
		Panels: []plots.CurvePanel{
			{Quantity: l.T("power through the plug"), Unit: "W", Zero: true, Curves: make([]plots.Curve, n)},
			{Quantity: l.T("lid"), Unit: "°C", Curves: make([]plots.Curve, n)},
		}}
	err := parallel(n, func(i int) error {
		file := *t.file
		file.Board = t.file.Board.Clone()
		for k := i + 1; k < len(file.Board.Channels); k++ {
			file.Board.Channels[k].Control.Enabled = false
		}
		r, _, err := simulate(ctx, &target{file: &file, set: t.set, names: t.names}, seed, sim.Options{Duration: 30 * time.Minute})
		if err != nil {
			return err
		}
		if r.Status == sim.Interrupted {
			return errInterrupted
		}
		name := l.F("%s of %s", q.Format(q.Number, float64(i+1)), q.Format(q.Number, float64(len(t.names))))
		power, lid := plots.Curve{Name: name}, plots.Curve{Name: name}
		for j, s := range r.Samples {
			m := s.Time.Minutes()
			if j > 0 { // powers are means since the sample before
				power.X, power.Y = append(power.X, m), append(power.Y, s.Power)
			}
			lid.X, lid.Y = append(lid.X, m), append(lid.Y, s.Lid)
		}
		in.Panels[0].Curves[i], in.Panels[1].Curves[i] = power, lid
		return nil
	})
	if err != nil {
		return nil, err
	}
	return plots.Curves(in)
}

// linkSheet runs each boiler with its triac shorted until its link opens.
func linkSheet(ctx context.Context, t *target, _ int, h plots.Heading, seed uint64) (*plots.Sheet, error) {
	n := min(7, len(t.names))
	l := h.Language
	p := plots.CurvePanel{Quantity: l.T("time left"), Unit: "min", Zero: true, NamesFirst: true}
	all := make([]plots.Curve, n)
	err := parallel(n, func(k int) error {
		set := append(slices.Clone(t.set), faults.New("triac-shorted", k))
		r, _, err := simulate(ctx, &target{file: t.file, set: set, names: t.names}, seed, sim.Options{Duration: 90 * time.Minute, Every: time.Second})
		if err != nil {
			return err
		}
		if r.Status == sim.Interrupted {
			return errInterrupted
		}
		opened := -1.0
		for _, e := range r.Events {
			if e.Kind == sim.LinkOpened && e.Channel == k {
				opened = e.Time.Minutes()
				break
			}
		}
		c := plots.Curve{Name: t.names[k]}
		for _, s := range r.Samples {
			left := opened - s.Time.Minutes()
			w := s.Channels[k].Water
			if left < 0 || len(c.X) > 0 && w < c.X[len(c.X)-1] {
				break
			}
			c.X, c.Y = append(c.X, w), append(c.Y, left)
		}
		all[k] = c
		return nil
	})
	if err != nil {
		return nil, err
	}
	var never []string
	for _, c := range all {
		if len(c.X) < 2 {
			never = append(never, c.Name)
			continue
		}
		p.Curves = append(p.Curves, c)
	}
	if len(p.Curves) == 0 {
		return nil, misuse("found no boiler whose link opens within 90 min with its triac shorted, expected one")
	}
	h = titled(h, "Time left before the thermal link opens")
	if len(never) > 0 {
		h.Caption = joined(h.Caption, l.F("No link opens within 90 min in: %s.", list(never, "")))
	}
	h.Caption = joined(h.Caption, l.T(plots.LinkCaution))
	return plots.Curves(plots.CurvesInput{Heading: h, Quantity: l.T("temperature of the water, triac shorted"), Unit: "°C", Panels: []plots.CurvePanel{p}})
}

// severityLimit is the limit on P_st, severitySource where it is from, as in
// the checks of a disturbance.
const (
	severityLimit  = 1.0
	severitySource = "IEC 61000-3-3 clause 5"
)

// flickerSheet weighs burst patterns of one channel.
func flickerSheet(_ context.Context, t *target, k int, h plots.Heading, _ uint64) (*plots.Sheet, error) {
	b, err := t.applied()
	if err != nil {
		return nil, err
	}
	on, off, err := dip(b, k)
	if err != nil {
		return nil, err
	}
	type pattern struct {
		name   string
		cycles int
		spread bool
	}
	l := h.Language
	second := int(math.Round(float64(b.Supply.Frequency)))
	patterns := []pattern{
		{l.F("%s window", "0.2 s"), second / 5, false}, {l.F("%s window", "0.5 s"), second / 2, false}, {l.F("%s window", "1 s"), second, false}, {l.F("%s window", "4 s"), 4 * second, false},
		{l.T("spread over 1 s"), second, true},
	}
	const steps = 9
	curves := make([]plots.Curve, len(patterns))
	err = parallel(len(patterns), func(i int) error {
		p := patterns[i]
		curves[i] = plots.Curve{Name: p.name}
		for d := 1; d <= steps; d++ {
			duty := float64(d) / (steps + 1)
			pst, err := burstFlicker(b, on, off, p.cycles, duty, p.spread)
			if err != nil {
				return err
			}
			curves[i].X, curves[i].Y = append(curves[i].X, 100*duty), append(curves[i].Y, pst)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	h = titled(h, "Flicker of burst patterns, channel %s", t.names[k])
	h.Caption = joined(h.Caption, l.F("The limit is that of %s.", severitySource))
	return plots.Curves(plots.CurvesInput{Heading: h, Quantity: l.T("duty"), Unit: "%", Dots: true, Panels: []plots.CurvePanel{{
		Quantity: l.T("flicker severity P_st"), Zero: true, Curves: curves, Limits: []plots.Level{{Name: l.T("limit"), Value: severityLimit}},
	}}})
}

// dip is the rms voltage between line and neutral on the board in V with
// channel k driven and with nothing driven.
func dip(b *models.Board, k int) (on, off float64, err error) {
	var out [2]float64
	for i := range out {
		c := driving(b, k)
		if i == 1 {
			c.State, c.Off = readings.Standby, nil
		}
		w, err := readings.Record(b, c, 1)
		if err != nil {
			return 0, 0, err
		}
		sig, err := w.Solver.Voltage(models.At(models.Line, 0), models.At(models.Neutral, 0))
		if err != nil {
			return 0, 0, err
		}
		out[i] = math.Sqrt(w.Recording.Moments(sig).MeanSquare)
	}
	return out[0], out[1], nil
}

// burstFlicker is P_st of a pattern that repeats every so many cycles: it is
// periodic, so that a minute tells the same as ten.
func burstFlicker(b *models.Board, on, off float64, cycles int, duty float64, spread bool) (float64, error) {
	m, err := disturbance.NewHalfCycleMeter(disturbance.SystemOf(&b.Supply), q.Volt(off))
	if err != nil {
		return 0, misused(err)
	}
	lit := make([]bool, cycles)
	for i := range lit {
		if spread { // as evenly as whole cycles allow
			lit[i] = math.Floor(float64(i+1)*duty+1e-9) > math.Floor(float64(i)*duty+1e-9)
		} else {
			lit[i] = i < int(math.Floor(duty*float64(cycles)+0.5))
		}
	}
	minute := int(60 * float64(b.Supply.Frequency))
	for i := range 2 * minute {
		if i == minute/2 { // settled
			m.Reset()
		}
		if i == minute/2+minute/cycles*cycles {
			break
		}
		v := off
		if lit[i%cycles] {
			v = on
		}
		m.Feed(v)
		m.Feed(v)
	}
	return m.Pst(), nil
}
