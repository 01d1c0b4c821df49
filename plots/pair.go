package plots

import (
	"fmt"
	"image/color"
	"math"
)

// PairInput is what a sheet of two cases side by side shows, such as a fault
// and a healthy board: the waveform at one test point, what each meter shows
// there, and the temperatures of a run.
type PairInput struct {
	Heading
	Names     [2]string // "healthy", "dye:film-opto"
	Frequency float64   // Hz
	Point     string
	Traces    [2]Trace
	Meters    []string // at most 7
	Readings  [2][]Reading
	// Water is each boiler's temperature, °C over s; both cases have the same
	// boilers.
	Water [2][]Curve
}

// Pair builds the sheet. An error names the case and what was expected.
func Pair(in PairInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	p := &pair{PairInput: in, Language: in.Heading.Language}
	s := in.Heading.sheet(p.F("%s beside %s", clean(in.Names[1]), clean(in.Names[0])),
		p.T("Left and right have the same scales. Ring and disc: what each meter shows in the two cases. Below: the water of each boiler.")+" "+p.T(Caution))
	s.alt = p.alternative(s)
	s.data = p.tables()
	s.body = p.draw
	return s, nil
}

func (in *PairInput) check() error {
	if err := checkFrequency(in.Frequency); err != nil {
		return err
	}
	if n := len(in.Meters); n == 0 || n > maxChannels {
		return fmt.Errorf("found %s, expected 1 to %d", plural(n, "meter", "meters"), maxChannels)
	}
	for i := range in.Names {
		where := fmt.Sprintf("%q", in.Names[i])
		if err := in.Traces[i].check(where); err != nil {
			return err
		}
		if c := (in.Traces[i].Time[len(in.Traces[i].Time)-1] - in.Traces[i].Time[0]) * in.Frequency; c > maxCycles {
			return fmt.Errorf("%s: found %.3g cycles, expected at most 3", where, c)
		}
		if len(in.Readings[i]) != len(in.Meters) {
			return fmt.Errorf("%s: found %s for %s, expected as many", where, plural(len(in.Readings[i]), "reading", "readings"), plural(len(in.Meters), "meter", "meters"))
		}
		for _, r := range in.Readings[i] {
			if !r.Over && !r.Missing {
				if err := checkValues(where+": readings", []float64{r.Value, r.Uncertainty}, mostOf(in.Traces[i].Unit)); err != nil {
					return err
				}
			}
		}
		if n := len(in.Water[i]); n == 0 || n > maxChannels || n != len(in.Water[0]) {
			return fmt.Errorf("%s: found %s, expected 1 to %d and the same in both cases", where, plural(n, "boiler", "boilers"), maxChannels)
		}
		for _, w := range in.Water[i] {
			if err := checkTimes(where+": "+w.Name, w.X, mostRun); err != nil {
				return err
			}
			if err := checkSeries(where+": "+w.Name, w.X, w.Y, mostPlain); err != nil {
				return err
			}
		}
	}
	if in.Traces[0].Unit != in.Traces[1].Unit {
		return fmt.Errorf("%q: found unit %q, expected %q as in the other case", in.Names[1], in.Traces[1].Unit, in.Traces[0].Unit)
	}
	return nil
}

// pair is a sheet being built.
type pair struct {
	PairInput
	*Language
}

// columns are the places of the two cases.
func (p *pair) columns(s *scene, right float64) [2]rect {
	x0 := margin + leftGutter
	w := (s.w - x0 - margin - right - 20) / 2
	return [2]rect{{x0, 0, x0 + w, 0}, {x0 + w + 20, 0, x0 + 2*w + 20, 0}}
}

