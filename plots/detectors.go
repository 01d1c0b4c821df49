package plots

import (
	"fmt"
	"math"
	"strings"
)

// DetectorReading is what one kind of meter makes of a waveform.
type DetectorReading struct {
	Meter       string // "rms"
	Rule        string // "√(mean of v²)"
	Value       float64
	Uncertainty float64 // to each side
	Over        bool
}

// DetectorsInput is what a sheet of one waveform under several meters shows,
// at most three cycles.
type DetectorsInput struct {
	Heading
	Frequency float64 // Hz
	Point     string
	Trace     Trace
	// Mean, RMS and Average are those of the waveform: the arithmetic mean, the
	// effective value, and the mean magnitude times π/(2√2).
	Mean, RMS, Average float64
	Readings           []DetectorReading // at most 12
}

// mostDetectors bounds the meters of one sheet.
const mostDetectors = 12

// Detectors builds the sheet: the waveform with its mean, rms and average
// values as lines, and under it what each meter shows. An error names the
// meter and what was expected.
func Detectors(in DetectorsInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	d := &detectors{DetectorsInput: in, Language: in.Heading.Language}
	title := d.T("Which meter shows what")
	if p := clean(in.Point); p != "" {
		title = d.F("Which meter shows what at %s", p)
	}
	aid := d.T("Lines across the waveform: solid rms, dashed average (mean magnitude times 1.11), dotted mean. Signs: the value as displayed; whiskers: the meter's uncertainty.")
	if in.Trace.Unit == "V" {
		aid += " " + d.T(Caution)
	}
	s := in.Heading.sheet(title, aid)
	s.alt = d.alternative(s)
	s.data = d.tables()
	s.body = d.draw
	return s, nil
}

func (in *DetectorsInput) check() error {
	if err := checkFrequency(in.Frequency); err != nil {
		return err
	}
	if err := in.Trace.check("waveform"); err != nil {
		return err
	}
	if c := (in.Trace.Time[len(in.Trace.Time)-1] - in.Trace.Time[0]) * in.Frequency; c > maxCycles {
		return fmt.Errorf("found %.3g cycles, expected at most 3 in one figure", c)
	}
	if err := checkValues("mean, rms and average", []float64{in.Mean, in.RMS, in.Average}, mostOf(in.Trace.Unit)); err != nil {
		return err
	}
	if n := len(in.Readings); n == 0 || n > mostDetectors {
		return fmt.Errorf("found %s, expected 1 to %d", plural(n, "meter", "meters"), mostDetectors)
	}
	for _, r := range in.Readings {
		if err := checkValues(fmt.Sprintf("meter %q", r.Meter), []float64{r.Value, r.Uncertainty}, mostOf(in.Trace.Unit)); err != nil {
			return err
		}
	}
	return nil
}

// detectors is a sheet being built.
type detectors struct {
	DetectorsInput
	*Language
}

func (d *detectors) draw(s *scene, y float64) float64 {
	t := &d.Trace
	lo, hi := extent(t.Value)
	lo, hi = math.Min(lo, math.Min(0, d.Mean)), math.Max(hi, math.Max(d.RMS, d.Average))
	p := prefixFor(t.Unit, math.Max(hi, -lo))
	words := [3]string{d.F("rms %s", quantity(d.RMS, t.Unit, 4)), d.F("average %s", quantity(d.Average, t.Unit, 4)), d.F("mean %s", quantity(d.Mean, t.Unit, 3))}
	gutter := 0.0
	for _, w := range words {
		gutter = math.Max(gutter, measure(regular, textSize, w))
	}
	gutter = math.Min(gutter, 0.3*s.w)
	r := rect{margin + leftGutter, y + 4, s.w - margin - gutter - 14, y + 124}
	x := scale{t.Time[0], t.Time[len(t.Time)-1], r.x0, r.x1}
	v := spanning(lo, hi, leastSpan(t.Unit, math.Max(hi, -lo)), r)
	s.valueAxis(r, v, p, left, free)
	s.upright(margin+ascent*textSize, (r.y0+r.y1)/2, regular, textSize, ink, fit(regular, textSize, r.height(), d.T("voltage")+", "+p.sign+t.Unit))
	half := 1 / (2 * d.Frequency)
	for i := math.Ceil(x.lo/half - 1e-6); i*half <= x.hi+1e-6*half; i++ {
		s.line(periodStroke, point{x.at(i * half), r.y0}, point{x.at(i * half), r.y1})
	}
	s.line(zeroStroke, point{r.x0, v.at(0)}, point{r.x1, v.at(0)})
	s.line(traceStroke, curve(t.Time, t.Value, x, v)...)
	strokes := [3]stroke{{color: ink, width: 1}, {color: ink, width: 1, dash: []float64{6, 3}}, {color: ink, width: 1, dash: []float64{1.2, 2.4}}}
	var wish, size []float64
	for i, value := range []float64{d.RMS, d.Average, d.Mean} {
		at := v.at(value)
		s.line(strokes[i], point{r.x0, at}, point{r.x1, at})
		wish, size = append(wish, at), append(size, lineHeight)
	}
	at, _ := spread(wish, size, r.y0-6, r.y1+6)
	for i, w := range words {
		s.line(leaderStroke, point{r.x1 + 1, wish[i]}, point{r.x1 + 9, at[i]})
		s.text(r.x1+12, at[i]+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, gutter, w))
	}
	y = s.timeAxis(r.y1+3, x, milliseconds) + 10
	return d.rows(s, y)
}

