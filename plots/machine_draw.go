package plots

import (
	"image/color"
	"math"
	"strings"
)

// Places on a machine's page, in points.
const (
	vesselTop    = 74.0
	vesselTall   = 152.0
	machineSide  = 556.0
	machineNote  = 286.0
	historyTop   = 300.0
	historyTall  = 78.0
	vesselWidest = 120.0
)

var vesselStroke = stroke{color: ink, width: 1.6}

// vessel is the place of boiler k: its scale stands at the left of it.
func (m *machine) vessel(k int) rect {
	n := float64(len(m.Channels))
	pitch := (machineSide - 20 - frameMargin) / n
	w := math.Min(vesselWidest, pitch-46)
	x := frameMargin + float64(k)*pitch + 30
	return rect{x, vesselTop, x + w, vesselTop + vesselTall}
}

func (m *machine) scale(r rect) scale { return scale{m.lo, m.hi, r.y1, r.y0} }

// still draws vessels, scales and axes.
func (m *machine) still(s *scene) {
	s.text(frameMargin, 22, left, bold, frameTitle, ink, fit(bold, frameTitle, machineSide-frameMargin-20, m.title))
	s.text(frameMargin, 35, left, regular, frameText, slate, fit(regular, frameText, frameWidth-2*frameMargin, clean(m.Subtitle)))
	for k := range m.Channels {
		c := &m.Channels[k]
		r := m.vessel(k)
		s.text(r.x0, r.y0-12, left, bold, 11, ink, fit(bold, 11, r.width()+14, clean(c.Name)))
		y := m.scale(r)
		step := tickStep(m.hi-m.lo, 8)
		for _, v := range ticks(m.lo, m.hi, step) {
			s.line(axisStroke, point{r.x0 - 4, y.at(v)}, point{r.x0, y.at(v)})
			s.text(r.x0-6, y.at(v)+middle(textSize), right, regular, textSize, ink, fixed(v, 0))
		}
		s.text(r.x0-4, r.y0-12, right, regular, textSize, slate, "°C")
	}
	h := m.history()
	t := scale{m.Time[0], m.Time[len(m.Time)-1], h.x0, h.x1}
	s.valueAxis(h, scale{m.lo, m.hi, h.y1, h.y0}, prefix{1, ""}, left, free)
	u := timeUnitFor(t.hi - t.lo)
	step := u.step(t)
	s.line(axisStroke, point{h.x0, h.y1 + 2}, point{h.x1, h.y1 + 2})
	last := 0.0
	for _, v := range ticks(t.lo/u.seconds, t.hi/u.seconds, step) {
		x := t.at(v * u.seconds)
		s.line(axisStroke, point{x, h.y1 + 2}, point{x, h.y1 + 4})
		last = s.text(x, h.y1+12, centre, regular, textSize, ink, fixed(v, decimals(step))).x1
	}
	s.text(last+5, h.y1+12, left, regular, textSize, ink, u.name)
	s.text(frameMargin, h.y0+middle(textSize), left, regular, textSize, slate, "°C")
	s.text(frameMargin, h.y0-9, left, regular, textSize, slate, fit(regular, textSize, machineSide-frameMargin, m.T("temperature of the water")))
	ends := make([]float64, len(m.Channels))
	sizes := make([]float64, len(m.Channels))
	for k := range m.Channels {
		w := m.Channels[k].Water
		s.line(ghost, curve(m.Time, w, t, scale{m.lo, m.hi, h.y1, h.y0})...)
		ends[k], sizes[k] = scale{m.lo, m.hi, h.y1, h.y0}.at(w[len(w)-1]), lineHeight
	}
	at, _ := spread(ends, sizes, h.y0-lineHeight, h.y1+lineHeight)
	for k := range m.Channels {
		s.mark(series[k].marker, point{h.x1 + 9, at[k]}, 2.6, series[k].color)
		s.text(h.x1+16, at[k]+middle(textSize), left, regular, textSize, ink, fit(regular, textSize, frameWidth-frameMargin-h.x1-16, clean(m.Channels[k].Name)))
	}
	// The display's frame and name.
	x0, x1 := machineSide, frameWidth-frameMargin
	s.text(x0, 92, left, regular, frameText, ink, fit(regular, frameText, x1-x0, clean(m.DisplayName)))
	s.text(x0, 150, left, regular, frameText, slate, fit(regular, frameText, x1-x0, m.T("last events")))
	s.text(x0, machineNote-6, left, regular, textSize, slate, fit(regular, textSize, x1-x0, m.T("simulated")))
}

