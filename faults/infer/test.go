package infer

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"boilwright/models"
	"boilwright/sim/readings"
)

// Kind is what is done in a test.
type Kind int

// The kinds of test.
const (
	Look        Kind = iota // what the eye finds on a channel's part of the board
	Unplugged               // ohmmeter, diode test, continuity, insulation
	ProbeOhms               // resistance of a temperature probe, unplugged
	Indicator               // what a channel's lamp shows an hour after a cold start
	Temperature             // what the display shows some minutes after a cold start
	WarmUp                  // minutes from a cold start until a channel is in band
	Warms                   // whether a channel takes power: no, half, full
	LidWarm                 // lid warm after two hours in standby
	Tripped                 // fuse or residual-current device
	MonitorWatt             // energy monitor
	MonitorAmp
	Volts // a voltmeter at a test point
	Clamp // a clamp ammeter round a lead
)

var kindNames = [...]string{"look", "unplugged", "probe", "indicator", "temperature", "warm-up", "warms", "lid", "tripped", "monitor-watts", "monitor-amperes", "volts", "clamp"}

func (k Kind) String() string { return kindNames[k] }

// Test is something that can be done to a board and has an outcome.
type Test struct {
	Kind    Kind
	State   readings.State // of Volts, Clamp, Warms, MonitorWatt, MonitorAmp, Temperature
	Channel int            // of Look to Warms; −1 for none
	Point   string         // of Volts, Unplugged and Clamp
	// Instrument, Reversed and Lifted are of Unplugged. An insulation test
	// has no point.
	Instrument readings.Test
	Reversed   bool
	Lifted     []string
	// Meters are the names of the meters that it may have been; of Volts. Of
	// Clamp it is one clamp's.
	// Empty is any.
	Meters []string
	// Pulled is the channel whose drive plug is off, −1 for none; of Volts,
	// Warms and the energy monitor.
	Pulled int
	// With is the channel with which the drive plug of Channel is exchanged,
	// −1 for none; of Warms.
	With    int
	Minutes int    // of Temperature
	Sight   string // of Look
	Device  string // of Tripped: "fuse" or "residual-current device"
}

// new returns a test without a channel, nothing pulled and nothing exchanged.
func newTest(k Kind) Test { return Test{Kind: k, Channel: -1, Pulled: -1, With: -1} }

// Risk orders tests by what they expose a person to.
type Risk int

// The risks, least first.
const (
	Closed     Risk = iota // nothing is opened
	Dead                   // opened, unplugged, locked off and proved dead
	PlugMoved              // parts are touched unplugged, then the closed board is run
	LowVoltage             // the drive plug's extra-low voltage on a live board
	LiveMains              // a meter on mains
)

func (r Risk) String() string {
	return [...]string{"closed", "unplugged", "unplugged, then supply on with nothing touched", "live board, extra-low voltage", "live"}[r]
}

// Live reports whether someone has a meter on a board that has its supply.
func (r Risk) Live() bool { return r >= LowVoltage }

// level is the risk as the choice of a test ranks it: what is opened unplugged
// and what is watched closed are alike safe, and their worth in time decides.
func (r Risk) level() Risk {
	if r == Dead {
		return Closed
	}
	return r
}

// Risk returns what the test exposes a person to.
func (t *Test) Risk() Risk {
	switch t.Kind {
	case Look, Unplugged, ProbeOhms:
		return Dead
	case Volts:
		if strings.HasSuffix(t.Point, ":drive") {
			return LowVoltage
		}
		return LiveMains
	case Clamp:
		return LiveMains
	}
	if t.Pulled >= 0 || t.With >= 0 {
		return PlugMoved
	}
	return Closed
}

// Caution is what has to stand beside the test.
func (t *Test) Caution() string {
	switch r := t.Risk(); {
	case t.Kind == Clamp:
		return readings.LiveCaution + "; " + readings.ClampCaution
	case r.Live():
		return readings.LiveCaution
	case t.Kind == Unplugged && t.Instrument == readings.Insulation:
		return readings.UnpluggedCaution + "; 500 V between line and neutral joined and earth, never across a part; discharge afterwards"
	case r == Dead || r == PlugMoved:
		return readings.UnpluggedCaution
	}
	return "the board is live in standby: nothing is opened or touched in this test"
}

