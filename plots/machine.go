package plots

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// MachineChannel is one boiler of an animation of a machine: slices by frame,
// temperatures in °C.
type MachineChannel struct {
	Name           string
	Set            float64 // °C; NaN for none
	Link           float64 // °C at which the thermal link opens
	Fill           float64 // kg of water when full
	Water, Element []float64
	Mass           []float64 // kg
	Drive          []float64 // part of the time driven, 0 to 1
	Power          []float64 // W of the element
	Indicator      []Indicator
	LinkOpen       []bool
}

// MachineInput is what an animation of a machine shows: its boilers filling
// with heat, what each indicator shows, and a display.
type MachineInput struct {
	Heading
	Rate     float64   // frames a second
	Time     []float64 // s, of each frame
	Channels []MachineChannel
	// Display is what a meter shows in each frame: "1520 W"; DisplayName says
	// which.
	Display     []string
	DisplayName string
	Events      []Event
}

// most boilers beside each other on a page.
const mostBoilers = 6

// Machine builds the animation. An error names the channel and what was
// expected.
func Machine(in MachineInput) (*Animation, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	m := &machine{MachineInput: in, Language: in.Heading.Language}
	m.prepare()
	a := &Animation{rate: in.Rate, count: len(in.Time), still: m.still, moving: m.moving, data: []Table{m.table()}}
	a.title = clean(in.Title)
	if a.title == "" {
		a.title = m.T("A machine over time")
	}
	m.title = a.title
	src := clean(in.Source)
	if src == "" {
		src = m.T(Invented)
	}
	a.caption = strings.TrimSpace(clean(in.Caption) + " " + m.T("Each vessel fills with heat: the level is the temperature of its water on the scale beside it. The bar at the element is as long as the part of the time in which it is driven.") + " " + m.T(LinkCaution) + " " + src)
	a.alt = m.alternative()
	return a, nil
}

func (in *MachineInput) check() error {
	if err := checkFrames(len(in.Time), in.Rate); err != nil {
		return err
	}
	if err := checkTimes("frames", in.Time, mostRun); err != nil {
		return err
	}
	if n := len(in.Channels); n == 0 || n > mostBoilers {
		return fmt.Errorf("found %s, expected 1 to %d", plural(n, "channel", "channels"), mostBoilers)
	}
	if len(in.Display) != len(in.Time) {
		return fmt.Errorf("display: found %s for %s, expected as many", plural(len(in.Display), "text", "texts"), plural(len(in.Time), "frame", "frames"))
	}
	for k := range in.Channels {
		c := &in.Channels[k]
		for _, x := range []struct {
			name   string
			values []float64
		}{{"water", c.Water}, {"element", c.Element}, {"mass", c.Mass}, {"drive", c.Drive}, {"power", c.Power}} {
			if err := checkSeries(named(k, c.Name)+": "+x.name, in.Time, x.values, mostPlain); err != nil {
				return err
			}
		}
		if len(c.Indicator) != len(in.Time) || len(c.LinkOpen) != len(in.Time) {
			return fmt.Errorf("%s: found %d indicators and %d states of the link for %s, expected as many", named(k, c.Name), len(c.Indicator), len(c.LinkOpen), plural(len(in.Time), "frame", "frames"))
		}
		for i, x := range c.Indicator {
			if x < 0 || int(x) >= len(indicatorNames) {
				return fmt.Errorf("%s: indicator: found %d at index %d, expected 0 to %d", named(k, c.Name), int(x), i, len(indicatorNames)-1)
			}
		}
		if !(c.Fill > 0) || math.IsInf(c.Fill, 0) {
			return fmt.Errorf("%s: found %g kg when full, expected more than 0", named(k, c.Name), c.Fill)
		}
	}
	for i, e := range in.Events {
		if e.Channel < -1 || e.Channel >= len(in.Channels) || math.IsNaN(e.Time) {
			return fmt.Errorf("event %d: found channel %d at %g s, expected −1 to %d", i, e.Channel, e.Time, len(in.Channels)-1)
		}
	}
	return nil
}

