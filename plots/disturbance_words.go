package plots

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// aid is the reading aid of the caption.
func (d *disturbances) aid() string {
	parts := []string{}
	if state := clean(d.State); state != "" {
		parts = append(parts, "Spectra: with "+state+".")
	}
	parts = append(parts, "Bars: rms value of each order on a logarithmic scale, at the right in percent of order 1; odd orders filled, even orders open, the direct part hatched; what lies below the scale is left out.")
	if slices.ContainsFunc(d.Spectra, func(p Spectrum) bool { return p.Limit != nil }) {
		text := "Strokes across: limits"
		if l := clean(d.Limits); l != "" {
			text += " of " + l
		}
		parts = append(parts, text+"; which of them hold, local rules say.")
	}
	if len(d.Time) > 0 {
		parts = append(parts, "Flicker sensation: 1 is perceived by half of observers beside a lamp on the same supply.")
	}
	if len(d.Short) > 0 {
		parts = append(parts, "P_st: 1 is the threshold of irritation; hatched where the part is shorter than 10 min.")
	}
	return strings.Join(parts, " ")
}

// told is how many orders of a spectrum are told in words.
const told = 6

// alternative is the text alternative.
func (d *disturbances) alternative(s *Sheet) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Disturbance figure: %s.", s.title)
	if s.subtitle != "" {
		fmt.Fprintf(&b, " %s.", strings.TrimSuffix(s.subtitle, "."))
	}
	fmt.Fprintf(&b, " Horizontal axis: orders of harmonics, the direct part to order %d.", d.orders)
	for i := range d.Spectra {
		p := &d.Spectra[i]
		fmt.Fprintf(&b, " %s: %s", clean(p.Name), p.first())
		if w := p.words(); w != "" {
			b.WriteString("; " + w)
		}
		b.WriteString("; " + p.largest() + ".")
	}
	if n := len(d.Time); n > 0 {
		peak, over := 0, 0.0
		for i, v := range d.Sensation {
			if v > d.Sensation[peak] {
				peak = i
			}
			if i > 0 && v > 1 {
				over += d.Time[i] - d.Time[i-1]
			}
		}
		fmt.Fprintf(&b, " Flicker sensation from %s to %s: highest %s at %s, above 1 for %s %% of the time.", d.unit.when(d.Time[0]), d.unit.when(d.Time[n-1]),
			number(d.Sensation[peak], 3), d.unit.when(d.Time[peak]), fixed(100*over/(d.Time[n-1]-d.Time[0]), 0))
	}
	if n := len(d.Short); n > 0 {
		var parts []string
		for i, v := range d.Short {
			if i == 2*told {
				parts = append(parts, fmt.Sprintf("%d more", n-i))
				break
			}
			text := fixed(v.Value, 2)
			if !v.Whole {
				text += " over " + d.unit.when(v.To-v.From) + " only"
			}
			parts = append(parts, text)
		}
		fmt.Fprintf(&b, " P_st from %s: %s.", d.unit.when(d.Short[0].From), joined(parts))
	}
	if len(d.Long) > 0 {
		fmt.Fprintf(&b, " Highest P_lt: %s.", d.longest())
	}
	return b.String()
}

// little is the part of order 1 below which no order is told in words.
const little = 1e-4

// largest tells the largest harmonics.
func (p *Spectrum) largest() string {
	var orders []int
	for n := 2; n < len(p.RMS); n++ {
		if p.RMS[n] > 0 && p.RMS[n] >= little*p.RMS[1] {
			orders = append(orders, n)
		}
	}
	if len(orders) == 0 {
		return "no harmonic above 0.01 % of order 1"
	}
	slices.SortStableFunc(orders, func(a, b int) int { return cmp.Compare(p.RMS[b], p.RMS[a]) })
	var parts []string
	for _, n := range orders[:min(told, len(orders))] {
		text := fmt.Sprintf("order %d %s", n, quantity(p.RMS[n], p.Unit, 3))
		if p.RMS[1] > 0 {
			text += " (" + number(100*p.RMS[n]/p.RMS[1], 2) + " %)"
		}
		parts = append(parts, text)
	}
	return "largest harmonics " + joined(parts)
}

// tables is the data behind the figure.
func (d *disturbances) tables() []Table {
	var out []Table
	for i := range d.Spectra {
		p := &d.Spectra[i]
		t := Table{clean(p.Name), []Column{{Name: "order", Number: []float64{}}, {Name: "rms", Unit: p.Unit, Number: p.RMS}}}
		limit := Column{Name: "limit", Unit: p.Unit, Text: []string{}}
		for n := range p.RMS {
			t.Columns[0].Number = append(t.Columns[0].Number, float64(n))
			text := ""
			if p.Limit != nil && !math.IsNaN(p.Limit[n]) {
				text = number(p.Limit[n], 6)
			}
			limit.Text = append(limit.Text, text)
		}
		if p.Limit != nil {
			t.Columns = append(t.Columns, limit)
		}
		out = append(out, t)
	}
	if len(d.Time) > 0 {
		out = append(out, Table{"flicker sensation", []Column{{Name: "time", Unit: "s", Number: d.Time}, {Name: "P_inst", Number: d.Sensation}}})
	}
	severities := Table{"severities", []Column{{Name: "severity", Text: []string{}}, {Name: "from", Unit: "s"}, {Name: "to", Unit: "s"}, {Name: "value"}}}
	for _, s := range []struct {
		name string
		of   []Severity
	}{{"P_st", d.Short}, {"P_lt", d.Long}} {
		for _, v := range s.of {
			c := severities.Columns
			c[0].Text = append(c[0].Text, s.name)
			c[1].Number, c[2].Number, c[3].Number = append(c[1].Number, v.From), append(c[2].Number, v.To), append(c[3].Number, v.Value)
		}
	}
	if severities.Rows() > 0 {
		out = append(out, severities)
	}
	return out
}