// Effort is a rough time in minutes: assumptions, for ordering tests.
func (t *Test) Effort() float64 {
	switch t.Kind {
	case Look:
		return 4
	case Unplugged:
		return 2 + 4*float64(len(t.Lifted))
	case ProbeOhms:
		return 3
	case Indicator, Tripped:
		return 1
	case MonitorWatt, MonitorAmp:
		return 3
	case Temperature:
		return 2 + float64(t.Minutes)/4
	case WarmUp:
		return 15
	case LidWarm:
		return 30
	case Warms:
		return 10
	}
	return 6
}

// Key is the same for tests that are the same whatever meter was used.
func (t *Test) Key() string {
	parts := []string{t.Kind.String()}
	add := func(name string, v any) { parts = append(parts, fmt.Sprintf("%s=%v", name, v)) }
	switch t.Kind {
	case Volts, Clamp, Warms, MonitorWatt, MonitorAmp, Temperature:
		add("state", t.State)
	}
	if t.Channel >= 0 {
		add("channel", t.Channel+1)
	}
	if t.Point != "" {
		add("point", t.Point)
	}
	if t.Kind == Unplugged {
		add("with", t.Instrument)
		if t.Reversed {
			parts = append(parts, "reversed")
		}
		for _, l := range t.Lifted {
			add("lifted", l)
		}
	}
	if t.Pulled >= 0 {
		add("pulled", t.Pulled+1)
	}
	if t.With >= 0 {
		add("exchanged", t.With+1)
	}
	if t.Minutes > 0 {
		add("minutes", t.Minutes)
	}
	for _, s := range []string{t.Sight, t.Device} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, " ")
}

// Describe says what to do, in a line.
func (t *Test) Describe(b *models.Board) string {
	name := func(ch int) string {
		if ch < 0 || ch >= len(b.Channels) {
			return "?"
		}
		return b.Channels[ch].Name
	}
	plug := ""
	if t.Pulled >= 0 {
		plug = ", drive plug of " + name(t.Pulled) + " pulled"
	}
	switch t.Kind {
	case Look:
		return "look at " + name(t.Channel) + "'s part of the board: " + sightQuestion(t.Sight)
	case Unplugged:
		lifted := ""
		if len(t.Lifted) > 0 {
			lifted = ", with " + strings.Join(t.Lifted, " and ") + " lifted"
		}
		if t.Instrument == readings.Insulation {
			return "insulation test at 500 V, line and neutral joined, to protective earth"
		}
		return t.Instrument.String() + ", " + pointTitle(b, t.Point) + reversedWord(t.Reversed) + lifted
	case ProbeOhms:
		return "resistance of " + name(t.Channel) + "'s temperature probe, unplugged from the controller, at room temperature"
	case Indicator:
		return "indicator of " + name(t.Channel) + " an hour after a cold start"
	case Temperature:
		return fmt.Sprintf("temperature that the display shows for %s, %d minutes after switching on from cold, controls %s", name(t.Channel), t.Minutes, onOff(t.State))
	case WarmUp:
		return "minutes until " + name(t.Channel) + " is in band from a cold start"
	case Warms:
		if t.With >= 0 {
			return fmt.Sprintf("exchange the drive plugs of %s and %s unplugged, switch on with only %s asked for heat: does %s's boiler warm", name(t.Channel), name(t.With), name(t.With), name(t.Channel))
		}
		return "does " + name(t.Channel) + "'s boiler warm within ten minutes, " + stateWords(t.State) + plug
	case LidWarm:
		return "is the lid warm after two hours in standby"
	case Tripped:
		return "has the " + t.Device + " opened"
	case MonitorWatt:
		return "energy monitor, watts, " + stateWords(t.State) + plug
	case MonitorAmp:
		return "energy monitor, amperes, " + stateWords(t.State) + plug
	}
	if t.Kind == Clamp {
		return "clamp ammeter, " + t.Point + ", " + stateWords(t.State)
	}
	meter := ""
	if len(t.Meters) > 0 {
		meter = ", meter " + strings.Join(t.Meters, " or ")
	}
	return "voltage, " + pointTitle(b, t.Point) + ", " + stateWords(t.State) + plug + meter
}

