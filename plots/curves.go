package plots

import (
	"fmt"
	"math"
	"strings"
)

// Curve is a quantity against another. A NaN in Y is a gap: there is none.
type Curve struct {
	Name string
	X, Y []float64
}

// CurvePanel is one value axis of a figure of curves.
type CurvePanel struct {
	Quantity string // "firing delay"
	Unit     string // "°"
	Curves   []Curve
	Limits   []Level // drawn across; Half is not used
	// Zero makes the axis begin at 0.
	Zero bool
	// NamesFirst puts the curves' names at their first values.
	NamesFirst bool
}

// CurvesInput is what a figure of curves shows: up to three panels over one
// horizontal axis.
type CurvesInput struct {
	Heading
	Quantity string // of the horizontal axis: "leak resistance"
	Unit     string
	Log      bool // the horizontal axis is logarithmic; all X are above 0
	Panels   []CurvePanel
	// Dots marks every point, for curves of few points.
	Dots bool
}

// most panels of one figure of curves, and values of one curve.
const (
	mostPanels = 3
	mostPoints = 1 << 20
)

// Curves builds the figure. An error names the curve and what was expected.
func Curves(in CurvesInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	c := &curves{CurvesInput: in, Language: in.Heading.Language, lo: math.Inf(1), hi: math.Inf(-1)}
	for _, p := range in.Panels {
		for _, x := range p.Curves {
			lo, hi := extent(x.X)
			c.lo, c.hi = math.Min(c.lo, lo), math.Max(c.hi, hi)
		}
	}
	s := in.Heading.sheet(clean(in.Panels[0].Quantity), c.aid())
	s.alt = c.alternative(s)
	s.data = c.tables()
	s.body = c.draw
	return s, nil
}

