package sim_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim"
)

// Conservation of energy through the whole of a run: what comes out of the
// source is lost in the wiring or put into the machine. What else takes part
// is left out or known: insulation of 1 GΩ takes 0.05 mW a channel, the
// channels' own wires have no resistance here, and what coils and capacitors
// hold comes back within a cycle.
func TestEnergyOutOfTheSourceIsPutSomewhere(t *testing.T) {
	for _, c := range []struct {
		fault    string
		relative float64
	}{
		{"", 1e-6}, {"dye:opto-one-way", 1e-6}, {"dye:triac-leaky", 1e-6}, {"dye:film-triac", 1e-6}, {"dye:element-part-shorted", 1e-6},
		{"soak:triac-open", 1e-6},
		// Channels that share 10 Ω feel each other's resistance: products of
		// powers follow that less well.
		{"board:loose-neutral", 1e-5},
	} {
		fault := c.fault
		b := warm(board(t, "dye-bench-230"))
		for k := range b.Channels {
			b.Channels[k].Wire = 0
		}
		var texts []string
		if fault != "" {
			texts = append(texts, fault)
		}
		r := simulate(t, b, sim.Options{Duration: time.Minute}, texts...)
		if d := r.Supply.Plug - r.Heat.In; math.Abs(d) > c.relative*r.Supply.Source {
			t.Errorf("%q: found %.8g J through the plug and %.8g J put into the machine, expected the same within %g", fault, r.Supply.Plug, r.Heat.In, c.relative)
		}
		if r.Supply.Wiring <= 0 || math.Abs(r.Supply.Source-r.Supply.Plug-r.Supply.Wiring) > 1e-14*r.Supply.Source {
			t.Errorf("%q: found %+v, expected losses of wiring and Source = Plug + Wiring", fault, r.Supply)
		}
		var elements float64
		for i, s := range r.Samples[1:] {
			for _, c := range s.Channels {
				elements += c.Power * (s.Time - r.Samples[i].Time).Seconds()
			}
		}
		if elements > r.Heat.In || elements < 0.9*r.Heat.In {
			t.Errorf("%q: found %.6g J in the elements of %.6g J put into the machine, expected most of it", fault, elements, r.Heat.In)
		}
		if err := r.Heat.Check(); err != nil {
			t.Errorf("%q: %v", fault, err)
		}
	}
}

func TestScheduleAndStandby(t *testing.T) {
	b := warm(board(t, "dye-bench-230"))
	b.Controller.Schedule = []models.OnPeriod{{From: 10 * time.Second, To: 20 * time.Second}, {From: 25 * time.Second, To: 30 * time.Second}}
	r := simulate(t, b, sim.Options{Duration: 40 * time.Second, Every: 500 * time.Millisecond})
	for i, s := range r.Samples {
		if i == 0 {
			continue
		}
		from := r.Samples[i-1].Time // the sample covers the window from there
		on := b.Controller.On(from)
		heated := false
		for k, c := range s.Channels {
			heated = heated || c.Drive > 0
			if !on && (c.Drive != 0 || c.Indicator != sim.IndicatorOff || c.Power > 0.1) {
				t.Errorf("at %v, channel %d: found %+v with the controls off", s.Time, k+1, c)
			}
			if on && c.Indicator == sim.IndicatorOff {
				t.Errorf("at %v, channel %d: found the indicator off with the controls on", s.Time, k+1)
			}
		}
		if s.Controls != on {
			t.Errorf("at %v: found controls on %t, expected %t", s.Time, s.Controls, on)
		}
		// Standby means supply connected: three snubbers of 10 nF and 100 Ω
		// take (2π·50·10 nF·230 V)²·100 Ω each, 52 µW.
		if !on && (s.Power <= 0 || s.Power > 0.1) {
			t.Errorf("at %v: found %g W in standby, expected a trace", s.Time, s.Power)
		}
		if on && !heated {
			t.Errorf("at %v: found no channel driven, expected some heat after a start from cold", s.Time)
		}
	}
}

// Drawn water is replaced with what the plumbing says, and the balance has it.
func TestDraws(t *testing.T) {
	still := warm(board(t, "dye-bench-230"))
	for k := range still.Channels {
		still.Channels[k].Control.Enabled = false
	}
	o := sim.Options{Duration: 20 * time.Second, Every: time.Second}
	before := simulate(t, still, o)
	last := func(r *sim.Result, k int) sim.ChannelSample { return r.Samples[len(r.Samples)-1].Channels[k] }

	water := still.Clone()
	water.Channels[1].Boiler.Draws = []models.Draw{{From: 5 * time.Second, To: 15 * time.Second, Flow: 0.02, Refill: 0}}
	r := simulate(t, water, o)
	for k, colder := range []bool{true, true, false} {
		d := last(r, k).Water - last(before, k).Water
		if colder && d > -1 || !colder && math.Abs(d) > 0.1 {
			t.Errorf("channel %d: found the water %.3g K warmer by the draw, expected colder: %t", k+1, d, colder)
		}
		if last(r, k).Mass != last(before, k).Mass {
			t.Errorf("channel %d: found %g kg, expected the mass to stay", k+1, last(r, k).Mass)
		}
	}
	// 0.2 kg leave at some 80 °C and come at 15 °C: c_p 4.19 kJ/(kg K) of
	// water (IAPWS R7-97(2012), rounded).
	if want := 0.2 * 4190 * 65; math.Abs(r.Heat.Carried-want) > 0.05*want {
		t.Errorf("found %.4g J carried out by water, expected about %.4g J", r.Heat.Carried, want)
	}

	steam := still.Clone()
	steam.Channels[2].Boiler.Feed = false
	steam.Channels[2].Boiler.Draws = []models.Draw{{From: 5 * time.Second, To: 15 * time.Second, Flow: 2e-4, Steam: true}}
	r = simulate(t, steam, o)
	if d := last(before, 2).Mass - last(r, 2).Mass; math.Abs(d-2e-3) > 1e-9 {
		t.Errorf("found %g kg of steam gone, expected 0.002 kg", d)
	}
	// h of saturated steam at 117 °C is 2702 kJ/kg (IAPWS R7-97(2012),
	// rounded).
	if want := 2e-3 * 2.702e6; math.Abs(r.Heat.Carried-want) > 0.01*want {
		t.Errorf("found %.5g J carried out by steam, expected about %.5g J", r.Heat.Carried, want)
	}
	var begun []string
	for _, e := range r.Events {
		if e.Channel == 2 && strings.Contains(string(e.Kind), "draw") {
			begun = append(begun, fmt.Sprintf("%v %v", e.Time, e.Kind))
		}
	}
	if want := "[5s draw begins 15s draw ends]"; fmt.Sprint(begun) != want {
		t.Errorf("found %v, expected %v", begun, want)
	}
}
