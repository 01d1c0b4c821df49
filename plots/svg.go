package plots

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"hash/fnv"
	"html"
	"image/color"
	"io"
	"strconv"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
)

// encodeSVG writes an SVG document with a role, a name and a description, as
// SVG 2, section 5.7, and WAI-ARIA ask. It is written here rather than by the
// SVG canvas of gonum/plot, which gives texts neither a length to keep to
// where fonts differ nor fonts of less than a megabyte. Names within the
// document carry a hash, so that several figures can stand in one page.
func (s *Sheet) encodeSVG(w io.Writer, width float64, size Size) error {
	sc := s.layout(width)
	h := fnv.New32a()
	io.WriteString(h, s.title+"\x00"+s.alt)
	id := fmt.Sprintf("%08x", h.Sum32())
	var b bytes.Buffer
	fmt.Fprintf(&b, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%spt\" height=\"%spt\" viewBox=\"0 0 %s %s\" role=\"img\" aria-labelledby=\"title-%s alt-%s\" xml:lang=\"%s\">\n",
		coord(sc.w), coord(sc.h), coord(sc.w), coord(sc.h), id, id, html.EscapeString(s.words.code()))
	fmt.Fprintf(&b, "<title id=\"title-%s\">%s</title>\n<desc id=\"alt-%s\">%s</desc>\n", id, html.EscapeString(s.title), id, html.EscapeString(s.alt))
	if err := sc.styleSheet(&b, id); err != nil {
		return err
	}
	fmt.Fprintf(&b, "<g font-family=\"sheet-%s,'Liberation Sans',Arimo,Arial,Helvetica,sans-serif\">\n", id)
	p := &svgPainter{b: &b}
	if !size.Transparent {
		p.fill(rect{0, 0, sc.w, sc.h}.corners(), white)
	}
	sc.paint(size.shade(p))
	b.WriteString("</g>\n</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// styleSheet carries the glyphs in use.
func (s *scene) styleSheet(b *bytes.Buffer, id string) error {
	var chars [2][]rune
	for i := range s.items {
		if it := &s.items[i]; it.kind == textItem {
			chars[it.face] = append(chars[it.face], []rune(it.text)...)
		}
	}
	b.WriteString("<style>\n")
	for f, ttf := range [][]byte{liberationsansregular.TTF, liberationsansbold.TTF} {
		if len(chars[f]) == 0 {
			continue
		}
		font, err := subset(ttf, loadFaces()[f].Face, chars[f], "SheetSans")
		if err != nil {
			return err
		}
		weight := "normal"
		if face(f) == bold {
			weight = "bold"
		}
		fmt.Fprintf(b, "@font-face{font-family:sheet-%s;font-weight:%s;src:url(data:font/ttf;base64,%s) format('truetype')}\n", id, weight, base64.StdEncoding.EncodeToString(font))
	}
	b.WriteString("</style>\n")
	return nil
}

// coord writes a length in points with at most two decimals.
func coord(x float64) string {
	b := strconv.AppendFloat(nil, x, 'f', 2, 64)
	for b[len(b)-1] == '0' {
		b = b[:len(b)-1]
	}
	if b[len(b)-1] == '.' {
		b = b[:len(b)-1]
	}
	if string(b) == "-0" {
		return "0"
	}
	return string(b)
}

func hex(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// svgPainter writes elements.
type svgPainter struct{ b *bytes.Buffer }

var _ painter = (*svgPainter)(nil)

func (p *svgPainter) path(pts []point) {
	for i, q := range pts {
		switch i {
		case 0:
			p.b.WriteString(`<path d="M`)
		case 1:
			p.b.WriteByte('L')
		default:
			p.b.WriteByte(' ')
		}
		p.b.WriteString(coord(q.x))
		p.b.WriteByte(',')
		p.b.WriteString(coord(q.y))
	}
}

func (p *svgPainter) line(pts []point, st stroke) {
	if n := len(pts); n > 2 && pts[0] == pts[n-1] {
		p.path(pts[:n-1])
		p.b.WriteByte('Z')
	} else {
		p.path(pts)
	}
	fmt.Fprintf(p.b, `" fill="none" stroke="%s" stroke-width="%s" stroke-linejoin="round"`, hex(st.color), coord(st.width))
	for i, d := range st.dash {
		if i == 0 {
			p.b.WriteString(` stroke-dasharray="`)
		} else {
			p.b.WriteByte(' ')
		}
		p.b.WriteString(coord(d))
		if i == len(st.dash)-1 {
			p.b.WriteByte('"')
		}
	}
	p.b.WriteString("/>\n")
}

func (p *svgPainter) fill(pts []point, c color.RGBA) {
	p.path(pts)
	fmt.Fprintf(p.b, "Z\" fill=\"%s\"/>\n", hex(c))
}

func (p *svgPainter) text(at point, t string, f face, size float64, c color.RGBA, turned bool) {
	fmt.Fprintf(p.b, `<text x="%s" y="%s"`, coord(at.x), coord(at.y))
	if turned {
		fmt.Fprintf(p.b, ` transform="rotate(-90 %s %s)"`, coord(at.x), coord(at.y))
	}
	if f == bold {
		p.b.WriteString(` font-weight="bold"`)
	}
	fmt.Fprintf(p.b, " font-size=\"%s\" textLength=\"%s\" lengthAdjust=\"spacingAndGlyphs\" fill=\"%s\">%s</text>\n",
		coord(size), coord(measure(f, size, t)), hex(c), html.EscapeString(t))
}
