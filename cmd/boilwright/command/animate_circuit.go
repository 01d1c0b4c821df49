package command

import (
	"math"

	"github.com/spf13/cobra"

	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
	"time"
)

func (a *app) animateCircuit() *cobra.Command {
	o := &struct {
		animationOptions
		channel string
		state   string
		halves  int
		from    float64
		to      float64
		all     bool
	}{animationOptions: animationOptions{speed: durationValue(2 * time.Millisecond)}}
	cmd := &cobra.Command{
		Use:   "circuit [BOARD]",
		Short: "Show one channel's circuit in slow motion",
		Long: wrapped(`Show the circuit of one channel in slow motion: leads are lit in proportion to their current, the states of
LED, optotriac and triac are shown, and voltage and current are drawn along. The frames begin at a zero of the supply
once everything repeats. Other channels are not driven unless --all is given. Faults act at their full severity.`),
		Example: `  boilwright animate circuit --half-cycles 1 --speed "1 ms" --out dye.gif
  boilwright animate circuit --to 12 --speed "50 µs" --out firing.gif
  boilwright animate circuit --fault dye:opto-one-way --state standby --out clip.mp4 --out clip/ --transparent`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			z, err := o.check()
			if err != nil {
				return err
			}
			if o.halves < 1 || o.halves > 20 {
				return misuse("--half-cycles: found %d, expected 1 to 20", o.halves)
			}
			last := 180 * float64(o.halves)
			if o.to == 0 {
				o.to = last
			}
			if !(o.from >= 0 && o.to <= last && o.to-o.from >= 0.1) {
				return misuse("found --from %g and --to %g, expected rising angles from 0 to %g", o.from, o.to, last)
			}
			t, err := o.load(cmd, args)
			if err != nil {
				return err
			}
			k, err := t.shown(o.channel)
			if err != nil {
				return err
			}
			c := newConditions(o.state)
			in, err := cycleOf(t, k, &c, !o.all, o.halves, [2]float64{o.from, o.to}, &o.animationOptions)
			if err != nil {
				return err
			}
			film, err := plots.Cycle(in)
			if err != nil {
				return misused(err)
			}
			return o.finish(cmd, t, film, z)
		}),
	}
	o.animationOptions.add(cmd, "circuit", "a second of the animation", false)
	f := cmd.Flags()
	f.StringVar(&o.channel, "channel", "", "the `CHANNEL` shown [that of the first fault, or the first]")
	f.StringVarP(&o.state, "state", "s", readings.Heating.String(), "what the board is doing: `STATE` "+list(steadyStates, ""))
	f.IntVar(&o.halves, "half-cycles", 2, "`NUMBER` of half-cycles, 1 to 20")
	f.Float64Var(&o.from, "from", 0, "begin at this `ANGLE` of the supply, in degrees")
	f.Float64Var(&o.to, "to", 0, "end at this `ANGLE` [180 for each half-cycle]")
	f.BoolVar(&o.all, "all", false, "drive the other channels too")
	complete(cmd, "channel", completeChannel)
	complete(cmd, "state", completeWords(steadyStates...))
	return cmd
}

// steadyStates are the states in which every cycle is alike.
var steadyStates = []string{readings.Standby.String(), readings.Heating.String()}

// cycleOf records a channel, driven alone or with the others, and makes the
// animation's input, between two angles of the supply.
func cycleOf(t *target, k int, flags *conditionFlags, alone bool, halves int, degrees [2]float64, o *animationOptions) (plots.CycleInput, error) {
	var in plots.CycleInput
	b, err := t.applied()
	if err != nil {
		return in, err
	}
	c, err := flags.conditions(b, steadyStates...)
	if err != nil {
		return in, err
	}
	if alone {
		c.Off = driving(b, k).Off
	}
	h, err := o.teaching(t, func(l *plots.Language) string {
		driven := l.F("%s alone driven", t.names[k])
		switch {
		case c.State == readings.Standby:
			return l.T("standby (supply on, controls off)")
		case c.Off == nil:
			driven = l.T("heating (every drive on)")
		}
		return driven + ", " + l.F("at %s", flags.temperature.String())
	})
	if err != nil {
		return in, err
	}
	diagram, err := circuitOf(t, k, h)
	if err != nil {
		return in, err
	}
	w, err := readings.Record(b, c, (halves+1)/2)
	if err != nil {
		return in, err
	}
	curves, err := plots.FromRecording(b, w.Solver, w.Recording, plots.RecordingOptions{First: w.First, Channels: []int{k}, Points: int(600 * float64(halves) * max(1, min(20, 180*float64(halves)/(degrees[1]-degrees[0]))))})
	if err != nil {
		return in, err
	}
	half := b.Supply.HalfCycle()
	begin, end := degrees[0]/180*half, degrees[1]/180*half
	ch := &curves.Channels[0]
	for _, x := range []*plots.Trace{&curves.Supply, &ch.Voltage, &ch.Current, &ch.Gate} {
		between(x, begin, end)
	}
	in = plots.CycleInput{
		SchematicInput: diagram, Frequency: float64(b.Supply.Frequency), Rate: o.rate,
		SupplyVoltage: curves.Supply, LoadVoltage: ch.Voltage, LoadTrace: ch.Current, GateTrace: ch.Gate,
	}
	f := &in.Frames
	if f.Time, err = o.frameTimes(begin, end); err != nil {
		return in, err
	}
	if f.Supply, f.Load, err = frameVoltages(b, w, k, f.Time); err != nil {
		return in, err
	}
	f.Currents = frameCurrents(b, t.file.Board, w, k, f.Time)
	from := b.DriveSource(k)
	drive := &b.Channels[k].Drive
	volts := drive.Off
	if c.State == readings.Heating && !(c.Off != nil && c.Off[from]) {
		volts = drive.On
	}
	led := drive.LEDCurrent(&b.Channels[k].Opto, float64(volts))
	lit := led >= b.Channels[k].Opto.TriggerAt(c.Temps.Board)
	f.LED = make([]bool, len(f.Time))
	glow := make([]float64, len(f.Time))
	for i := range f.LED {
		f.LED[i], glow[i] = lit, led
	}
	if led > 0 {
		f.Currents[plots.LEDCurrent] = glow
	}
	at := func(e circuit.Event) float64 { return (float64(e.Half-w.First) + e.Degrees/180) * half }
	f.Opto = stateAt(w.Recording.Events, k, circuit.OptoOn, circuit.OptoOff, at, f.Time)
	f.Triac = stateAt(w.Recording.Events, k, circuit.Fired, circuit.Extinguished, at, f.Time)
	return in, nil
}

