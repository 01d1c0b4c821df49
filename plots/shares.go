package plots

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// ShareMark is a share with the interval in which it can lie, 0 to 1. The value
// is NaN where there is none.
type ShareMark struct{ Value, Low, High float64 }

// ShareRow is one row of a figure of shares.
type ShareRow struct {
	Name  string
	Marks [][]ShareMark // by column, then by series
}

// SharesInput is what a figure of shares shows: for each row, such as a rule,
// one or two shares, such as its sensitivity and specificity, each told by
// series, such as the meter in hand.
type SharesInput struct {
	Heading
	Series  []string // at least one; a single one may be without a name
	Columns []string // one or two
	// Rows are drawn in their order; of more than forty those in which the
	// series differ most.
	Rows []ShareRow
}

// MostSeries is how many series one figure can show apart.
func MostSeries() int { return maxChannels }

// mostShareRows is how many rows of shares are drawn.
const mostShareRows = 40

// Shares builds the figure. An error names the row and what was expected.
func Shares(in SharesInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	f := &shares{SharesInput: in, left: len(in.Rows)}
	f.Rows = in.telling()
	f.left -= len(f.Rows)
	aid := "Bars: the interval in which a share can lie. No mark: nothing was counted."
	if f.left > 0 {
		aid += fmt.Sprintf(" The %d rows in which the marks differ most; %d more are not drawn.", len(f.Rows), f.left)
	}
	s := in.Heading.sheet(strings.Join(in.Columns, " and "), aid)
	s.alt = f.alternative(s)
	s.data = []Table{in.table()}
	s.body = f.draw
	return s, nil
}

func (in *SharesInput) check() error {
	if n := len(in.Series); n == 0 || n > maxChannels {
		return fmt.Errorf("found %d series, expected 1 to %d", n, maxChannels)
	}
	if n := len(in.Columns); n == 0 || n > 2 {
		return fmt.Errorf("found %s, expected 1 or 2", plural(n, "column", "columns"))
	}
	if len(in.Rows) == 0 {
		return fmt.Errorf("found 0 rows, expected 1 or more")
	}
	for _, r := range in.Rows {
		if len(r.Marks) != len(in.Columns) {
			return fmt.Errorf("row %q: found %s, expected %d", r.Name, plural(len(r.Marks), "column", "columns"), len(in.Columns))
		}
		for k, c := range r.Marks {
			if len(c) != len(in.Series) {
				return fmt.Errorf("row %q: %s: found %s for %d series, expected as many", r.Name, in.Columns[k], plural(len(c), "mark", "marks"), len(in.Series))
			}
			for _, m := range c {
				if !math.IsNaN(m.Value) && !(0 <= m.Low && m.Low <= m.Value && m.Value <= m.High && m.High <= 1) {
					return fmt.Errorf("row %q: %s: found %g between %g and %g, expected rising shares from 0 to 1", r.Name, in.Columns[k], m.Value, m.Low, m.High)
				}
			}
		}
	}
	return nil
}

// spreadOf is how far the series of a row are apart, the most of its columns.
func (r *ShareRow) spreadOf() float64 {
	most := 0.0
	for _, c := range r.Marks {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, m := range c {
			if !math.IsNaN(m.Value) {
				lo, hi = math.Min(lo, m.Value), math.Max(hi, m.Value)
			}
		}
		most = math.Max(most, hi-lo)
	}
	return most
}