func (p *pair) draw(s *scene, y float64) float64 {
	names := 0.0
	for _, c := range p.Water[0] {
		names = math.Max(names, measure(regular, textSize, clean(c.Name)))
	}
	names = math.Min(names, 0.16*s.w)
	col := p.columns(s, names+16)
	for i, n := range p.Names {
		s.text(col[i].x0, y+ascent*headSize, left, bold, headSize, ink, fit(bold, headSize, col[i].width(), clean(n)))
	}
	y += 1.4 * headSize
	unit := p.Traces[0].Unit
	lo, hi := 0.0, 0.0
	from, to := math.Inf(1), math.Inf(-1)
	for i := range p.Traces {
		a, b := extent(p.Traces[i].Value)
		lo, hi = math.Min(lo, a), math.Max(hi, b)
		from, to = math.Min(from, p.Traces[i].Time[0]), math.Max(to, p.Traces[i].Time[len(p.Traces[i].Time)-1])
	}
	pre := prefixFor(unit, math.Max(hi, -lo))
	head := p.T("voltage")
	if t := clean(p.Point); t != "" {
		head = t
	}
	const tall = 96.0
	for i := range p.Traces {
		r := rect{col[i].x0, y + 12, col[i].x1, y + 12 + tall}
		s.text(r.x0, y+ascent*textSize, left, regular, textSize, slate, fit(regular, textSize, r.width(), head+", "+s.F("rms %s", p.Traces[i].effective())))
		x, v := scale{from, to, r.x0, r.x1}, spanning(lo, hi, leastSpan(unit, math.Max(hi, -lo)), r)
		if i == 0 {
			s.valueAxis(r, v, pre, left, free)
			s.upright(margin+ascent*textSize, (r.y0+r.y1)/2, regular, textSize, ink, pre.sign+unit)
		}
		half := 1 / (2 * p.Frequency)
		for n := math.Ceil(from/half - 1e-6); n*half <= to+1e-6*half; n++ {
			s.line(periodStroke, point{x.at(n * half), r.y0}, point{x.at(n * half), r.y1})
		}
		s.line(zeroStroke, point{r.x0, v.at(0)}, point{r.x1, v.at(0)})
		s.line(traceStroke, curve(p.Traces[i].Time, p.Traces[i].Value, x, v)...)
		s.timeAxis(r.y1+3, x, milliseconds)
	}
	y += 12 + tall + 3 + 2*textSize + 16
	y = p.meters(s, y) + 12
	return p.water(s, y, col, names)
}

// meters draws a line a meter with both cases on it.
func (p *pair) meters(s *scene, y float64) float64 {
	unit := p.Traces[0].Unit
	lo, hi, names, values := 0.0, 0.0, 0.0, 0.0
	shown := func(r Reading) string {
		switch {
		case r.Over:
			return p.T("overload")
		case r.Missing:
			return "–"
		}
		return quantity(r.Value, unit, 4)
	}
	for k, m := range p.Meters {
		names = math.Max(names, measure(regular, textSize, clean(m)))
		for i := range p.Readings {
			r := p.Readings[i][k]
			values = math.Max(values, measure(regular, textSize, shown(r)))
			if !r.Over && !r.Missing {
				lo, hi = math.Min(lo, r.Value), math.Max(hi, r.Value)
			}
		}
	}
	for _, n := range p.Names {
		values = math.Max(values, math.Min(0.2*s.w, 12+measure(regular, textSize, clean(n))))
	}
	names = math.Min(names, 0.3*s.w)
	hi = math.Max(hi, lo+leastSpan(unit, math.Max(hi, -lo)))
	pre := prefixFor(unit, math.Max(hi, -lo))
	x := scale{lo, hi, margin + names + 14, s.w - margin - 2*values - 26}
	colors := [2]color.RGBA{slate, vermillion}
	marks := [2]marker{ring, disc}
	ends := [2]float64{s.w - margin - values - 10, s.w - margin}
	for i, at := range ends {
		s.mark(marks[i], point{at - values + 3, y + 4}, 2.8, colors[i])
		s.text(at, y+ascent*textSize, right, regular, textSize, slate, fit(regular, textSize, values-10, clean(p.Names[i])))
	}
	y += lineHeight + 2
	bottom := y + readingHeight*float64(len(p.Meters)) + 2
	step := labelStep(lo/pre.factor, hi/pre.factor, x.b-x.a, nil)
	for _, v := range ticks(lo/pre.factor, hi/pre.factor, step) {
		at := x.at(v * pre.factor)
		st := gridStroke
		if v == 0 {
			st = zeroStroke
		}
		s.line(st, point{at, y}, point{at, bottom})
		s.line(axisStroke, point{at, bottom}, point{at, bottom + tickLength})
		s.text(at, bottom+tickLength+2+ascent*textSize, centre, regular, textSize, ink, fixed(v, decimals(step)))
	}
	s.line(axisStroke, point{x.a, bottom}, point{x.b, bottom})
	for k, m := range p.Meters {
		mid := y + readingHeight*(float64(k)+0.5)
		s.text(margin, mid+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, names, clean(m)))
		a, b := p.Readings[0][k], p.Readings[1][k]
		if !a.Over && !a.Missing && !b.Over && !b.Missing {
			s.line(barStroke, point{x.at(a.Value), mid}, point{x.at(b.Value), mid})
		}
		for i, r := range []Reading{a, b} {
			if !r.Over && !r.Missing {
				s.mark(marks[i], point{x.at(r.Value), mid}, 2.8, colors[i])
			}
			s.text(ends[i], mid+middle(textSize), right, regular, textSize, ink, shown(r))
		}
	}
	t := s.text((x.a+x.b)/2, bottom+tickLength+textSize+4+ascent*textSize, centre, regular, textSize, ink, fit(regular, textSize, x.b-x.a, p.T("as displayed")+", "+pre.sign+unit))
	return t.y1
}

