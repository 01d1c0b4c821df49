package command

import (
	"fmt"
	"io"
	"math"
	"strings"

	"boilwright/faults"
	"boilwright/sim"
	"boilwright/sim/readings"
)

// tell prints the story, each part as soon as it is worked out.
func (w *demoWork) tell(out io.Writer, o *demoOptions) error {
	b := w.healthy.file.Board
	fmt.Fprintf(out, "%s (%s)\n", b.Name, b.Note)
	note(out, "%s.", notice)
	if err := w.tellRuns(out); err != nil {
		return err
	}
	if err := w.tellReadings(out); err != nil {
		return err
	}
	if err := w.tellComparison(out); err != nil {
		return err
	}
	files, err := w.write(o.out)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n5. Figures in the folder %s, each with its text alternative\n\n", o.out)
	for _, f := range files {
		fmt.Fprintln(out, "  "+f)
	}
	fmt.Fprintln(out)
	note(out, `Go on with "boilwright run --fault dye:triac-shorted,severity=50%%", "boilwright faults opto-one-way", "boilwright readings --state heating" or "boilwright --help".`)
	return nil
}

func (w *demoWork) tellRuns(out io.Writer) error {
	var healthy *sim.Result
	for i, l := range w.runs {
		r, err := l.wait()
		if err != nil {
			return err
		}
		switch i {
		case 0:
			fmt.Fprint(out, "\n1. A healthy hour\n\n")
		case 1:
			fmt.Fprint(out, "\n2. Three faults, an hour each\n")
			fallthrough
		default:
			f, _ := faults.Find(w.targets[i-1].set[0].Fault)
			fmt.Fprintf(out, "\n--fault %s: %s\n", w.targets[i-1].texts()[0], f.Title)
			fmt.Fprintln(out, indented("  ", f.What))
		}
		if len(r.result.Samples) == 0 { // interrupted before anything was simulated
			return errInterrupted
		}
		if err := printOutcomes(out, "  ", r.result); err != nil {
			return err
		}
		fmt.Fprintln(out, indented("  ", "energy through the plug "+energy(r.result.Supply.Plug)+against(r.result, healthy)))
		if r.result.Status == sim.Interrupted {
			return fmt.Errorf("%w: %s of this hour", errInterrupted, clock(r.result.Duration))
		}
		if i == 0 {
			healthy = r.result
		}
	}
	return nil
}

// against tells how the energies of a run differ from the healthy one's.
func against(r, healthy *sim.Result) string {
	if healthy == nil {
		return ""
	}
	difference := func(a, b float64) string { return fmt.Sprintf("%+.3f kWh", (a-b)/3.6e6+0) }
	var parts []string
	for k, o := range r.Outcomes {
		parts = append(parts, o.Channel+" "+difference(elementEnergy(r, k), elementEnergy(healthy, k)))
	}
	return ", " + difference(r.Supply.Plug, healthy.Supply.Plug) + " against the healthy hour: " + strings.Join(parts, ", ")
}

func (w *demoWork) tellReadings(out io.Writer) error {
	fmt.Fprint(out, "\n3. What meters show, healthy → faulty, where a reading differs by more than the uncertainties\n\n")
	note(out, "Caution: every point marked * is a %s. %s.", readings.LiveCaution, "Unplugged tests come first")
	for i := range demoFaults {
		for s, state := range demoStates {
			healthy, err := w.tables[s][0].wait()
			if err != nil {
				return err
			}
			faulty, err := w.tables[s][1+i].wait()
			if err != nil {
				return err
			}
			rows := differing(healthy, faulty)
			rows, others := elsewhere(rows, faulty, w.targets[i].set[0].Channel)
			fmt.Fprintf(out, "\n--fault %s, %s: ", w.targets[i].texts()[0], state)
			if len(rows)+len(others) == 0 {
				fmt.Fprintf(out, "all %d test points read as on the healthy board\n", len(faulty))
				continue
			}
			fmt.Fprintf(out, "%d of %d test points differ (volts)\n", len(rows)+len(others), len(faulty))
			t := newTable(out, "  ", append([]string{"test point"}, demoMeters[state]...)...)
			for _, r := range rows {
				cells := []string{pointName(faulty[r][0].Point)}
				for j, f := range faulty[r] {
					h := healthy[r][j]
					cells = append(cells, steps(h.Shown, h.Resolution)+" → "+steps(f.Shown, f.Resolution))
				}
				t.row(cells...)
			}
			if err := t.flush(); err != nil {
				return err
			}
			if len(others) > 0 {
				fmt.Fprintln(out, indented("  ", largest(others, healthy, faulty)))
			}
		}
	}
	return nil
}

