package plots

import (
	"math"
	"strings"
)

// Places on the page of a frame, in points.
const (
	frameMargin = 12.0
	circuitTop  = 44.0
	circuitTall = 240.0
	sideColumn  = 500.0
	voltageTop  = 296.0
	currentTop  = 346.0
	traceTall   = 42.0
	frameText   = 8.6
	frameTitle  = 14.0
	noteLine    = 275.0
	cautionLine = 286.0
)

// pen places the circuit on the page.
func (c *cycle) pen(s *scene) *pen {
	return c.d.newPen(s, frameMargin, circuitTop, circuitTall/c.d.height())
}

// panels are the two strips of traces.
func (c *cycle) panels() (voltage, current rect) {
	x0, x1 := frameMargin+leftGutter, frameWidth-frameMargin-leftGutter
	return rect{x0, voltageTop, x1, voltageTop + traceTall}, rect{x0, currentTop, x1, currentTop + traceTall}
}

// ghost is a trace that is still to come.
var ghost = stroke{color: mist, width: 1.2}

// still draws what all frames share.
func (c *cycle) still(s *scene) {
	s.text(frameMargin, 22, left, bold, frameTitle, ink, fit(bold, frameTitle, frameWidth-2*frameMargin, c.title))
	s.text(frameMargin, 35, left, regular, frameText, slate, fit(regular, frameText, frameWidth-2*frameMargin, clean(c.Subtitle)))
	c.d.diagram(c.pen(s), frameText)
	c.legend(s)
	v, i := c.panels()
	x := c.time(v)
	half := 1 / (2 * c.Frequency)
	for _, r := range []rect{v, i} {
		for n := math.Ceil(c.from/half - 1e-6); n*half <= c.to+1e-6*half; n++ {
			s.line(periodStroke, point{x.at(n * half), r.y0}, point{x.at(n * half), r.y1})
		}
		s.line(zeroStroke, point{r.x0, (r.y0 + r.y1) / 2}, point{r.x1, (r.y0 + r.y1) / 2})
	}
	axis := func(r rect, sc scale, size float64, unit string, side align) {
		p := prefixFor(unit, size)
		s.valueAxis(r, sc, p, side, free)
		at := frameMargin + ascent*frameText
		if side == right {
			at = frameWidth - frameMargin
		}
		s.upright(at, (r.y0+r.y1)/2, regular, textSize, ink, p.sign+unit)
	}
	vs, is, gs := c.scales()
	axis(v, vs, c.volts, "V", left)
	axis(i, is, c.amps, "A", left)
	axis(i, gs, c.gate, "A", right)
	for _, t := range []struct {
		t *Trace
		y scale
	}{{&c.SupplyVoltage, vs}, {&c.LoadVoltage, vs}, {&c.LoadTrace, is}, {&c.GateTrace, gs}} {
		s.line(ghost, curve(t.t.Time, t.t.Value, x, t.y)...)
	}
	// What the lines are, above their panels.
	key := func(x, y float64, st stroke, words string) float64 {
		s.line(st, point{x, y - 3}, point{x + 18, y - 3})
		b := s.text(x+22, y, left, regular, textSize, ink, words)
		return b.x1 + 14
	}
	at := key(v.x0, v.y0-3, supplyStroke, c.d.T("supply voltage"))
	key(at, v.y0-3, voltageStroke, c.d.T("load voltage"))
	at = key(i.x0, i.y0-1, currentStroke, c.d.T("load current"))
	words := c.d.T("gate current, right scale")
	key(at, i.y0-1, gateStroke, words)
	s.line(axisStroke, point{i.x0, i.y1 + 2}, point{i.x1, i.y1 + 2})
	step := milliseconds.step(x)
	last := 0.0
	for _, t := range ticks(x.lo*1e3, x.hi*1e3, step) {
		p := x.at(t * 1e-3)
		s.line(axisStroke, point{p, i.y1 + 2}, point{p, i.y1 + 4})
		last = s.text(p, i.y1+11, centre, regular, textSize, ink, fixed(t, decimals(step))).x1
	}
	s.text(last+4, i.y1+11, left, regular, textSize, ink, "ms")
}

func (c *cycle) time(r rect) scale { return scale{c.from, c.to, r.x0, r.x1} }

func (c *cycle) scales() (v, i, g scale) {
	a, b := c.panels()
	return balanced(c.volts, 0.92, a), balanced(c.amps, 0.92, b), balanced(c.gate, 0.92, b)
}

