package plots

import (
	"fmt"
	"math"
	"strings"
)

// Reading is what one meter shows.
type Reading struct {
	Value       float64
	Uncertainty float64 // to each side, 0 for unknown
	Over        bool    // beyond the meter's ranges; Value is unused
	Missing     bool    // not measured; Value is unused
}

// Row is one case in which meters are read.
type Row struct {
	Name     string    // "opto-half-wave"
	Readings []Reading // by meter
}

// ReadingsInput is what a figure of readings shows.
type ReadingsInput struct {
	Heading
	Quantity string   // "voltage"
	Unit     string   // "V"
	Point    string   // the test point
	Meters   []string // names, at most 7
	Rows     []Row    // at most 24
}

// maxRows bounds the cases of one figure.
const maxRows = 24

// Readings builds a dot figure: for every case one line a meter, with the
// value as displayed and its uncertainty. An error names the case and what
// was expected.
func Readings(in ReadingsInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	d := &readings{ReadingsInput: in}
	for _, r := range in.Rows {
		for _, x := range r.Readings {
			if !x.Over && !x.Missing {
				d.lo, d.hi = math.Min(d.lo, x.Value-x.Uncertainty), math.Max(d.hi, x.Value+x.Uncertainty)
			}
		}
	}
	least := leastSpan(in.Unit, math.Max(d.hi, -d.lo))
	d.hi = math.Max(d.hi, d.lo+least)
	d.Quantity = clean(in.Quantity)
	title := in.Language.T("Readings by meter")
	if p := clean(in.Point); p != "" {
		title = in.Language.F("Readings at %s by meter", p)
	}
	aid := in.Language.T("Signs: the value as displayed; whiskers: the meter's uncertainty.")
	if in.Unit == "V" {
		aid += " " + in.Language.T(Caution)
	}
	s := in.Heading.sheet(title, aid)
	s.alt = d.alternative(s)
	s.data = d.tables()
	s.body = d.draw
	return s, nil
}

func (in *ReadingsInput) check() error {
	if n := len(in.Meters); n == 0 || n > maxChannels {
		return fmt.Errorf("found %s, expected 1 to %d", plural(n, "meter", "meters"), maxChannels)
	}
	if n := len(in.Rows); n == 0 || n > maxRows {
		return fmt.Errorf("found %s of readings, expected 1 to %d", plural(n, "row", "rows"), maxRows)
	}
	if clean(in.Quantity) == "" {
		return fmt.Errorf("readings: found no quantity, expected one")
	}
	if err := checkUnit("readings", in.Unit); err != nil {
		return err
	}
	for _, r := range in.Rows {
		where := fmt.Sprintf("row %q", r.Name)
		if len(r.Readings) != len(in.Meters) {
			return fmt.Errorf("%s: found %s for %s, expected as many", where, plural(len(r.Readings), "reading", "readings"), plural(len(in.Meters), "meter", "meters"))
		}
		for _, x := range r.Readings {
			if x.Over || x.Missing {
				continue
			}
			if err := checkValues(where, []float64{x.Value, x.Uncertainty}, mostOf(in.Unit)); err != nil {
				return err
			}
			if x.Uncertainty < 0 {
				return fmt.Errorf("%s: found an uncertainty of %g %s, expected 0 or more", where, x.Uncertainty, in.Unit)
			}
		}
	}
	return nil
}

// readings is a figure being built.
type readings struct {
	ReadingsInput
	lo, hi float64
}

// prefix is how all values of the figure are written.
func (d *readings) prefix() prefix { return prefixFor(d.Unit, math.Max(d.hi, -d.lo)) }

// words is a reading as written.
func (d *readings) words(x Reading) string {
	switch {
	case x.Missing:
		return d.Language.T("not measured")
	case x.Over:
		return d.Language.T("overload")
	}
	p := d.prefix()
	if x.Uncertainty == 0 {
		return number(x.Value/p.factor, 4) + " " + p.sign + d.Unit
	}
	n := int(math.Max(0, 1-math.Floor(math.Log10(x.Uncertainty/p.factor))))
	n = min(n, 4)
	return fixed(x.Value/p.factor, n) + " ± " + fixed(x.Uncertainty/p.factor, n) + " " + p.sign + d.Unit
}

