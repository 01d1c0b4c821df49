package command

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/plots"
)

func (a *app) figureCircuit() *cobra.Command {
	o := &struct {
		figureOptions
		headingFlags
		channel string
	}{}
	cmd := &cobra.Command{
		Use:   "circuit [BOARD]",
		Short: "Draw the circuit of one channel, with its faults marked",
		Long: wrapped(`Draw the circuit diagram of one channel in symbols of IEC 60617, laid out from the board: triac in line or
neutral, either way round, with or without snubber, thermostat and a link ahead of all channels. Faults are marked on
their parts at their full severity, whatever their onset and course.`),
		Example: `  boilwright figure circuit --fault dye:film-opto --out dye.svg
  boilwright figure circuit neutral-side-230 --channel steam --language de`,
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
			k, err := t.shown(o.channel)
			if err != nil {
				return err
			}
			h, err := o.teaching(t, nil)
			if err != nil {
				return err
			}
			in, err := circuitOf(t, k, h)
			if err != nil {
				return err
			}
			s, err := plots.Schematic(in)
			if err != nil {
				return misused(err)
			}
			return o.finish(cmd, t, s)
		}),
	}
	o.figureOptions.add(cmd, "circuit", false)
	o.headingFlags.add(cmd)
	cmd.Flags().StringVar(&o.channel, "channel", "", "the `CHANNEL` shown [that of the first fault, or the first]")
	complete(cmd, "channel", completeChannel)
	return cmd
}

// shown is the channel that a figure of one channel shows: the named one, that
// of the first fault, or the first.
func (t *target) shown(name string) (int, error) {
	if name != "" {
		k := t.file.Board.ChannelIndex(name)
		if k < 0 {
			return 0, misuse("--channel: found %q, expected one of %s", name, list(t.names, ""))
		}
		return k, nil
	}
	for _, j := range t.set {
		if j.Channel != faults.WholeBoard {
			return j.Channel, nil
		}
	}
	return 0, nil
}

// circuitOf makes the diagram's input for channel k of a target.
func circuitOf(t *target, k int, h plots.Heading) (plots.SchematicInput, error) {
	b := t.file.Board
	c := &b.Channels[k]
	in := plots.SchematicInput{
		Heading: h, Channel: c.Name,
		NeutralSide: c.Side == models.NeutralSide, MT1Load: c.MT1 == models.MT1Load,
		Upstream: b.Upstream != nil, Thermostat: c.Thermostat.Fitted, GateShunt: finite(float64(c.GateShunt)), Snubber: c.Snubber.Fitted(),
		ZeroCross: finite(float64(c.Opto.Inhibit)), Alone: len(b.Channels) == 1,
		Values: map[plots.SchematicPart]string{
			plots.SupplyPart:       short(b.Supply.Voltage) + ", " + short(b.Supply.Frequency),
			plots.GateResistorPart: short(c.GateResistance), plots.DrivePart: short(c.Drive.On),
			plots.LinkPart: short(c.Link.Functions), plots.ElementPart: short(c.Element.Resistance),
		},
	}
	if in.GateShunt {
		in.Values[plots.GateShuntPart] = short(c.GateShunt)
	}
	if in.Upstream {
		in.Values[plots.UpstreamLinkPart] = short(b.Upstream.Functions)
	}
	if in.Thermostat {
		in.Values[plots.ThermostatPart] = short(c.Thermostat.Opens)
	}
	if in.Snubber {
		in.Values[plots.SnubberResistorPart], in.Values[plots.SnubberCapacitorPart] = short(c.Snubber.Resistance), short(c.Snubber.Capacitance)
	}
	for _, j := range t.set {
		one, err := faults.Set{j}.Applied(b)
		if err != nil {
			return in, wrongInput(err)
		}
		f, _ := faults.Find(j.Fault)
		in.Faults = append(in.Faults, circuitFaults(h.Language, b, one, k, j.Text(t.names)+": "+h.Language.T(f.Title))...)
	}
	return in, nil
}

func finite(x float64) bool { return !math.IsInf(x, 0) && !math.IsNaN(x) }