func (in *CurvesInput) check() error {
	if n := len(in.Panels); n == 0 || n > mostPanels {
		return fmt.Errorf("found %s, expected 1 to %d", plural(n, "panel", "panels"), mostPanels)
	}
	if err := checkUnit("horizontal axis", in.Unit); err != nil {
		return err
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, p := range in.Panels {
		if p.Unit != "" { // a number has none
			if err := checkUnit(fmt.Sprintf("panel %d", i+1), p.Unit); err != nil {
				return err
			}
		}
		if n := len(p.Curves); n == 0 || n > maxChannels {
			return fmt.Errorf("panel %d: found %s, expected 1 to %d", i+1, plural(n, "curve", "curves"), maxChannels)
		}
		any := false
		for _, c := range p.Curves {
			where := fmt.Sprintf("curve %q", c.Name)
			if len(c.X) < 2 || len(c.X) != len(c.Y) || len(c.X) > mostPoints {
				return fmt.Errorf("%s: found %s for %s, expected as many, at least 2", where, plural(len(c.Y), "value", "values"), plural(len(c.X), "place", "places"))
			}
			if err := checkValues(where+": places", c.X, mostPrefixed); err != nil {
				return err
			}
			for k, x := range c.X {
				if k > 0 && x < c.X[k-1] {
					return fmt.Errorf("%s: found %g after %g, expected places that do not fall", where, x, c.X[k-1])
				}
				if in.Log && x <= 0 {
					return fmt.Errorf("%s: found %g on a logarithmic axis, expected more than 0", where, x)
				}
				if y := c.Y[k]; math.IsInf(y, 0) || math.Abs(y) > mostOf(p.Unit) {
					return fmt.Errorf("%s: found %g at index %d, expected at most %g in magnitude", where, y, k, mostOf(p.Unit))
				}
				any = any || !math.IsNaN(c.Y[k])
				lo, hi = math.Min(lo, x), math.Max(hi, x)
			}
		}
		if !any {
			return fmt.Errorf("panel %d: found no value at all, expected one", i+1)
		}
		for _, l := range p.Limits {
			if err := checkValues(fmt.Sprintf("limit %q", l.Name), []float64{l.Value}, mostOf(p.Unit)); err != nil {
				return err
			}
		}
	}
	if hi-lo < 1e-9*math.Max(1e-3, math.Abs(hi)) {
		return fmt.Errorf("found places from %g to %g, expected a span", lo, hi)
	}
	return nil
}

// curves is a figure being built.
type curves struct {
	CurvesInput
	*Language
	lo, hi float64
}

// horizontal maps a place to the page.
func (c *curves) horizontal(r rect) func(x float64) float64 {
	if c.Log {
		s := scale{math.Log(c.lo), math.Log(c.hi), r.x0, r.x1}
		return func(x float64) float64 { return s.at(math.Log(x)) }
	}
	s := scale{c.lo, c.hi, r.x0, r.x1}
	return s.at
}

// vertical is the value axis of a panel.
func (p *CurvePanel) vertical(r rect) scale {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, c := range p.Curves {
		for _, y := range c.Y {
			if !math.IsNaN(y) {
				lo, hi = math.Min(lo, y), math.Max(hi, y)
			}
		}
	}
	for _, l := range p.Limits {
		lo, hi = math.Min(lo, l.Value), math.Max(hi, l.Value)
	}
	if p.Zero {
		lo, hi = math.Min(0, lo), math.Max(0, hi)
	}
	s := spanning(lo, hi, leastSpan(p.Unit, math.Max(hi, -lo)), r)
	if p.Zero && lo == 0 {
		s.lo = 0
	}
	return s
}

// curveHeights are the heights of panels by how many there are.
var curveHeights = [mostPanels + 1]float64{0, 210, 130, 100}

func (c *curves) draw(s *scene, y float64) float64 {
	names := 0.0
	for _, p := range c.Panels {
		for _, x := range p.Curves {
			names = math.Max(names, measure(regular, textSize, clean(x.Name)))
		}
		for _, l := range p.Limits {
			names = math.Max(names, measure(regular, textSize, c.limit(&p, l)))
		}
	}
	names = math.Min(names, 0.3*s.w)
	var r rect
	for i := range c.Panels {
		p := &c.Panels[i]
		r = rect{margin + leftGutter, y, s.w - margin - names - 16, y + curveHeights[len(c.Panels)]}
		c.panel(s, r, p, names)
		y = r.y1 + 12
	}
	y = r.y1 + 4
	at := c.horizontal(r)
	s.line(axisStroke, point{r.x0, y}, point{r.x1, y})
	end := math.Inf(-1)
	for _, t := range c.ticks(r) {
		x := at(t)
		s.line(axisStroke, point{x, y}, point{x, y + tickLength})
		text := c.place(t)
		if w := measure(regular, textSize, text); x-w/2 > end+4 && x-w/2 > margin && x+w/2 < s.w-margin {
			end = s.text(x, y+tickLength+2+ascent*textSize, centre, regular, textSize, ink, text).x1
		}
	}
	y += tickLength + 2 + textSize + 2
	title := clean(c.Quantity)
	if !c.Log {
		title += ", " + c.prefix().sign + c.Unit
	}
	b := s.text((r.x0+r.x1)/2, y+ascent*textSize, centre, regular, textSize, ink, fit(regular, textSize, r.width(), title))
	return b.y1
}

// prefix is how places on a linear axis are written.
func (c *curves) prefix() prefix { return prefixFor(c.Unit, math.Max(c.hi, -c.lo)) }

// ticks are the places that are marked on the horizontal axis.
func (c *curves) ticks(r rect) []float64 {
	if !c.Log {
		p := c.prefix()
		step := labelStep(c.lo/p.factor, c.hi/p.factor, r.width(), nil)
		t := ticks(c.lo/p.factor, c.hi/p.factor, step)
		for i := range t {
			t[i] *= p.factor
		}
		return t
	}
	var t []float64
	decades := math.Log10(c.hi / c.lo)
	for d := math.Floor(math.Log10(c.lo)); d <= math.Ceil(math.Log10(c.hi)); d++ {
		for _, f := range []float64{1, 2, 5} {
			x := f * math.Pow(10, d)
			if x >= c.lo*(1-1e-9) && x <= c.hi*(1+1e-9) && (f == 1 || decades < 3) {
				t = append(t, x)
			}
		}
	}
	return t
}

// place writes a place on the horizontal axis.
func (c *curves) place(x float64) string {
	if c.Log { // in thousands, as values of parts are written
		for _, p := range []prefix{{1e6, "M"}, {1e3, "k"}, {1, ""}} {
			if x >= p.factor*(1-1e-9) && p.factor > 1 && prefixFor(c.Unit, 1e6) != (prefix{1, ""}) {
				return number(x/p.factor, 3) + " " + p.sign + c.Unit
			}
		}
		return quantity(x, c.Unit, 3)
	}
	return number(x/c.prefix().factor, 6)
}

// limit is a limit in words.
func (c *curves) limit(p *CurvePanel, l Level) string {
	return clean(l.Name) + " " + quantity(l.Value, p.Unit, 4)
}

func (c *curves) panel(s *scene, r rect, p *CurvePanel, names float64) {
	at, v := c.horizontal(r), p.vertical(r)
	pre := prefixFor(p.Unit, math.Max(v.hi, -v.lo))
	s.valueAxis(r, v, pre, left, free)
	s.upright(margin+ascent*textSize, (r.y0+r.y1)/2, regular, textSize, ink, fit(regular, textSize, r.height()+8, strings.TrimSuffix(clean(p.Quantity)+", "+pre.sign+p.Unit, ", ")))
	for _, t := range c.ticks(r) {
		s.line(gridStroke, point{at(t), r.y0}, point{at(t), r.y1})
	}
	// Names stand at the last value of each line, or at the limit's height.
	var wish, size []float64
	var text []string
	add := func(y float64, t string) {
		wish, size, text = append(wish, y), append(size, lineHeight), append(text, t)
	}
	for k, x := range p.Curves {
		l := &series[k]
		st := stroke{color: l.color, width: 1.5, dash: l.dash}
		first, last := math.NaN(), r.y1
		var run []point
		flush := func() {
			if len(run) == 1 {
				s.mark(l.marker, run[0], 2.2, l.color)
			}
			s.line(st, straighten(run, 0.02)...)
			run = nil
		}
		n := 0
		for i := range x.X {
			if math.IsNaN(x.Y[i]) {
				flush()
				continue
			}
			q := point{at(x.X[i]), v.at(x.Y[i])}
			run = append(run, q)
			last = q.y
			if n == 0 {
				first = q.y
			}
			n++
		}
		flush()
		every := 1
		if !c.Dots {
			every = max(1, n/6)
		}
		j := 0
		for i := range x.X {
			if math.IsNaN(x.Y[i]) {
				continue
			}
			if j%every == every/2 {
				s.mark(l.marker, point{at(x.X[i]), v.at(x.Y[i])}, 2.3, l.color)
			}
			j++
		}
		if p.NamesFirst {
			last = first
		}
		add(last, clean(x.Name))
	}
	for _, l := range p.Limits {
		s.line(stroke{color: ink, width: 0.9, dash: []float64{5, 2.5}}, point{r.x0, v.at(l.Value)}, point{r.x1, v.at(l.Value)})
		add(v.at(l.Value), c.limit(p, l))
	}
	if p.NamesFirst {
		for i := range p.Curves { // above the line, which falls or is short there
			wish[i] -= 7
		}
		at, _ := spread(wish[:len(p.Curves)], size[:len(p.Curves)], r.y0-6, r.y1)
		for i := range p.Curves {
			s.mark(series[i].marker, point{r.x0 + 8, at[i]}, 2.3, series[i].color)
			s.text(r.x0+13, at[i]+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, names, text[i]))
		}
		wish, size, text = wish[len(p.Curves):], size[len(p.Curves):], text[len(p.Curves):]
	}
	place, _ := spread(wish, size, r.y0-6, r.y1+10)
	for i, t := range text {
		x := r.x1 + 10
		s.line(leaderStroke, point{r.x1 + 1, wish[i]}, point{x - 5, place[i]})
		if !p.NamesFirst && i < len(p.Curves) {
			s.mark(series[i].marker, point{x, place[i]}, 2.3, series[i].color)
		}
		s.text(x+6, place[i]+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, names, t))
	}
}
