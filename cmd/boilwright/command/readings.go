package command

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"boilwright/models"
	"boilwright/sim/readings"
)

// readingsOptions are the flags of the command readings.
type readingsOptions struct {
	faultFlags
	conditionFlags
	points, meters []string
	tests, lifted  []string
	asJSON         bool
}

var allStates = append(slices.Clone(liveStates), readings.UnpluggedState.String())

var testNames = []string{readings.Ohmmeter.String(), readings.DiodeTest.String(), readings.Continuity.String(), readings.Insulation.String()}

func (a *app) readings() *cobra.Command {
	o := &readingsOptions{conditionFlags: newConditions(readings.Standby.String())}
	cmd := &cobra.Command{
		Use:   "readings [BOARD]",
		Short: "Print what meters show at the test points",
		Long: wrapped(`Print what the board's meters show at its test points: the display, plus or minus the uncertainty that
the meter's accuracy states, and least..greatest display where a reading depends on when it is taken. A meter loads
the circuit; that is part of the simulation.

Clamp ammeters, round the supply lead and the lead to each element, are listed below the voltmeters.

In state unplugged: ohmmeter, diode, continuity and insulation tests between the same points, both ways round, on
the board in circuit, or with branches lifted. The control plugs are then pulled off, and the drive transistors are
test points too.

Faults act at their full severity, whatever their onset and course.`),
		Example: `  boilwright readings
  boilwright readings --state heating --point dye:output --fault dye:opto-half-wave
  boilwright readings --state heating --point dye:element-lead --fault dye:opto-half-wave
  boilwright readings --state unplugged --point dye:triac --test diode --lift snubber-resistor2
  boilwright readings --state unplugged --point dye:drive --point dye:led --test diode --fault dye:opto-dead`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE:              a.do(o.run),
	}
	o.faultFlags.add(cmd, false)
	o.conditionFlags.add(cmd, allStates...)
	f := cmd.Flags()
	f.StringArrayVarP(&o.points, "point", "p", nil, "a test point or a lead, `NAME`; repeatable [all]")
	f.StringArrayVarP(&o.meters, "meter", "m", nil, "a meter or clamp ammeter of the board, `NAME`; repeatable [all]")
	f.StringArrayVarP(&o.tests, "test", "t", nil, "in state unplugged: `NAME` of an instrument, "+list(testNames, "")+"; repeatable [all]")
	f.StringArrayVar(&o.lifted, "lift", nil, "in state unplugged: take a `BRANCH` out of circuit; repeatable")
	complete(cmd, "point", completePoint)
	complete(cmd, "meter", completeInstrument)
	complete(cmd, "test", completeWords(testNames...))
	complete(cmd, "lift", completeLifted)
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *readingsOptions) run(cmd *cobra.Command, args []string) error {
	t, err := o.load(cmd, args)
	if err != nil {
		return err
	}
	b, err := t.applied()
	if err != nil {
		return err
	}
	c, err := o.conditions(b, allStates...)
	if err != nil {
		return err
	}
	if c.State == readings.UnpluggedState {
		return o.unplugged(cmd, t, b, c)
	}
	if len(o.tests)+len(o.lifted) > 0 {
		return misuse("found --test or --lift in state %s, expected them in state %s only", c.State, readings.UnpluggedState)
	}
	in, err := o.chosen(b)
	if err != nil {
		return err
	}
	volts, amps, err := in.measure(cmd, b, c)
	if err != nil {
		return err
	}
	if o.asJSON {
		return writeJSON(cmd.OutOrStdout(), o.document(t, c, volts, amps))
	}
	return o.print(cmd.OutOrStdout(), t, b, c, in, volts, amps)
}