// legend says how wide a lead is at which current, and lists the faults.
func (c *cycle) legend(s *scene) {
	y := circuitTop + 116.0
	width := frameWidth - frameMargin - sideColumn
	s.text(sideColumn, y, left, regular, frameText, slate, fit(regular, frameText, width, c.d.T("full width of a lit lead:")))
	y += 13
	var present [groupCount]bool
	for p := range pathCount {
		present[p.group()] = present[p.group()] || size(c.Frames.Currents[p]) > 0
	}
	for g := range groupCount {
		if !present[g] {
			continue
		}
		st := groups[g].stroke
		s.line(st, point{sideColumn, y - 3}, point{sideColumn + 26, y - 3})
		s.text(sideColumn+32, y, left, regular, frameText, ink, fit(regular, frameText, frameWidth-frameMargin-sideColumn-32, c.d.T(groups[g].name)+" "+quantity(c.full[g], "A", 2)))
		y += 13
	}
	y += 1
	s.text(sideColumn, noteLine, left, regular, textSize, slate, fit(regular, textSize, width, c.d.F("simulated; %s times slower than life", number(c.slowness(), 3))))
	s.text(sideColumn, cautionLine, left, bold, textSize, ink, fit(bold, textSize, width, c.d.T(FrameCaution)))
	if n := len(c.Faults); n > 0 {
		room := noteLine - frameText - y
		lines := max(1, int(room/(1.25*frameText*float64(n))))
		for i, f := range c.Faults {
			if y+2*frameText > noteLine {
				break
			}
			r := 0.78 * textSize
			s.numbered(point{sideColumn + r, y + 0.62*textSize}, textSize, string(rune('1'+i)))
			w := wrap(regular, frameText, width-2*r-5, clean(f.Text))
			if len(w) > lines {
				w = append(w[:lines-1], fit(regular, frameText, width-2*r-5, strings.Join(w[lines-1:], " ")))
			}
			for _, t := range w {
				s.text(sideColumn+2*r+5, y+ascent*frameText, left, regular, frameText, ink, t)
				y += 1.25 * frameText
			}
			y += 2.5
		}
	}
}

// readout writes time, states and values beside the circuit.
func (c *cycle) readout(s *scene, frame int) {
	f := &c.Frames
	t := f.Time[frame]
	degrees := math.Mod(t*360*c.Frequency, 360)
	y := circuitTop + 12.0
	s.text(sideColumn, y, left, bold, 13, ink, fixed(t*1e3, 3)+" ms")
	s.text(frameWidth-frameMargin, y, right, regular, frameText, slate, fixed(math.Max(0, degrees), 1)+"°")
	y += 16
	on := func(state bool, yes, no string) string {
		if state {
			return c.d.T(yes)
		}
		return c.d.T(no)
	}
	row := func(name, value string, strong bool) {
		face := regular
		if strong {
			face = bold
		}
		w := measure(face, frameText, value)
		s.text(sideColumn, y, left, regular, frameText, ink, fit(regular, frameText, frameWidth-frameMargin-sideColumn-w-6, name))
		s.text(frameWidth-frameMargin, y, right, face, frameText, ink, value)
		y += 11.5
	}
	row(c.d.T("LED"), on(f.LED[frame], "lit", "dark"), f.LED[frame])
	row(c.d.T("optotriac"), on(f.Opto[frame], "conducts", "blocks"), f.Opto[frame])
	row(c.d.T("triac"), on(f.Triac[frame], "conducts", "blocks"), f.Triac[frame])
	row(c.d.T("supply voltage"), quantity(f.Supply[frame], "V", 3), false)
	row(c.d.T("load voltage"), quantity(f.Load[frame], "V", 3), false)
	current := func(name string, p CurrentPath) {
		if v := f.Currents[p]; v != nil {
			x := v[frame]
			if p == LoadCurrent && c.d.NeutralSide { // in phase with the supply, as its trace
				x = -x
			}
			row(c.d.T(name), quantity(x, "A", 3), false)
		}
	}
	current("load current", LoadCurrent)
	current("gate current", GateCurrent)
}

// along draws the traces up to the frame's instant.
func (c *cycle) along(s *scene, frame int) {
	f := &c.Frames
	now := f.Time[frame]
	v, i := c.panels()
	x := c.time(v)
	vs, is, gs := c.scales()
	for _, t := range []struct {
		t    *Trace
		y    scale
		st   stroke
		last float64
		has  bool
	}{
		{&c.SupplyVoltage, vs, supplyStroke, f.Supply[frame], true}, {&c.LoadVoltage, vs, voltageStroke, f.Load[frame], true},
		{&c.GateTrace, gs, gateStroke, 0, false}, {&c.LoadTrace, is, currentStroke, 0, false},
	} {
		n := 0
		for n < len(t.t.Time) && t.t.Time[n] <= now {
			n++
		}
		pts := curve(t.t.Time[:n], t.t.Value[:n], x, t.y)
		if t.has {
			pts = append(pts, point{x.at(now), t.y.at(t.last)})
		}
		s.line(t.st, pts...)
		if n > 0 {
			end := pts[len(pts)-1]
			s.mark(disc, end, 2, t.st.color)
		}
	}
	cursor := stroke{color: ink, width: 0.8}
	s.line(cursor, point{x.at(now), v.y0}, point{x.at(now), v.y1})
	s.line(cursor, point{x.at(now), i.y0}, point{x.at(now), i.y1})
}
