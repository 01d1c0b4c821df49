package command

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// monitorOptions are the flags of the command monitor.
type monitorOptions struct {
	faultFlags
	temperature       quantityValue[q.Celsius]
	low, high, supply quantityValue[q.Ratio]
	asJSON            bool
}

func (a *app) monitor() *cobra.Command {
	d := readings.DefaultTolerance
	o := &monitorOptions{
		temperature: quantityValue[q.Celsius]{value: 25, min: -40, max: 1000, typ: "TEMPERATURE"},
		low:         quantityValue[q.Ratio]{value: d.ElementLow, min: -0.9, max: 0, typ: "RATIO"},
		high:        quantityValue[q.Ratio]{value: d.ElementHigh, min: 0, max: 9, typ: "RATIO"},
		supply:      quantityValue[q.Ratio]{value: d.Supply, min: 0, max: 0.5, typ: "RATIO"},
	}
	cmd := &cobra.Command{
		Use:   "monitor [BOARD]",
		Short: "Print what the energy monitor shows for every combination of channels",
		Long: wrapped(`Print what a plug-in energy monitor in the supply lead shows for every combination of channels off,
conducting in one half-wave, or on; and which combinations cannot be told apart, because their bands overlap in
watts, in amperes, or in both. The bands allow for the elements' tolerance and the monitor's accuracy.

Half-waves of one polarity add up in the current; of opposed polarity they share it. The power is the same.`),
		Example: `  boilwright monitor
  boilwright monitor --element-low 0 --element-high 0 --supply-tolerance "2 %"`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE:              a.do(o.run),
	}
	o.faultFlags.add(cmd, false)
	f := cmd.Flags()
	f.Var(&o.temperature, "temperature", "`TEMPERATURE` of the elements")
	f.Var(&o.low, "element-low", "least deviation of an element's power, a `RATIO`")
	f.Var(&o.high, "element-high", "greatest deviation of an element's power, a `RATIO`")
	f.Var(&o.supply, "supply-tolerance", "deviation of the supply voltage either way, a `RATIO`; 0 where it was measured")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *monitorOptions) run(cmd *cobra.Command, args []string) error {
	t, err := o.load(cmd, args)
	if err != nil {
		return err
	}
	b, err := t.applied()
	if err != nil {
		return err
	}
	rows, err := readings.MonitorTable(b, circuit.Uniform(len(b.Channels), float64(o.temperature.value)),
		readings.Tolerance{ElementLow: o.low.value, ElementHigh: o.high.value, Supply: o.supply.value})
	if err != nil {
		return err
	}
	if o.asJSON {
		return writeJSON(cmd.OutOrStdout(), monitorDocumentOf(t, rows))
	}
	return o.print(cmd.OutOrStdout(), t, float64(b.Monitor.PowerResolution), float64(b.Monitor.CurrentResolution), rows)
}

func (o *monitorOptions) print(w io.Writer, t *target, watts, amperes float64, rows []readings.Combination) error {
	fmt.Fprintln(w, t.title())
	fmt.Fprintf(w, "energy monitor in the supply lead; elements at %s, %v to +%v of their power, supply ±%v\n", o.temperature.String(), o.low.value, o.high.value, o.supply.value)
	fmt.Fprintln(w, notice)
	fmt.Fprintln(w)
	heads := append([]string{"row"}, t.names...)
	tab := newTable(w, "", append(heads, "W", "W band", "A", "A band", "same W", "same A", "same both")...)
	apart := [3]int{}
	for i, r := range rows {
		cells := []string{strconv.Itoa(i + 1)}
		for _, m := range r.Modes {
			cells = append(cells, m.String())
		}
		tab.row(append(cells,
			steps(r.Power.Nominal, watts), band(r.Power, watts), steps(r.Current.Nominal, amperes), band(r.Current, amperes),
			rowNumbers(r.SamePower), rowNumbers(r.SameCurrent), rowNumbers(r.Same))...)
		for j, same := range [][]int{r.SamePower, r.SameCurrent, r.Same} {
			if len(same) == 0 {
				apart[j]++
			}
		}
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	_, err := fmt.Fprintln(w, wrapped(fmt.Sprintf(`of %d combinations %d can be told from all others in watts, %d in amperes, %d by both together;
reversed is a half-wave of the other polarity; below %v the monitor shows zero`, len(rows), apart[0], apart[1], apart[2], t.file.Board.Monitor.Floor)))
	return err
}

func band(b readings.Band, step float64) string {
	return steps(b.Low, step) + ".." + steps(b.High, step)
}

// rowNumbers writes rows, counted from 1, neighbours drawn together.
func rowNumbers(rows []int) string {
	var parts []string
	for i := 0; i < len(rows); {
		j := i
		for j+1 < len(rows) && rows[j+1] == rows[j]+1 {
			j++
		}
		part := strconv.Itoa(rows[i] + 1)
		if j > i+1 {
			part += "-" + strconv.Itoa(rows[j]+1)
		} else if j == i+1 {
			part += "," + strconv.Itoa(rows[j]+1)
		}
		parts = append(parts, part)
		i = j + 1
	}
	return strings.Join(parts, ",")
}

func monitorDocumentOf(t *target, rows []readings.Combination) *monitorDocument {
	d := &monitorDocument{Schema: schemaName("monitor"), Notice: notice, Board: t.document(), Rows: []combinationDocument{}}
	from1 := func(rows []int) []int {
		out := []int{}
		for _, r := range rows {
			out = append(out, r+1)
		}
		return out
	}
	for i, r := range rows {
		c := combinationDocument{
			Number: i + 1, Opposed: r.Opposed(),
			Power: number(r.Power.Nominal), PowerLow: number(r.Power.Low), PowerHigh: number(r.Power.High),
			Current: number(r.Current.Nominal), CurrentLow: number(r.Current.Low), CurrentHigh: number(r.Current.High),
			SamePower: from1(r.SamePower), SameCurrent: from1(r.SameCurrent), Same: from1(r.Same),
		}
		for _, m := range r.Modes {
			c.Modes = append(c.Modes, m.String())
		}
		d.Rows = append(d.Rows, c)
	}
	return d
}
