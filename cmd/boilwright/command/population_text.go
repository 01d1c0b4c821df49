package command

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	q "boilwright/models/quantity"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

func (t *tally) print(w io.Writer, files []string) error {
	o := t.options
	fmt.Fprintf(w, "%s\n", t.target.title())
	if n := t.target.file.Board.Note; n != "" {
		fmt.Fprintln(w, indented("  ", n+"."))
	}
	fmt.Fprintf(w, "%d boards drawn from index %d with seed %d: %d healthy, %d with faults", t.done, o.from, o.seed, t.healthy, t.done-t.healthy)
	if t.unsolved > 0 {
		fmt.Fprintf(w, ", %d without a solution", t.unsolved)
	}
	fmt.Fprint(w, "\n\n")
	var err error
	switch o.job {
	case jobDraw:
		err = t.printDrawn(w)
	case jobReadings:
		err = t.printReadings(w)
	default:
		err = t.printRuns(w)
	}
	if err != nil {
		return err
	}
	if len(t.faults) > 0 {
		fmt.Fprintln(w)
		if err := t.printFaults(w); err != nil {
			return err
		}
	}
	if t.unsolved > 0 {
		fmt.Fprintf(w, "\n%s\n", wrapped(fmt.Sprintf("Without a solution, the first: board %d: %s", t.problemAt, t.problem)))
	}
	if len(files) > 0 {
		fmt.Fprintln(w)
		for _, f := range files {
			fmt.Fprintln(w, f)
		}
	}
	_, err = fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

// digitsShown is how many significant digits of a drawn value are told.
const digitsShown = 4

func (t *tally) printDrawn(w io.Writer) error {
	tab := newTable(w, "", "drawn", "law", "nominal", "mean", "deviation", "least", "greatest")
	for k, c := range t.columns {
		m := &t.drawn[k]
		show := func(v float64) string {
			if math.IsNaN(v) {
				return ""
			}
			return q.FormatDigits(c.Dimension, v, digitsShown)
		}
		deviation := m.deviation()
		spread := show(deviation)
		if c.Dimension == q.Temperature && spread != "" {
			spread = q.FormatDigits(q.TemperatureDifference, deviation, digitsShown)
		}
		tab.row(c.Name, c.Spread.String(), show(c.Nominal), show(m.mean), spread, show(m.lowest), show(m.highest))
	}
	return tab.flush()
}

func (t *tally) printReadings(w io.Writer) error {
	if t.healthy == 0 {
		fmt.Fprintln(w, "no healthy boards to sum up; --out writes every board")
		return nil
	}
	n := 0 // labels told
	for i, state := range t.plan.States {
		if i > 0 {
			fmt.Fprintln(w)
		}
		fmt.Fprintln(w, wrapped(fmt.Sprintf("%v, healthy boards: volts as displayed by a meter of each board, mean ± standard deviation; > beyond every range on some", state)))
		fmt.Fprintln(w, wrapped("* "+readings.LiveCaution))
		fmt.Fprintln(w)
		heads := []string{"test point"}
		for i := range t.plan.Meters {
			heads = append(heads, t.plan.Meters[i].Name)
		}
		tab := newTable(w, "", heads...)
		for _, at := range t.plan.Points {
			tab.row(t.cells(pointName(at), &n, len(t.plan.Meters))...)
		}
		if err := tab.flush(); err != nil {
			return err
		}
	}
	for _, state := range t.plan.States {
		if len(t.plan.Leads) == 0 {
			break
		}
		fmt.Fprintf(w, "\n%s\n\n", wrapped(fmt.Sprintf("%v, healthy boards: amperes, likewise. * %s", state, readings.ClampCaution)))
		heads := []string{"lead"}
		for i := range t.plan.Clamps {
			heads = append(heads, t.plan.Clamps[i].Name)
		}
		tab := newTable(w, "", heads...)
		for _, l := range t.plan.Leads {
			tab.row(t.cells(l.Name+" *", &n, len(t.plan.Clamps))...)
		}
		if err := tab.flush(); err != nil {
			return err
		}
	}
	if !t.plan.Monitor {
		return nil
	}
	fmt.Fprintln(w)
	tab := newTable(w, "", "energy monitor", "W", "A")
	for _, state := range t.plan.States {
		tab.row(t.cells(state.String(), &n, 2)...)
	}
	return tab.flush()
}

// cells is a row of the next so many labels after its name.
func (t *tally) cells(name string, n *int, count int) []string {
	out := []string{name}
	for range count {
		out = append(out, t.read[*n].text())
		*n++
	}
	return out
}

// text writes mean and standard deviation with the digits that the latter
// leaves.
func (r *readTally) text() string {
	over := ""
	if r.over > 0 {
		over = ">"
	}
	d := r.shown.deviation()
	switch {
	case r.shown.n == 0:
		return over
	case math.IsNaN(d) || d == 0:
		return over + strconv.FormatFloat(r.shown.mean, 'f', 1, 64)
	}
	places := min(4, max(0, 1-int(math.Floor(math.Log10(d)))))
	return over + strconv.FormatFloat(r.shown.mean, 'f', places, 64) + "±" + strconv.FormatFloat(d, 'f', places, 64)
}

func (t *tally) printRuns(w io.Writer) error {
	fmt.Fprintf(w, "%s of operation each\n\n", q.FormatDuration(time.Duration(t.options.duration)))
	tab := newTable(w, "", "channel", "in band after", "element", "at the end", "verdict", "healthy", "with faults")
	for k := range t.channels {
		x := &t.channels[k]
		cells := []string{t.target.names[k], "", "", ""}
		if x.reached.n > 0 {
			cells[1] = fmt.Sprintf("%s ± %s", clock(inSeconds(x.reached.mean)), clock(inSeconds(orZero(x.reached.deviation()))))
		}
		if x.energy.n > 0 {
			cells[2] = fmt.Sprintf("%.3f ± %.3f kWh", x.energy.mean/3.6e6, orZero(x.energy.deviation())/3.6e6)
			cells[3] = fmt.Sprintf("%.1f ± %.1f °C", x.final.mean, orZero(x.final.deviation()))
		}
		for _, v := range allVerdicts {
			if x.healthy[v]+x.faulty[v] == 0 {
				continue
			}
			tab.row(append(cells, string(v), strconv.FormatUint(x.healthy[v], 10), strconv.FormatUint(x.faulty[v], 10))...)
			cells = []string{" ", " ", " ", " "}
		}
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	note(w, "Means ± standard deviations are of healthy boards. A board with a fault counts on every channel, whichever has it.")
	return nil
}

func inSeconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// orZero is v, or 0 where it is no number.
func orZero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

func (t *tally) printFaults(w io.Writer) error {
	heads := []string{"fault", "boards"}
	if t.options.job == jobRun {
		heads = append(heads, "every channel at set point", "otherwise most often")
	}
	if t.unsolved > 0 {
		heads = append(heads, "without a solution")
	}
	tab := newTable(w, "", heads...)
	for _, name := range t.seenFaults() {
		x := t.faults[name]
		cells := []string{name, strconv.FormatUint(x.boards, 10)}
		if t.options.job == jobRun {
			most, n := foremost(x.verdicts)
			text := ""
			if n > 0 {
				text = fmt.Sprintf("%s (%d)", most, n)
			}
			cells = append(cells, strconv.FormatUint(x.unseen, 10), text)
		}
		if t.unsolved > 0 {
			cells = append(cells, strconv.FormatUint(x.unsolved, 10))
		}
		tab.row(cells...)
	}
	return tab.flush()
}

// printExplained writes what is drawn, how, and where that comes from.
func (o *populationOptions) printExplained(w io.Writer, t *target, p *population.Population, s population.Spec) error {
	if o.asJSON {
		return misuse("found --explain and --json, expected one of them")
	}
	columns := map[string]int{}
	for _, c := range p.Columns() {
		columns[c.Parameter]++
	}
	fmt.Fprintf(w, "%s\n\n", t.title())
	tab := newTable(w, "", "parameter", "on this board", "bounds are a", "law", "what it is", "source of the default")
	for _, x := range population.Parameters() {
		tab.row(x.Name, strconv.Itoa(columns[x.Name]), x.Kind.String(), x.Of(&s.Tolerances).String(), x.Doc, x.Source)
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	note(w, "Normal and lognormal laws have their bounds at three standard deviations and are cut off there. "+
		"Healthy: %v of boards; a further fault with the probability %v; %d faults in %d places, each fault equally often and evenly over its channels: assumption, not statistics. "+
		"Severities of faults with degrees are even between 60 %% and 100 %%: assumption.", s.Rates.Healthy, s.Rates.More, distinct(s.Rates.Faults), len(s.Rates.Faults))
	return nil
}

// distinct counts the faults of rates, whatever their place.
func distinct(rates []population.Rate) int {
	seen := map[string]bool{}
	for _, r := range rates {
		seen[r.Fault] = true
	}
	return len(seen)
}