// short writes a quantity in three digits, without zeros that say nothing.
func short[Q q.Quantity](x Q) string {
	s := q.Format(x.Dimension(), float64(x))
	if number, _, _ := strings.Cut(s, " "); len(strings.Trim(number, "-.")) > 5 {
		s = q.Digits(x, 3)
	}
	return s
}

// circuitFaults tells where in the diagram of channel k a faulty board differs
// from the healthy one. What does not show there is elsewhere.
func circuitFaults(l *plots.Language, healthy, faulty *models.Board, k int, text string) []plots.SchematicFault {
	var out []plots.SchematicFault
	mark := func(differs bool, kind plots.FaultKind, part plots.SchematicPart, more string) {
		if differs {
			out = append(out, plots.SchematicFault{Kind: kind, Part: part, Text: text + more})
		}
	}
	h, f := &healthy.Channels[k], &faulty.Channels[k]
	opened := func(was, is q.Ohm) bool { return finite(float64(was)) && !finite(float64(is)) }
	mark(f.Triac.Open && !h.Triac.Open, plots.Gap, plots.TriacPart, "")
	mark(f.Triac.GateOpen && !h.Triac.GateOpen, plots.Gap, plots.GateLead, "")
	mark(opened(h.Opto.LEDSlope, f.Opto.LEDSlope), plots.Gap, plots.LEDPart, "")
	mark(opened(h.Drive.Resistance, f.Drive.Resistance), plots.Gap, plots.DrivePart, "")
	mark(finite(float64(h.Opto.Latching)) && !finite(float64(f.Opto.Latching)), plots.Gap, plots.OptoPart, "")
	mark(opened(h.GateResistance, f.GateResistance), plots.Gap, plots.GateResistorPart, "")
	mark(opened(h.Snubber.Resistance, f.Snubber.Resistance), plots.Gap, plots.SnubberResistorPart, "")
	mark(h.Snubber.Capacitance > 0 && f.Snubber.Capacitance == 0, plots.Gap, plots.SnubberCapacitorPart, "")
	mark(opened(h.Wire, f.Wire), plots.Gap, plots.WirePart, "")
	mark(f.Link.Open && !h.Link.Open, plots.Gap, plots.LinkPart, "")
	mark(f.Element.Open && !h.Element.Open, plots.Gap, plots.ElementPart, "")
	mark(opened(healthy.Earth.Resistance, faulty.Earth.Resistance), plots.Gap, plots.EarthLead, "")
	mark(faulty.Upstream != nil && faulty.Upstream.Open && !healthy.Upstream.Open, plots.Gap, plots.UpstreamLinkPart, "")
	mark(f.Thermostat.Stuck == models.StayOpen && h.Thermostat.Stuck != models.StayOpen, plots.Gap, plots.ThermostatPart, "")
	mark(f.Thermostat.Stuck == models.Welded && h.Thermostat.Stuck != models.Welded, plots.Bridged, plots.ThermostatPart, "")
	mark(f.Element.Resistance < h.Element.Resistance, plots.Bridged, plots.ElementPart, ", "+l.F("%s left", short(f.Element.Resistance)))
	mark(f.Wire > h.Wire && finite(float64(f.Wire)), plots.Added, plots.WirePart, ", "+short(f.Wire-h.Wire))
	if n, was := faulty.Supply.NeutralResistance, healthy.Supply.NeutralResistance; n > was {
		mark(true, plots.Added, plots.NeutralLead, ", "+short(n-was))
	}
	if r, was := f.Element.Insulation, h.Element.Insulation; r < was {
		out = append(out, plots.SchematicFault{Kind: plots.Film, Part: plots.ElsewherePart, Route: plots.ElementToEarth, Text: text + ", " + short(r)})
	}
	out = append(out, circuitPaths(healthy, faulty, k, text)...)
	if len(out) > 0 {
		return out
	}
	// No path is broken or added: some value is another.
	if n := len(faulty.Crossings); n > len(healthy.Crossings) && faulty.Crossings[n-1].A > faulty.Crossings[n-1].B {
		mark(true, plots.Altered, plots.WirePart, "") // exchanged loads have the higher channel first
		return out
	}
	s, z := &faulty.Supply, &healthy.Supply
	to, th := f.Triac, h.Triac
	to.Foster, th.Foster = nil, nil
	mark(fmt.Sprint(to) != fmt.Sprint(th), plots.Altered, plots.TriacPart, "")
	mark(f.Opto.Trigger != h.Opto.Trigger || f.Opto.TriggerScale != h.Opto.TriggerScale, plots.Altered, plots.LEDPart, "")
	mark(f.Opto.Fires != h.Opto.Fires || f.Opto.Inhibit != h.Opto.Inhibit, plots.Altered, plots.OptoPart, "")
	mark(f.GateResistance != h.GateResistance, plots.Altered, plots.GateResistorPart, ", "+short(f.GateResistance))
	mark(f.Snubber.Capacitance != h.Snubber.Capacitance, plots.Altered, plots.SnubberCapacitorPart, ", "+short(f.Snubber.Capacitance))
	mark(f.Drive != h.Drive || faulty.DriveSource(k) != healthy.DriveSource(k), plots.Altered, plots.DrivePart, "")
	mark(f.Link.Functions != h.Link.Functions, plots.Altered, plots.LinkPart, ", "+short(f.Link.Functions))
	mark(s.Voltage != z.Voltage || s.Exchanged != z.Exchanged || len(s.Harmonics) != len(z.Harmonics), plots.Altered, plots.SupplyPart, "")
	mark(fmt.Sprint(f.Element, f.Boiler.Scale) != fmt.Sprint(h.Element, h.Boiler.Scale), plots.Altered, plots.ElementPart, "")
	mark(len(out) == 0, plots.Altered, plots.ElsewherePart, "")
	return out
}

