package plots

import (
	"fmt"
	"math"
)

// Indicator is what a channel's indicator shows.
type Indicator int

// The indicator states.
const (
	IndicatorOff     Indicator = iota
	IndicatorHeating           // not yet in band
	IndicatorInBand
	IndicatorDrifted // out of band after having been in it
	IndicatorOver    // above the over-temperature limit
)

var indicatorNames = [...]string{"off", "heating", "in band", "drifted", "over temperature"}

func (i Indicator) String() string {
	if i < 0 || int(i) >= len(indicatorNames) {
		return fmt.Sprintf("indicator(%d)", int(i))
	}
	return indicatorNames[i]
}

// Change is a change of an indicator: what it shows from Time on.
type Change struct {
	Time      float64 // s
	Indicator Indicator
}

// Level is a temperature that a channel is compared with.
type Level struct {
	Name  string  // "set point"
	Value float64 // °C
	Half  float64 // half-width of the band about it, K; 0 for none
}

// TemperatureChannel is one boiler of a temperature sheet.
type TemperatureChannel struct {
	Name      string
	Water     []float64 // °C, by time
	Element   []float64 // °C, by time; nil is left out
	Levels    []Level
	Indicator []Change // rising times; nil leaves the bar out
}

// Event is something that happened in a run.
type Event struct {
	Time    float64 // s
	Channel int     // from 0; −1 for none
	Text    string  // "link opened"
}

// TemperatureInput is what a temperature sheet shows. Times are in seconds
// and rise; temperatures in °C.
type TemperatureInput struct {
	Heading
	Time     []float64
	Channels []TemperatureChannel
	Lid      []float64 // °C, by time; nil is left out
	// Power is the mean power in W through the plug since the time before,
	// by time, the first value unused; nil leaves the panel out.
	Power  []float64
	Events []Event
}

// Temperatures builds a sheet of a run: the temperatures over time with set
// points, bands and events, the power, and a bar for every channel of what
// its indicator shows. An error names the series and what was expected.
func Temperatures(in TemperatureInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	t := &temperatures{TemperatureInput: in}
	t.from, t.to = in.Time[0], in.Time[len(in.Time)-1]
	t.unit = timeUnitFor(t.to - t.from)
	t.group()
	s := in.Heading.sheet(in.Language.T("Temperatures"), t.aid())
	s.alt = t.alternative(s)
	s.data = t.tables()
	s.body = t.draw
	return s, nil
}

func (in *TemperatureInput) check() error {
	if err := checkTimes("temperatures", in.Time, mostRun); err != nil {
		return err
	}
	if len(in.Channels) == 0 && in.Lid == nil {
		return fmt.Errorf("temperatures: found no channel and no lid, expected a temperature")
	}
	if len(in.Channels) > maxChannels {
		return fmt.Errorf("found %d channels, expected at most %d in one figure", len(in.Channels), maxChannels)
	}
	for k := range in.Channels {
		if err := in.Channels[k].check(named(k, in.Channels[k].Name), in.Time); err != nil {
			return err
		}
	}
	if in.Lid != nil {
		if err := checkSeries("lid", in.Time, in.Lid, mostPlain); err != nil {
			return err
		}
	}
	if in.Power != nil {
		if err := checkSeries("power", in.Time, in.Power, mostPrefixed); err != nil {
			return err
		}
	}
	for i, e := range in.Events {
		where := fmt.Sprintf("event %d", i)
		if err := checkValues(where+": time", []float64{e.Time}, mostRun); err != nil {
			return err
		}
		if e.Channel < -1 || e.Channel >= len(in.Channels) {
			return fmt.Errorf("%s: found channel index %d, expected −1 to %d", where, e.Channel, len(in.Channels)-1)
		}
		if clean(e.Text) == "" {
			return fmt.Errorf("%s: found no text, expected what happened", where)
		}
	}
	return nil
}

func (c *TemperatureChannel) check(where string, time []float64) error {
	if err := checkSeries(where+": water", time, c.Water, mostPlain); err != nil {
		return err
	}
	if c.Element != nil {
		if err := checkSeries(where+": element", time, c.Element, mostPlain); err != nil {
			return err
		}
	}
	for _, l := range c.Levels {
		if err := checkValues(where+": "+l.Name, []float64{l.Value, l.Half}, mostPlain); err != nil {
			return err
		}
		if l.Half < 0 {
			return fmt.Errorf("%s: %s: found a band of %g K to each side, expected 0 or more", where, l.Name, l.Half)
		}
	}
	last := math.Inf(-1)
	for i, x := range c.Indicator {
		if err := checkValues(where+": indicator times", []float64{x.Time}, mostRun); err != nil {
			return err
		}
		if x.Time < last {
			return fmt.Errorf("%s: indicator: found time %g s at index %d after %g s, expected times that do not fall", where, x.Time, i, last)
		}
		last = x.Time
		if x.Indicator < 0 || int(x.Indicator) >= len(indicatorNames) {
			return fmt.Errorf("%s: indicator: found %d at index %d, expected 0 to %d", where, int(x.Indicator), i, len(indicatorNames)-1)
		}
	}
	return nil
}

// temperatures is a sheet being built.
type temperatures struct {
	TemperatureInput
	from, to float64
	unit     timeUnit
	groups   []eventGroup
	unshown  int // events beyond the last group shown
}

// eventGroup is the same event of a channel, as often as it happened.
type eventGroup struct {
	channel int
	text    string
	times   []float64
}

// maxGroups bounds the events that are labelled.
const maxGroups = 24

// group collects the events within the figure.
func (t *temperatures) group() {
	for _, e := range t.Events {
		if e.Time < t.from || e.Time > t.to {
			continue
		}
		text, found := t.Language.T(clean(e.Text)), false
		for i := range t.groups {
			g := &t.groups[i]
			if g.channel == e.Channel && g.text == text {
				g.times = append(g.times, e.Time)
				found = true
			}
		}
		switch {
		case found:
		case len(t.groups) < maxGroups:
			t.groups = append(t.groups, eventGroup{e.Channel, text, []float64{e.Time}})
		default:
			t.unshown++
		}
	}
}

// label is the text at an event's line.
func (t *temperatures) label(g eventGroup) string {
	s := g.text + t.times(g)
	if g.channel >= 0 {
		s = t.name(g.channel) + ": " + s
	}
	return s
}

// times says when and how often an event happened.
func (t *temperatures) times(g eventGroup) string {
	if n := len(g.times); n > 1 {
		return ", " + t.Language.F("%d times from %s", n, t.unit.when(g.times[0]))
	}
	return ", " + t.unit.when(g.times[0])
}

// name is a channel's name as written.
func (t *temperatures) name(k int) string {
	if n := clean(t.Channels[k].Name); n != "" {
		return n
	}
	return t.Language.F("channel %d", k+1)
}

// period is a time during which an indicator showed one thing.
type period struct {
	from, to  float64
	indicator Indicator
}

// periods are what a channel's indicator showed within the figure; before the
// first change it is unknown and left blank.
func (t *temperatures) periods(k int) []period {
	var out []period
	changes := t.Channels[k].Indicator
	for i, c := range changes {
		end := t.to
		if i+1 < len(changes) {
			end = math.Min(end, changes[i+1].Time)
		}
		from := math.Max(t.from, c.Time)
		if end <= from {
			continue
		}
		if n := len(out); n > 0 && out[n-1].indicator == c.Indicator && out[n-1].to == from {
			out[n-1].to = end
			continue
		}
		out = append(out, period{from, end, c.Indicator})
	}
	return out
}
