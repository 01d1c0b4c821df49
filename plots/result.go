package plots

import (
	"boilwright/sim"
	"boilwright/sim/heat"
)

// eventTexts are short words for the events of a run; others keep their own.
var eventTexts = map[sim.EventKind]string{
	sim.LinkOpened:                          "link opened",
	sim.Edited:                              "board changed",
	sim.EventKind(heat.BoilStart.String()):  "water boils",
	sim.EventKind(heat.BoilStop.String()):   "boiling stops",
	sim.EventKind(heat.ReliefOpen.String()): "relief valve opens",
	sim.EventKind(heat.LowLevel.String()):   "element begins to lie dry",
	sim.EventKind(heat.RanDry.String()):     "ran dry",
	sim.EventKind(heat.DrawStart.String()):  "draw begins",
}

// unshown are the events that end what another began.
var unshown = map[sim.EventKind]bool{
	sim.Shows: true,
	sim.EventKind(heat.ReliefReseat.String()): true,
	sim.EventKind(heat.DrawStop.String()):     true,
}

// FromResult makes the input of [Temperatures] from a run: water, elements,
// lid, set points with the indicator's band, indicators, plug power and all
// events but the ends of draws and the reseating of relief valves.
func FromResult(r *sim.Result) TemperatureInput {
	in := TemperatureInput{}
	in.Title = "Temperatures: " + r.Board.Name
	n := len(r.Samples)
	in.Time, in.Lid, in.Power = make([]float64, n), make([]float64, n), make([]float64, n)
	for i, s := range r.Samples {
		in.Time[i], in.Lid[i], in.Power[i] = s.Time.Seconds(), s.Lid, s.Power
	}
	for k := range r.Board.Channels {
		ch := &r.Board.Channels[k]
		c := TemperatureChannel{Name: ch.Name, Water: make([]float64, n), Element: make([]float64, n)}
		for i := range r.Samples {
			x := &r.Samples[i].Channels[k]
			c.Water[i], c.Element[i] = x.Water, x.Element
		}
		if ch.Control.Enabled {
			c.Levels = []Level{{"set", float64(ch.Control.SetPoint), float64(ch.Control.InBand)}}
		}
		if n > 0 {
			c.Indicator = []Change{{r.Samples[0].Time.Seconds(), Indicator(r.Samples[0].Channels[k].Indicator)}}
		}
		for _, e := range r.Events {
			if e.Channel != k || e.Kind != sim.Shows {
				continue
			}
			for i := sim.IndicatorOff; i <= sim.OverTemp; i++ {
				if e.Detail == i.String() {
					c.Indicator = append(c.Indicator, Change{e.Time.Seconds(), Indicator(i)})
				}
			}
		}
		in.Channels = append(in.Channels, c)
	}
	for _, e := range r.Events {
		if unshown[e.Kind] {
			continue
		}
		text, ok := eventTexts[e.Kind]
		if !ok {
			text = string(e.Kind)
		}
		if e.Detail != "" {
			text += " " + e.Detail
		}
		in.Events = append(in.Events, Event{e.Time.Seconds(), e.Channel, text})
	}
	return in
}
