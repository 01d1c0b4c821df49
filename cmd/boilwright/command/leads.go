package command

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"boilwright/models"
	"boilwright/sim/readings"
)

// instruments are what is measured with the supply on: voltmeters at test
// points, and clamp ammeters round leads.
type instruments struct {
	points []readings.Point
	meters []models.Meter
	leads  []readings.Lead
	clamps []models.Clamp
}

// chosen sorts the named test points and meters, which may be leads and clamp
// ammeters; none named is all that suit.
func (o *readingsOptions) chosen(b *models.Board) (*instruments, error) {
	in := &instruments{points: readings.Points(b), meters: b.Meters, leads: readings.Leads(b), clamps: b.Clamps}
	if len(o.points) > 0 {
		var points, leads []string
		for _, n := range o.points {
			if _, err := readings.FindLead(b, n); err == nil {
				leads = append(leads, n)
			} else {
				points = append(points, n)
			}
		}
		in.points, in.leads = nil, nil
		for _, n := range points {
			p, err := readings.FindPoint(b, n)
			if err != nil {
				return nil, misuse("%v, or a lead, one of %s", err, list(namesOfLeads(b), ""))
			}
			in.points = append(in.points, p)
		}
		for _, n := range leads {
			l, err := readings.FindLead(b, n)
			if err != nil {
				return nil, misused(err)
			}
			in.leads = append(in.leads, l)
		}
	}
	if len(o.meters) > 0 {
		var volts []string
		in.clamps = nil
		for _, n := range o.meters {
			i := slices.IndexFunc(b.Clamps, func(m models.Clamp) bool { return m.Name == n })
			if i < 0 {
				volts = append(volts, n)
				continue
			}
			in.clamps = append(in.clamps, b.Clamps[i])
		}
		in.meters = nil
		if len(volts) > 0 {
			var err error
			if in.meters, err = chosenMeters(b, volts); err != nil {
				return nil, err
			}
		}
	}
	return in, in.match(o)
}

// match refuses what is asked for and has no instrument that suits, and drops
// what is not.
func (in *instruments) match(o *readingsOptions) error {
	switch {
	case len(o.points) > 0 && len(in.points) > 0 && len(in.meters) == 0:
		return wrongInput(fmt.Errorf("meter: found none for %s, expected a voltmeter", in.points[0].Name))
	case len(o.points) > 0 && len(in.leads) > 0 && len(in.clamps) == 0:
		return wrongInput(fmt.Errorf("clamp: found none for %s, expected a clamp ammeter", in.leads[0].Name))
	case len(o.meters) > 0 && len(in.meters) > 0 && len(in.points) == 0:
		return misuse("--meter: found voltmeter %s, expected a clamp ammeter at a lead", in.meters[0].Name)
	case len(o.meters) > 0 && len(in.clamps) > 0 && len(in.leads) == 0:
		return misuse("--meter: found clamp ammeter %s, expected a voltmeter at a test point", in.clamps[0].Name)
	case len(in.meters) == 0 && len(in.clamps) == 0:
		return wrongInput(fmt.Errorf("meter: found no meters, expected at least one"))
	}
	if len(in.meters) == 0 {
		in.points = nil
	}
	if len(in.clamps) == 0 {
		in.leads = nil
	}
	return nil
}

func namesOfLeads(b *models.Board) []string {
	var names []string
	for _, l := range readings.Leads(b) {
		names = append(names, l.Name)
	}
	return names
}

// measure takes all readings, by test point and by lead.
func (in *instruments) measure(cmd *cobra.Command, b *models.Board, c readings.Conditions) (volts, amps [][]readings.Value, err error) {
	n := len(in.points)
	values := make([][]readings.Value, n+len(in.leads))
	err = parallel(len(values), func(i int) (err error) {
		if err := cmd.Context().Err(); err != nil {
			return err
		}
		if i < n {
			values[i], err = readings.At(b, in.points[i], in.meters, c)
		} else {
			values[i], err = readings.Around(b, in.leads[i-n], in.clamps, c)
		}
		return err
	})
	return values[:n], values[n:], err
}

// printCurrents writes what clamp ammeters show.
func (in *instruments) printCurrents(w io.Writer, values [][]readings.Value) error {
	fmt.Fprintln(w, wrapped("amperes as displayed, round one conductor; a current transformer passes no direct component"))
	fmt.Fprintln(w, wrapped("* "+readings.ClampCaution+"; "+readings.LiveCaution))
	fmt.Fprintln(w)
	heads := []string{"lead"}
	for _, m := range in.clamps {
		heads = append(heads, m.Name)
	}
	return printValues(w, heads, values)
}

// printValues writes a table of readings.
func printValues(w io.Writer, heads []string, values [][]readings.Value) error {
	tab := newTable(w, "", heads...)
	for _, row := range values {
		cells := []string{pointName(row[0].Point)}
		for _, v := range row {
			cells = append(cells, display(v))
		}
		tab.row(cells...)
	}
	return tab.flush()
}