// machine is an animation being built.
type machine struct {
	MachineInput
	*Language
	title  string
	lo, hi float64 // °C, of the scale
}

func (m *machine) prepare() {
	m.Events = slices.Clone(m.Events)
	slices.SortStableFunc(m.Events, func(a, b Event) int { return cmp.Compare(a.Time, b.Time) })
	m.lo, m.hi = 0, 100
	for k := range m.Channels {
		c := &m.Channels[k]
		lo, hi := extent(c.Water)
		m.lo = math.Min(m.lo, lo)
		m.hi = math.Max(m.hi, hi)
		for _, x := range []float64{c.Set, c.Link} {
			if !math.IsNaN(x) && x < 300 {
				m.hi = math.Max(m.hi, x)
			}
		}
	}
	step := 20.0
	m.lo = math.Floor(m.lo/step) * step
	m.hi = math.Ceil((m.hi+2)/step) * step
}

func (m *machine) alternative() string {
	var b strings.Builder
	b.WriteString(m.F("Animation of a machine: %s.", m.title))
	if s := clean(m.Subtitle); s != "" {
		b.WriteString(" " + strings.TrimSuffix(s, ".") + ".")
	}
	u := timeUnitFor(m.Time[len(m.Time)-1] - m.Time[0])
	b.WriteString(" " + m.F("%d frames at %s a second, from %s to %s.", len(m.Time), number(m.Rate, 4), u.when(m.Time[0]), u.when(m.Time[len(m.Time)-1])))
	for k := range m.Channels {
		c := &m.Channels[k]
		_, hi := extent(c.Water)
		last := len(c.Water) - 1
		b.WriteString(" " + m.F("%s: water from %s to %s °C, highest %s °C.", clean(c.Name), fixed(c.Water[0], 1), fixed(c.Water[last], 1), fixed(hi, 1)))
		var shown []string
		for i, x := range c.Indicator {
			if i == 0 || x != c.Indicator[i-1] {
				shown = append(shown, m.F("%s from %s", m.T(x.String()), u.when(m.Time[i])))
			}
		}
		if n := len(shown); n > 6 {
			shown = append(shown[:6], m.F("%d further changes", n-6))
		}
		b.WriteString(" " + m.F("Indicator: %s.", strings.Join(shown, ", ")))
		for i, open := range c.LinkOpen {
			if open {
				b.WriteString(" " + m.F("Its link is open from %s.", u.when(m.Time[i])))
				break
			}
		}
	}
	var events []string
	for i, e := range m.Events {
		if i == 12 {
			events = append(events, m.F("%d further changes", len(m.Events)-i))
			break
		}
		events = append(events, m.event(e)+", "+u.when(e.Time))
	}
	if len(events) > 0 {
		b.WriteString(" " + m.F("Events: %s.", strings.Join(events, "; ")))
	}
	return b.String()
}

// event is an event in words.
func (m *machine) event(e Event) string {
	t := m.T(clean(e.Text))
	if e.Channel >= 0 {
		t = clean(m.Channels[e.Channel].Name) + ": " + t
	}
	return t
}

func (m *machine) table() Table {
	t := Table{"frames", []Column{{Name: "time", Unit: "s", Number: m.Time}, {Name: "display", Text: m.Display}}}
	for k := range m.Channels {
		c := &m.Channels[k]
		name := clean(c.Name) + " "
		shown, link := make([]string, len(c.Indicator)), make([]string, len(c.Indicator))
		for i, x := range c.Indicator {
			shown[i], link[i] = x.String(), "closed"
			if c.LinkOpen[i] {
				link[i] = "open"
			}
		}
		t.Columns = append(t.Columns, Column{Name: name + "water", Unit: "°C", Number: c.Water}, Column{Name: name + "element", Unit: "°C", Number: c.Element},
			Column{Name: name + "mass", Unit: "kg", Number: c.Mass}, Column{Name: name + "drive", Number: c.Drive}, Column{Name: name + "power", Unit: "W", Number: c.Power},
			Column{Name: name + "indicator", Text: shown}, Column{Name: name + "link", Text: link})
	}
	return t
}
