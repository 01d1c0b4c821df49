package plots

import (
	"math"
)

// Widths of the column of labels at the line ends.
const (
	endSample   = 16.0 // of line
	endLeader   = 12.0
	endGap      = 3.0
	maxEndLabel = 110.0
)

// ending is a label at the end of a line.
type ending struct {
	y      float64 // the line's end
	text   string
	stroke stroke
	marker marker
	marked bool
}

// draw lays the figure out below y.
func (t *temperatures) draw(s *scene, y float64) float64 {
	ends := t.endings()
	gutter := 0.0
	for _, e := range ends {
		gutter = math.Max(gutter, measure(regular, textSize, e.text))
	}
	gutter = math.Min(gutter, maxEndLabel) + endLeader + endSample + endGap
	x := scale{t.from, t.to, margin + leftGutter, s.w - margin - gutter}
	base, lines := t.flags(s, x, y)
	y = t.repeats(s, x, base)
	height := math.Max(temperaturePanel, float64(len(ends))*lineHeight+4)
	r := rect{x.a, y, x.b, y + height}
	lo, hi := t.extent()
	sc := spanning(lo, hi, 5, r)
	t.bands(s, r, sc)
	s.valueAxis(r, sc, prefix{1, ""}, left, free)
	s.upright(margin+ascent*textSize, (r.y0+r.y1)/2, regular, textSize, ink, s.T("temperature")+", °C")
	for _, l := range lines {
		s.line(eventStroke, point{l.x, base}, point{l.x, r.y1})
	}
	t.curves(s, r, x, sc)
	t.labels(s, r, sc, ends)
	y = r.y1
	if t.Power != nil {
		y = t.power(s, x, y+8)
	}
	y = t.strips(s, x, y+4)
	y = s.timeAxis(y+3, x, t.unit)
	return t.key(s, y+5)
}

// extent is the range of all temperatures and levels shown.
func (t *temperatures) extent() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	take := func(v []float64) {
		a, b := extent(v)
		lo, hi = math.Min(lo, a), math.Max(hi, b)
	}
	take(t.Lid)
	for k := range t.Channels {
		c := &t.Channels[k]
		take(c.Water)
		take(c.Element)
		for _, l := range c.Levels {
			take([]float64{l.Value - l.Half, l.Value + l.Half})
		}
	}
	return lo, hi
}

func (t *temperatures) waterStroke(k int) stroke {
	return stroke{color: series[k].color, width: 1.7, dash: series[k].dash}
}

func (t *temperatures) elementStroke(k int) stroke {
	return stroke{color: series[k].color, width: 0.6, dash: series[k].dash}
}

func (t *temperatures) levelStroke(k int) stroke {
	return stroke{color: series[k].color, width: 0.8, dash: []float64{2, 2}}
}

// bands draws the bands about the levels, and the levels.
func (t *temperatures) bands(s *scene, r rect, sc scale) {
	for k := range t.Channels {
		for _, l := range t.Channels[k].Levels {
			if l.Half > 0 {
				s.fill(tint(series[k].color, 0.16), rect{r.x0, sc.at(l.Value + l.Half), r.x1, sc.at(l.Value - l.Half)}.corners()...)
			}
		}
	}
	for k := range t.Channels {
		for _, l := range t.Channels[k].Levels {
			s.line(t.levelStroke(k), point{r.x0, sc.at(l.Value)}, point{r.x1, sc.at(l.Value)})
		}
	}
}

// curves draws the temperatures, elements under water.
func (t *temperatures) curves(s *scene, r rect, x, sc scale) {
	if t.Lid != nil {
		s.line(lidStroke, curve(t.Time, t.Lid, x, sc)...)
	}
	for k := range t.Channels {
		if e := t.Channels[k].Element; e != nil {
			s.line(t.elementStroke(k), curve(t.Time, e, x, sc)...)
		}
	}
	n := len(t.Channels)
	for k := range t.Channels {
		pts := curve(t.Time, t.Channels[k].Water, x, sc)
		s.line(t.waterStroke(k), pts...)
		// Markers at places of its own for every channel.
		const apart = 90.0
		for at := r.x0 + apart*(float64(k)+0.5)/float64(n); at < r.x1; at += apart {
			s.mark(series[k].marker, point{at, along(pts, at)}, 2.5, series[k].color)
		}
	}
}

// along is the height of a curve at x.
func along(pts []point, x float64) float64 {
	for i := 1; i < len(pts); i++ {
		if a, b := pts[i-1], pts[i]; x <= b.x {
			if b.x == a.x {
				return b.y
			}
			return a.y + (b.y-a.y)*math.Max(0, (x-a.x)/(b.x-a.x))
		}
	}
	return pts[len(pts)-1].y
}

// endings are the labels at the line ends; y is still a temperature.
func (t *temperatures) endings() []ending {
	var out []ending
	n := len(t.Time) - 1
	for k := range t.Channels {
		c := &t.Channels[k]
		out = append(out, ending{y: c.Water[n], text: t.name(k) + " " + t.Language.T("water") + " " + fixed(c.Water[n], 1), stroke: t.waterStroke(k), marker: series[k].marker, marked: true})
		if c.Element != nil {
			out = append(out, ending{y: c.Element[n], text: t.name(k) + " " + t.Language.T("element") + " " + fixed(c.Element[n], 0), stroke: t.elementStroke(k)})
		}
		for _, l := range c.Levels {
			out = append(out, ending{y: l.Value, text: t.name(k) + " " + t.Language.T(clean(l.Name)) + " " + number(l.Value, 4), stroke: t.levelStroke(k)})
		}
	}
	if t.Lid != nil {
		out = append(out, ending{y: t.Lid[n], text: t.Language.T("lid") + " " + fixed(t.Lid[n], 0), stroke: lidStroke})
	}
	return out
}

// labels writes the labels at the line ends.
func (t *temperatures) labels(s *scene, r rect, sc scale, ends []ending) {
	wish, size := make([]float64, len(ends)), make([]float64, len(ends))
	for i := range ends {
		wish[i], size[i] = sc.at(ends[i].y), lineHeight
	}
	at, _ := spread(wish, size, r.y0, r.y1)
	for i, e := range ends {
		a, b := r.x1+endLeader, r.x1+endLeader+endSample
		s.line(leaderStroke, point{r.x1 + 1, wish[i]}, point{a - 2, at[i]})
		s.line(e.stroke, point{a, at[i]}, point{b, at[i]})
		if e.marked {
			s.mark(e.marker, point{(a + b) / 2, at[i]}, 2.5, e.stroke.color)
		}
		s.text(b+endGap, at[i]+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, maxEndLabel, e.text))
	}
}
