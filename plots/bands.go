package plots

import (
	"fmt"
	"math"
	"strings"
)

// Band is a value as displayed with the bounds within which it can lie.
type Band struct{ Nominal, Low, High float64 }

func (b Band) overlaps(c Band) bool { return b.Low <= c.High && c.Low <= b.High }

// BandColumn is one quantity of a figure of bands.
type BandColumn struct {
	Quantity, Unit string
	Bands          []Band // by row
}

// BandsInput is what a figure of bands shows: for each case where one or two
// readings can lie, so that one sees which cases they keep apart.
type BandsInput struct {
	Heading
	Rows    []string // names of the cases, at most 24
	Columns []BandColumn
}

// Bands builds the figure. An error names the case and what was expected.
func Bands(in BandsInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	b := &bands{BandsInput: in, Language: in.Heading.Language}
	s := in.Heading.sheet(b.T("Which case shows what"), b.T("Bar: where the reading can lie; line in it: the nominal value. Hatched: the bar overlaps that of another case, so that this reading alone does not keep them apart."))
	s.alt = b.alternative(s)
	s.data = []Table{b.table()}
	s.body = b.draw
	return s, nil
}

func (in *BandsInput) check() error {
	if n := len(in.Rows); n == 0 || n > maxRows {
		return fmt.Errorf("found %s, expected 1 to %d", plural(n, "row", "rows"), maxRows)
	}
	if n := len(in.Columns); n == 0 || n > 2 {
		return fmt.Errorf("found %s, expected 1 or 2", plural(n, "column", "columns"))
	}
	for _, c := range in.Columns {
		if err := checkUnit(c.Quantity, c.Unit); err != nil {
			return err
		}
		if len(c.Bands) != len(in.Rows) {
			return fmt.Errorf("%s: found %s for %s, expected as many", c.Quantity, plural(len(c.Bands), "band", "bands"), plural(len(in.Rows), "row", "rows"))
		}
		for i, b := range c.Bands {
			where := fmt.Sprintf("%s: row %q", c.Quantity, in.Rows[i])
			if err := checkValues(where, []float64{b.Nominal, b.Low, b.High}, mostOf(c.Unit)); err != nil {
				return err
			}
			if b.Low > b.Nominal || b.Nominal > b.High {
				return fmt.Errorf("%s: found %g between %g and %g, expected rising values", where, b.Nominal, b.Low, b.High)
			}
		}
	}
	return nil
}

// bands is a figure being built.
type bands struct {
	BandsInput
	*Language
}

// alike are the other rows whose bands overlap row i's in every column.
func (b *bands) alike(i int) []int {
	var out []int
	for j := range b.Rows {
		same := j != i
		for _, c := range b.Columns {
			same = same && c.Bands[i].overlaps(c.Bands[j])
		}
		if same {
			out = append(out, j)
		}
	}
	return out
}

