package command

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"boilwright/sim/disturbance"
)

// What the text leaves out without --all: orders below these parts of the
// fundamental, and states beyond the longest few.
const (
	littleHarmonic = 0.001
	fewStates      = 8
)

func (o *disturbanceOptions) print(w io.Writer, t *target, x *disturbance.Assessment, verdicts []verdict) error {
	fmt.Fprintf(w, "%s\n", t.title())
	if n := t.file.Board.Note; n != "" {
		fmt.Fprintln(w, indented("  ", n+"."))
	}
	fmt.Fprintf(w, "%s of operation, %s; voltage between L and N on the board\n", clock(x.Run.Duration), x.Run.Status)
	fmt.Fprintf(w, "%s; lamp of the flickermeter: %s\n", source(x), strings.TrimSuffix(x.System.Lamp.String(), " lamp"))
	if x.Observed < x.Run.Duration {
		fmt.Fprintf(w, "the board was cut off at %s; what follows is until then\n", clock(x.Observed))
	}
	if err := printSummary(w, x); err != nil {
		return err
	}
	if len(x.Patterns) == 0 {
		fmt.Fprintln(w, "\ninterrupted before the harmonics were analysed")
	} else {
		if err := o.printStates(w, x); err != nil {
			return err
		}
		if err := o.printOrders(w, x); err != nil {
			return err
		}
	}
	if len(verdicts) > 0 {
		fmt.Fprintln(w)
		for _, v := range verdicts {
			fmt.Fprintf(w, "required %s: %s\n", v.text, map[bool]string{true: "met", false: "not met, " + v.why}[v.met])
		}
	}
	fmt.Fprintln(w)
	note(w, "Limits stand here to compare with. Which of them hold, for which appliance and on which supply, local rules say; a type test takes a real appliance, the reference impedance and a clean source.")
	_, err := fmt.Fprintln(w, notice)
	return err
}

// printSummary writes what there is a limit for, and the severities.
func printSummary(w io.Writer, x *disturbance.Assessment) error {
	fmt.Fprintln(w)
	tab := newTable(w, "", "quantity", "found", "limit", "of limit", "where the limit is from")
	for _, c := range x.Checks() {
		tab.row(c.What, figure(c.Value, c.Unit), figure(c.Limit, c.Unit), fmt.Sprintf("%.0f %%", 100*c.Ratio()), c.Source)
	}
	tab.row("voltage changes a minute", strconv.FormatFloat(x.Voltage.PerMinute, 'f', 1, 64), "", "", "")
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	for _, s := range []struct {
		name, meant string
		of          []disturbance.Severity
	}{{"P_st", "10 min", x.Short}, {"P_lt", "2 h", x.Long}} {
		var parts []string
		for _, v := range s.of {
			text := strconv.FormatFloat(v.Value, 'f', 2, 64)
			if !v.Whole {
				text += " (of " + clock(v.To-v.From) + " only)"
			}
			parts = append(parts, text)
		}
		fmt.Fprintln(w, wrapped(s.name+" of each "+s.meant+": "+list(parts, "none, the run is too short")))
	}
	return nil
}

// figure writes a value with its unit to two decimals, small currents to four.
func figure(v float64, unit string) string {
	places := 2
	if unit == "A" && math.Abs(v) < 1 {
		places = 4
	}
	text := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(text, "-0.") == "" { // no negative zero
		text = strings.TrimPrefix(text, "-")
	}
	return strings.TrimSpace(text + " " + unit)
}

// printStates lists the states in which the channels were driven, the longest
// in force first.
func (o *disturbanceOptions) printStates(w io.Writer, x *disturbance.Assessment) error {
	var all []*disturbance.Pattern
	total := int64(0)
	for i := range x.Patterns {
		all = append(all, &x.Patterns[i])
		total += x.Patterns[i].HalfCycles
	}
	slices.SortStableFunc(all, func(a, b *disturbance.Pattern) int { return cmp.Compare(b.HalfCycles, a.HalfCycles) })
	left := x.Left
	if !o.all && len(all) > fewStates {
		left += len(all) - fewStates
		all = all[:fewStates]
	}
	fmt.Fprintln(w)
	tab := newTable(w, "", "driven", "part of the time", "current", "direct part", "THD current", "voltage", "THD voltage", "state since")
	for _, p := range all {
		tab.row(driven(p), fmt.Sprintf("%.1f %%", 100*float64(p.HalfCycles)/float64(total)), figure(p.Current.Total, "A"), figure(p.Current.DC, "A"),
			distortion(p.Current.THD()), figure(p.Voltage.Total, "V"), distortion(p.Voltage.THD()), clock(p.First))
	}
	if err := tab.flush(); err != nil {
		return err
	}
	if left > 0 {
		fmt.Fprintf(w, "%d more states, in force for shorter times\n", left)
	}
	return nil
}

// driven names the channels driven in a state.
func driven(p *disturbance.Pattern) string {
	names := strings.Join(p.Driven(), "+")
	if names == "" {
		names = "nothing"
	}
	if p.Open != 0 || p.Upstream {
		names += ", link open"
	}
	return names
}

// distortion writes a THD; nothing where there is no fundamental.
func distortion(thd float64) string {
	if math.IsNaN(thd) || math.IsInf(thd, 0) {
		return ""
	}
	return strconv.FormatFloat(100*thd, 'f', 2, 64) + " %"
}

// printOrders lists the harmonics of the state that distorts most.
func (o *disturbanceOptions) printOrders(w io.Writer, x *disturbance.Assessment) error {
	p := x.MostDistorting()
	i, u := p.Current, p.Voltage
	fmt.Fprintf(w, "\nharmonics with %s driven, the state with the greatest harmonic currents\n", driven(p))
	if !p.Periodic {
		fmt.Fprintln(w, "(this state does not repeat each cycle: means over a window)")
	}
	burst := x.Burst != nil
	heads := []string{"order", "current", "of order 1", "limit class A"}
	if burst {
		heads = append(heads, "in a burst, up to")
	}
	tab := newTable(w, "", append(heads, "voltage", "of order 1", "limit")...)
	left := 0
	for n := 1; n <= disturbance.Orders; n++ {
		a, b := i.RMS[n]/i.RMS[1], u.RMS[n]/u.RMS[1]
		if !o.all && n > 3 && !(a >= littleHarmonic) && !(b >= littleHarmonic) {
			left++
			continue
		}
		row := []string{strconv.Itoa(n), figure(i.RMS[n], "A"), distortion(a), optionalFigure(disturbance.ClassA(n), "A")}
		if burst {
			row = append(row, figure(x.Burst.Current.Max[n], "A"))
		}
		tab.row(append(row, figure(u.RMS[n], "V"), distortion(b), optionalFigure(disturbance.VoltageLimit(n), "%"))...)
	}
	row := []string{"2 to 40", figure(i.Harmonic(), "A"), distortion(i.THD()), ""}
	if burst {
		row = append(row, "")
	}
	tab.row(append(row, figure(u.Harmonic(), "V"), distortion(u.THD()), "8.00 %")...)
	if err := tab.flush(); err != nil {
		return err
	}
	if left > 0 {
		fmt.Fprintf(w, "%d orders left out that are below 0.1 %% of order 1 in current and in voltage; --all prints them\n", left)
	}
	if burst {
		note(w, "In a burst: the greatest group of spectral lines about the order, of the control window at %s, whose changes move the voltage most.", clock(x.Burst.From))
	}
	return nil
}

func optionalFigure(v float64, unit string) string {
	if math.IsNaN(v) {
		return ""
	}
	return figure(v, unit)
}
