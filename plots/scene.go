package plots

import (
	"image/color"
	"math"
)

// point is a place on a scene in points, x to the right and y down from the
// top left corner.
type point struct{ x, y float64 }

// rect is an upright rectangle, x0 ≤ x1 and y0 ≤ y1.
type rect struct{ x0, y0, x1, y1 float64 }

func (r rect) width() float64  { return r.x1 - r.x0 }
func (r rect) height() float64 { return r.y1 - r.y0 }

func (r rect) corners() []point {
	return []point{{r.x0, r.y0}, {r.x1, r.y0}, {r.x1, r.y1}, {r.x0, r.y1}}
}

// overlaps reports whether r and s share an area.
func (r rect) overlaps(s rect) bool {
	const touch = 1e-6
	return r.x0 < s.x1-touch && s.x0 < r.x1-touch && r.y0 < s.y1-touch && s.y0 < r.y1-touch
}

// itemKind is what an item of a scene is.
type itemKind uint8

const (
	lineItem itemKind = iota
	fillItem
	textItem
)

// item is one thing drawn; later items cover earlier ones.
type item struct {
	kind   itemKind
	pts    []point // a line, an outline, or the left end of a text's baseline
	stroke stroke
	color  color.RGBA // of a fill or text
	text   string
	face   face
	size   float64
	turned bool // text reads upwards
	box    rect // of a text
}

// scene is a figure laid out: a list of items on a page of w × h points.
type scene struct {
	w, h      float64
	items     []item
	*Language // of the words that the figure writes itself
}

func (s *scene) line(st stroke, pts ...point) {
	if len(pts) > 1 {
		s.items = append(s.items, item{kind: lineItem, pts: pts, stroke: st})
	}
}

func (s *scene) fill(c color.RGBA, pts ...point) {
	if len(pts) > 2 {
		s.items = append(s.items, item{kind: fillItem, pts: pts, color: c})
	}
}

func (s *scene) outline(st stroke, pts ...point) {
	s.line(st, append(append([]point(nil), pts...), pts[0])...)
}

// align says which part of a text lies at its x (or, turned, its y).
type align int

const (
	left align = iota
	centre
	right
)

// ascent and descent of text boxes, in sizes.
const (
	ascent  = 0.74
	descent = 0.215
)

// textBox is the box of a text whose baseline starts at p.
func textBox(p point, w, size float64, turned bool) rect {
	if turned {
		return rect{p.x - ascent*size, p.y - w, p.x + descent*size, p.y}
	}
	return rect{p.x, p.y - ascent*size, p.x + w, p.y + descent*size}
}

// text writes t with its baseline at y and returns its box.
func (s *scene) text(x, y float64, a align, f face, size float64, c color.RGBA, t string) rect {
	w := measure(f, size, t)
	p := point{x - float64(a)*w/2, y}
	it := item{kind: textItem, pts: []point{p}, color: c, text: t, face: f, size: size, box: textBox(p, w, size, false)}
	if t != "" {
		s.items = append(s.items, it)
	}
	return it.box
}

// upright writes t from bottom to top about the height y, its baseline at x.
func (s *scene) upright(x, y float64, f face, size float64, c color.RGBA, t string) rect {
	w := measure(f, size, t)
	p := point{x, y + w/2}
	it := item{kind: textItem, pts: []point{p}, color: c, text: t, face: f, size: size, turned: true, box: textBox(p, w, size, true)}
	if t != "" {
		s.items = append(s.items, it)
	}
	return it.box
}

// middle is the offset of a baseline below the height on which a text of
// figures and capitals is centred.
func middle(size float64) float64 { return 0.35 * size }

// hatched fills r with a pattern of lines.
func (s *scene) hatched(r rect, h hatch, st stroke) {
	if h == noHatch {
		return
	}
	// y = y1 − (x − c) for rising lines, clipped to r.
	height := r.height()
	first := math.Ceil((r.x0-height)/hatchPitch) * hatchPitch
	for c := first; c < r.x1; c += hatchPitch {
		a, b := math.Max(r.x0, c), math.Min(r.x1, c+height)
		if b-a > 0.05 {
			s.line(st, point{a, r.y1 - (a - c)}, point{b, r.y1 - (b - c)})
			if h == crossed {
				s.line(st, point{a, r.y0 + (a - c)}, point{b, r.y0 + (b - c)})
			}
		}
	}
}

// marker is the sign of a point.
type marker int

const (
	disc marker = iota
	square
	triangle
	diamond
	ring
	openSquare
	openTriangle
)

// mark draws marker m about p; r is about half its width.
func (s *scene) mark(m marker, p point, r float64, c color.RGBA) {
	var pts []point
	switch m {
	case disc, ring:
		const n = 24
		for i := range n {
			sn, cs := math.Sincos(2 * math.Pi * float64(i) / n)
			pts = append(pts, point{p.x + r*cs, p.y + r*sn})
		}
	case square, openSquare:
		a := 0.9 * r
		pts = rect{p.x - a, p.y - a, p.x + a, p.y + a}.corners()
	case triangle:
		pts = []point{{p.x, p.y - 1.2*r}, {p.x + 1.1*r, p.y + 0.8*r}, {p.x - 1.1*r, p.y + 0.8*r}}
	case openTriangle:
		pts = []point{{p.x, p.y + 1.2*r}, {p.x + 1.1*r, p.y - 0.8*r}, {p.x - 1.1*r, p.y - 0.8*r}}
	case diamond:
		a := 1.3 * r
		pts = []point{{p.x, p.y - a}, {p.x + a, p.y}, {p.x, p.y + a}, {p.x - a, p.y}}
	}
	if m >= ring {
		s.fill(white, pts...)
		s.outline(stroke{color: c, width: 0.45 * r}, pts...)
		return
	}
	s.fill(c, pts...)
}