// water draws the temperatures of both cases.
func (p *pair) water(s *scene, y float64, col [2]rect, names float64) float64 {
	lo, hi, to := math.Inf(1), math.Inf(-1), 0.0
	for i := range p.Water {
		for _, c := range p.Water[i] {
			a, b := extent(c.Y)
			lo, hi, to = math.Min(lo, a), math.Max(hi, b), math.Max(to, c.X[len(c.X)-1])
		}
	}
	s.text(col[0].x0, y+ascent*textSize, left, regular, textSize, slate, fit(regular, textSize, s.w-col[0].x0-margin, p.T("temperature of the water")))
	y += 12
	u := timeUnitFor(to)
	const tall = 104.0
	end := y
	for i := range p.Water {
		r := rect{col[i].x0, y, col[i].x1, y + tall}
		x, v := scale{0, to, r.x0, r.x1}, spanning(lo, hi, 1, r)
		if i == 0 {
			s.valueAxis(r, v, prefix{1, ""}, left, free)
			s.upright(margin+ascent*textSize, (r.y0+r.y1)/2, regular, textSize, ink, "°C")
		} else {
			step := valueStep(v.lo, v.hi, r.height())
			for _, t := range ticks(v.lo, v.hi, step) {
				s.line(gridStroke, point{r.x0, v.at(t)}, point{r.x1, v.at(t)})
			}
		}
		var wish, size []float64
		for k, c := range p.Water[i] {
			l := &series[k]
			s.line(stroke{color: l.color, width: 1.4, dash: l.dash}, curve(c.X, c.Y, x, v)...)
			last := point{x.at(c.X[len(c.X)-1]), v.at(c.Y[len(c.Y)-1])}
			s.mark(l.marker, last, 2.2, l.color)
			wish, size = append(wish, last.y), append(size, lineHeight)
		}
		if i == 1 {
			at, _ := spread(wish, size, r.y0-6, r.y1+10)
			for k, c := range p.Water[i] {
				s.line(leaderStroke, point{r.x1 + 3, wish[k]}, point{r.x1 + 9, at[k]})
				s.text(r.x1+12, at[k]+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, names, clean(c.Name)))
			}
		}
		end = s.timeAxis(r.y1+3, x, u)
	}
	return end
}
