package infer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	q "boilwright/models/quantity"
	"boilwright/sim/readings"
)

// Form is one way of writing evidence, with how it is written.
type Form struct {
	Name    string // "reading"
	Example string
	Doc     string
	parse   func(w *Bench, r *reader) ([]Evidence, error)
}

// Forms lists the ways of writing evidence.
func Forms() []Form { return slices.Clone(forms) }

var forms = []Form{
	{"reading", "dye output to neutral, standby, 118 V, averaging meter", "a voltage, or unplugged ohms, a diode test, continuity or insulation", (*Bench).parseReading},
	{"clamp", "dye:element-lead, heating, 6.5 A", "what a clamp ammeter shows round a lead", (*Bench).parseClamp},
	{"monitor", "standby, 1480 W, 6.4 A", "what the energy monitor shows", (*Bench).parseMonitor},
	{"temperature", "dye, 97 °C, 20 min, heating", "what the display shows some minutes after switching on from cold", (*Bench).parseTemperature},
	{"warm-up", "dye, 25 min", "time from cold until a channel is in band, or never within the hour", (*Bench).parseWarmUp},
	{"indicator", "dye, heating", "what a lamp shows an hour after a cold start", (*Bench).parseIndicator},
	{"warms", "dye, standby, full", "whether a channel takes power: no, half or full", (*Bench).parseWarms},
	{"look", "dye, residue", "what the eye finds, or \"no residue\"", (*Bench).parseLook},
	{"tripped", "fuse", "the fuse or the residual-current device has opened, or \"no fuse\"", (*Bench).parseTripped},
	{"lid", "warm", "the lid after two hours in standby: warm or cold", (*Bench).parseLid},
	{"probe", "dye, 12 kΩ", "a temperature probe at room temperature, unplugged from the controller", (*Bench).parseProbe},
	{"link", "dye, open", "a thermal link, unplugged: open or closed", (*Bench).parseLink},
}

// Parse reads a line of evidence of a form, "reading" and so on. One line can
// be more than one piece, as watts and amperes. Errors say what was found and
// what was expected, in one line.
func (w *Bench) Parse(form, text string) ([]Evidence, error) {
	i := slices.IndexFunc(forms, func(f Form) bool { return f.Name == form })
	if i < 0 {
		return nil, fmt.Errorf("found %q, expected a form of evidence", form)
	}
	es, err := forms[i].parse(w, w.reader(text))
	if err != nil {
		return nil, err
	}
	for j := range es {
		es[j].Text = form + " " + text
		if err := w.CheckTest(&es[j].Test); err != nil {
			return nil, err
		}
		if err := w.bounds(&es[j]); err != nil {
			return nil, err
		}
	}
	return es, nil
}

// bounds reports a value that no board can show.
func (w *Bench) bounds(e *Evidence) error {
	v := e.Value
	// Direct-calibrated detectors show up to 1.11 times the peak of what is there.
	most := 2.5 * float64(w.Board.Supply.Voltage)
	expect := func(low, high float64) error {
		if v >= low && v <= high || math.IsInf(v, 1) && math.IsInf(high, 1) {
			return nil
		}
		return fmt.Errorf("found %s, expected %s to %s", e.Test.Show(v), e.Test.Show(low), e.Test.Show(high))
	}
	switch e.Test.Kind {
	case Volts:
		if math.IsInf(v, 0) {
			return fmt.Errorf("found open, expected volts: a voltmeter shows a number")
		}
		return expect(-most, most)
	case Unplugged:
		if e.Test.Instrument == readings.DiodeTest {
			if math.IsInf(v, 1) {
				return nil
			}
			return expect(0, diodeOpen)
		}
		return expect(0, math.Inf(1))
	case ProbeOhms:
		return expect(0, math.Inf(1))
	case Temperature:
		return expect(-60, 250)
	case WarmUp:
		return expect(0, math.Inf(1))
	case MonitorWatt:
		return expect(0, 2e4)
	case MonitorAmp, Clamp:
		return expect(-100, 100)
	}
	return nil
}

func one(t Test, v, unc float64) []Evidence {
	return []Evidence{{Test: t, Value: v, Uncertainty: unc}}
}

func (w *Bench) parseTemperature(r *reader) ([]Evidence, error) {
	ch, err := r.channel()
	if err != nil {
		return nil, err
	}
	t := newTest(Temperature)
	t.Channel, t.State, t.Minutes = ch, readings.Heating, runMinutes
	if s, ok := r.state(); ok {
		t.State = s
	}
	if t.State != readings.Heating && t.State != readings.Standby {
		return nil, fmt.Errorf("found state %v, expected standby or heating", t.State)
	}
	v, unc, d, err := r.quantity(q.Temperature, q.Time)
	if err == nil && d == q.Time {
		t.Minutes = int(math.Round(v / 60))
		v, unc, _, err = r.quantity(q.Temperature)
	} else if err == nil && len(r.parts) > 0 {
		var m float64
		if m, _, _, err = r.quantity(q.Time); err == nil {
			t.Minutes = int(math.Round(m / 60))
		}
	}
	if err != nil {
		return nil, err
	}
	if t.Minutes < 0 || t.Minutes > runMinutes {
		return nil, fmt.Errorf("found %d min, expected 0 to %d min after a cold start", t.Minutes, runMinutes)
	}
	return one(t, v, unc), r.rest("a channel, a temperature, a time and a state only")
}

