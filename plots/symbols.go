package plots

import (
	"image/color"
	"math"
	"strings"
)

// Symbols of IEC 60617 (IEEE 315 has the same for all but the resistor, for
// which it also has the zigzag line), drawn in units of a schematic. Numbers
// of symbols are those of the edition of 1996, from memory.

// pen draws in the units of a schematic at k points a unit, from the corner
// (x, y) of the page, upside down where flip is set.
type pen struct {
	s      *scene
	x, y   float64
	k      float64
	h      float64 // units, the height within which flip mirrors
	flip   bool
	mirror float64 // units, twice the axis about which the switch is mirrored, or 0
}

// elementMiddle is the height of the element's middle.
const elementMiddle = 150.0

// at is a place on the page.
func (p *pen) at(x, y float64) point {
	if p.flip {
		y = p.h - y
	}
	return point{p.x + p.k*x, p.y + p.k*y}
}

// sx mirrors an x of the switch where MT1 points to the load.
func (p *pen) sx(x float64) float64 {
	if p.mirror != 0 {
		return p.mirror - x
	}
	return x
}

func (p *pen) points(xy []float64) []point {
	pts := make([]point, len(xy)/2)
	for i := range pts {
		pts[i] = p.at(xy[2*i], xy[2*i+1])
	}
	return pts
}

// line draws through x, y pairs.
func (p *pen) line(st stroke, xy ...float64) { p.s.line(st, p.points(xy)...) }

func (p *pen) outline(st stroke, xy ...float64) { p.s.outline(st, p.points(xy)...) }

func (p *pen) fill(c color.RGBA, xy ...float64) { p.s.fill(c, p.points(xy)...) }

// dot is a junction of leads.
func (p *pen) dot(st stroke, x, y float64) {
	p.s.mark(disc, p.at(x, y), 2.1*math.Max(1, p.k), st.color)
}

// circle is an outline.
func circle(x, y, r float64) []float64 {
	const n = 36
	xy := make([]float64, 0, 2*n)
	for i := range n {
		sn, cs := math.Sincos(2 * math.Pi * float64(i) / n)
		xy = append(xy, x+r*cs, y+r*sn)
	}
	return xy
}

// axis is a local frame for a part with two leads: a along it, b across.
type axis struct{ x, y, ux, uy float64 }

func level(x, y float64) axis { return axis{x, y, 1, 0} }
func plumb(x, y float64) axis { return axis{x, y, 0, 1} }

// to turns a, b pairs into x, y pairs.
func (a axis) to(ab ...float64) []float64 {
	xy := make([]float64, len(ab))
	for i := 0; i < len(ab); i += 2 {
		xy[i] = a.x + ab[i]*a.ux - ab[i+1]*a.uy
		xy[i+1] = a.y + ab[i]*a.uy + ab[i+1]*a.ux
	}
	return xy
}

// Half lengths of symbols along their leads, in units.
const (
	resistorHalf = 14.0
	filmHalf     = 12.0
	plateHalf    = 3.0
	triacHalf    = 13.0
	optoHalf     = 11.0
	fuseHalf     = 14.0
	elementHalf  = 27.0
)

// resistor is symbol 04-01-01.
func (p *pen) resistor(st stroke, a axis, half float64) {
	p.outline(st, a.to(-half, -5, half, -5, half, 5, -half, 5)...)
}

// heater is symbol 04-01-12, a heating element.
func (p *pen) heater(st stroke, a axis) {
	p.outline(st, a.to(-elementHalf, -7, elementHalf, -7, elementHalf, 7, -elementHalf, 7)...)
	for i := 1; i < 6; i++ {
		b := -elementHalf + 2*elementHalf*float64(i)/6
		p.line(st, a.to(b, -7, b, 7)...)
	}
}

// capacitor is symbol 04-02-01.
func (p *pen) capacitor(st stroke, a axis) {
	st.width *= 1.7
	p.line(st, a.to(-plateHalf, -9, -plateHalf, 9)...)
	p.line(st, a.to(plateHalf, -9, plateHalf, 9)...)
}

// thermalLink is symbol 07-21-01, a fuse, with the letter of temperature; open
// it lacks its wire.
func (p *pen) thermalLink(st stroke, a axis, open bool) {
	p.outline(st, a.to(-fuseHalf, -5.5, fuseHalf, -5.5, fuseHalf, 5.5, -fuseHalf, 5.5)...)
	if !open {
		p.line(st, a.to(-fuseHalf, 0, fuseHalf, 0)...)
	}
}

// thermostat is a break contact operated by temperature, 07-09-03.
func (p *pen) thermostat(st stroke, a axis, open bool) {
	tip := -1.5
	if open {
		tip = -8
	}
	p.line(st, a.to(-fuseHalf, 0, fuseHalf-2, tip-2)...)
	p.line(st, a.to(fuseHalf, 0, fuseHalf, -6)...)
}

