package plots

import (
	"fmt"
	"math"
	"strings"
)

// Cell is one waveform of a small-multiples figure.
type Cell struct {
	Name  string // "triac-shorted"
	Note  string // "meter shows 225 V"
	Trace Trace
}

// MultiplesInput is what a small-multiples figure shows: the waveform of one
// test point in several cases, at most three cycles, all on the same scales.
// Times are in seconds; time 0 is a zero of the fundamental.
type MultiplesInput struct {
	Heading
	Frequency float64 // Hz of the supply
	Point     string  // the test point: "out2 to N"
	// Reference is drawn in every cell behind the case's own waveform; one
	// without values is left out.
	Reference     Trace
	ReferenceName string // ["healthy"]
	Cells         []Cell // at most 64
}

// maxCells bounds the cells of one figure.
const maxCells = 64

// Multiples builds a grid of small waveform panels with equal scales. An
// error names the cell and what was expected.
func Multiples(in MultiplesInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	m := &multiples{MultiplesInput: in, lo: math.Inf(1), hi: math.Inf(-1), from: math.Inf(1), to: math.Inf(-1)}
	if m.ReferenceName = clean(m.ReferenceName); m.ReferenceName == "" {
		m.ReferenceName = in.Language.T("healthy")
	}
	for _, t := range m.traces() {
		lo, hi := extent(t.Value)
		m.lo, m.hi = math.Min(m.lo, lo), math.Max(m.hi, hi)
		m.from, m.to = math.Min(m.from, t.Time[0]), math.Max(m.to, t.Time[len(t.Time)-1])
		m.unit = t.Unit
	}
	title := in.Language.T("One test point, several cases")
	if p := clean(in.Point); p != "" {
		title = in.Language.F("Waveform at %s", p)
	}
	s := in.Heading.sheet(title, m.aid())
	s.alt = m.alternative(s)
	s.data = m.tables()
	s.body = m.draw
	return s, nil
}

func (in *MultiplesInput) traces() []*Trace {
	var out []*Trace
	if in.Reference.given() {
		out = append(out, &in.Reference)
	}
	for i := range in.Cells {
		out = append(out, &in.Cells[i].Trace)
	}
	return out
}

func (in *MultiplesInput) check() error {
	if err := checkFrequency(in.Frequency); err != nil {
		return err
	}
	if n := len(in.Cells); n == 0 || n > maxCells {
		return fmt.Errorf("found %s, expected 1 to %d", plural(n, "cell", "cells"), maxCells)
	}
	if in.Reference.given() {
		if err := in.Reference.check("reference"); err != nil {
			return err
		}
	}
	unit := in.Cells[0].Trace.Unit
	for i := range in.Cells {
		c := &in.Cells[i]
		if err := c.Trace.check(fmt.Sprintf("cell %q", c.Name)); err != nil {
			return err
		}
		if c.Trace.Unit != unit {
			return fmt.Errorf("cell %q: found unit %q, expected %q as in the first", c.Name, c.Trace.Unit, unit)
		}
	}
	if in.Reference.given() && in.Reference.Unit != unit {
		return fmt.Errorf("reference: found unit %q, expected %q as in the cells", in.Reference.Unit, unit)
	}
	for _, t := range in.traces() {
		if c := (t.Time[len(t.Time)-1] - t.Time[0]) * in.Frequency; c > maxCycles {
			return fmt.Errorf("found %.3g cycles, expected at most 3 in one figure", c)
		}
	}
	return nil
}

// multiples is a figure being built.
type multiples struct {
	MultiplesInput
	lo, hi, from, to float64
	unit             string
}

// draw lays the grid out below y.
func (m *multiples) draw(s *scene, y float64) float64 {
	columns := 3
	switch n := len(m.Cells); {
	case n > 12:
		columns = max(4, min(8, int(s.w/130)))
	case n <= 2:
		columns = n
	case n == 4:
		columns = 2
	}
	if m.Reference.given() {
		x := s.w - margin - measure(regular, textSize, m.ReferenceName)
		b := s.text(x, y+ascent*textSize, left, regular, textSize, ink, fit(regular, textSize, 0.6*s.w, m.ReferenceName))
		s.line(refStroke, point{b.x0 - 24, y + 4}, point{b.x0 - 4, y + 4})
		y += lineHeight + 2
	}
	const gap = 16.0
	width := (s.w - 2*margin - leftGutter - gap*float64(columns-1)) / float64(columns)
	p := prefixFor(m.unit, math.Max(m.hi, -m.lo))
	for i := 0; i < len(m.Cells); i += columns {
		row := m.Cells[i:min(i+columns, len(m.Cells))]
		heads := make([][]string, len(row))
		lines := 1
		for j := range row {
			h := wrap(bold, textSize, width, clean(row[j].Name))
			if len(h) > 2 {
				h = []string{h[0], fit(bold, textSize, width, strings.Join(h[1:], " "))}
			}
			heads[j] = h
			lines = max(lines, len(h))
		}
		top := y + float64(lines+1)*lineHeight + 3
		for j := range row {
			x0 := margin + leftGutter + float64(j)*(width+gap)
			r := rect{x0, top, x0 + width, top + cellPanel}
			for k, h := range heads[j] {
				s.text(x0, y+ascent*textSize+lineHeight*float64(lines-len(heads[j])+k), left, bold, textSize, ink, h)
			}
			note := s.F("rms %s", row[j].Trace.effective())
			if n := clean(row[j].Note); n != "" {
				note += "; " + n
			}
			s.text(x0, top-4.5, left, regular, textSize, slate, fit(regular, textSize, width, note))
			last := i+columns+j >= len(m.Cells)
			m.cell(s, r, &row[j], j == 0, last, p)
		}
		y = top + cellPanel + 8
		if i+len(row)-1+columns >= len(m.Cells) { // a cell of this row carries the time axis
			y += 2*textSize + 6
		}
	}
	return y - 8
}