// shortedBelow is the resistance in ohms below which an added path is drawn as
// a bridge and not as a film.
const shortedBelow = 10

// routeOf tells on which route of channel k's diagram a path lies, and whether
// it leads from MT2, the gate, the tap or OUT.
func routeOf(b *models.Board, k int, from, to models.Node) (route plots.SchematicRoute, forward bool) {
	c := &b.Channels[k]
	mt1, mt2 := models.At(models.Rail, 0), models.At(models.Output, k)
	if c.Side == models.NeutralSide {
		mt1 = models.At(models.Neutral, 0)
	}
	if c.MT1 == models.MT1Load {
		mt1, mt2 = mt2, mt1
	}
	for _, r := range []struct {
		route    plots.SchematicRoute
		from, to models.Node
	}{
		{plots.AcrossTriac, mt2, mt1}, {plots.AcrossOpto, mt2, models.At(models.OptoOutput, k)}, {plots.GateToMT1, models.At(models.Gate, k), mt1},
		{plots.AcrossCapacitor, models.At(models.SnubberTap, k), mt1},
		{plots.OutputToEarth, models.At(models.Output, k), models.At(models.ProtectiveEarth, 0)},
	} {
		switch {
		case from == r.from && to == r.to:
			return r.route, true
		case from == r.to && to == r.from:
			return r.route, false
		}
	}
	return plots.NoRoute, false
}

// branchOf is the name of a branch of channel k in the network.
func branchOf(part string, k int) string { return fmt.Sprintf("%s%d", part, k+1) }

// circuitPaths are the paths that were added to the board in channel k.
func circuitPaths(healthy, faulty *models.Board, k int, text string) []plots.SchematicFault {
	var out []plots.SchematicFault
	for _, b := range faulty.Bridges[min(len(healthy.Bridges), len(faulty.Bridges)):] {
		route, forward := routeOf(healthy, k, b.From, b.To)
		if route == plots.NoRoute {
			continue
		}
		f := plots.SchematicFault{Kind: plots.Film, Part: plots.ElsewherePart, Route: route, Text: text}
		switch {
		case b.OneWay:
			f.Kind, f.Reversed = plots.OneWay, !forward
		case b.Resistance < shortedBelow:
			f.Kind = plots.Bridged
		default:
			f.Text += ", " + short(b.Resistance)
		}
		out = append(out, f)
	}
	return out
}
