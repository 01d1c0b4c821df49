package plots

import (
	"math"
)

// eventLine is the line of an event from its label down.
type eventLine struct{ x, y0 float64 }

// flags writes the events' labels in rows above the panel, each at a line
// down to the y returned, from where the lines go on.
func (t *temperatures) flags(s *scene, x scale, y float64) (float64, []eventLine) {
	if len(t.groups) == 0 {
		return y + 4, nil
	}
	const widest = 210.0
	flags := make([]pennant, len(t.groups))
	texts := make([]string, len(t.groups))
	for i, g := range t.groups {
		texts[i] = t.fitLabel(g, widest)
		flags[i] = pennant{x: x.at(g.times[0]), w: measure(regular, textSize, texts[i])}
	}
	const row = lineHeight + 1.5
	rows := raise(flags, margin, s.w-margin)
	base := y + float64(rows)*row + 3
	lines := make([]eventLine, len(flags))
	for i, f := range flags {
		// The line ends at the top of its label.
		lines[i] = eventLine{f.x, base - 2 - float64(f.row+1)*row}
		s.line(eventStroke, point{f.x, lines[i].y0}, point{f.x, base})
	}
	for i, f := range flags {
		at := f.x0 + pennantPad/2 + 1.5
		if f.toLeft {
			at = f.x1 - pennantPad/2 - 1.5 - f.w
		}
		y := lines[i].y0 + 0.5 + ascent*textSize
		box := textBox(point{at, y}, f.w, textSize, false)
		for j, l := range lines { // another's line passes behind where it must
			if j != i && l.x > box.x0 && l.x < box.x1 {
				s.fill(white, box.corners()...)
				break
			}
		}
		s.text(at, y, left, regular, textSize, ink, texts[i])
	}
	return base, lines
}

// repeats draws a row for every event that happened more than once, with the
// channel's sign at every instant.
func (t *temperatures) repeats(s *scene, x scale, y float64) float64 {
	for _, g := range t.groups {
		if len(g.times) < 2 {
			continue
		}
		y += 3.5
		n := len(g.times)
		s.line(gridStroke, point{x.at(g.times[0]), y}, point{x.at(g.times[n-1]), y})
		last := math.Inf(-1)
		for _, at := range g.times {
			p := point{x.at(at), y}
			if p.x-last < 1 { // cannot be seen apart
				continue
			}
			last = p.x
			if g.channel < 0 {
				s.line(outlineInk, point{p.x, y - 2.5}, point{p.x, y + 2.5})
			} else {
				s.mark(series[g.channel].marker, p, 1.9, series[g.channel].color)
			}
		}
		y += 4
	}
	return y
}

// fitLabel is an event's label; where it is wider than w, a long name is
// shortened first, then the text, never the time.
func (t *temperatures) fitLabel(g eventGroup, w float64) string {
	full := t.label(g)
	if measure(regular, textSize, full) <= w {
		return full
	}
	name := ""
	if g.channel >= 0 {
		name = fit(regular, textSize, 0.25*w, t.name(g.channel)) + ": "
	}
	tail := t.times(g)
	return name + fit(regular, textSize, w-measure(regular, textSize, name+tail), g.text) + tail
}

// power draws the power panel below y.
func (t *temperatures) power(s *scene, x scale, y float64) float64 {
	r := rect{x.a, y, x.b, y + powerPanel}
	lo, hi := extent(t.Power[1:])
	lo, hi = math.Min(0, lo), math.Max(10, hi)
	sc := scale{lo, hi + 0.06*(hi-lo), r.y1, r.y0}
	pts := staircase(t.Time, t.Power, x, sc)
	s.fill(powerFill, under(pts, sc.at(0))...)
	p := prefixFor("W", hi)
	s.valueAxis(r, sc, p, left, free)
	s.line(powerStroke, pts...)
	s.line(axisStroke, point{r.x0, sc.at(0)}, point{r.x1, sc.at(0)})
	s.upright(margin+ascent*textSize, (r.y0+r.y1)/2, regular, textSize, ink, s.T("power")+", "+p.sign+"W")
	n := len(t.Power) - 1
	s.text(r.x1+endLeader, math.Max(r.y0+textSize, math.Min(r.y1, sc.at(t.Power[n])+middle(textSize))), left, regular, textSize, ink,
		s.T("plug")+" "+watts(t.Power[n]))
	return r.y1
}

