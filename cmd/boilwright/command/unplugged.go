package command

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// deadTest is one test on the unplugged board.
type deadTest struct {
	point    string
	reversed bool
	readings.Dead
}

// insulationPoint is what an insulation test is listed as; it goes there
// whatever the test point.
const insulationPoint = "line and neutral joined, to earth"

func (o *readingsOptions) unplugged(cmd *cobra.Command, t *target, b *models.Board, c readings.Conditions) error {
	if len(o.meters) > 0 || len(o.off) > 0 {
		return misuse("found --meter or --off in state %s, expected --test", c.State)
	}
	names := o.tests
	if len(names) == 0 {
		names = testNames
	}
	var tests []readings.Test
	for _, n := range names {
		x, err := readings.ParseTest(n)
		if err != nil {
			return misused(err)
		}
		tests = append(tests, x)
	}
	if err := o.checkLifted(b); err != nil {
		return err
	}
	points := readings.UnpluggedPoints(b)
	if len(o.points) > 0 {
		points = nil
		for _, n := range o.points {
			p, err := readings.FindUnpluggedPoint(b, n)
			if err != nil {
				return misused(err)
			}
			points = append(points, p)
		}
	}
	found, err := o.carryOut(cmd.Context(), b, c.Temps, points, tests)
	if err != nil {
		return err
	}
	if o.asJSON {
		return writeJSON(cmd.OutOrStdout(), o.unpluggedDocument(t, found))
	}
	return o.printUnplugged(cmd.OutOrStdout(), t, b, c, tests, found)
}

func (o *readingsOptions) checkLifted(b *models.Board) error {
	s, err := circuit.New(b)
	if err != nil {
		return err
	}
	control, err := circuit.ControlBranches(b)
	if err != nil {
		return err
	}
	for _, name := range o.lifted {
		if known := append(s.Branches(), control...); !slices.Contains(known, name) {
			return misuse("--lift: found branch %q, expected one of %v", name, known)
		}
	}
	return nil
}

// carryOut carries out every test at every point, both ways round.
func (o *readingsOptions) carryOut(ctx context.Context, b *models.Board, t circuit.Temperatures, points []readings.Point, tests []readings.Test) ([]deadTest, error) {
	var jobs []deadTest
	for _, p := range points {
		for _, x := range tests {
			if x == readings.Insulation {
				continue
			}
			jobs = append(jobs, deadTest{p.Name, false, readings.Dead{Test: x, Plus: p.Plus, Minus: p.Minus}},
				deadTest{p.Name, true, readings.Dead{Test: x, Plus: p.Minus, Minus: p.Plus}})
		}
	}
	if slices.Contains(tests, readings.Insulation) {
		jobs = append(jobs, deadTest{insulationPoint, false, readings.Dead{Test: readings.Insulation}})
	}
	err := parallel(len(jobs), func(i int) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		j := &jobs[i]
		d, err := readings.Unplugged(b, t, j.Test, j.Plus, j.Minus, o.lifted...)
		if err != nil {
			return fmt.Errorf("test point %s, %s: %w", j.point, j.Test, err)
		}
		j.Dead = d
		return nil
	})
	return jobs, err
}

func (o *readingsOptions) printUnplugged(w io.Writer, t *target, b *models.Board, c readings.Conditions, tests []readings.Test, found []deadTest) error {
	o.printSubject(w, t, b, c)
	if len(o.lifted) > 0 {
		fmt.Fprintln(w, "lifted out of circuit: "+list(o.lifted, ""))
	}
	fmt.Fprintln(w, wrapped("caution: "+readings.UnpluggedCaution))
	if slices.ContainsFunc(found, func(x deadTest) bool { return x.Plus.Place.Control() }) {
		fmt.Fprintln(w, wrapped("control plugs pulled off: drive and led are on the board, transistor and transistor-base on the controller"))
	}
	fmt.Fprintln(w, wrapped("each test one way / the other way round, the positive lead first on the node named first"))
	fmt.Fprintln(w)
	heads := []string{"test point", "nodes"}
	for _, x := range tests {
		if x != readings.Insulation {
			heads = append(heads, x.String())
		}
	}
	if len(heads) > 2 {
		tab := newTable(w, "", heads...)
		columns := len(heads) - 2
		for i := 0; i+2*columns <= len(found); i += 2 * columns {
			row := []string{found[i].point, found[i].Plus.String() + " " + found[i].Minus.String()}
			for j := range columns {
				row = append(row, shown(found[i+2*j].Dead)+" / "+shown(found[i+2*j+1].Dead))
			}
			tab.row(row...)
		}
		if err := tab.flush(); err != nil {
			return err
		}
	}
	if last := found[len(found)-1]; last.Test == readings.Insulation {
		if len(heads) > 2 {
			fmt.Fprintln(w)
		}
		fmt.Fprintf(w, "insulation at 500 V, %s: %s\n", insulationPoint, shown(last.Dead))
		fmt.Fprintln(w, wrapped("caution: the tester puts 500 V on line and neutral, and what is charged stays so: discharge it afterwards; never test across a part"))
	}
	return nil
}

// shown writes the result of a test on the unplugged board.
func shown(d readings.Dead) string {
	switch {
	case d.Test == readings.Continuity && d.Beeps:
		return "beeps"
	case d.Test == readings.Continuity:
		return "silent"
	case d.Open:
		return "open"
	case d.Test == readings.DiodeTest:
		return steps(d.Volts, 0.001) + " V"
	}
	return strings.TrimSpace(q.Digits(q.Ohm(d.Ohms), 3))
}

func (o *readingsOptions) unpluggedDocument(t *target, found []deadTest) *unpluggedDocument {
	d := &unpluggedDocument{
		Schema: schemaName("unplugged"), Notice: notice, Caution: readings.UnpluggedCaution, Board: t.document(),
		Temperature: number(o.temperature.value), Lifted: append([]string{}, o.lifted...), Tests: []testDocument{},
	}
	for _, x := range found {
		d.Tests = append(d.Tests, testDocument{
			Point: x.point, Test: x.Test.String(), Reversed: x.reversed, Plus: x.Plus.String(), Minus: x.Minus.String(),
			Ohms: optional(x.Ohms), Volts: optional(x.Volts), Open: x.Open, Beeps: x.Beeps,
		})
	}
	return d
}
