package plots

import (
	"fmt"
	"math"
	"strings"
)

// aid is the reading aid of the caption.
func (w *waveforms) aid() string {
	var parts []string
	voltage, current, gate, marks := false, false, false, false
	for k := range w.Channels {
		c := &w.Channels[k]
		voltage = voltage || c.Voltage.given()
		current = current || c.Current.given()
		gate = gate || c.Gate.given()
		marks = marks || len(w.marked(k, Firing))+len(w.marked(k, Extinction)) > 0
	}
	if voltage {
		parts = append(parts, w.Language.T("Solid line: voltage, left scale."))
	}
	if current {
		parts = append(parts, w.Language.T("Shaded area with a dashed edge: current, right scale."))
	}
	if gate {
		parts = append(parts, w.Language.T("Lower strip: gate current."))
	}
	if marks {
		parts = append(parts, w.Language.T("Open triangles above a panel mark firings, full triangles below it extinctions; their angles count from the zero of the supply that starts the half-cycle of the firing."))
	}
	parts = append(parts, w.Language.T("Dotted verticals: zeros of the supply's fundamental."))
	if len(w.Channels) > 1 {
		if w.OwnScales {
			parts = append(parts, w.Language.T("Every channel has scales of its own."))
		} else {
			parts = append(parts, w.Language.T("Scales are the same for all channels."))
		}
	}
	parts = append(parts, w.Language.T(Caution))
	return strings.Join(parts, " ")
}

// alternative is the text alternative.
func (w *waveforms) alternative(s *Sheet) string {
	var b strings.Builder
	b.WriteString(w.Language.F("Waveform figure: %s.", s.title))
	if s.subtitle != "" {
		fmt.Fprintf(&b, " %s.", strings.TrimSuffix(s.subtitle, "."))
	}
	b.WriteString(" " + w.Language.F("Horizontal axis: time from %s ms to %s ms, %s at %s Hz.", number(w.from*1e3, 4), number(w.to*1e3, 4), cycles(w.Language, (w.to-w.from)*w.Frequency), number(w.Frequency, 4)))
	if w.Supply.given() {
		b.WriteString(" " + w.Language.F("Supply voltage: %s.", w.Supply.between(w.Language)))
	}
	for k := range w.Channels {
		c := &w.Channels[k]
		name := clean(c.Name)
		if name == "" {
			name = fmt.Sprintf("%d", k+1)
		}
		b.WriteString(" " + w.Language.F("Channel %s", name))
		if c.Note != "" {
			fmt.Fprintf(&b, " (%s)", clean(c.Note))
		}
		var parts []string
		for _, t := range []struct {
			trace *Trace
			word  string
		}{{&c.Voltage, "voltage"}, {&c.Current, "current"}, {&c.Gate, "gate current"}} {
			if t.trace.given() {
				word := w.Language.T(t.word)
				if t.trace.Name != "" {
					word = w.Language.T(clean(t.trace.Name))
				}
				parts = append(parts, word+" "+t.trace.between(w.Language))
			}
		}
		if fired := w.marked(k, Firing); len(fired) > 0 {
			parts = append(parts, w.Language.F("fires %s", angles(w.Language, fired)))
		}
		if ended := w.marked(k, Extinction); len(ended) > 0 {
			parts = append(parts, w.Language.F("stops conducting %s", angles(w.Language, ended)))
		}
		if c.Voltage.given() && len(w.marked(k, Firing)) == 0 {
			parts = append(parts, w.Language.T("no firing"))
		}
		fmt.Fprintf(&b, ": %s.", strings.Join(parts, "; "))
	}
	return b.String()
}

// between says between which values a trace lies and its rms value.
func (t *Trace) between(l *Language) string {
	lo, hi := extent(t.Value)
	e := rms(t.Time, t.Value)
	if hi-lo <= 1e-9*math.Max(1, math.Max(hi, -lo)) {
		return l.F("steady at %s", quantity(lo, t.Unit, 3))
	}
	return l.F("%s to %s, rms %s", quantity(lo, t.Unit, 4), quantity(hi, t.Unit, 4), quantity(e, t.Unit, 4))
}

func cycles(l *Language, n float64) string {
	if r := math.Round(n); math.Abs(n-r) < 1e-3 {
		if r == 1 {
			return l.T("1 cycle")
		}
		return l.F("%s cycles", number(r, 9))
	}
	return l.F("%s cycles", number(n, 3))
}

// angles says at which angles marks stand and how many they are.
func angles(l *Language, marks []Mark) string {
	lo, hi := marks[0].Degrees, marks[0].Degrees
	for _, m := range marks {
		lo, hi = math.Min(lo, m.Degrees), math.Max(hi, m.Degrees)
	}
	times := l.T("1 time")
	if n := len(marks); n > 1 {
		times = l.F("%d times", n)
	}
	a, b := fixed(lo, 1), fixed(hi, 1)
	if a == b {
		return l.F("%s at %s°", times, a)
	}
	return l.F("%s between %s° and %s°", times, a, b)
}

// tables is the data behind the figure: one table for every set of times that
// traces share, and one of the marks.
func (w *waveforms) tables() []Table {
	var out []Table
	type group struct {
		time  []float64
		table int
	}
	var groups []group
	for i, p := range w.traces() {
		if !p.trace.given() {
			continue
		}
		g := -1
		for j := range groups {
			if sameSlice(groups[j].time, p.trace.Time) {
				g = groups[j].table
			}
		}
		if g < 0 {
			g = len(out)
			groups = append(groups, group{p.trace.Time, g})
			name := "traces"
			if g > 0 {
				name = fmt.Sprintf("traces %d", g+1)
			}
			out = append(out, Table{name, []Column{{Name: "time", Unit: "s", Number: p.trace.Time}}})
		}
		name := p.where
		if t := clean(p.trace.Name); t != "" {
			name += ": " + t
		} else if i > 0 {
			name += ": " + []string{"voltage", "current", "gate current"}[(i-1)%3]
		}
		out[g].Columns = append(out[g].Columns, Column{Name: name, Unit: p.trace.Unit, Number: p.trace.Value})
	}
	marks := Table{"marks", []Column{{Name: "channel", Text: []string{}}, {Name: "mark", Text: []string{}}, {Name: "time", Unit: "s"}, {Name: "angle", Unit: "°"}}}
	for k := range w.Channels {
		for _, m := range w.Channels[k].Marks {
			kind := "firing"
			if m.Kind == Extinction {
				kind = "extinction"
			}
			c := marks.Columns
			c[0].Text = append(c[0].Text, w.Channels[k].Name)
			c[1].Text = append(c[1].Text, kind)
			c[2].Number = append(c[2].Number, m.Time)
			c[3].Number = append(c[3].Number, m.Degrees)
		}
	}
	if marks.Rows() > 0 {
		out = append(out, marks)
	}
	return out
}

// sameSlice reports whether a and b hold equal times.
func sameSlice(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	if &a[0] == &b[0] {
		return true
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}