// telling are the rows that are drawn.
func (in *SharesInput) telling() []ShareRow {
	if len(in.Rows) <= mostShareRows {
		return in.Rows
	}
	order := make([]int, len(in.Rows))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := in.Rows[a].spreadOf(), in.Rows[b].spreadOf()
		switch {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	order = order[:mostShareRows]
	slices.Sort(order)
	var out []ShareRow
	for _, i := range order {
		out = append(out, in.Rows[i])
	}
	return out
}

// shares is a figure being built.
type shares struct {
	SharesInput
	left int // rows that are not drawn
}

// sharePitch is the distance of the marks of one row.
const sharePitch = 6.5

func (f *shares) draw(s *scene, y float64) float64 {
	if len(f.Series) > 1 || f.Series[0] != "" {
		y = f.key(s, y)
	}
	names := 0.0
	for _, r := range f.Rows {
		names = math.Max(names, measure(regular, textSize, clean(r.Name)))
	}
	names = math.Min(names, 0.3*s.w)
	row := math.Max(14, sharePitch*float64(len(f.Series))+5)
	room := int(row / lineHeight)
	const gap = 20.0
	x0 := margin + names + 12
	width := (s.w - margin - 8 - x0 - gap*float64(len(f.Columns)-1)) / float64(len(f.Columns))
	head := y + ascent*textSize
	top := y + textSize + 5
	bottom := top + row*float64(len(f.Rows))
	for i := range f.Rows {
		a := top + row*float64(i)
		if i%2 == 1 {
			s.fill(tint(mist, 0.35), rect{margin, a, s.w - margin, a + row}.corners()...)
		}
		lines := shortened(clean(f.Rows[i].Name), names+0.01, room)
		b := a + row/2 + middle(textSize) - lineHeight*float64(len(lines)-1)/2
		for _, l := range lines {
			s.text(margin+2, b, left, regular, textSize, ink, l)
			b += lineHeight
		}
	}
	for k, title := range f.Columns {
		x := scale{0, 1, x0 + float64(k)*(width+gap), x0 + float64(k)*(width+gap) + width}
		s.text(x.a, head, left, bold, textSize, ink, fit(bold, textSize, width, clean(title)))
		for _, v := range []float64{0, 0.25, 0.5, 0.75, 1} {
			s.line(gridStroke, point{x.at(v), top}, point{x.at(v), bottom})
			s.line(axisStroke, point{x.at(v), bottom}, point{x.at(v), bottom + tickLength})
			s.text(x.at(v), bottom+tickLength+2+ascent*textSize, centre, regular, textSize, ink, number(v, 2))
		}
		s.line(axisStroke, point{x.a, bottom}, point{x.b, bottom})
		for i := range f.Rows {
			mid := top + row*(float64(i)+0.5) - sharePitch*float64(len(f.Series)-1)/2
			for j, m := range f.Rows[i].Marks[k] {
				if math.IsNaN(m.Value) {
					continue
				}
				l, at := &series[j], mid+sharePitch*float64(j)
				s.line(stroke{color: l.color, width: 1.1}, point{x.at(m.Low), at}, point{x.at(m.High), at})
				for _, v := range []float64{m.Low, m.High} {
					s.line(stroke{color: l.color, width: 1.1}, point{x.at(v), at - 1.6}, point{x.at(v), at + 1.6})
				}
				s.mark(l.marker, point{x.at(m.Value), at}, 2.5, l.color)
			}
		}
	}
	return bottom + tickLength + 2 + textSize
}

// key names the series, in as many lines as they need.
func (f *shares) key(s *scene, y float64) float64 {
	x := margin
	y += 1
	for j, name := range f.Series {
		t := fit(regular, textSize, s.w-2*margin-14, clean(name))
		if w := measure(regular, textSize, t); x > margin && x+12+w > s.w-margin {
			x, y = margin, y+lineHeight+1
		}
		s.mark(series[j].marker, point{x + 4, y + lineHeight/2}, 2.8, series[j].color)
		x = s.text(x+11, y+lineHeight/2+middle(textSize), left, regular, textSize, ink, t).x1 + 16
	}
	return y + lineHeight + 6
}

func (f *shares) alternative(s *Sheet) string {
	var t strings.Builder
	fmt.Fprintf(&t, "Figure of shares: %s.", unended(s.title))
	if s.subtitle != "" {
		t.WriteString(" " + unended(s.subtitle) + ".")
	}
	for _, r := range f.Rows {
		var parts []string
		for k, c := range r.Marks {
			var marks []string
			for j, m := range c {
				if math.IsNaN(m.Value) {
					continue
				}
				text := fmt.Sprintf("%.3g, between %.3g and %.3g", m.Value, m.Low, m.High)
				if name := clean(f.Series[j]); name != "" {
					text = name + " " + text
				}
				marks = append(marks, text)
			}
			if len(marks) == 0 {
				marks = []string{"nothing counted"}
			}
			parts = append(parts, clean(f.Columns[k])+": "+strings.Join(marks, "; "))
		}
		t.WriteString(" " + unended(clean(r.Name)) + ": " + strings.Join(parts, ". ") + ".")
	}
	return t.String()
}

func (in *SharesInput) table() Table {
	t := Table{"shares", []Column{{Name: "row", Text: []string{}}, {Name: "share", Text: []string{}}, {Name: "series", Text: []string{}}, {Name: "value", Number: []float64{}}, {Name: "at least", Number: []float64{}}, {Name: "at most", Number: []float64{}}}}
	for _, r := range in.Rows {
		for k, c := range r.Marks {
			for j, m := range c {
				if math.IsNaN(m.Value) {
					continue
				}
				for i, x := range []string{r.Name, in.Columns[k], in.Series[j]} {
					t.Columns[i].Text = append(t.Columns[i].Text, clean(x))
				}
				for i, x := range []float64{m.Value, m.Low, m.High} {
					t.Columns[3+i].Number = append(t.Columns[3+i].Number, x)
				}
			}
		}
	}
	return t
}
