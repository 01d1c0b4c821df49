package plots

import (
	"fmt"
	"image/color"
	"math"
	"strings"
)

// Heights of the panels in points, the decades of a spectrum's scale and the
// width of a bar as a part of the room of an order.
const (
	spectrumPanel  = 96.0
	sensationPanel = 72.0
	severityPanel  = 62.0
	decades        = 5
	barPart        = 0.62
	panelGap       = 21.0 // holds a heading
)

var (
	limitStroke     = stroke{color: ink, width: 1.4}
	thresholdStroke = stroke{color: ink, width: 0.7, dash: []float64{4, 2.5}}
	spectrumStroke  = stroke{color: slate, width: 0.7}
	sensationStroke = stroke{color: bluishGreen, width: 0.9}
	severityFill    = tint(bluishGreen, 0.35)
	spectrumColors  = [...]color.RGBA{vermillion, blue, bluishGreen}
)

// draw lays the panels out below y.
func (d *disturbances) draw(s *scene, y float64) float64 {
	a, b := margin+leftGutter, s.w-margin-rightGutter
	x := scale{-0.7, float64(d.orders) + 0.7, a, b}
	for i := range d.Spectra {
		y = d.spectrum(s, x, i, y+panelGap)
	}
	y = d.orderAxis(s, x, y+2)
	if !d.flickers() {
		return y
	}
	t := scale{d.from(), d.to(), a, b}
	if len(d.Time) > 0 {
		y = d.sensation(s, t, y+panelGap)
	}
	if len(d.Short) > 0 {
		y = d.severities(s, t, y+panelGap)
	}
	return s.timeAxis(y+2, t, d.unit)
}

// logarithmic is the scale of a spectrum: whole decades below the least power
// of ten that no value or limit exceeds. Its values are logarithms.
func (p *Spectrum) logarithmic(r rect) scale {
	top := 0.0
	for n, v := range p.RMS {
		top = math.Max(top, v)
		if p.Limit != nil && !math.IsNaN(p.Limit[n]) {
			top = math.Max(top, p.Limit[n])
		}
	}
	hi := math.Ceil(math.Log10(math.Max(top, 1e-3)) - 1e-9)
	return scale{hi - decades, hi, r.y1, r.y0}
}

// spectrum draws the panel of a spectrum below y.
func (d *disturbances) spectrum(s *scene, x scale, i int, y float64) float64 {
	p := &d.Spectra[i]
	r := rect{x.a, y, x.b, y + spectrumPanel}
	sc := p.logarithmic(r)
	for k := sc.lo; k <= sc.hi; k++ {
		at := sc.at(k)
		s.line(gridStroke, point{r.x0, at}, point{r.x1, at})
		s.line(axisStroke, point{r.x0 - tickLength, at}, point{r.x0, at})
		s.text(r.x0-tickLength-2, at+middle(textSize), right, regular, textSize, ink,
			fit(regular, textSize, leftGutter-tickLength-2, quantity(math.Pow(10, k), p.Unit, 1)))
	}
	d.shares(s, p, r, sc)
	room := x.at(1) - x.at(0)
	half := barPart * room / 2
	c := spectrumColors[i]
	for n, v := range p.RMS {
		mid := x.at(float64(n))
		if v > 0 && math.Log10(v) > sc.lo {
			bar := rect{mid - half, sc.at(math.Log10(v)), mid + half, r.y1}
			switch {
			case n == 0:
				s.hatched(bar, rising, spectrumStroke)
			case n%2 == 1:
				s.fill(c, bar.corners()...)
			}
			s.outline(stroke{color: c, width: 0.8}, bar.corners()...)
		}
		if p.Limit != nil && !math.IsNaN(p.Limit[n]) && math.Log10(p.Limit[n]) > sc.lo {
			at := sc.at(math.Log10(p.Limit[n]))
			s.line(limitStroke, point{mid - 0.46*room, at}, point{mid + 0.46*room, at})
		}
	}
	s.line(axisStroke, point{r.x0, r.y0}, point{r.x0, r.y1})
	s.line(axisStroke, point{r.x0, r.y1}, point{r.x1, r.y1})
	s.heading(r, clean(p.Name), p.words(), p.first())
	return r.y1
}

// shares draws the scale at the right, in percent of order 1.
func (d *disturbances) shares(s *scene, p *Spectrum, r rect, sc scale) {
	if p.RMS[1] == 0 {
		return
	}
	one := math.Log10(p.RMS[1])
	for k := 2.0; one+k-2 > sc.lo; k-- {
		at := sc.at(one + k - 2)
		s.line(axisStroke, point{r.x1, at}, point{r.x1 + tickLength, at})
		s.text(r.x1+tickLength+2, at+middle(textSize), left, regular, textSize, ink, number(math.Pow(10, k), 1)+" %")
	}
	s.line(axisStroke, point{r.x1, r.y0}, point{r.x1, r.y1})
}

