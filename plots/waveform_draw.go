package plots

import (
	"math"
	"strings"
)

// rightGutter is the room for the right-hand scale of a waveform sheet.
const rightGutter = 44.0

// draw lays the panels out below y.
func (w *waveforms) draw(s *scene, y float64) float64 {
	x := scale{w.from, w.to, margin + leftGutter, s.w - margin - rightGutter}
	y = w.angles(s, x, y)
	if w.Supply.given() {
		y = w.supply(s, x, y)
	}
	for k := range w.Channels {
		y = w.channel(s, x, k, y)
	}
	return s.timeAxis(y+2, x, milliseconds)
}

// periods draws the zeros of the fundamental in a panel.
func (w *waveforms) periods(s *scene, x scale, r rect) {
	first, last := w.zeros()
	for i := first; i <= last; i++ {
		at := x.at(float64(i) / (2 * w.Frequency))
		s.line(periodStroke, point{at, r.y0}, point{at, r.y1})
	}
}

// angles draws the axis of electrical angle above the panels: every half-cycle
// counts from 0° at its start.
func (w *waveforms) angles(s *scene, x scale, y float64) float64 {
	y += textSize + 2
	half := 1 / (2 * w.Frequency)
	first, last := w.zeros()
	base := y + tickLength
	s.line(axisStroke, point{x.a, base}, point{x.b, base})
	width := x.at(w.from+half) - x.a
	step := 30.0
	for _, c := range []float64{30, 45, 90} {
		if step = c; width*c/180 > 5 {
			break
		}
	}
	label := 90.0
	if width/6 > 24 {
		label = 30
	}
	for i := first - 1; i <= last; i++ {
		for d := step; d <= 180; d += step {
			t := (float64(i) + d/180) * half
			if t < w.from-1e-9*half || t > w.to+1e-9*half {
				continue
			}
			length := tickLength
			if math.Mod(d, 90) != 0 {
				length *= 0.6
			}
			at := x.at(t)
			s.line(axisStroke, point{at, base - length}, point{at, base})
			if math.Mod(d, label) != 0 {
				continue
			}
			t0 := fixed(d, 0) + "°"
			if d == 180 {
				t0 = "0°"
				switch {
				case i+1 == last && float64(last)*half > w.to-0.05*half:
					t0 = "180°"
				case i+1 > first || float64(first)*half > w.from+0.05*half:
					t0 = "180° | 0°"
				}
			}
			s.text(at, y-2, centre, regular, textSize, ink, t0)
		}
	}
	s.text(margin, y-2, left, regular, textSize, slate, s.T("angle"))
	return base
}

// heading writes what a panel shows above it: a name in bold, then words, and
// something at the right end.
func (s *scene) heading(r rect, name, words, end string) {
	y := r.y0 - 3.5
	room := r.width()
	w := 0.0
	if end != "" {
		b := s.text(r.x1, y, right, regular, textSize, slate, fit(regular, textSize, 0.5*room, end))
		w = b.width() + 8
	}
	name = fit(bold, headSize, 0.5*room, name)
	b := s.text(r.x0, y, left, bold, headSize, ink, name)
	if name != "" {
		w += b.width() + 5
	}
	if rest := fit(regular, textSize, room-w, words); words != "" {
		s.text(b.x1+5, y, left, regular, textSize, ink, rest)
	}
}

// scaleTitle writes a scale's name upwards at the side of the page beside r,
// with a sample of its line.
func (s *scene) scaleTitle(r rect, side align, name string, st stroke) {
	x := margin + ascent*textSize
	if side == right {
		x = s.w - margin - descent*textSize
	}
	name = fit(regular, textSize, r.height(), name)
	b := s.upright(x, (r.y0+r.y1)/2, regular, textSize, ink, name)
	const length = 14
	if r.y1-b.y1 > length+6 {
		mid := (b.x0 + b.x1) / 2
		s.line(st, point{mid, b.y1 + 4}, point{mid, b.y1 + 4 + length})
	}
}

func (w *waveforms) supply(s *scene, x scale, y float64) float64 {
	r := rect{x.a, y + 15, x.b, y + 15 + supplyPanel}
	sc := balanced(w.voltage, 0.94, r)
	p := prefixFor(w.Supply.Unit, w.voltage)
	s.valueAxis(r, sc, p, left, adjoined)
	w.periods(s, x, r)
	s.line(zeroStroke, point{r.x0, sc.at(0)}, point{r.x1, sc.at(0)})
	s.line(supplyStroke, curve(w.Supply.Time, w.Supply.Value, x, sc)...)
	s.scaleTitle(r, left, s.T("voltage")+", "+p.sign+w.Supply.Unit, supplyStroke)
	s.heading(r, s.T("supply"), s.T(clean(w.Supply.Name)), s.F("rms %s", w.Supply.effective()))
	return r.y1
}

