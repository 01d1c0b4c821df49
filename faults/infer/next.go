package infer

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"boilwright/sim/readings"
)

// Advice is a test with what it is worth.
type Advice struct {
	Test    Test
	Gain    float64 // expected information about the action, bits
	Caution string
	// Expect is what it would show under the likeliest suspects.
	Expect []Expectation
	// Limit warns of what happens while the test lasts; empty for nothing.
	Limit string
}

// Expectation is what a test shows under a suspect.
type Expectation struct {
	Suspect string
	Text    string
}

// Limits of the search for a test: assumptions.
const (
	leastGain = 0.02 // bits below which a test is not worth its while
	worth     = 0.10 // bits at which a safer test is taken before any riskier one
	planFrom  = 2e-3 // probability from which a hypothesis counts in planning
	planMost  = 32   // of them at most
)

// Candidates lists the tests that may be advised for some channels.
func (w *Bench) Candidates(channels []int) []Test {
	var out []Test
	add := func(k Kind, change func(t *Test)) {
		t := newTest(k)
		change(&t)
		if w.CheckTest(&t) == nil {
			out = append(out, t)
		}
	}
	for _, d := range []string{fuseDevice, residualDevice} {
		add(Tripped, func(t *Test) { t.Device = d })
	}
	for _, s := range []readings.State{readings.Standby, readings.Heating} {
		add(MonitorWatt, func(t *Test) { t.State = s })
		add(MonitorAmp, func(t *Test) { t.State = s })
		add(Volts, func(t *Test) { t.State, t.Point = s, "supply" })
	}
	add(Volts, func(t *Test) { t.State, t.Point = readings.Standby, "line-earth" })
	add(Unplugged, func(t *Test) { t.Instrument = readings.Insulation })
	add(LidWarm, func(t *Test) {})
	for _, ch := range channels {
		name := w.Board.Channels[ch].Name
		on := func(k Kind, change func(t *Test)) {
			add(k, func(t *Test) { t.Channel = ch; change(t) })
		}
		at := func(k Kind, point string, change func(t *Test)) {
			add(k, func(t *Test) { t.Point = name + ":" + point; change(t) })
		}
		for _, s := range Sights {
			on(Look, func(t *Test) { t.Sight = s })
		}
		for _, p := range []string{"element", "link", "output", "triac", "gate", "gate-resistor", "opto-output", "thermostat"} {
			at(Unplugged, p, func(t *Test) { t.Instrument = readings.Ohmmeter })
		}
		for _, p := range []string{"triac", "gate", "opto-output"} {
			for _, r := range []bool{false, true} {
				at(Unplugged, p, func(t *Test) { t.Instrument, t.Reversed = readings.DiodeTest, r })
			}
		}
		for _, p := range []string{"led", "transistor-base"} {
			at(Unplugged, p, func(t *Test) { t.Instrument = readings.DiodeTest })
		}
		at(Unplugged, "transistor", func(t *Test) { t.Instrument = readings.Ohmmeter })
		on(ProbeOhms, func(*Test) {})
		for _, s := range []readings.State{readings.Standby, readings.Heating} {
			on(Warms, func(t *Test) { t.State = s })
			for _, p := range []string{"output", "drive", "triac", "link"} {
				at(Volts, p, func(t *Test) { t.State = s })
			}
		}
		on(Warms, func(t *Test) { t.State, t.Pulled = readings.Heating, ch })
		for other := range w.Board.Channels {
			if other != ch {
				on(Warms, func(t *Test) { t.State, t.With = readings.Heating, other })
				break
			}
		}
		at(Volts, "led", func(t *Test) { t.State = readings.Heating })
		at(Volts, "output", func(t *Test) { t.State, t.Pulled = readings.Standby, ch })
		on(Indicator, func(*Test) {})
		on(WarmUp, func(*Test) {})
		for _, m := range []int{20, 60} {
			on(Temperature, func(t *Test) { t.State, t.Minutes = readings.Heating, m })
		}
		on(Temperature, func(t *Test) { t.State, t.Minutes = readings.Standby, 20 })
	}
	return out
}

// long reports whether the outcome of a test takes a run of hours to simulate.
func (t *Test) long() bool {
	switch t.Kind {
	case Indicator, Temperature, WarmUp, LidWarm:
		return true
	}
	return false
}

// outside is the probability of something that is not in the catalogue up to
// which an action can be settled: an assumption.
const outside = 0.05