func (m *machine) history() rect {
	return rect{frameMargin + leftGutter - 8, historyTop, machineSide + 40, historyTop + historyTall}
}

// warmth is the colour of water at a place between cold and hot: from pale
// blue by pale orange to vermillion, darker when hotter in grey too.
func warmth(share float64) color.RGBA {
	share = 2 * math.Max(0, math.Min(1, share))
	stops := [...]color.RGBA{tint(skyBlue, 0.35), tint(orange, 0.5), tint(vermillion, 0.85)}
	a, b := stops[0], stops[1]
	if share > 1 {
		a, b, share = stops[1], stops[2], share-1
	}
	mix := func(x, y uint8) uint8 { return uint8(math.Round(float64(x) + share*(float64(y)-float64(x)))) }
	return color.RGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 255}
}

// moving draws what is of one frame.
func (m *machine) moving(s *scene, frame int) {
	for k := range m.Channels {
		m.boiler(s, k, frame)
	}
	m.side(s, frame)
	h := m.history()
	t := scale{m.Time[0], m.Time[len(m.Time)-1], h.x0, h.x1}
	y := scale{m.lo, m.hi, h.y1, h.y0}
	now := m.Time[frame]
	for k := range m.Channels {
		l := &series[k]
		st := stroke{color: l.color, width: 1.4, dash: l.dash}
		pts := curve(m.Time[:frame+1], m.Channels[k].Water[:frame+1], t, y)
		s.line(st, pts...)
		s.mark(l.marker, point{t.at(now), y.at(m.Channels[k].Water[frame])}, 2.6, l.color)
	}
	s.line(stroke{color: ink, width: 0.8}, point{t.at(now), h.y0}, point{t.at(now), h.y1})
}

// boiler draws one vessel with its heat, element, link and indicator.
func (m *machine) boiler(s *scene, k, frame int) {
	c := &m.Channels[k]
	r := m.vessel(k)
	y := m.scale(r)
	w := c.Water[frame]
	top := math.Max(r.y0, math.Min(r.y1, y.at(w)))
	share := (w - 20) / (m.hi - 20)
	s.fill(warmth(share), point{r.x0, top}, point{r.x1, top}, point{r.x1, r.y1}, point{r.x0, r.y1})
	s.line(stroke{color: ink, width: 1}, point{r.x0, top}, point{r.x1, top})
	// Marks of set point and link stand at the right wall.
	mark := func(v float64, word string) (yy float64) {
		yy = y.at(v)
		s.line(stroke{color: ink, width: 0.8, dash: []float64{3, 2}}, point{r.x0, yy}, point{r.x1 + 3, yy})
		s.text(r.x1+5, yy+middle(textSize), left, regular, textSize, ink, word)
		return yy
	}
	if !math.IsNaN(c.Set) && c.Set > m.lo && c.Set < m.hi {
		mark(c.Set, m.T("set"))
	}
	if c.Link < m.hi && math.Abs(c.Link-c.Set) > (m.hi-m.lo)*0.07 {
		mark(c.Link, m.T("link"))
	}
	s.line(vesselStroke, point{r.x0, r.y0}, point{r.x0, r.y1}, point{r.x1, r.y1}, point{r.x1, r.y0}, point{r.x0, r.y0})
	// The element lies at the bottom; its bar is the part of the time driven.
	e := rect{r.x0 + 10, r.y1 - 15, r.x1 - 10, r.y1 - 7}
	s.fill(white, e.corners()...)
	lit := c.Power[frame] > 1
	if d := math.Max(0, math.Min(1, c.Drive[frame])); d > 0 && lit {
		s.fill(orange, rect{e.x0, e.y0, e.x0 + d*e.width(), e.y1}.corners()...)
	}
	s.outline(stroke{color: ink, width: 1}, e.corners()...)
	// Temperature in large figures on a plate within the vessel.
	text := fixed(w, 1) + " °C"
	size := 15.0
	for size > 9 && measure(bold, size, text) > r.width()-12 {
		size--
	}
	tw := measure(bold, size, text)
	mid := (r.x0 + r.x1) / 2
	py := r.y1 - 44
	s.fill(white, rect{mid - tw/2 - 4, py - ascent*size - 3, mid + tw/2 + 4, py + 4}.corners()...)
	s.outline(stroke{color: slate, width: 0.5}, rect{mid - tw/2 - 4, py - ascent*size - 3, mid + tw/2 + 4, py + 4}.corners()...)
	s.text(mid, py, centre, bold, size, ink, text)
	// Below: element's power, link, indicator.
	line := r.y1 + 13
	room := r.width() + 30
	s.text(r.x0, line, left, regular, textSize, ink, fit(regular, textSize, room, watts(c.Power[frame])+", "+number(c.Mass[frame], 3)+" kg"))
	line += 12
	m.link(s, r.x0, line-3, c.LinkOpen[frame])
	word := m.T("link closed")
	face := regular
	if c.LinkOpen[frame] {
		word, face = m.T("link open"), bold
	}
	s.text(r.x0+26, line, left, face, textSize, ink, fit(face, textSize, room-26, word))
	line += 14
	look := indicatorLooks[c.Indicator[frame]]
	b := rect{r.x0, line - 9, r.x0 + 20, line + 2.5}
	s.fill(look.fill, b.corners()...)
	s.hatched(b, look.hatch, outlineSlate)
	if look.hatch != noHatch { // letters stand on plain ground
		s.fill(look.fill, rect{b.x0 + 6, b.y0 + 1, b.x1 - 6, b.y1 - 1}.corners()...)
	}
	s.outline(outlineInk, b.corners()...)
	s.text((b.x0+b.x1)/2, line-0.5, centre, bold, textSize, look.text, look.letter)
	s.text(b.x1+6, line-0.5, left, regular, textSize, ink, fit(regular, textSize, room-26, m.T(c.Indicator[frame].String())))
}

