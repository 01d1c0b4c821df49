package infer

import (
	"fmt"
	"math"
	"strings"

	q "boilwright/models/quantity"
	"boilwright/sim/readings"
)

func (w *Bench) parseReading(r *reader) ([]Evidence, error) {
	state, given := r.state()
	t := newTest(Volts)
	if _, ok := r.take(is("reversed", "leads exchanged")); ok {
		t.Reversed = true
	}
	instrument := ""
	if p, ok := r.take(is("ohmmeter", "ohms", "diode", "diode test", "continuity", "insulation", "insulation test")); ok {
		instrument = strings.TrimSuffix(strings.ToLower(p), " test")
	}
	for {
		p, ok := r.take(func(p string) bool { return strings.HasSuffix(p, " lifted") })
		if !ok {
			break
		}
		t.Lifted = append(t.Lifted, strings.TrimSuffix(p, " lifted"))
	}
	pulled := r.pulled()
	if p, ok := r.take(is("beeps", "silent")); ok {
		if given && state != readings.UnpluggedState {
			return nil, fmt.Errorf("found continuity in state %s, expected state unplugged: it is tested on the unplugged board only", state)
		}
		if instrument != "" && instrument != "continuity" {
			return nil, fmt.Errorf("found %s that %s, expected a value for it, or continuity", instrument, strings.ToLower(p))
		}
		t.Kind, t.Instrument = Unplugged, readings.Continuity
		var err error
		if t.Point, err = r.point(); err != nil {
			return nil, err
		}
		v, _ := t.ChoiceOf(strings.ToLower(p))
		return one(t, float64(v), 0), r.rest("nothing more")
	}
	v, unc, d, err := r.quantity(q.Voltage, q.Resistance)
	if err != nil {
		return nil, err
	}
	live := given && state != readings.UnpluggedState
	switch {
	case live && (d == q.Resistance || instrument != ""):
		return nil, fmt.Errorf("found ohms or a test of the unplugged board in state %s, expected volts, or state unplugged", state)
	case instrument == "diode" && d == q.Resistance:
		return nil, fmt.Errorf("found ohms for the diode test, expected volts such as 0.7 V, or open")
	case (instrument == "ohmmeter" || instrument == "ohms" || instrument == "insulation") && d == q.Voltage && !math.IsInf(v, 1):
		return nil, fmt.Errorf("found volts for %s, expected ohms such as 1.5 kΩ, or open", instrument)
	case !given && d == q.Voltage && instrument == "" && !math.IsInf(v, 1):
		return nil, fmt.Errorf("found volts without a state, expected standby or heating; or diode for a diode test")
	}
	if live {
		t.State = state
		if t.Meters, err = r.meter(); err != nil {
			return nil, err
		}
	} else {
		t.Kind = Unplugged
		switch {
		case instrument == "insulation":
			t.Instrument = readings.Insulation
			return one(t, v, unc), r.rest("nothing more: an insulation test goes from line and neutral joined to earth")
		case instrument == "diode" || instrument == "" && d == q.Voltage && given && !math.IsInf(v, 1):
			t.Instrument = readings.DiodeTest
		default:
			t.Instrument = readings.Ohmmeter
		}
	}
	if t.Point, err = r.point(); err != nil {
		return nil, err
	}
	if pulled {
		if t.Pulled = w.channelOf(t.Point); t.Pulled < 0 {
			return nil, fmt.Errorf("found a pulled plug at %s, expected a test point of the channel whose plug it is", t.Point)
		}
	}
	return one(t, v, unc), r.rest("test point, state, value and meter only")
}

func (w *Bench) parseMonitor(r *reader) ([]Evidence, error) {
	state, ok := r.state()
	if !ok || state != readings.Standby && state != readings.Heating {
		return nil, fmt.Errorf("found no state, expected standby or heating")
	}
	var es []Evidence
	for len(r.parts) > 0 && len(es) < 2 {
		v, unc, d, err := r.quantity(q.Power, q.Current)
		if err != nil {
			return nil, err
		}
		t := newTest(MonitorWatt)
		if d == q.Current {
			t.Kind = MonitorAmp
		}
		t.State = state
		es = append(es, one(t, v, unc)...)
	}
	if len(es) == 0 {
		return nil, fmt.Errorf("found no value, expected watts, amperes or both")
	}
	return es, r.rest("a state, watts and amperes only")
}

func (w *Bench) parseClamp(r *reader) ([]Evidence, error) {
	state, ok := r.state()
	if !ok {
		return nil, fmt.Errorf("found no state, expected standby or heating")
	}
	t := newTest(Clamp)
	t.State = state
	v, unc, _, err := r.quantity(q.Current)
	if err != nil {
		return nil, err
	}
	var leads, clamps []string
	for _, l := range readings.Leads(w.Board) {
		leads = append(leads, l.Name)
	}
	for i := range w.Board.Clamps {
		clamps = append(clamps, w.Board.Clamps[i].Name)
	}
	if p, ok := r.take(is(clamps...)); ok {
		t.Meters = []string{p}
	}
	p, ok := r.take(is(leads...))
	if !ok {
		found := "no lead"
		if len(r.parts) > 0 {
			found = fmt.Sprintf("lead %q", r.parts[0])
		}
		return nil, fmt.Errorf("found %s, expected one of %s", found, strings.Join(leads, ", "))
	}
	t.Point = p
	return one(t, v, unc), r.rest("a lead, a state, amperes and a clamp only")
}
