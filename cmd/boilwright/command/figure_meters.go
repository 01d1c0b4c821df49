package command

import (
	"github.com/spf13/cobra"

	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim/readings"
)

func (a *app) figureMeters() *cobra.Command {
	o := &struct {
		figureOptions
		headingFlags
		conditionFlags
		point string
	}{conditionFlags: newConditions(readings.Heating.String())}
	cmd := &cobra.Command{
		Use:   "meters [BOARD]",
		Short: "Draw what each meter shows of one waveform",
		Long: wrapped(`Draw the waveform at a test point with its rms, average and mean as lines, and under it what every meter of the
board shows there and by which rule.`),
		Example:           `  boilwright figure meters --fault dye:opto-half-wave`,
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
			k, err := t.shown("")
			if err != nil {
				return err
			}
			p, err := t.pointFor(o.point, k)
			if err != nil {
				return err
			}
			s, err := meterSheet(t, p, &o.conditionFlags, &o.headingFlags)
			if err != nil {
				return err
			}
			return o.finish(cmd, t, s)
		}),
	}
	o.figureOptions.add(cmd, "meters", false)
	o.headingFlags.add(cmd)
	o.conditionFlags.add(cmd, steadyStates...)
	addPointFlag(cmd, &o.point)
	return cmd
}

// detectorRules say in English what each detector does.
var detectorRules = map[models.Detector]string{
	models.AverageFullWave:        "mean of |v| × 1.11",
	models.AverageFullWaveCoupled: "mean of |v| × 1.11, direct part blocked",
	models.AverageHalfWave:        "mean of the positive half × 2.22",
	models.RMSCoupled:             "root of the mean square, direct part blocked",
	models.RMSDirect:              "root of the mean square",
	models.Direct:                 "mean of v",
}

// meterSheet draws what each meter shows at a test point.
func meterSheet(t *target, p readings.Point, flags *conditionFlags, words *headingFlags) (*plots.Sheet, error) {
	b, err := t.applied()
	if err != nil {
		return nil, err
	}
	c, err := flags.conditions(b, steadyStates...)
	if err != nil {
		return nil, err
	}
	h, err := words.teaching(t, func(l *plots.Language) string { return flags.describeIn(l, c, b) })
	if err != nil {
		return nil, err
	}
	in := plots.DetectorsInput{Heading: h, Frequency: float64(b.Supply.Frequency), Point: p.Name}
	var w *readings.Waveform
	if in.Trace, w, err = pointTrace(b, p, c, 1, 1200); err != nil {
		return nil, err
	}
	sig, err := w.Solver.Voltage(p.Plus, p.Minus)
	if err != nil {
		return nil, err
	}
	m := w.Recording.Moments(sig)
	in.Mean, in.RMS, in.Average = m.Mean, models.RMSDirect.Indicated(m), models.AverageFullWave.Indicated(m)
	meters := b.Meters[:min(12, len(b.Meters))]
	values, err := readings.At(b, p, meters, c)
	if err != nil {
		return nil, err
	}
	for i, v := range values {
		in.Readings = append(in.Readings, plots.DetectorReading{
			Meter: meters[i].Name, Rule: h.Language.T(detectorRules[meters[i].Detector]) + ", " + short(meters[i].Resistance),
			Value: v.Shown, Uncertainty: v.Uncertainty, Over: v.Over,
		})
	}
	return plots.Detectors(in)
}
