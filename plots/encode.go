package plots

import (
	"fmt"
	"image/color"
	"image/png"
	"io"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Length is a length on paper, in points.
type Length = vg.Length

// Units of length.
const (
	Point      Length = 1
	Millimetre Length = 72 / 25.4
)

// Size is how large a sheet is encoded; the height follows from the width.
type Size struct {
	// Width is the width of the drawing, 400 pt to 2000 pt [512 pt].
	Width Length
	// Pixels is the width of a PNG [1600].
	Pixels int
	// Lines is the height of a PNG in pixels, for a page of a given shape: the
	// sheet is laid out for it and stands in its middle [what the sheet needs].
	Lines int
	// Transparent leaves out the white ground of a PNG or SVG.
	Transparent bool
	// Grey draws in greys, by luma, for print.
	Grey bool
}

// Formats lists the formats that Encode writes.
func Formats() []string { return []string{"png", "svg", "pdf"} }

// Encode writes the sheet as "png", "svg" or "pdf". The same sheet and size
// give the same bytes. SVG carries the title and the text alternative; SVG and
// PDF carry the glyphs that they use.
func (s *Sheet) Encode(w io.Writer, format string, size Size) error {
	width := float64(size.Width)
	if width == 0 {
		width = defaultWidth
	}
	if !(width >= minWidth && width <= maxWidth) {
		return fmt.Errorf("sheet width: found %g pt, expected %g pt to %g pt", width, minWidth, maxWidth)
	}
	switch format {
	case "png":
		return s.encodePNG(w, width, size)
	case "svg":
		return s.encodeSVG(w, width, size)
	case "pdf":
		return s.encodePDF(w, width, size)
	}
	return fmt.Errorf("figure format: found %q, expected png, svg or pdf", format)
}

func (s *Sheet) encodePNG(w io.Writer, width float64, size Size) error {
	pixels := size.Pixels
	if pixels == 0 {
		pixels = defaultPixels
	}
	if pixels < 200 || pixels > 10000 {
		return fmt.Errorf("picture width: found %d pixels, expected 200 to 10000", pixels)
	}
	if size.Lines != 0 {
		return s.encodePage(w, pixels, size)
	}
	// A canvas takes whole dots per inch; the width gives way to them.
	dpi := max(1, math.Round(float64(pixels)*72/width))
	width = float64(pixels) * 72 / dpi
	sc := s.layout(width)
	var ground color.Color = color.White
	if size.Transparent {
		ground = color.Transparent
	}
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(width), vg.Length(sc.h)), vgimg.UseDPI(int(dpi)), vgimg.UseBackgroundColor(ground))
	sc.paint(size.shade(&canvasPainter{c: draw.New(c), k: 1}))
	// The best compression would save a twentieth and take half as long again.
	return (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(w, c.Image())
}

// encodePage draws a PNG of a given shape.
func (s *Sheet) encodePage(w io.Writer, pixels int, size Size) error {
	if size.Lines < 200 || size.Lines > 10000 {
		return fmt.Errorf("picture height: found %d pixels, expected 200 to 10000", size.Lines)
	}
	// The wider a sheet is laid out, the flatter it is.
	shape := float64(size.Lines) / float64(pixels)
	lo, hi := minWidth, maxWidth
	if sc := s.layout(lo); sc.h <= shape*lo {
		hi = lo
	}
	for hi-lo > 4 {
		if m := (lo + hi) / 2; s.layout(m).h > shape*m {
			lo = m
		} else {
			hi = m
		}
	}
	sc := s.layout(hi)
	k := math.Min(float64(pixels)/sc.w, float64(size.Lines)/sc.h)
	x, y := (float64(pixels)-k*sc.w)/2, (float64(size.Lines)-k*sc.h)/2
	var ground color.Color = color.White
	if size.Transparent {
		ground = color.Transparent
	}
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(pixels), vg.Length(size.Lines)), vgimg.UseDPI(72), vgimg.UseBackgroundColor(ground))
	area := draw.Canvas{Canvas: c, Rectangle: vg.Rectangle{
		Min: vg.Point{X: vg.Length(x), Y: vg.Length(y)}, Max: vg.Point{X: vg.Length(float64(pixels) - x), Y: vg.Length(float64(size.Lines) - y)},
	}}
	sc.paint(size.shade(&canvasPainter{c: area, k: k}))
	return (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(w, c.Image())
}

// painter is where a scene is drawn.
type painter interface {
	line(pts []point, st stroke)
	fill(pts []point, c color.RGBA)
	text(p point, t string, f face, size float64, c color.RGBA, turned bool)
}

// shade makes a painter draw in greys where asked for.
func (z Size) shade(p painter) painter {
	if z.Grey {
		return greyPainter{p}
	}
	return p
}

// greyPainter draws every colour as the grey of its luma (ITU-R BT.601).
type greyPainter struct{ painter }

func grey(c color.RGBA) color.RGBA {
	y := uint8(math.Round(0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B)))
	return color.RGBA{y, y, y, c.A}
}

func (p greyPainter) line(pts []point, st stroke) {
	st.color = grey(st.color)
	p.painter.line(pts, st)
}

func (p greyPainter) fill(pts []point, c color.RGBA) { p.painter.fill(pts, grey(c)) }

func (p greyPainter) text(at point, t string, f face, size float64, c color.RGBA, turned bool) {
	p.painter.text(at, t, f, size, grey(c), turned)
}

func (s *scene) paint(p painter) {
	for i := range s.items {
		it := &s.items[i]
		switch it.kind {
		case lineItem:
			p.line(it.pts, it.stroke)
		case fillItem:
			p.fill(it.pts, it.color)
		case textItem:
			p.text(it.pts[0], it.text, it.face, it.size, it.color, it.turned)
		}
	}
}

// canvasPainter draws on a canvas of gonum/plot, k times as large.
type canvasPainter struct {
	c draw.Canvas
	k float64
}

var _ painter = (*canvasPainter)(nil)

func (p *canvasPainter) at(q point) vg.Point {
	return vg.Point{X: p.c.Min.X + vg.Length(q.x*p.k), Y: p.c.Max.Y - vg.Length(q.y*p.k)}
}

func (p *canvasPainter) path(pts []point) vg.Path {
	path := make(vg.Path, 0, len(pts)+1)
	path.Move(p.at(pts[0]))
	for _, q := range pts[1:] {
		path.Line(p.at(q))
	}
	return path
}

func (p *canvasPainter) line(pts []point, st stroke) {
	path := p.path(pts)
	if n := len(pts); n > 2 && pts[0] == pts[n-1] {
		path = p.path(pts[:n-1])
		path.Close()
	}
	dash := make([]vg.Length, len(st.dash))
	for i, d := range st.dash {
		dash[i] = vg.Length(d * p.k)
	}
	p.c.SetColor(st.color)
	p.c.SetLineWidth(vg.Length(st.width * p.k))
	p.c.SetLineDash(dash, 0)
	p.c.Stroke(path)
}

func (p *canvasPainter) fill(pts []point, c color.RGBA) {
	path := p.path(pts)
	path.Close()
	p.c.SetColor(c)
	p.c.Fill(path)
}

func (p *canvasPainter) text(at point, t string, f face, size float64, c color.RGBA, turned bool) {
	p.c.SetColor(c)
	q := p.at(at)
	if !turned {
		p.c.FillString(f.at(size*p.k), q, t)
		return
	}
	p.c.Push()
	p.c.Translate(q)
	p.c.Rotate(math.Pi / 2)
	p.c.FillString(f.at(size*p.k), vg.Point{}, t)
	p.c.Pop()
}
