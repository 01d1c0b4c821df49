package plots

import "strings"

func (d *schematic) aid() string {
	parts := []string{d.T("Symbols after IEC 60617; a drawing of the circuit, not of any part's place.")}
	var kinds [Added + 1]bool
	for _, f := range d.Faults {
		kinds[f.Kind] = true
	}
	for k, words := range [...]string{
		Altered: "A part drawn heavily has another value than a healthy one.",
		Gap:     "A gap between two strokes: the path is open there.",
		Film:    "A dashed resistor: a path that does not belong there.",
		Bridged: "A heavy line: a short circuit.",
		OneWay:  "A diode beside a part: a path that conducts one way only.",
		Added:   "A dashed resistor within a lead: resistance in series.",
	} {
		if kinds[k] && !(FaultKind(k) == Added && kinds[Film]) {
			parts = append(parts, d.T(words))
		}
	}
	return strings.Join(append(parts, d.T(Caution)), " ")
}

// alternative describes the circuit in the order in which current meets it.
func (d *schematic) alternative(s *Sheet) string {
	var b strings.Builder
	b.WriteString(d.F("Circuit diagram: %s.", s.title))
	if s.subtitle != "" {
		b.WriteString(" " + strings.TrimSuffix(s.subtitle, ".") + ".")
	}
	switchParts := []SchematicPart{TriacPart}
	var load []SchematicPart
	for _, p := range []SchematicPart{WirePart, ThermostatPart, LinkPart, ElementPart} {
		if d.has(p) {
			load = append(load, p)
		}
	}
	var order []string
	add := func(parts ...SchematicPart) {
		for _, p := range parts {
			order = append(order, d.named(p))
		}
	}
	if d.Upstream {
		add(UpstreamLinkPart)
	}
	if d.NeutralSide {
		for i := len(load) - 1; i >= 0; i-- {
			add(load[i])
		}
		add(switchParts...)
	} else {
		add(switchParts...)
		add(load...)
	}
	b.WriteString(" " + d.F("From line to neutral: %s.", strings.Join(order, ", ")))
	terminal := "Main terminal 1 of the triac points to the supply."
	if d.MT1Load {
		terminal = "Main terminal 1 of the triac points to the load."
	}
	b.WriteString(" " + d.T(terminal))
	gate := []string{d.named(OptoPart), d.named(GateResistorPart)}
	b.WriteString(" " + d.F("From main terminal 2 to the gate: %s.", strings.Join(gate, ", ")))
	if d.GateShunt {
		b.WriteString(" " + d.F("From gate to main terminal 1: %s.", d.named(GateShuntPart)))
	}
	if d.Snubber {
		b.WriteString(" " + d.F("Across the triac: %s, %s.", d.named(SnubberResistorPart), d.named(SnubberCapacitorPart)))
	} else {
		b.WriteString(" " + d.T("No snubber."))
	}
	if len(d.Faults) == 0 {
		b.WriteString(" " + d.T("No fault is marked."))
	}
	for i, f := range d.Faults {
		text := clean(f.Text)
		if where := d.where(f); !strings.Contains(text, where) {
			text += ", " + where
		}
		b.WriteString(" " + d.F("Fault %d: %s.", i+1, text))
	}
	return b.String()
}

// named is a part's name with its value.
func (d *schematic) named(p SchematicPart) string {
	t := d.T(p.String())
	if v := clean(d.Values[p]); v != "" {
		t += " " + v
	}
	return t
}

func (d *schematic) table() Table {
	t := Table{"parts", []Column{{Name: "part", Text: []string{}}, {Name: "value", Text: []string{}}, {Name: "fault", Text: []string{}}}}
	for p := range partCount {
		var marks []string
		for _, f := range d.Faults {
			if f.Part == p && f.Route == NoRoute {
				marks = append(marks, clean(f.Text))
			}
		}
		if !d.has(p) && len(marks) == 0 {
			continue
		}
		c := t.Columns
		c[0].Text, c[1].Text, c[2].Text = append(c[0].Text, p.String()), append(c[1].Text, clean(d.Values[p])), append(c[2].Text, strings.Join(marks, "; "))
	}
	for _, f := range d.Faults {
		if f.Route != NoRoute {
			c := t.Columns
			c[0].Text, c[1].Text, c[2].Text = append(c[0].Text, routeWords[f.Route]), append(c[1].Text, ""), append(c[2].Text, clean(f.Text))
		}
	}
	return t
}
