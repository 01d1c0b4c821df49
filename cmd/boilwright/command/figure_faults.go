package command

import (
	"math"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

func (a *app) figureFaults() *cobra.Command {
	o := &struct {
		figureOptions
		headingFlags
		conditionFlags
		point, channel, meter string
	}{conditionFlags: newConditions(readings.Heating.String())}
	cmd := &cobra.Command{
		Use:   "faults [BOARD]",
		Short: "Draw all faults at one test point, as small panels",
		Long: wrapped(`Draw the waveform at one test point for every fault of the catalogue, at full severity in one channel, over
that of the healthy board. Faults whose waveform there is like that of the healthy board are named in the caption.`),
		Example:           `  boilwright figure faults --channel dye --state standby`,
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
			p, err := t.pointFor(o.point, k)
			if err != nil {
				return err
			}
			s, err := faultSheet(t, k, p, o.meter, &o.conditionFlags, &o.headingFlags)
			if err != nil {
				return err
			}
			return o.finish(cmd, t, s)
		}),
	}
	o.figureOptions.add(cmd, "faults", false)
	o.headingFlags.add(cmd)
	o.conditionFlags.add(cmd, liveStates...)
	addPointFlag(cmd, &o.point)
	f := cmd.Flags()
	f.StringVar(&o.channel, "channel", "", "the `CHANNEL` with the faults [that of the first --fault, or the first]")
	f.StringVar(&o.meter, "meter", "rms", "the `METER` whose reading stands at each panel")
	complete(cmd, "channel", completeChannel)
	return cmd
}

// likeHealthy is the part of the supply's voltage by which two waveforms may
// differ in rms and count as alike.
const likeHealthy = 0.002

// faultSheet draws what every fault of one channel makes of a test point. The
// target's own faults are in all of them, the healthy board included.
func faultSheet(t *target, k int, p readings.Point, meter string, flags *conditionFlags, words *headingFlags) (*plots.Sheet, error) {
	base, err := t.applied()
	if err != nil {
		return nil, err
	}
	c, err := flags.conditions(base, liveStates...)
	if err != nil {
		return nil, err
	}
	meters, err := chosenMeters(base, []string{meter})
	if err != nil {
		return nil, err
	}
	type panel struct {
		name  string
		board *models.Board
		cell  plots.Cell
	}
	panels := []panel{{name: "", board: base}}
	for _, f := range faults.Catalogue() {
		j := faults.New(f.Name, k)
		if f.Scope == faults.PerBoard {
			j.Channel = faults.WholeBoard
		}
		b, err := faults.Set{j}.Applied(base)
		if err != nil {
			continue // a part that this board lacks
		}
		if _, err := circuit.New(b); err != nil {
			continue
		}
		panels = append(panels, panel{name: f.Name, board: b})
	}
	const samples = 400
	values := make([][]float64, len(panels))
	err = parallel(len(panels), func(i int) error {
		x := &panels[i]
		trace, w, err := pointTrace(x.board, p, c, 1, samples)
		if err != nil {
			return err
		}
		sig, err := w.Solver.Voltage(p.Plus, p.Minus)
		if err != nil {
			return err
		}
		_, values[i] = w.Recording.Sample(sig, 0, w.Recording.Duration(), samples)
		v, err := readings.At(x.board, p, meters, c)
		if err != nil {
			return err
		}
		note := steps(v[0].Shown, v[0].Resolution) + " V"
		switch {
		case v[0].Over:
			note = "overload"
		case math.Abs(v[0].Shown) < 0.1: // shorter, for a narrow panel
			note = steps(1e3*v[0].Shown, 1e3*v[0].Resolution) + " mV"
		}
		x.cell = plots.Cell{Name: x.name, Note: "meter " + note, Trace: trace}
		return nil
	})
	if err != nil {
		return nil, err
	}
	h, err := words.teaching(t, func(l *plots.Language) string { return flags.describeIn(l, c, base) })
	if err != nil {
		return nil, err
	}
	if h.Title == "" {
		h.Title = h.Language.F("Faults of channel %s at %s", t.names[k], p.Name)
	}
	in := plots.MultiplesInput{Heading: h, Frequency: float64(base.Supply.Frequency), Point: p.Name, Reference: panels[0].cell.Trace, ReferenceName: h.Language.T("healthy")}
	var alike []string
	for i := range panels[1:] {
		x := &panels[i+1]
		sum := 0.0
		for j, v := range values[i+1] {
			d := v - values[0][j]
			sum += d * d / samples
		}
		if math.Sqrt(sum) < likeHealthy*float64(base.Supply.Voltage) {
			alike = append(alike, x.name)
			continue
		}
		in.Cells = append(in.Cells, x.cell)
	}
	if len(alike) > 0 {
		text := h.Language.F("Like the healthy board here: %s.", strings.Join(alike, ", "))
		in.Caption = strings.TrimSpace(in.Caption + " " + text)
	}
	if len(in.Cells) == 0 {
		return nil, misuse("found no fault that shows at %s in state %s, expected another point or state", p.Name, c.State)
	}
	return plots.Multiples(in)
}