// rows draws what each meter shows.
func (d *detectors) rows(s *scene, y float64) float64 {
	unit := d.Trace.Unit
	lo, hi, names := 0.0, 0.0, 0.0
	for _, r := range d.Readings {
		names = math.Max(names, math.Max(measure(bold, textSize, clean(r.Meter)), measure(regular, textSize, clean(r.Rule))))
		if !r.Over {
			lo, hi = math.Min(lo, r.Value-r.Uncertainty), math.Max(hi, r.Value+r.Uncertainty)
		}
	}
	hi = math.Max(hi, lo+leastSpan(unit, math.Max(hi, -lo)))
	names = math.Min(names, 0.38*s.w)
	p := prefixFor(unit, math.Max(hi, -lo))
	values := measure(regular, textSize, fixed(-1234.5, 1)+" "+p.sign+unit)
	x := scale{lo, hi, margin + names + 14, s.w - margin - values - 12}
	const row = 23.0
	bottom := y + row*float64(len(d.Readings))
	step := labelStep(lo/p.factor, hi/p.factor, x.b-x.a, nil)
	for _, v := range ticks(lo/p.factor, hi/p.factor, step) {
		at := x.at(v * p.factor)
		st := gridStroke
		if v == 0 {
			st = zeroStroke
		}
		s.line(st, point{at, y}, point{at, bottom})
		s.line(axisStroke, point{at, bottom}, point{at, bottom + tickLength})
		s.text(at, bottom+tickLength+2+ascent*textSize, centre, regular, textSize, ink, fixed(v, decimals(step)))
	}
	s.line(axisStroke, point{x.a, bottom}, point{x.b, bottom})
	for i, r := range d.Readings {
		mid := y + row*(float64(i)+0.5)
		s.text(margin, mid-2, left, bold, textSize, ink, fit(bold, textSize, names, clean(r.Meter)))
		s.text(margin, mid+8, left, regular, textSize, slate, fit(regular, textSize, names, clean(r.Rule)))
		if r.Over {
			s.text(x.a+6, mid+middle(textSize), left, regular, textSize, slate, d.T("overload"))
			continue
		}
		at := x.at(r.Value)
		s.line(barStroke, point{x.at(0), mid}, point{at, mid})
		if r.Uncertainty > 0 {
			a, b := x.at(r.Value-r.Uncertainty), x.at(r.Value+r.Uncertainty)
			s.line(whisker, point{a, mid}, point{b, mid})
			s.line(whisker, point{a, mid - 3}, point{a, mid + 3})
			s.line(whisker, point{b, mid - 3}, point{b, mid + 3})
		}
		s.mark(disc, point{at, mid}, 2.6, blue)
		s.text(s.w-margin, mid+middle(textSize), right, regular, textSize, ink, quantity(r.Value, unit, 4))
	}
	b := s.text((x.a+x.b)/2, bottom+tickLength+textSize+4+ascent*textSize, centre, regular, textSize, ink, fit(regular, textSize, x.b-x.a, d.T("as displayed")+", "+p.sign+unit))
	return b.y1
}

func (d *detectors) alternative(s *Sheet) string {
	var b strings.Builder
	unit := d.Trace.Unit
	b.WriteString(d.F("Figure of one waveform under several meters: %s.", s.title))
	if s.subtitle != "" {
		b.WriteString(" " + strings.TrimSuffix(s.subtitle, ".") + ".")
	}
	b.WriteString(" " + d.F("The waveform: %s; average %s, mean %s.", d.Trace.between(d.Language), quantity(d.Average, unit, 4), quantity(d.Mean, unit, 3)))
	for _, r := range d.Readings {
		value := quantity(r.Value, unit, 4)
		if r.Over {
			value = d.T("overload")
		}
		b.WriteString(" " + d.F("Meter %s (%s): %s.", clean(r.Meter), clean(r.Rule), value))
	}
	return b.String()
}

func (d *detectors) tables() []Table {
	w := Table{"waveform", []Column{{Name: "time", Unit: "s", Number: d.Trace.Time}, {Name: "voltage", Unit: d.Trace.Unit, Number: d.Trace.Value}}}
	m := Table{"meters", []Column{{Name: "meter", Text: []string{}}, {Name: "rule", Text: []string{}}, {Name: "displayed", Unit: d.Trace.Unit}, {Name: "uncertainty", Unit: d.Trace.Unit}, {Name: "remark", Text: []string{}}}}
	for _, r := range d.Readings {
		remark, value, u := "", r.Value, r.Uncertainty
		if r.Over {
			remark, value, u = "overload", 0, 0
		}
		c := m.Columns
		c[0].Text, c[1].Text, c[4].Text = append(c[0].Text, clean(r.Meter)), append(c[1].Text, clean(r.Rule)), append(c[4].Text, remark)
		c[2].Number, c[3].Number = append(c[2].Number, value), append(c[3].Number, u)
	}
	return []Table{w, m}
}
