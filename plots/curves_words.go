package plots

import (
	"math"
	"strings"
)

func (c *curves) aid() string {
	var parts []string
	gaps := false
	for _, p := range c.Panels {
		for _, x := range p.Curves {
			for _, y := range x.Y {
				gaps = gaps || math.IsNaN(y)
			}
		}
	}
	if gaps {
		parts = append(parts, c.T("A line that ends: from there on there is no value."))
	}
	if c.Log {
		parts = append(parts, c.T("The horizontal axis is logarithmic."))
	}
	return strings.Join(parts, " ")
}

func (c *curves) alternative(s *Sheet) string {
	var b strings.Builder
	b.WriteString(c.F("Figure of curves: %s.", unended(s.title)))
	if s.subtitle != "" {
		b.WriteString(" " + strings.TrimSuffix(s.subtitle, ".") + ".")
	}
	b.WriteString(" " + c.F("Horizontal axis: %s from %s to %s.", clean(c.Quantity), quantity(c.lo, c.Unit, 4), quantity(c.hi, c.Unit, 4)))
	for _, p := range c.Panels {
		for _, x := range p.Curves {
			var told []string
			first, last := -1, -1
			lo, hi := -1, -1
			for i, y := range x.Y {
				if math.IsNaN(y) {
					continue
				}
				if first < 0 {
					first, lo, hi = i, i, i
				}
				last = i
				if y < x.Y[lo] {
					lo = i
				}
				if y > x.Y[hi] {
					hi = i
				}
			}
			if first < 0 {
				b.WriteString(" " + c.F("%s, %s: no value.", clean(p.Quantity), clean(x.Name)))
				continue
			}
			seen := map[int]bool{}
			for _, i := range []int{first, lo, hi, last} {
				if !seen[i] {
					seen[i] = true
					told = append(told, c.F("%s at %s", quantity(x.Y[i], p.Unit, 4), quantity(x.X[i], c.Unit, 4)))
				}
			}
			b.WriteString(" " + c.F("%s, %s: %s.", clean(p.Quantity), clean(x.Name), strings.Join(told, ", ")))
			if last < len(x.Y)-1 {
				b.WriteString(" " + c.F("Beyond %s there is no value.", quantity(x.X[last], c.Unit, 4)))
			}
			if first > 0 {
				b.WriteString(" " + c.F("Below %s there is no value.", quantity(x.X[first], c.Unit, 4)))
			}
		}
		for _, l := range p.Limits {
			b.WriteString(" " + c.F("Line across: %s.", c.limit(&p, l)))
		}
	}
	return b.String()
}

func (c *curves) tables() []Table {
	var out []Table
	for _, p := range c.Panels {
		for _, x := range p.Curves {
			t := Table{clean(x.Name), []Column{{Name: clean(c.Quantity), Unit: c.Unit}, {Name: clean(p.Quantity), Unit: p.Unit}}}
			if len(c.Panels) > 1 {
				t.Name += ", " + clean(p.Quantity)
			}
			for i := range x.X {
				if !math.IsNaN(x.Y[i]) {
					t.Columns[0].Number, t.Columns[1].Number = append(t.Columns[0].Number, x.X[i]), append(t.Columns[1].Number, x.Y[i])
				}
			}
			out = append(out, t)
		}
	}
	return out
}
