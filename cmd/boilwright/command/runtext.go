package command

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"boilwright/sim"
	"boilwright/sim/heat"
)

func (o *runOptions) print(w io.Writer, t *target, r *sim.Result, verdicts []verdict) error {
	fmt.Fprintf(w, "%s\n", t.title())
	if note := t.file.Board.Note; note != "" {
		fmt.Fprintln(w, indented("  ", note+"."))
	}
	fmt.Fprintf(w, "%s of operation, %s\n\n", clock(r.Duration), r.Status)
	if len(r.Samples) == 0 {
		_, err := fmt.Fprintln(w, "interrupted before anything was simulated")
		return err
	}
	if err := printOutcomes(w, "", r); err != nil {
		return err
	}
	s, h := r.Supply, r.Heat
	fmt.Fprintf(w, "\nenergy through the plug %s; another %s lost in the supply's wiring\n", energy(s.Plug), energy(s.Wiring))
	fmt.Fprintf(w, "heat: %s in = %s stored + %s lost to the room + %s carried out\n", energy(h.In), energy(h.Stored), energy(h.Ambient), energy(h.Carried))
	if at := r.Stats.Exact; at >= 0 {
		fmt.Fprintln(w, wrapped(fmt.Sprintf("from %s on every half-cycle was solved, as a triac was near firing by itself; --approximate is faster", clock(at))))
	}
	if r.Stats.Narrow {
		accuracy := "0.01 %"
		if o.approximate {
			accuracy += ", to some per cent where a triac just begins to fail"
		}
		fmt.Fprintln(w, wrapped("in some half-cycle a triac fired late, was near what it withstands, or a gate path or a snubber carried the load's current, which moves with the triac's temperature: energies are good to about "+accuracy+"; --full solves every half-cycle"))
	}
	if err := printEvents(w, t, r, o.events); err != nil {
		return err
	}
	if len(verdicts) > 0 {
		fmt.Fprintln(w)
		for _, v := range verdicts {
			fmt.Fprintf(w, "required %s: %s\n", v.text, map[bool]string{true: "met", false: "not met, " + v.why}[v.met])
		}
	}
	_, err := fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

// printOutcomes writes what became of each channel.
func printOutcomes(w io.Writer, indent string, r *sim.Result) error {
	t := newTable(w, indent, "channel", "set point", "in band at", "peak", "at", "end", "link opens", "drifts", "element", "verdict")
	for k, x := range r.Outcomes {
		t.row(x.Channel, degrees(float64(r.Board.Channels[k].Control.SetPoint)), clock(x.Reached), degrees(x.Peak), clock(x.PeakAt),
			degrees(x.Final), clock(x.LinkOpened), strconv.Itoa(x.Drifts), energy(elementEnergy(r, k)), string(x.Verdict))
	}
	return t.flush()
}

// printEvents lists what happened: every event, or the findings, each with how
// often it came about.
func printEvents(w io.Writer, t *target, r *sim.Result, all bool) error {
	name := func(e sim.Event) string {
		if e.Channel < 0 {
			return ""
		}
		return t.names[e.Channel]
	}
	text := func(e sim.Event) string {
		if e.Detail != "" {
			return string(e.Kind) + ": " + e.Detail
		}
		return string(e.Kind)
	}
	fmt.Fprintln(w)
	if all {
		tab := newTable(w, "", "time", "channel", "event")
		for _, e := range r.Events {
			tab.row(clock(e.Time), name(e), text(e))
		}
		return tab.flush()
	}
	found := findings(r.Events)
	if len(found) == 0 {
		_, err := fmt.Fprintf(w, "no findings among %d events; --events lists them\n", len(r.Events))
		return err
	}
	tab := newTable(w, "", "first at", "channel", "finding", "times", "last at")
	for i, e := range found {
		same := func(x sim.Event) bool { return x.Channel == e.Channel && x.Kind == e.Kind && x.Detail == e.Detail }
		if slices.ContainsFunc(found[:i], same) {
			continue
		}
		times, last := 0, time.Duration(-1)
		for _, x := range found {
			if same(x) {
				times++
				last = x.Time
			}
		}
		if times == 1 {
			last = -1
		}
		tab.row(clock(e.Time), name(e), text(e), strconv.Itoa(times), clock(last))
	}
	return tab.flush()
}

// findings leaves out what a healthy board does all the time.
func findings(events []sim.Event) []sim.Event {
	var out []sim.Event
	for _, e := range events {
		switch {
		case e.Kind == sim.Shows && e.Detail != sim.OverTemp.String() && e.Detail != sim.Drifted.String():
		case e.Kind == sim.EventKind(heat.DrawStart.String()) || e.Kind == sim.EventKind(heat.DrawStop.String()):
		case e.Kind == sim.EventKind(heat.ReliefReseat.String()) || e.Kind == sim.EventKind(heat.BoilStop.String()):
		default:
			out = append(out, e)
		}
	}
	return out
}

// writeHistory writes the samples of a run as comma-separated values: a
// heading row, then a row for each sample.
func writeHistory(w io.Writer, r *sim.Result) error {
	out := csv.NewWriter(w)
	head := []string{"time_s", "lid_degc", "pocket_degc", "power_w", "current_a", "controls"}
	for k := range r.Board.Channels {
		for _, s := range []string{"element_degc", "water_degc", "shell_degc", "link_degc", "junction_degc", "probe_degc", "reading_degc", "mass_kg", "pressure_pa", "drive", "power_w", "indicator", "link_open"} {
			head = append(head, r.Board.Channels[k].Name+"."+s)
		}
	}
	if err := out.Write(head); err != nil {
		return err
	}
	for _, s := range r.Samples {
		row := make([]string, 0, len(head))
		for _, x := range []float64{s.Time.Seconds(), s.Lid, s.Pocket, s.Power, s.Current} {
			row = append(row, figures(x))
		}
		row = append(row, strconv.FormatBool(s.Controls))
		for _, c := range s.Channels {
			for _, x := range []float64{c.Element, c.Water, c.Shell, c.Link, c.Junction, c.Probe, c.Reading, c.Mass, c.Pressure, c.Drive, c.Power} {
				row = append(row, figures(x))
			}
			row = append(row, c.Indicator.String(), strconv.FormatBool(c.LinkOpen))
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// figures writes a number of a table for machines with 9 significant digits.
func figures(x float64) string { return strconv.FormatFloat(x+0, 'g', digits, 64) }