// advise decides whether to stop, or which test comes next.
func (w *Bench) advise(d *Diagnosis, b *belief, obs []observed, cannot Exclude) {
	p := w.plan(b)
	if b.other > 0.5 {
		d.Stop = "no fault of the catalogue explains what was seen: check the readings, and look for something else"
	}
	if len(d.Actions) > 0 && d.Actions[0].Probability >= decided*(1-b.other) && b.other <= outside {
		d.Decided = true
		d.Stop = "what remains unknown would not change what to do"
	}
	if d.Decided {
		d.Confirm = w.confirm(p.hs)
	}
	if d.Stop != "" {
		return
	}
	var channels []int
	for _, h := range p.hs {
		for _, j := range w.Hypotheses[h].Set {
			if j.Channel >= 0 && !slices.Contains(channels, j.Channel) && len(channels) < len(w.Board.Channels) {
				channels = append(channels, j.Channel)
			}
		}
	}
	slices.Sort(channels)
	meters := lastMeters(d.Evidence, w)
	var ranked []Advice
	candidates := w.Candidates(channels)
	// Safer tests first, and among them those that need no run of hours: once
	// one gains enough, no riskier one is looked at.
	every := true
	for risk := Closed; risk <= LiveMains; risk++ {
		for _, long := range []bool{false, true} {
			if len(ranked) > 0 && ranked[0].Gain >= worth {
				every = every && risk == LiveMains && long // of which there are none
				continue
			}
			var ts []Test
			var xs []experiment
			for _, t := range candidates {
				if t.Kind == Volts {
					t.Meters = meters
				}
				if t.long() == long && t.Risk().level() == risk && !done(&t, d.Evidence, cannot) {
					ts = append(ts, t)
					xs = append(xs, w.experiments(&t)...)
				}
			}
			w.need(xs, p.hs)
			for i := range ts {
				if g := w.gain(&p, &ts[i]); g >= leastGain {
					ranked = append(ranked, Advice{Test: ts[i], Gain: g, Caution: ts[i].Caution()})
				}
			}
			order(ranked)
		}
	}
	if len(ranked) == 0 {
		d.Stop = "no test that is known here separates what is left"
		d.Confirm = w.confirm(p.hs)
	} else {
		for i := range ranked {
			ranked[i].Expect = w.expect(&p, &ranked[i].Test)
		}
		ranked[0].Limit = w.limit(&p, &ranked[0].Test)
		d.Next, d.Others = &ranked[0], ranked[1:min(len(ranked), 6)]
	}
	d.Unlikely = w.exclusions(b, candidates, d, cannot)
	if every { // otherwise there are tests that have not been looked at
		d.Alike = w.alike(&p, ranked)
	}
}

// lastMeters are the meters of the last reading, to be used again; else the
// board's first.
func lastMeters(es []Evidence, w *Bench) []string {
	for i := len(es) - 1; i >= 0; i-- {
		if es[i].Test.Kind == Volts && len(es[i].Test.Meters) > 0 {
			return es[i].Test.Meters
		}
	}
	return []string{w.Board.Meters[0].Name}
}

// order sorts advice: of the tests of the least risk that gain enough, the one
// that gains most in its time; a riskier one only where no safer one gains
// enough or as much.
func order(a []Advice) {
	class := func(x *Advice) int {
		r := x.Test.Risk().level()
		if x.Gain < worth {
			return int(LiveMains) + 1 + int(r)
		}
		return int(r)
	}
	slices.SortStableFunc(a, func(x, y Advice) int {
		return cmp.Or(cmp.Compare(class(&x), class(&y)), cmp.Compare(y.Gain/y.Test.Effort(), x.Gain/x.Test.Effort()))
	})
}

// limit tells how long there is before a thermal link opens while a test with
// the supply on lasts, from a cold start, where that is soon.
func (w *Bench) limit(p *plan, t *Test) string {
	if r := t.Risk(); r == Dead || r == LowVoltage && t.State == readings.Standby {
		return ""
	}
	state := readings.Standby
	if t.State == readings.Heating {
		state = readings.Heating
	}
	x := experiment{kind: Temperature, state: state, pulled: -1, exchanged: none, about: -1}
	hs := p.hs[:min(len(p.hs), 3)]
	w.need([]experiment{x}, hs)
	s := w.sheet(&x)
	n := len(w.Board.Channels)
	soonest, which := math.Inf(1), 0
	for _, h := range hs {
		for m := range w.runs {
			r := s.rows[h*len(w.draws)+m]
			if len(r) == 0 {
				continue
			}
			for ch := range n {
				if v := r[linkOpensIndex(n, ch)]; v < soonest {
					soonest, which = v, ch
				}
			}
		}
	}
	if math.IsInf(soonest, 1) {
		return ""
	}
	return fmt.Sprintf("from cold %s can reach its thermal link in as little as %.0f minutes with the supply on, sooner when warm: measure, then unplug", w.Board.Channels[which].Name, math.Floor(soonest))
}