// elsewhere takes the test points of other channels than the given one out of
// rows.
func elsewhere(rows []int, values [][]readings.Value, channel int) (here, others []int) {
	for _, r := range rows {
		if c := values[r][0].Point.Channel; c >= 0 && c != channel {
			others = append(others, r)
		} else {
			here = append(here, r)
		}
	}
	return here, others
}

// largest tells the largest difference among rows.
func largest(rows []int, healthy, faulty [][]readings.Value) string {
	var a, b readings.Value
	most := -1.0
	for _, r := range rows {
		for j, f := range faulty[r] {
			h := healthy[r][j]
			if d := math.Abs(f.Shown - h.Shown); d > most {
				most, a, b = d, h, f
			}
		}
	}
	return fmt.Sprintf("%d of them on other channels, most at %s on the meter %q: %s → %s V", len(rows), pointName(b.Point), b.Meter,
		steps(a.Shown, a.Resolution), steps(b.Shown, b.Resolution))
}

// littleVolts is what counts as hardly any voltage when faults are listed.
const littleVolts = 1.0

func (w *demoWork) tellComparison(out io.Writer) error {
	c, err := w.comparison.wait()
	if err != nil {
		return err
	}
	g := c.given
	fmt.Fprint(out, "\n4. What one reading implies\n\n")
	note(out, `Say that the meter "%s" at %s shows %s V in %s (%s; a live test: see the caution above). Its accuracy makes that ±%s V. Every fault of the catalogue on this channel, at full severity, and the healthy board were simulated with the same meter at the same point. This compares simulated readings; it is not a full inference, which would weigh how likely each fault is, at every severity.`,
		g.Meter, g.Point.Name, steps(g.Shown, g.Resolution), g.State, g.Point.Title, steps(g.Uncertainty, g.Resolution))
	fmt.Fprintln(out)
	t := newTable(out, "  ", "within the uncertainty", "shows")
	for _, x := range c.fits {
		t.row(candidateName(x), steps(x.value.Shown, x.value.Resolution)+" V")
	}
	if err := t.flush(); err != nil {
		return err
	}
	var apart, little []string
	for _, x := range c.excluded {
		if v := x.value.Shown; v < littleVolts {
			little = append(little, candidateName(x))
		} else {
			apart = append(apart, candidateName(x)+" "+steps(v, x.value.Resolution)+" V")
		}
	}
	fmt.Fprintln(out, indented("  ", "excluded: "+strings.Join(apart, ", ")+"."))
	fmt.Fprintln(out, indented("  ", fmt.Sprintf("excluded, as they show less than %g V (%d): %s.", littleVolts, len(little), strings.Join(little, ", "))))
	if len(c.lacking) > 0 {
		fmt.Fprintln(out, indented("  ", "of a part that this board lacks: "+strings.Join(c.lacking, ", ")+"."))
	}
	fmt.Fprintln(out)
	note(out, "What would tell those that fit apart, before any live test: the diode test across the triac (%s), as the simulated board shows it. Caution: %s.", demoTriac, readings.UnpluggedCaution)
	t = newTable(out, "  ", "fault", "positive lead on MT2", "on MT1")
	for _, n := range c.next {
		t.row(n.name, shown(n.forward), shown(n.reverse))
	}
	return t.flush()
}

func candidateName(x candidate) string {
	if x.name == "" {
		return "healthy"
	}
	return x.name
}