// barColumn is the width in points within which a bar shows one state only.
const barColumn = 0.6

// strips draws the bars of the indicators below y.
func (t *temperatures) strips(s *scene, x scale, y float64) float64 {
	any := false
	for k := range t.Channels {
		if t.Channels[k].Indicator == nil {
			continue
		}
		if !any {
			any = true
			y += 4
		}
		t.strip(s, x, k, rect{x.a, y, x.b, y + stripHeight})
		y += stripHeight + 3
	}
	return y
}

// strip draws one bar. Where states change faster than can be seen, the most
// urgent shows.
func (t *temperatures) strip(s *scene, x scale, k int, r rect) {
	columns := int(math.Ceil(r.width() / barColumn))
	shown := make([]Indicator, columns)
	for i := range shown {
		shown[i] = -1
	}
	for _, p := range t.periods(k) {
		a := int((x.at(p.from) - r.x0) / barColumn)
		b := int(math.Ceil((x.at(p.to) - r.x0) / barColumn))
		for i := max(0, a); i < min(columns, max(b, a+1)); i++ {
			if shown[i] < 0 || indicatorLooks[p.indicator].urgency > indicatorLooks[shown[i]].urgency {
				shown[i] = p.indicator
			}
		}
	}
	for i := 0; i < columns; {
		j := i
		for j < columns && shown[j] == shown[i] {
			j++
		}
		if shown[i] >= 0 {
			b := rect{r.x0 + float64(i)*barColumn, r.y0, math.Min(r.x1, r.x0+float64(j)*barColumn), r.y1}
			t.block(s, b, shown[i])
		}
		i = j
	}
	s.outline(outlineSlate, r.corners()...)
	s.text(r.x0-5, (r.y0+r.y1)/2+middle(textSize), right, regular, textSize, ink, fit(regular, textSize, leftGutter+margin-8, t.name(k)))
}

// block draws a stretch of a bar with the state's name or letter if it fits.
func (t *temperatures) block(s *scene, b rect, i Indicator) {
	look := indicatorLooks[i]
	s.fill(look.fill, b.corners()...)
	s.hatched(b, look.hatch, stroke{color: slate, width: 0.5})
	if b.width() > 1.5 {
		s.outline(outlineSlate, b.corners()...)
	}
	word := s.T(i.String())
	w := measure(regular, textSize, word)
	if w+8 > b.width() {
		word = look.letter
		if w = measure(regular, textSize, word); w+4 > b.width() {
			return
		}
	}
	mid := (b.x0 + b.x1) / 2
	if look.hatch != noHatch {
		s.fill(look.fill, rect{mid - w/2 - 2, b.y0 + 1.5, mid + w/2 + 2, b.y1 - 1.5}.corners()...)
	}
	s.text(mid, (b.y0+b.y1)/2+middle(textSize), centre, regular, textSize, look.text, word)
}

// key explains the bars below y.
func (t *temperatures) key(s *scene, y float64) float64 {
	any := false
	for k := range t.Channels {
		any = any || t.Channels[k].Indicator != nil
	}
	if !any {
		return y - 5
	}
	x := margin + leftGutter
	s.text(x-5, y+ascent*textSize+1, right, regular, textSize, slate, s.T("indicator"))
	for i, look := range indicatorLooks {
		words := look.letter + " " + s.T(Indicator(i).String())
		if x+18+measure(regular, textSize, words) > s.w-margin && x > margin+leftGutter { // a line is full
			x, y = margin+leftGutter, y+lineHeight+1
		}
		b := rect{x, y, x + 14, y + 9}
		s.fill(look.fill, b.corners()...)
		s.hatched(b, look.hatch, stroke{color: slate, width: 0.5})
		s.outline(outlineSlate, b.corners()...)
		t := s.text(x+18, y+ascent*textSize+1, left, regular, textSize, ink, fit(regular, textSize, s.w-margin-x-18, words))
		x = t.x1 + 14
	}
	return y + 10
}