// draw lays the figure out below y.
func (d *readings) draw(s *scene, y float64) float64 {
	names, values := 0.0, 0.0
	for _, m := range d.Meters {
		names = math.Max(names, measure(regular, textSize, clean(m)))
	}
	for _, r := range d.Rows {
		for _, x := range r.Readings {
			values = math.Max(values, measure(regular, textSize, d.words(x)))
		}
	}
	names = math.Min(names, 130)
	x := scale{d.lo, d.hi, margin + names + 26, s.w - margin - math.Min(values, 140) - 8}
	p := d.prefix()
	step := labelStep(d.lo/p.factor, d.hi/p.factor, x.b-x.a, nil)
	top := y
	grid := len(s.items)
	for _, r := range d.Rows {
		for i, l := range wrap(bold, headSize, s.w-2*margin, clean(r.Name)) {
			if i == 2 {
				break
			}
			s.text(margin, y+ascent*headSize, left, bold, headSize, ink, l)
			y += 1.25 * headSize
		}
		for k, v := range r.Readings {
			mid := y + readingHeight/2
			s.mark(series[k].marker, point{margin + 5, mid}, 2.4, series[k].color)
			s.text(margin+12, mid+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, names, clean(d.Meters[k])))
			d.reading(s, x, mid, k, v)
			y += readingHeight
		}
		y += 5
	}
	// Gridlines lie under everything else.
	over := append([]item(nil), s.items[grid:]...)
	s.items = s.items[:grid]
	for _, v := range ticks(d.lo/p.factor, d.hi/p.factor, step) {
		at := x.at(v * p.factor)
		st := gridStroke
		if v == 0 {
			st = zeroStroke
		}
		s.line(st, point{at, top}, point{at, y})
	}
	s.items = append(s.items, over...)
	s.line(axisStroke, point{x.a, y}, point{x.b, y})
	for _, v := range ticks(d.lo/p.factor, d.hi/p.factor, step) {
		at := x.at(v * p.factor)
		s.line(axisStroke, point{at, y}, point{at, y + tickLength})
		s.text(at, y+tickLength+2+ascent*textSize, centre, regular, textSize, ink, fixed(v, decimals(step)))
	}
	y += tickLength + 2 + textSize + 2
	b := s.text((x.a+x.b)/2, y+ascent*textSize, centre, regular, textSize, ink, fit(regular, textSize, x.b-x.a, d.Quantity+", "+p.sign+d.Unit))
	return b.y1
}

// reading draws one value on the line at the height mid.
func (d *readings) reading(s *scene, x scale, mid float64, k int, v Reading) {
	words := d.words(v)
	if v.Over || v.Missing {
		at := x.at(math.Max(0, d.lo))
		if v.Over {
			at = x.b
			s.line(whisker, point{x.b - 12, mid}, point{x.b, mid})
			s.line(whisker, point{x.b - 3, mid - 3}, point{x.b, mid}, point{x.b - 3, mid + 3})
		}
		s.text(at+5, mid+middle(textSize), left, regular, textSize, slate, words)
		return
	}
	at := x.at(v.Value)
	s.line(barStroke, point{x.at(0), mid}, point{at, mid})
	far := at
	if v.Uncertainty > 0 {
		a, b := x.at(v.Value-v.Uncertainty), x.at(v.Value+v.Uncertainty)
		s.line(whisker, point{a, mid}, point{b, mid})
		for _, e := range []float64{a, b} {
			s.line(whisker, point{e, mid - 3}, point{e, mid + 3})
		}
		far = b
	}
	s.mark(series[k].marker, point{at, mid}, 2.6, series[k].color)
	s.text(math.Max(math.Max(far, at+3), x.at(0))+5, mid+middle(textSize), left, regular, textSize, ink, words)
}

func (d *readings) alternative(s *Sheet) string {
	var b strings.Builder
	b.WriteString(d.Language.F("Figure of readings: %s.", s.title))
	if s.subtitle != "" {
		fmt.Fprintf(&b, " %s.", strings.TrimSuffix(s.subtitle, "."))
	}
	b.WriteString(" " + d.Language.F("Horizontal axis: %s from %s to %s.", d.Language.T(d.Quantity), quantity(d.lo, d.Unit, 4), quantity(d.hi, d.Unit, 4)))
	for _, r := range d.Rows {
		fmt.Fprintf(&b, " %s:", clean(r.Name))
		for k, x := range r.Readings {
			sep := ";"
			if k == 0 {
				sep = ""
			}
			fmt.Fprintf(&b, "%s %s %s", sep, clean(d.Meters[k]), d.words(x))
		}
		b.WriteString(".")
	}
	return b.String()
}

func (d *readings) tables() []Table {
	t := Table{"readings", []Column{{Name: "case", Text: []string{}}, {Name: "meter", Text: []string{}}, {Name: d.Quantity, Unit: d.Unit}, {Name: "uncertainty", Unit: d.Unit}, {Name: "remark", Text: []string{}}}}
	for _, r := range d.Rows {
		for k, x := range r.Readings {
			remark := ""
			if x.Over || x.Missing {
				remark = d.words(x)
				x.Value, x.Uncertainty = 0, 0
			}
			c := t.Columns
			c[0].Text, c[1].Text = append(c[0].Text, clean(r.Name)), append(c[1].Text, clean(d.Meters[k]))
			c[2].Number, c[3].Number = append(c[2].Number, x.Value), append(c[3].Number, x.Uncertainty)
			c[4].Text = append(c[4].Text, remark)
		}
	}
	return []Table{t}
}
