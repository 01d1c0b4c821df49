package command

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	q "boilwright/models/quantity"
	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/disturbance"
)

// disturbanceOptions are the flags of the command disturbance.
type disturbanceOptions struct {
	faultFlags
	duration     durationValue
	all          bool
	requirements []string
	asJSON       bool
}

// disturbanceTime is that of a long-term severity.
const disturbanceTime = 2 * time.Hour

func (a *app) disturbance() *cobra.Command {
	o := &disturbanceOptions{duration: durationValue(disturbanceTime)}
	cmd := &cobra.Command{
		Use:   "disturbance [BOARD]",
		Short: "Tell what a run does to its supply: harmonics and flicker",
		Long: wrapped(`Simulate a board and tell what it does to the supply that feeds it, at its terminals L and N: relative
voltage changes, flicker as a flickermeter of IEC 61000-4-15 weighs it (P_st of each 10 min, P_lt of 2 h), and the
harmonics of current and voltage to order 40 of every state in which its channels were driven. It is the board's own
supply with its own source impedance and distortion, so that what the supply brings along counts as well. Which limits
hold for a real appliance, and on which source they are tested, local rules say.

--require states what must come out, as QUANTITY,within=VALUE; the exit code is 4 where it does not. The quantities
are ` + list(disturbanceWords(), "") + `.`),
		Example: `  boilwright disturbance
  boilwright disturbance --fault dye:triac-one-way --duration "30 min" --all
  boilwright disturbance -f board:supply-distorted --require pst,within=1 --require class-a,within=1 --json`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE:              a.do(o.run),
	}
	o.faultFlags.add(cmd, true)
	f := cmd.Flags()
	f.VarP(&o.duration, "duration", "d", "simulated `TIME`")
	f.BoolVar(&o.all, "all", false, "print all 40 orders, and all states in which channels were driven")
	f.StringArrayVar(&o.requirements, "require", nil, "state a `QUANTITY,within=VALUE`; repeatable")
	complete(cmd, "require", completeDisturbance)
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *disturbanceOptions) run(cmd *cobra.Command, args []string) error {
	wanted, err := parseDisturbanceRequirements(o.requirements)
	if err != nil {
		return err
	}
	t, err := o.load(cmd, args)
	if err != nil {
		return err
	}
	p := newProgress(cmd, "disturbance")
	x, err := assess(cmd.Context(), t, o.seed, sim.Options{Duration: time.Duration(o.duration), Exact: true, Progress: p.show})
	p.end()
	if err != nil {
		return err
	}
	verdicts := judgeDisturbance(wanted, x)
	out := cmd.OutOrStdout()
	if o.asJSON {
		err = writeJSON(out, o.document(t, x, verdicts))
	} else {
		err = o.print(out, t, x, verdicts)
	}
	if err != nil {
		return err
	}
	if err := failed(verdicts); err != nil {
		return err
	}
	if x.Run.Status == sim.Interrupted {
		return fmt.Errorf("%w: %s of %s", errInterrupted, clock(x.Run.Duration), q.FormatDuration(time.Duration(o.duration)))
	}
	return nil
}

// assess runs a target's board with its faults and tells what it does to its
// supply.
func assess(ctx context.Context, t *target, seed uint64, o sim.Options) (*disturbance.Assessment, error) {
	faulty, err := t.set.Start(seed)
	if err != nil {
		return nil, wrongInput(err)
	}
	if len(t.set) > 0 {
		o.Edits = faulty
	}
	return disturbance.Assess(ctx, t.file.Board, o)
}

func (a *app) figureDisturbance() *cobra.Command {
	o := &struct {
		figureOptions
		duration durationValue
	}{duration: durationValue(disturbanceTime)}
	cmd := &cobra.Command{
		Use:   "disturbance [BOARD]",
		Short: "Draw the harmonics and the flicker of a run",
		Long: wrapped(`Draw what a run does to its supply: the spectra of supply current and of the voltage between L and N, of
the state with the greatest harmonic currents, and what the eye perceives of the flicker over the run, with P_st.`),
		Example:           `  boilwright figure disturbance --fault dye:triac-one-way --duration "30 min" --out dye.svg`,
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
			p := newProgress(cmd, "figure")
			x, err := assess(cmd.Context(), t, o.seed, sim.Options{Duration: time.Duration(o.duration), Exact: true, Progress: p.show})
			p.end()
			if err != nil {
				return err
			}
			if x.MostDistorting() == nil {
				return errInterrupted
			}
			in := plots.FromAssessment(x)
			in.Heading = heading(t, clock(x.Run.Duration)+" of operation, "+x.Run.Status.String()+"; "+source(x))
			s, err := plots.Disturbance(in)
			if err != nil {
				return err
			}
			if err := o.finish(cmd, t, s); err != nil {
				return err
			}
			if x.Run.Status == sim.Interrupted {
				return errInterrupted
			}
			return nil
		}),
	}
	o.figureOptions.add(cmd, "disturbance", true)
	cmd.Flags().VarP(&o.duration, "duration", "d", "simulated `TIME`")
	return cmd
}

// source tells in words on which source impedance a board was simulated.
func source(x *disturbance.Assessment) string {
	z := func(z complex128) string { return fmt.Sprintf("%.2g + j%.2g Ω", real(z), imag(z)) }
	text := "source impedance " + z(x.Impedance)
	if x.Last != x.Impedance {
		text += ", in the end " + z(x.Last) + ","
	}
	text += " at " + q.Format(q.Frequency, float64(x.System.Frequency))
	if x.Reference() {
		text += ", the reference of IEC 60725"
	}
	return text
}
