package command

import (
	"math"
	"time"

	"github.com/spf13/cobra"

	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim"
)

func (a *app) animateMachine() *cobra.Command {
	o := &struct {
		animationOptions
		duration durationValue
	}{animationOptions: animationOptions{speed: durationValue(6 * time.Minute)}, duration: durationValue(time.Hour)}
	cmd := &cobra.Command{
		Use:   "machine [BOARD]",
		Short: "Show a machine over an hour",
		Long: wrapped(`Show a machine over a time: its boilers filling with heat, elements, thermal links and indicators, what the
plug-in energy monitor displays, and the temperatures drawn along. Each frame is a sample of the run, the last one not
later than the frame's time; samples come at whole control windows.`),
		Example: `  boilwright animate machine --fault dye:triac-shorted --out hour.gif
  boilwright animate machine --duration "20 min" --speed "2 min" --out clip.png --size 1920x1080`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			z, err := o.check()
			if err != nil {
				return err
			}
			times, err := o.frameTimes(0, time.Duration(o.duration).Seconds())
			if err != nil {
				return err
			}
			t, err := o.load(cmd, args)
			if err != nil {
				return err
			}
			p := newProgress(cmd, "animate")
			every := time.Duration(float64(o.speed) / o.rate)
			r, _, err := simulate(cmd.Context(), t, o.seed, sim.Options{Duration: time.Duration(o.duration), Every: max(time.Nanosecond, every), Progress: p.show})
			p.end()
			if err != nil {
				return err
			}
			if r.Status == sim.Interrupted {
				return errInterrupted
			}
			if len(r.Samples) < 2 {
				return misuse("--duration: found %s, which is too short, expected at least a control window", o.duration.String())
			}
			in, err := machineOf(t, r, times, &o.animationOptions)
			if err != nil {
				return err
			}
			film, err := plots.Machine(in)
			if err != nil {
				return misused(err)
			}
			return o.finish(cmd, t, film, z)
		}),
	}
	o.animationOptions.add(cmd, "machine", "a second of the animation", true)
	cmd.Flags().VarP(&o.duration, "duration", "d", "simulated `TIME`")
	return cmd
}

// machineOf makes the animation's input of a run at the frames' times.
func machineOf(t *target, r *sim.Result, times []float64, o *animationOptions) (plots.MachineInput, error) {
	in := plots.MachineInput{Rate: o.rate}
	h, err := o.teaching(t, nil)
	if err != nil {
		return in, err
	}
	in.Heading = h
	in.DisplayName = h.Language.T("plug-in energy monitor")
	b := r.Board
	for k := range b.Channels {
		c := &b.Channels[k]
		m := plots.MachineChannel{Name: c.Name, Set: math.NaN(), Link: float64(c.Link.Functions), Fill: float64(c.Boiler.Water)}
		if c.Control.Enabled {
			m.Set = float64(c.Control.SetPoint)
		}
		in.Channels = append(in.Channels, m)
	}
	next := 0
	for _, at := range times {
		for next+1 < len(r.Samples) && r.Samples[next+1].Time.Seconds() <= at+1e-9 {
			next++
		}
		s := &r.Samples[next]
		in.Time = append(in.Time, s.Time.Seconds())
		in.Display = append(in.Display, monitorText(&b.Monitor, s))
		for k := range in.Channels {
			m, x := &in.Channels[k], &s.Channels[k]
			m.Water, m.Element, m.Mass = append(m.Water, x.Water), append(m.Element, x.Element), append(m.Mass, x.Mass)
			m.Drive, m.Power = append(m.Drive, x.Drive), append(m.Power, x.Power)
			m.Indicator, m.LinkOpen = append(m.Indicator, plots.Indicator(x.Indicator)), append(m.LinkOpen, x.LinkOpen)
		}
	}
	in.Events = plots.FromResult(r).Events
	return in, nil
}

// monitorText is what the energy monitor shows for a sample.
func monitorText(m *models.EnergyMonitor, s *sim.Sample) string {
	return steps(m.ShowPower(s.Power), float64(m.PowerResolution)) + " W"
}