func onOff(s readings.State) string {
	if s == readings.Standby {
		return "off"
	}
	return "on"
}

func stateWords(s readings.State) string {
	if s == readings.Heating {
		return "heating from cold"
	}
	return s.String()
}

func reversedWord(r bool) string {
	if r {
		return ", leads exchanged"
	}
	return ""
}

// pointTitle is a test point's name with its title.
func pointTitle(b *models.Board, name string) string {
	if p, err := readings.FindUnpluggedPoint(b, name); err == nil {
		return name + " (" + p.Title + ")"
	}
	return name
}

// unit is what the outcome is written in; empty for a choice.
func (t *Test) unit() string {
	switch t.Kind {
	case Unplugged:
		if t.Instrument == readings.DiodeTest {
			return "V"
		}
		if t.Instrument != readings.Continuity {
			return "Ω"
		}
	case ProbeOhms:
		return "Ω"
	case Temperature:
		return "°C"
	case WarmUp:
		return "min"
	case MonitorWatt:
		return "W"
	case MonitorAmp, Clamp:
		return "A"
	case Volts:
		return "V"
	}
	return ""
}

// Unit is what the outcome is written in; empty where it is one of Choices.
func (t *Test) Unit() string { return t.unit() }

// Choices are the outcomes of a test that has no number.
func (t *Test) Choices() []string {
	switch t.Kind {
	case Look, LidWarm, Tripped:
		return []string{"no", "yes"}
	case Unplugged:
		if t.Instrument == readings.Continuity {
			return []string{"silent", "beeps"}
		}
	case Indicator:
		return []string{"heating", "in band", "drifted", "over temperature"}
	case Warms:
		return []string{"no", "half", "full"}
	}
	return nil
}

// Sights are the words of a look.
var Sights = []string{"scorched gate resistor", "residue", "insect", "cracked part"}

func sightQuestion(s string) string {
	switch s {
	case "scorched gate resistor":
		return "is its gate resistor scorched or discoloured"
	case "residue":
		return "is there damp or residue"
	case "insect":
		return "is there an insect across the tracks"
	}
	return "is a part swollen or cracked"
}

// Evidence is what a test showed.
type Evidence struct {
	Test Test
	// Value is in the unit of the test; +Inf reads open. Of a choice it is
	// the index in Choices.
	Value float64
	// Uncertainty is the ± bound on Value where it is given, 0 otherwise.
	Uncertainty float64
	Text        string // as it was written
}

// Show writes the value of an outcome of the test.
func (t *Test) Show(v float64) string {
	if c := t.Choices(); c != nil {
		if i := int(v); i >= 0 && i < len(c) {
			return c[i]
		}
		return "?"
	}
	if v > 1e300 {
		return "open"
	}
	s := strconv.FormatFloat(v, 'g', 3, 64)
	if x := max(v, -v); x >= 1000 && t.unit() == "Ω" {
		for _, p := range []struct {
			f float64
			s string
		}{{1e9, " GΩ"}, {1e6, " MΩ"}, {1e3, " kΩ"}} {
			if x >= p.f {
				return strconv.FormatFloat(v/p.f, 'g', 3, 64) + p.s
			}
		}
	}
	if x := max(v, -v); x >= 1000 {
		s = strconv.FormatFloat(v, 'f', 0, 64)
	}
	if x := max(v, -v); x < 0.01 {
		s = "0"
	}
	return s + " " + t.unit()
}

// ChoiceOf returns the index of a word among the test's choices.
func (t *Test) ChoiceOf(word string) (int, error) {
	c := t.Choices()
	if i := slices.Index(c, word); i >= 0 {
		return i, nil
	}
	return 0, fmt.Errorf("found %q, expected one of %s", word, strings.Join(c, ", "))
}
