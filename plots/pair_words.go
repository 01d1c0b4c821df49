package plots

import "strings"

func (p *pair) alternative(s *Sheet) string {
	var b strings.Builder
	unit := p.Traces[0].Unit
	b.WriteString(p.F("Two cases side by side: %s.", s.title))
	if s.subtitle != "" {
		b.WriteString(" " + strings.TrimSuffix(s.subtitle, ".") + ".")
	}
	for i, n := range p.Names {
		b.WriteString(" " + p.F("%s, voltage at %s: %s.", clean(n), clean(p.Point), p.Traces[i].between(p.Language)))
		var parts []string
		for k, m := range p.Meters {
			r := p.Readings[i][k]
			value := quantity(r.Value, unit, 4)
			switch {
			case r.Over:
				value = p.T("overload")
			case r.Missing:
				value = p.T("not measured")
			}
			parts = append(parts, clean(m)+" "+value)
		}
		b.WriteString(" " + p.F("Meters: %s.", strings.Join(parts, ", ")))
		for _, c := range p.Water[i] {
			_, hi := extent(c.Y)
			b.WriteString(" " + p.F("%s: water from %s to %s °C, highest %s °C.", clean(c.Name), fixed(c.Y[0], 1), fixed(c.Y[len(c.Y)-1], 1), fixed(hi, 1)))
		}
	}
	return b.String()
}

func (p *pair) tables() []Table {
	unit := p.Traces[0].Unit
	m := Table{"meters", []Column{{Name: "meter", Text: []string{}}}}
	for _, x := range p.Meters {
		m.Columns[0].Text = append(m.Columns[0].Text, clean(x))
	}
	var out []Table
	for i, n := range p.Names {
		n = clean(n)
		out = append(out, Table{n, []Column{{Name: "time", Unit: "s", Number: p.Traces[i].Time}, {Name: "voltage", Unit: unit, Number: p.Traces[i].Value}}})
		value, remark := Column{Name: n, Unit: unit}, Column{Name: n + " remark", Text: []string{}}
		for _, r := range p.Readings[i] {
			word := ""
			switch {
			case r.Over:
				word, r.Value = "overload", 0
			case r.Missing:
				word, r.Value = "not measured", 0
			}
			value.Number, remark.Text = append(value.Number, r.Value), append(remark.Text, word)
		}
		m.Columns = append(m.Columns, value, remark)
		for _, c := range p.Water[i] {
			out = append(out, Table{n + ", " + clean(c.Name), []Column{{Name: "time", Unit: "s", Number: c.X}, {Name: "water", Unit: "°C", Number: c.Y}}})
		}
	}
	return append(out, m)
}