func (b *bands) draw(s *scene, y float64) float64 {
	names := 0.0
	for _, r := range b.Rows {
		names = math.Max(names, measure(regular, textSize, clean(r)))
	}
	names = math.Min(names, 0.3*s.w)
	const gap, row = 26.0, 16.0
	width := (s.w - 2*margin - names - 10 - gap*float64(len(b.Columns)-1)) / float64(len(b.Columns))
	top := y
	y += 4
	for i, r := range b.Rows {
		s.text(margin, y+row/2+middle(textSize)+float64(i)*row, left, regular, textSize, ink, fit(regular, textSize, names, clean(r)))
	}
	bottom := y + row*float64(len(b.Rows)) + 2
	end := bottom
	for k := range b.Columns {
		c := &b.Columns[k]
		x0 := margin + names + 10 + float64(k)*(width+gap)
		hi := 0.0
		values := 0.0
		for _, x := range c.Bands {
			hi = math.Max(hi, x.High)
			values = math.Max(values, measure(regular, textSize, quantity(x.Nominal, c.Unit, 4)))
		}
		p := prefixFor(c.Unit, hi)
		hi = math.Max(hi, leastSpan(c.Unit, hi))
		x := scale{0, hi, x0, x0 + width - values - 8}
		step := labelStep(0, hi/p.factor, x.b-x.a, nil)
		for _, v := range ticks(0, hi/p.factor, step) {
			at := x.at(v * p.factor)
			s.line(gridStroke, point{at, top}, point{at, bottom})
			s.line(axisStroke, point{at, bottom}, point{at, bottom + tickLength})
			s.text(at, bottom+tickLength+2+ascent*textSize, centre, regular, textSize, ink, fixed(v, decimals(step)))
		}
		s.line(axisStroke, point{x.a, bottom}, point{x.b, bottom})
		s.line(axisStroke, point{x.a, top}, point{x.a, bottom})
		for i, v := range c.Bands {
			mid := y + row/2 + float64(i)*row
			shared := false
			for j := range c.Bands {
				shared = shared || j != i && v.overlaps(c.Bands[j])
			}
			r := rect{x.at(v.Low), mid - 4.5, math.Max(x.at(v.High), x.at(v.Low)+1), mid + 4.5}
			if shared {
				s.fill(tint(orange, 0.3), r.corners()...)
				s.hatched(r, rising, outlineSlate)
			} else {
				s.fill(tint(skyBlue, 0.5), r.corners()...)
			}
			s.outline(outlineSlate, r.corners()...)
			s.line(stroke{color: ink, width: 1.6}, point{x.at(v.Nominal), mid - 6}, point{x.at(v.Nominal), mid + 6})
			s.text(r.x1+5, mid+middle(textSize), left, regular, textSize, ink, quantity(v.Nominal, c.Unit, 4))
		}
		t := s.text((x.a+x.b)/2, bottom+tickLength+textSize+4+ascent*textSize, centre, regular, textSize, ink, fit(regular, textSize, width, clean(c.Quantity)+", "+p.sign+c.Unit))
		end = t.y1
	}
	return end
}

func (b *bands) alternative(s *Sheet) string {
	var t strings.Builder
	t.WriteString(b.F("Figure of bands: %s.", unended(s.title)))
	if s.subtitle != "" {
		t.WriteString(" " + strings.TrimSuffix(s.subtitle, ".") + ".")
	}
	for i, r := range b.Rows {
		var parts []string
		for _, c := range b.Columns {
			v := c.Bands[i]
			parts = append(parts, b.F("%s %s, between %s and %s", clean(c.Quantity), quantity(v.Nominal, c.Unit, 4), quantity(v.Low, c.Unit, 4), quantity(v.High, c.Unit, 4)))
		}
		t.WriteString(" " + clean(r) + ": " + strings.Join(parts, "; ") + ".")
		var same []string
		for _, j := range b.alike(i) {
			same = append(same, clean(b.Rows[j]))
		}
		if len(same) > 0 {
			t.WriteString(" " + b.F("Not told apart from %s.", strings.Join(same, ", ")))
		}
	}
	return t.String()
}

func (b *bands) table() Table {
	t := Table{"bands", []Column{{Name: "case", Text: []string{}}}}
	for _, c := range b.Columns {
		q := clean(c.Quantity)
		t.Columns = append(t.Columns, Column{Name: q, Unit: c.Unit}, Column{Name: q + " at least", Unit: c.Unit}, Column{Name: q + " at most", Unit: c.Unit})
	}
	for i, r := range b.Rows {
		t.Columns[0].Text = append(t.Columns[0].Text, clean(r))
		for k, c := range b.Columns {
			for j, x := range []float64{c.Bands[i].Nominal, c.Bands[i].Low, c.Bands[i].High} {
				col := &t.Columns[1+3*k+j]
				col.Number = append(col.Number, x)
			}
		}
	}
	return t
}
