package plots

import (
	"fmt"
	"strings"
)

// aid is the reading aid of the caption.
func (t *temperatures) aid() string {
	parts := []string{t.Language.T("Thick lines with markers: water.")}
	element, level, band, bar := false, false, false, false
	for k := range t.Channels {
		c := &t.Channels[k]
		element = element || c.Element != nil
		bar = bar || c.Indicator != nil
		for _, l := range c.Levels {
			level, band = true, band || l.Half > 0
		}
	}
	if element {
		parts = append(parts, t.Language.T("Thin lines: heating elements."))
	}
	if band {
		parts = append(parts, t.Language.T("Fine dashes: set temperatures with their bands, tinted."))
	} else if level {
		parts = append(parts, t.Language.T("Fine dashes: set temperatures."))
	}
	parts = append(parts, t.Language.T("Numbers at the right are the last values in °C."))
	if len(t.groups) > 0 {
		parts = append(parts, t.Language.T("Vertical lines: events; a row of signs that begins at such a line marks every time the event happened."))
	}
	if t.unshown > 0 {
		if t.unshown == 1 {
			parts = append(parts, t.Language.T("1 further event is listed in the data only."))
		} else {
			parts = append(parts, t.Language.F("%d further events are listed in the data only.", t.unshown))
		}
	}
	if t.Power != nil {
		parts = append(parts, t.Language.T("Power: mean through the plug."))
	}
	if bar {
		parts = append(parts, t.Language.T("Bars: what each channel's indicator shows; where it changes too fast to draw, the most urgent state."))
	}
	return strings.Join(parts, " ")
}

// alternative is the text alternative.
func (t *temperatures) alternative(s *Sheet) string {
	var b strings.Builder
	b.WriteString(t.Language.F("Temperature figure: %s.", s.title))
	if s.subtitle != "" {
		fmt.Fprintf(&b, " %s.", strings.TrimSuffix(s.subtitle, "."))
	}
	lo, hi := t.extent()
	b.WriteString(" " + t.Language.F("Horizontal axis: time from %s to %s. Vertical axis: temperature, values from %s °C to %s °C.", t.unit.when(t.from), t.unit.when(t.to), fixed(lo, 0), fixed(hi, 0)))
	for k := range t.Channels {
		c := &t.Channels[k]
		b.WriteString(" " + t.Language.F("%s: water %s", t.name(k), t.course(c.Water)))
		if c.Element != nil {
			_, top := extent(c.Element)
			b.WriteString("; " + t.Language.F("element at most %s °C", fixed(top, 0)))
		}
		for _, l := range c.Levels {
			fmt.Fprintf(&b, "; %s %s °C", t.Language.T(clean(l.Name)), number(l.Value, 4))
			if l.Half > 0 {
				fmt.Fprintf(&b, " ± %s K", number(l.Half, 3))
			}
		}
		b.WriteString(t.shown(k))
		b.WriteString(".")
	}
	if t.Lid != nil {
		b.WriteString(" " + t.Language.F("Lid %s.", t.course(t.Lid)))
	}
	if t.Power != nil {
		lo, hi := extent(t.Power[1:])
		b.WriteString(" " + t.Language.F("Power through the plug: %s to %s.", watts(lo), watts(hi)))
	}
	if len(t.groups) == 0 {
		b.WriteString(" " + t.Language.T("No events."))
		return b.String()
	}
	b.WriteString(" " + t.Language.T("Events:"))
	for i, g := range t.groups {
		if i > 0 {
			b.WriteString(";")
		}
		b.WriteString(" " + t.label(g))
		if n := len(g.times); n > 1 {
			fmt.Fprintf(&b, " %s", t.Language.F("to %s", t.unit.when(g.times[n-1])))
		}
	}
	b.WriteString(".")
	return b.String()
}

// course says where a temperature starts, peaks and ends.
func (t *temperatures) course(v []float64) string {
	peak := 0
	for i, x := range v {
		if x > v[peak] {
			peak = i
		}
	}
	return t.Language.F("from %s °C to %s °C, highest %s °C at %s", fixed(v[0], 1), fixed(v[len(v)-1], 1), fixed(v[peak], 1), t.unit.when(t.Time[peak]))
}

// shown says what an indicator showed: its first changes, and for how much of
// the time each state.
func (t *temperatures) shown(k int) string {
	ps := t.periods(k)
	if len(ps) == 0 {
		return ""
	}
	const told = 4
	var parts []string
	for i, p := range ps {
		if i == told {
			if n := len(ps) - told; n == 1 {
				parts = append(parts, t.Language.T("1 further change"))
			} else {
				parts = append(parts, t.Language.F("%d further changes", n))
			}
			break
		}
		parts = append(parts, t.Language.F("%s from %s", t.Language.T(p.indicator.String()), t.unit.when(p.from)))
	}
	text := "; " + t.Language.F("indicator %s", strings.Join(parts, ", "))
	if len(ps) <= told {
		return text
	}
	var total [len(indicatorNames)]float64
	for _, p := range ps {
		total[p.indicator] += p.to - p.from
	}
	parts = parts[:0]
	for i, x := range total {
		if x > 0 {
			parts = append(parts, fmt.Sprintf("%s %s %%", t.Language.T(Indicator(i).String()), fixed(100*x/(t.to-t.from), 0)))
		}
	}
	return text + "; " + t.Language.F("in all %s of the time", strings.Join(parts, ", "))
}

// tables is the data behind the figure.
func (t *temperatures) tables() []Table {
	main := Table{"temperatures", []Column{{Name: "time", Unit: "s", Number: t.Time}}}
	add := func(name, unit string, v []float64) {
		if v != nil {
			main.Columns = append(main.Columns, Column{Name: name, Unit: unit, Number: v})
		}
	}
	levels := Table{"levels", []Column{{Name: "channel", Text: []string{}}, {Name: "level", Text: []string{}}, {Name: "temperature", Unit: "°C"}, {Name: "half band", Unit: "K"}}}
	bars := Table{"indicators", []Column{{Name: "channel", Text: []string{}}, {Name: "from", Unit: "s"}, {Name: "to", Unit: "s"}, {Name: "indicator", Text: []string{}}}}
	events := Table{"events", []Column{{Name: "time", Unit: "s"}, {Name: "channel", Text: []string{}}, {Name: "event", Text: []string{}}}}
	for k := range t.Channels {
		c, name := &t.Channels[k], t.name(k)
		add(name+" water", "°C", c.Water)
		add(name+" element", "°C", c.Element)
		for _, l := range c.Levels {
			col := levels.Columns
			col[0].Text, col[1].Text = append(col[0].Text, name), append(col[1].Text, clean(l.Name))
			col[2].Number, col[3].Number = append(col[2].Number, l.Value), append(col[3].Number, l.Half)
		}
		for _, p := range t.periods(k) {
			col := bars.Columns
			col[0].Text, col[3].Text = append(col[0].Text, name), append(col[3].Text, p.indicator.String())
			col[1].Number, col[2].Number = append(col[1].Number, p.from), append(col[2].Number, p.to)
		}
	}
	add("lid", "°C", t.Lid)
	add("power", "W", t.Power)
	for _, e := range t.Events {
		name := ""
		if e.Channel >= 0 {
			name = t.name(e.Channel)
		}
		col := events.Columns
		col[0].Number = append(col[0].Number, e.Time)
		col[1].Text, col[2].Text = append(col[1].Text, name), append(col[2].Text, clean(e.Text))
	}
	out := []Table{main}
	for _, x := range []Table{levels, bars, events} {
		if x.Rows() > 0 {
			out = append(out, x)
		}
	}
	return out
}