// cell draws one panel.
func (m *multiples) cell(s *scene, r rect, c *Cell, first, last bool, p prefix) {
	x := scale{m.from, m.to, r.x0, r.x1}
	sc := spanning(math.Min(0, m.lo), math.Max(0, m.hi), leastSpan(m.unit, math.Max(m.hi, -m.lo)), r)
	if first {
		s.valueAxis(r, sc, p, left, free)
		s.upright(margin+ascent*textSize, (r.y0+r.y1)/2, regular, textSize, ink, fit(regular, textSize, r.height(), s.T(m.quantity())+", "+p.sign+m.unit))
	} else {
		step := valueStep(sc.lo/p.factor, sc.hi/p.factor, r.height())
		for _, v := range ticks(sc.lo/p.factor, sc.hi/p.factor, step) {
			if v != 0 {
				s.line(gridStroke, point{r.x0, sc.at(v * p.factor)}, point{r.x1, sc.at(v * p.factor)})
			}
		}
	}
	half := 1 / (2 * m.Frequency)
	for i := math.Ceil(m.from/half - 1e-6); i*half <= m.to+1e-6*half; i++ {
		s.line(periodStroke, point{x.at(i * half), r.y0}, point{x.at(i * half), r.y1})
	}
	s.line(zeroStroke, point{r.x0, sc.at(0)}, point{r.x1, sc.at(0)})
	if m.Reference.given() {
		s.line(refStroke, curve(m.Reference.Time, m.Reference.Value, x, sc)...)
	}
	s.line(traceStroke, curve(c.Trace.Time, c.Trace.Value, x, sc)...)
	if last {
		s.timeAxis(r.y1+3, x, milliseconds)
	}
}

// quantity is what is drawn, in one word.
func (m *multiples) quantity() string {
	switch m.unit {
	case "V":
		return "voltage"
	case "A":
		return "current"
	case "W":
		return "power"
	}
	return "value"
}

func (m *multiples) aid() string {
	var parts []string
	if m.Reference.given() {
		parts = append(parts, m.Language.F("Dark line: the case named above the panel; broad grey line: %s.", m.ReferenceName))
	}
	parts = append(parts, m.Language.T("Scales are the same in all panels. Dotted verticals: zeros of the supply's fundamental."), m.Language.T(Caution))
	return strings.Join(parts, " ")
}

func (m *multiples) alternative(s *Sheet) string {
	var b strings.Builder
	b.WriteString(m.Language.F("Small-multiples figure: %s.", s.title))
	if s.subtitle != "" {
		fmt.Fprintf(&b, " %s.", strings.TrimSuffix(s.subtitle, "."))
	}
	b.WriteString(" " + m.Language.F("%d panels over time from %s ms to %s ms, %s at %s Hz, values from %s to %s.", len(m.Cells), number(m.from*1e3, 4), number(m.to*1e3, 4), cycles(m.Language, (m.to-m.from)*m.Frequency), number(m.Frequency, 4), quantity(m.lo, m.unit, 4), quantity(m.hi, m.unit, 4)))
	if m.Reference.given() {
		b.WriteString(" " + m.Language.F("For comparison, %s: %s.", m.ReferenceName, m.Reference.between(m.Language)))
	}
	for i := range m.Cells {
		c := &m.Cells[i]
		fmt.Fprintf(&b, " %s: %s", clean(c.Name), c.Trace.between(m.Language))
		if n := clean(c.Note); n != "" {
			fmt.Fprintf(&b, "; %s", n)
		}
		b.WriteString(".")
	}
	return b.String()
}

// tables is the data behind the figure, one table for every trace.
func (m *multiples) tables() []Table {
	var out []Table
	for i, t := range m.traces() {
		name := m.ReferenceName
		if m.Reference.given() {
			i--
		}
		if i >= 0 {
			name = clean(m.Cells[i].Name)
		}
		out = append(out, Table{name, []Column{{Name: "time", Unit: "s", Number: t.Time}, {Name: m.quantity(), Unit: t.Unit, Number: t.Value}}})
	}
	return out
}