// words tell of a spectrum what its bars do not.
func (p *Spectrum) words() string {
	var parts []string
	if t := p.thd(); !math.IsNaN(t) {
		parts = append(parts, "THD "+number(100*t, 3)+" %")
	}
	if p.RMS[0] > 0 && p.RMS[0] >= little*p.RMS[1] {
		parts = append(parts, "direct part "+quantity(p.RMS[0], p.Unit, 3))
	}
	if over := p.beyond(); len(over) > 0 {
		parts = append(parts, plural(len(over), "order", "orders")+" beyond the limit: "+orderList(over, 8))
	}
	return strings.Join(parts, "; ")
}

// first tells the order to which the others are compared.
func (p *Spectrum) first() string { return "order 1: " + quantity(p.RMS[1], p.Unit, 3) }

// orderList writes orders, the first few of many.
func orderList(orders []int, few int) string {
	var parts []string
	for i, n := range orders {
		if i == few {
			parts = append(parts, "…")
			break
		}
		parts = append(parts, fmt.Sprint(n))
	}
	return strings.Join(parts, ", ")
}

// orderAxis draws the axis of orders below y.
func (d *disturbances) orderAxis(s *scene, x scale, y float64) float64 {
	s.line(axisStroke, point{x.a, y}, point{x.b, y})
	for n := range d.orders + 1 {
		at := x.at(float64(n))
		label := fmt.Sprint(n)
		length := tickLength
		switch {
		case n == 0:
			label = "dc"
		case n%2 == 0:
			label, length = "", 0.6*tickLength
		}
		s.line(axisStroke, point{at, y}, point{at, y + length})
		s.text(at, y+tickLength+2+ascent*textSize, centre, regular, textSize, ink, label)
	}
	y += tickLength + 2 + textSize + 2
	b := s.text((x.a+x.b)/2, y+ascent*textSize, centre, regular, textSize, ink, "order of the harmonic")
	return b.y1
}

// reaching is a scale from 0 for values among which is a threshold of 1, with
// a part of r left free above them.
func reaching(v []float64, head float64, r rect) scale {
	_, top := extent(v)
	top = math.Max(1.2, top)
	return scale{0, top / (1 - head), r.y1, r.y0}
}

// sensation draws P_inst below y.
func (d *disturbances) sensation(s *scene, x scale, y float64) float64 {
	r := rect{x.a, y, x.b, y + sensationPanel}
	sc := reaching(d.Sensation, 0.05, r)
	s.valueAxis(r, sc, prefix{1, ""}, left, free)
	s.line(sensationStroke, staircase(d.Time, d.Sensation, x, sc)...)
	s.line(thresholdStroke, point{r.x0, sc.at(1)}, point{r.x1, sc.at(1)})
	s.line(axisStroke, point{r.x0, r.y1}, point{r.x1, r.y1})
	_, top := extent(d.Sensation)
	s.heading(r, "flicker sensation", "P_inst; dashed: 1, just perceived", "highest "+number(top, 3))
	return r.y1
}

// severities draws P_st below y.
func (d *disturbances) severities(s *scene, x scale, y float64) float64 {
	r := rect{x.a, y, x.b, y + severityPanel}
	var values []float64
	most := 0
	for i, v := range d.Short {
		values = append(values, v.Value)
		if v.Value > d.Short[most].Value {
			most = i
		}
	}
	sc := reaching(values, 0.25, r)
	s.valueAxis(r, sc, prefix{1, ""}, left, free)
	taken := r.x0
	for i, v := range d.Short {
		bar := rect{x.at(v.From), sc.at(v.Value), x.at(v.To), r.y1}
		s.fill(severityFill, bar.corners()...)
		if !v.Whole {
			s.hatched(bar, rising, outlineSlate)
		}
		s.outline(outlineSlate, bar.corners()...)
		text := fixed(v.Value, 2)
		w := measure(regular, textSize, text)
		if w+2 > bar.width() && i != most || w > r.width() {
			continue
		}
		mid := math.Max(r.x0+w/2, math.Min(r.x1-w/2, (bar.x0+bar.x1)/2))
		if mid-w/2 < taken {
			continue
		}
		taken = mid + w/2 + 2
		// The text stands on its bar, or on the threshold where that would
		// cross it.
		base := bar.y0 - 2.5
		if at := sc.at(1); at < base+2 && at > base-textSize {
			base = at - 2.5
		}
		s.text(mid, base, centre, regular, textSize, ink, text)
	}
	s.line(thresholdStroke, point{r.x0, sc.at(1)}, point{r.x1, sc.at(1)})
	s.line(axisStroke, point{r.x0, r.y1}, point{r.x1, r.y1})
	end := ""
	if n := len(d.Long); n > 0 {
		end = "P_lt " + d.longest()
	}
	s.heading(r, "severity", "P_st by part of the run; dashed: 1", end)
	return r.y1
}

// longest tells the highest long-term severity.
func (d *disturbances) longest() string {
	most := 0
	for i, v := range d.Long {
		if v.Value > d.Long[most].Value {
			most = i
		}
	}
	v := d.Long[most]
	text := fixed(v.Value, 2)
	if !v.Whole {
		text += " over " + d.unit.when(v.To-v.From)
	}
	return text
}