// channel draws the panels of a channel below y.
func (w *waveforms) channel(s *scene, x scale, k int, y float64) float64 {
	c := &w.Channels[k]
	y += 20
	s.heading(rect{x.a, y, x.b, y}, clean(c.Name), c.words(s.Language), c.effective(s.Language))
	fired, ended := w.marked(k, Firing), w.marked(k, Extinction)
	if len(fired) > 0 {
		y += w.lane(s, x, rect{x.a, y, x.b, y}, fired, s.T("fires")+" ")
	}
	if c.Voltage.given() || c.Current.given() {
		r := rect{x.a, y, x.b, y + channelPanel}
		w.element(s, x, k, r)
		mid := (r.y0 + r.y1) / 2
		w.verticals(s, x, rect{r.x0, r.y0, r.x1, mid}, fired)
		w.verticals(s, x, rect{r.x0, mid, r.x1, r.y1}, ended)
		y = r.y1
	}
	if len(ended) > 0 {
		y += w.lane(s, x, rect{x.a, y, x.b, y}, ended, s.T("ends")+" ")
	}
	if c.Gate.given() {
		r := rect{x.a, y + 5, x.b, y + 5 + gatePanel}
		sc := balanced(w.gates[k], 0.88, r)
		p := prefixFor(c.Gate.Unit, w.gates[k])
		s.valueAxis(r, sc, p, left, adjoined)
		w.periods(s, x, r)
		s.line(zeroStroke, point{r.x0, sc.at(0)}, point{r.x1, sc.at(0)})
		w.verticals(s, x, r, fired)
		s.line(gateStroke, curve(c.Gate.Time, c.Gate.Value, x, sc)...)
		s.scaleTitle(r, left, s.T("gate")+", "+p.sign+c.Gate.Unit, gateStroke)
		y = r.y1
	}
	return y
}

// verticals draws marks through a part of a panel.
func (w *waveforms) verticals(s *scene, x scale, r rect, marks []Mark) {
	for _, m := range marks {
		s.line(markStroke, point{x.at(m.Time), r.y0}, point{x.at(m.Time), r.y1})
	}
}

// effective says what a trace's rms value over the figure is.
func (t *Trace) effective() string {
	return quantity(rms(t.Time, t.Value), t.Unit, 3)
}

// words are the channel's state and what its voltage is.
func (c *WaveformChannel) words(l *Language) string {
	note, name := l.T(clean(c.Note)), l.T(clean(c.Voltage.Name))
	if note != "" && name != "" {
		note += "; "
	}
	return note + name
}

// effective says the rms values of a channel's element over the figure.
func (c *WaveformChannel) effective(l *Language) string {
	var parts []string
	for _, t := range []*Trace{&c.Voltage, &c.Current} {
		if t.given() {
			parts = append(parts, t.effective())
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return l.F("rms %s", strings.Join(parts, ", "))
}

// element draws voltage and current of a channel's element on two scales with
// a common zero; the current reaches less high, so that the two of a
// resistance do not lie on one another.
func (w *waveforms) element(s *scene, x scale, k int, r rect) {
	c := &w.Channels[k]
	w.periods(s, x, r)
	v := balanced(w.volts[k], 0.94, r)
	i := balanced(w.amps[k], 0.6, r)
	if c.Current.given() {
		pts := curve(c.Current.Time, c.Current.Value, x, i)
		s.fill(currentFill, under(pts, i.at(0))...)
		defer func() {
			p := prefixFor(c.Current.Unit, w.amps[k])
			s.line(currentStroke, pts...)
			s.valueAxis(r, i, p, right, adjoined)
			s.scaleTitle(r, right, s.T("current")+", "+p.sign+c.Current.Unit, currentStroke)
		}()
	}
	if c.Voltage.given() {
		p := prefixFor(c.Voltage.Unit, w.volts[k])
		s.valueAxis(r, v, p, left, adjoined)
		s.line(voltageStroke, curve(c.Voltage.Time, c.Voltage.Value, x, v)...)
		s.scaleTitle(r, left, s.T("voltage")+", "+p.sign+c.Voltage.Unit, voltageStroke)
	}
	s.line(zeroStroke, point{r.x0, v.at(0)}, point{r.x1, v.at(0)})
}