// between cuts a trace off before and after two times.
func between(t *plots.Trace, begin, end float64) {
	m, n := 0, len(t.Time)
	for n > 2 && t.Time[n-1] > end*(1+1e-9) {
		n--
	}
	for m < n-2 && t.Time[m] < begin*(1-1e-9) {
		m++
	}
	t.Time, t.Value = t.Time[m:n], t.Value[m:n]
}

// stateAt follows what two kinds of event turn on and off.
func stateAt(events []circuit.Event, channel int, on, off circuit.EventKind, at func(circuit.Event) float64, times []float64) []bool {
	out := make([]bool, len(times))
	var mine []circuit.Event
	for _, e := range events {
		if e.Channel == channel && (e.Kind == on || e.Kind == off) {
			mine = append(mine, e)
		}
	}
	state := len(mine) > 0 && mine[0].Kind == off
	n := 0
	for i, t := range times {
		for n < len(mine) && at(mine[n]) <= t {
			state = mine[n].Kind == on
			n++
		}
		out[i] = state
	}
	return out
}

// frameVoltages are the supply's and the load's voltage at the frames' times,
// the load's as in a waveform sheet.
func frameVoltages(b *models.Board, w *readings.Waveform, k int, times []float64) (supply, load []float64, err error) {
	line, neutral := models.At(models.Line, 0), models.At(models.Neutral, 0)
	s, err := w.Solver.Voltage(line, neutral)
	if err != nil {
		return nil, nil, err
	}
	from, to := models.At(models.Output, k), neutral
	if b.Channels[k].Side == models.NeutralSide {
		from, to = models.At(models.Rail, 0), from
	}
	l, err := w.Solver.Voltage(from, to)
	if err != nil {
		return nil, nil, err
	}
	return w.Recording.At(s, times), w.Recording.At(l, times), nil
}

// frameCurrents are the currents of a channel's paths at the frames' times.
func frameCurrents(b, healthy *models.Board, w *readings.Waveform, k int, times []float64) map[plots.CurrentPath][]float64 {
	out := map[plots.CurrentPath][]float64{}
	add := func(p plots.CurrentPath, sign float64, branches ...string) {
		for _, name := range branches {
			sig, err := w.Solver.Current(name)
			if err != nil {
				continue // a path that is not there carries nothing
			}
			v := w.Recording.At(sig, times)
			if old := out[p]; old != nil {
				for i := range v {
					old[i] += sign * v[i]
				}
				return
			}
			for i := range v {
				v[i] *= sign
			}
			out[p] = v
			return
		}
	}
	of := func(s string) string { return branchOf(s, k) }
	toward := -1.0 // the source's own current flows to its neutral inside it
	if b.Supply.Exchanged {
		toward = 1
	}
	add(plots.SupplyCurrent, toward, "source")
	add(plots.LoadCurrent, 1, of("wire"), of("element-near"))
	add(plots.FarCurrent, 1, of("element-far"))
	add(plots.TriacCurrent, 1, of("triac"))
	add(plots.OptoCurrent, 1, of("opto"))
	add(plots.GateResistorCurrent, 1, of("gate-resistor"))
	add(plots.GateCurrent, 1, of("junction"))
	add(plots.ShuntCurrent, 1, of("gate-shunt"))
	add(plots.SnubberCurrent, 1, of("snubber-resistor"))
	if b.Channels[k].Element.Insulation < healthy.Channels[k].Element.Insulation {
		add(plots.ElementPathCurrent, 1, of("insulation"))
	}
	for _, x := range b.Bridges[min(len(healthy.Bridges), len(b.Bridges)):] {
		route, forward := routeOf(b, k, x.From, x.To)
		if route == plots.NoRoute || route == plots.ElementToEarth {
			continue
		}
		sign := 1.0
		if !forward {
			sign = -1
		}
		add(plots.TriacPathCurrent+plots.CurrentPath(route-plots.AcrossTriac), sign, "bridge "+x.Name)
	}
	for _, v := range out {
		for i := range v {
			if math.Abs(v[i]) < 1e-15 {
				v[i] = 0
			}
		}
	}
	return out
}