// halves is the symbol of a triac without its gate: two thyristors back to
// back, with half the given length each way.
func (p *pen) halves(st stroke, a axis, half float64, fill *color.RGBA) {
	up := [][]float64{
		a.to(-half, -half, half, -half/2-0.3, -half, -0.6),
		a.to(half, half, -half, half/2+0.3, half, 0.6),
	}
	for _, t := range up {
		if fill != nil {
			p.fill(*fill, t...)
		}
		p.outline(st, t...)
	}
	p.line(st, a.to(-half, -half, -half, half)...)
	p.line(st, a.to(half, -half, half, half)...)
}

// diode is symbol 05-03-01, passing from −a to +a.
func (p *pen) diode(st stroke, a axis, fill *color.RGBA) {
	if fill != nil {
		p.fill(*fill, a.to(-7, -7, 7, 0, -7, 7)...)
	}
	p.outline(st, a.to(-7, -7, 7, 0, -7, 7)...)
	p.line(st, a.to(7, -7, 7, 7)...)
}

// arrow is a line with an open head.
func (p *pen) arrow(st stroke, x0, y0, x1, y1, head float64) {
	p.line(st, x0, y0, x1, y1)
	l := math.Hypot(x1-x0, y1-y0)
	a := axis{x1, y1, (x1 - x0) / l, (y1 - y0) / l}
	p.line(st, a.to(-head, -0.55*head, 0, 0, -head, 0.55*head)...)
}

// upright is a y of the earth lead, which hangs down from the element whichever
// way the rest is turned: mirrored once more, about the middle of the element.
func (p *pen) upright(y float64) float64 {
	if p.flip {
		return 2*elementMiddle - y
	}
	return y
}

// earth is symbol 02-15-03, protective earth without its circle, at the end of
// a lead from above.
func (p *pen) earth(st stroke, x, y float64) {
	down := 1.0
	if p.flip {
		down = -1
	}
	for i := range 3 {
		w, b := 9-3*float64(i), y+3.6*float64(i)*down
		p.line(st, x-w, b, x+w, b)
	}
}

// source is an alternating voltage.
func (p *pen) source(st stroke, x, y, r float64) {
	p.outline(st, circle(x, y, r)...)
	var wave []float64
	for i := range 25 {
		t := float64(i) / 24
		wave = append(wave, x+r*0.62*(2*t-1), y-0.42*r*math.Sin(2*math.Pi*t))
	}
	if p.flip { // the sine begins upward on any page
		for i := 1; i < len(wave); i += 2 {
			wave[i] = 2*y - wave[i]
		}
	}
	p.line(st, wave...)
}

// lead draws a straight lead; open it is broken in the middle between two
// strokes, with a resistance added it has a dashed resistor there.
func (p *pen) lead(st, mark stroke, open, added bool, x0, y0, x1, y1 float64) {
	l := math.Hypot(x1-x0, y1-y0)
	a := axis{(x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / l, (y1 - y0) / l}
	switch {
	case open:
		p.line(st, a.to(-l/2, 0, -5, 0)...)
		p.line(st, a.to(5, 0, l/2, 0)...)
		p.line(mark, a.to(-7, 7, -3, -7)...)
		p.line(mark, a.to(3, 7, 7, -7)...)
	case added:
		p.line(st, a.to(-l/2, 0, -filmHalf, 0)...)
		p.line(st, a.to(filmHalf, 0, l/2, 0)...)
		p.resistor(dashed(mark), a, filmHalf)
	default:
		p.line(st, x0, y0, x1, y1)
	}
}

// dashed is a stroke in dashes.
func dashed(st stroke) stroke {
	st.dash = []float64{2.6, 1.5}
	return st
}

// area is a rectangle of units in which a label stands.
type area struct{ x0, y0, x1, y1 float64 }

// label writes text into an area, broken into lines, at the size given; up is
// −1 at its upper border, 0 in the middle, 1 at the lower one, on an unflipped
// page. What has no room is cut short.
func (p *pen) label(r area, al align, up int, f face, size float64, c color.RGBA, paragraphs ...string) {
	a, b := p.at(r.x0, r.y0), p.at(r.x1, r.y1)
	lo, hi := math.Min(a.y, b.y), math.Max(a.y, b.y)
	if p.flip {
		up = -up
	}
	w, pitch := b.x-a.x, 1.18*size
	most := max(1, int((hi-lo+0.35*size)/pitch))
	var lines []string
	for _, t := range paragraphs {
		lines = append(lines, wrap(f, size, w, t)...)
	}
	if len(lines) > most {
		lines[most-1] = fit(f, size, w, strings.Join(lines[most-1:], " "))
		lines = lines[:most]
	}
	h := float64(len(lines)-1)*pitch + (ascent+descent)*size
	top := lo
	switch up {
	case 0:
		top = (lo + hi - h) / 2
	case 1:
		top = hi - h
	}
	x := [...]float64{a.x, (a.x + b.x) / 2, b.x}[al]
	for i, t := range lines {
		p.s.text(x, top+ascent*size+float64(i)*pitch, al, f, size, c, t)
	}
}