func chosenMeters(b *models.Board, names []string) ([]models.Meter, error) {
	if len(names) == 0 {
		if len(b.Meters) == 0 {
			return nil, wrongInput(fmt.Errorf("%s: meter: found no meters, expected at least one", b.Name))
		}
		return b.Meters, nil
	}
	var meters []models.Meter
	for _, n := range names {
		i := slices.IndexFunc(b.Meters, func(m models.Meter) bool { return m.Name == n })
		if i < 0 {
			var known []string
			for _, m := range b.Meters {
				known = append(known, m.Name)
			}
			return nil, misuse("--meter: found %q, expected one of %s", n, list(known, "none: the board has no meters"))
		}
		meters = append(meters, b.Meters[i])
	}
	return meters, nil
}

// printSubject writes what was measured and under what conditions.
func (o *readingsOptions) printSubject(w io.Writer, t *target, b *models.Board, c readings.Conditions) {
	fmt.Fprintln(w, t.title())
	fmt.Fprintln(w, o.describe(c, b))
	if t.timed() {
		fmt.Fprintln(w, "faults act at their full severity here, whatever their onset and course")
	}
	fmt.Fprintln(w, notice)
	fmt.Fprintln(w)
}

func (o *readingsOptions) print(w io.Writer, t *target, b *models.Board, c readings.Conditions, in *instruments, volts, amps [][]readings.Value) error {
	o.printSubject(w, t, b, c)
	if len(volts) > 0 {
		fmt.Fprintln(w, wrapped("volts as displayed ± uncertainty; least..greatest where a reading depends on when it is taken; > beyond every range"))
		fmt.Fprintln(w, wrapped("* "+readings.LiveCaution))
		fmt.Fprintln(w)
		heads := []string{"test point"}
		for _, m := range in.meters {
			heads = append(heads, m.Name)
		}
		if err := printValues(w, heads, volts); err != nil {
			return err
		}
	}
	if len(amps) == 0 {
		return nil
	}
	if len(volts) > 0 {
		fmt.Fprintln(w)
	}
	return in.printCurrents(w, amps)
}

// pointName is a test point's name, with a star where the caution applies.
func pointName(p readings.Point) string {
	if p.Live {
		return p.Name + " *"
	}
	return p.Name
}

// display writes a reading as a meter shows it.
func display(v readings.Value) string {
	switch {
	case v.Over:
		return ">" + steps(v.Shown, v.Resolution)
	case v.Varies:
		return steps(v.Low, v.Resolution) + ".." + steps(v.High, v.Resolution)
	}
	return steps(v.Shown, v.Resolution) + "±" + steps(max(v.Uncertainty, v.Resolution), v.Resolution)
}

func (o *readingsOptions) document(t *target, c readings.Conditions, volts, amps [][]readings.Value) *readingsDocument {
	d := &readingsDocument{
		Schema: schemaName("readings"), Notice: notice, Caution: readings.LiveCaution, Board: t.document(),
		State: c.State.String(), Temperature: number(o.temperature.value), Readings: []readingDocument{}, Currents: []currentDocument{},
	}
	for _, row := range volts {
		for _, v := range row {
			d.Readings = append(d.Readings, readingDocument{
				Point: v.Point.Name, Title: v.Point.Title, Live: v.Point.Live, Meter: v.Meter,
				Indicated: number(v.Indicated), Shown: number(v.Shown), Resolution: number(v.Resolution), Uncertainty: number(v.Uncertainty),
				Over: v.Over, Varies: v.Varies, Low: number(v.Low), High: number(v.High),
			})
		}
	}
	for _, row := range amps {
		for _, v := range row {
			d.Currents = append(d.Currents, currentDocument{
				Lead: v.Point.Name, Title: v.Point.Title, Live: v.Point.Live, Clamp: v.Meter,
				Indicated: number(v.Indicated), Shown: number(v.Shown), Resolution: number(v.Resolution), Uncertainty: number(v.Uncertainty),
				Over: v.Over, Varies: v.Varies, Low: number(v.Low), High: number(v.High),
			})
		}
	}
	return d
}