// link draws the symbol of a thermal link.
func (m *machine) link(s *scene, x, y float64, open bool) {
	st := stroke{color: ink, width: 0.9}
	s.outline(st, rect{x + 4, y - 3, x + 18, y + 3}.corners()...)
	if open {
		s.line(st, point{x, y}, point{x + 7, y})
		s.line(st, point{x + 15, y}, point{x + 22, y})
		bar := stroke{color: vermillion, width: 1.5}
		s.line(bar, point{x + 8, y + 5}, point{x + 10.5, y - 5})
		s.line(bar, point{x + 11.5, y + 5}, point{x + 14, y - 5})
		return
	}
	s.line(st, point{x, y}, point{x + 22, y})
}

// side draws clock, display and the last events.
func (m *machine) side(s *scene, frame int) {
	x0, x1 := machineSide, frameWidth-frameMargin
	now := m.Time[frame]
	s.text(x1, 24, right, bold, 15, ink, clockFace(now))
	d := rect{x0, 98, x1, 130}
	s.fill(tint(bluishGreen, 0.1), d.corners()...)
	s.outline(stroke{color: ink, width: 1.2}, d.corners()...)
	text := clean(m.Display[frame])
	size := 20.0
	for size > 9 && measure(bold, size, text) > d.width()-12 {
		size--
	}
	s.text(d.x1-7, (d.y0+d.y1)/2+middle(size), right, bold, size, ink, fit(bold, size, d.width()-12, text))
	y := 163.0
	shown := 0
	for i := len(m.Events) - 1; i >= 0 && shown < 4; i-- {
		e := m.Events[i]
		if e.Time > now {
			continue
		}
		lines := wrap(regular, textSize, x1-x0, clockFace(e.Time)+" "+m.event(e))
		if len(lines) > 2 {
			lines = []string{lines[0], fit(regular, textSize, x1-x0, strings.Join(lines[1:], " "))}
		}
		if y+float64(len(lines))*lineHeight > machineNote-16 {
			break
		}
		for _, l := range lines {
			s.text(x0, y, left, regular, textSize, ink, l)
			y += lineHeight
		}
		y += 3
		shown++
	}
}

// clockFace writes an instant as hours, minutes and seconds.
func clockFace(t float64) string {
	n := int(math.Floor(t + 1e-6))
	two := func(x int) string { return fixed(float64(x/10), 0) + fixed(float64(x%10), 0) }
	return fixed(float64(n/3600), 0) + ":" + two(n/60%60) + ":" + two(n%60)
}