func (w *Bench) parseWarmUp(r *reader) ([]Evidence, error) {
	ch, err := r.channel()
	if err != nil {
		return nil, err
	}
	v, unc, _, err := r.quantity(q.Time)
	if err != nil {
		return nil, err
	}
	t := newTest(WarmUp)
	t.Channel = ch
	if v > 3600 {
		v = math.Inf(1)
	}
	return one(t, v/60, unc/60), r.rest("a channel and a time only")
}

// parseChoice reads one of a test's choices.
func parseChoice(r *reader, t Test) ([]Evidence, error) {
	p, ok := r.take(is(t.Choices()...))
	if !ok {
		return nil, fmt.Errorf("found no answer, expected one of %s", strings.Join(t.Choices(), ", "))
	}
	v, err := t.ChoiceOf(strings.ToLower(p))
	if err != nil {
		return nil, err
	}
	return one(t, float64(v), 0), r.rest("nothing more")
}

func (w *Bench) parseIndicator(r *reader) ([]Evidence, error) {
	ch, err := r.channel()
	if err != nil {
		return nil, err
	}
	t := newTest(Indicator)
	t.Channel = ch
	return parseChoice(r, t)
}

func (w *Bench) parseWarms(r *reader) ([]Evidence, error) {
	ch, err := r.channel()
	if err != nil {
		return nil, err
	}
	t := newTest(Warms)
	t.Channel, t.State = ch, readings.Heating
	if s, ok := r.state(); ok {
		t.State = s
	}
	if r.pulled() {
		t.Pulled = ch
	}
	if p, ok := r.take(func(p string) bool { return strings.HasPrefix(p, "exchanged with ") }); ok {
		name := strings.TrimPrefix(p, "exchanged with ")
		if t.With = w.Board.ChannelIndex(name); t.With < 0 || t.With == ch {
			return nil, fmt.Errorf("found plugs exchanged with %q, expected another channel", name)
		}
	}
	if p, ok := r.take(is("yes")); ok {
		_ = p
		r.parts = append(r.parts, "full")
	}
	return parseChoice(r, t)
}

func (w *Bench) parseLook(r *reader) ([]Evidence, error) {
	ch, err := r.channel()
	if err != nil {
		return nil, err
	}
	var es []Evidence
	for len(r.parts) > 0 {
		p := strings.ToLower(r.parts[0])
		sight, no := strings.CutPrefix(p, "no ")
		i := slices.IndexFunc(Sights, func(s string) bool {
			return s == sight || slices.Contains(sightWords[s], sight)
		})
		if i < 0 {
			return nil, fmt.Errorf("found %q, expected one of %s, with or without no before it", r.parts[0], strings.Join(Sights, ", "))
		}
		r.parts = r.parts[1:]
		t := newTest(Look)
		t.Channel, t.Sight = ch, Sights[i]
		v := 1.0
		if no {
			v = 0
		}
		es = append(es, one(t, v, 0)...)
	}
	if len(es) == 0 {
		return nil, fmt.Errorf("found nothing, expected one of %s", strings.Join(Sights, ", "))
	}
	return es, nil
}

// sightWords are other words for sights.
var sightWords = map[string][]string{
	"scorched gate resistor": {"scorch", "burnt gate resistor", "burnt resistor", "scorched resistor"},
	"residue":                {"damp", "wet", "film"},
	"cracked part":           {"crack", "swollen part", "swollen", "cracked"},
}

func (w *Bench) parseTripped(r *reader) ([]Evidence, error) {
	if len(r.parts) != 1 {
		return nil, fmt.Errorf("found %d parts, expected fuse or residual-current device, with or without no before it", len(r.parts))
	}
	device, no := strings.CutPrefix(strings.ToLower(r.parts[0]), "no ")
	t := newTest(Tripped)
	switch device {
	case fuseDevice:
		t.Device = fuseDevice
	case residualDevice, "rcd":
		t.Device = residualDevice
	default:
		return nil, fmt.Errorf("found %q, expected fuse or residual-current device, with or without no before it", r.parts[0])
	}
	v := 1.0
	if no {
		v = 0
	}
	return one(t, v, 0), nil
}

func (w *Bench) parseLid(r *reader) ([]Evidence, error) {
	t := newTest(LidWarm)
	p, ok := r.take(is("warm", "cold"))
	if !ok {
		return nil, fmt.Errorf("found no answer, expected warm or cold")
	}
	v := 0.0
	if strings.EqualFold(p, "warm") {
		v = 1
	}
	return one(t, v, 0), r.rest("nothing more")
}

func (w *Bench) parseProbe(r *reader) ([]Evidence, error) {
	ch, err := r.channel()
	if err != nil {
		return nil, err
	}
	v, unc, _, err := r.quantity(q.Resistance)
	if err != nil {
		return nil, err
	}
	t := newTest(ProbeOhms)
	t.Channel = ch
	return one(t, v, unc), r.rest("a channel and a resistance only")
}

func (w *Bench) parseLink(r *reader) ([]Evidence, error) {
	ch, err := r.channel()
	if err != nil {
		return nil, err
	}
	p, ok := r.take(is("open", "closed"))
	if !ok {
		return nil, fmt.Errorf("found no answer, expected open or closed")
	}
	t := newTest(Unplugged)
	t.Instrument, t.Point = readings.Continuity, w.Board.Channels[ch].Name+":link"
	v := 0.0
	if strings.EqualFold(p, "closed") {
		v = 1
	}
	return one(t, v, 0), r.rest("nothing more")
}
