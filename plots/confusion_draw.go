package plots

import (
	"fmt"
	"image/color"
	"math"
	"strings"
)

// confusion is a map being built.
type confusion struct{ ConfusionInput }

// units is how many a row has.
func (r *ConfusionRow) units() uint64 {
	n := uint64(0)
	for _, k := range r.Counts {
		n += k
	}
	return n
}

// Sizes of a confusion map in points.
const (
	truthHeight    = 13.0
	conclusionMost = 120.0 // of a column's name, upwards
)

// shadeOf is the colour of a cell with a share of its row; its luma falls
// steadily with the share.
func shadeOf(share float64) (fill, text color.RGBA) {
	c := tint(blue, 0.08+0.92*share)
	t := ink
	if contrastRatio(white, c) > contrastRatio(ink, c) {
		t = white
	}
	return c, t
}

// contrastRatio is the contrast ratio of two colours, 1 to 21 (WCAG 2.2, "contrast
// ratio" and "relative luminance").
func contrastRatio(a, b color.RGBA) float64 {
	luminance := func(c color.RGBA) float64 {
		linear := func(v uint8) float64 {
			x := float64(v) / 255
			if x <= 0.04045 {
				return x / 12.92
			}
			return math.Pow((x+0.055)/1.055, 2.4)
		}
		return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
	}
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func (m *confusion) draw(s *scene, y float64) float64 {
	names, totals := 0.0, measure(regular, textSize, "units")
	for i := range m.Rows {
		r := &m.Rows[i]
		names = math.Max(names, measure(regular, textSize, r.Name))
		totals = math.Max(totals, measure(regular, textSize, countText(r.units())))
	}
	names = math.Min(names, 0.27*s.w)
	x0 := margin + names + 8
	cell := math.Min((s.w-margin-totals-8-x0)/float64(len(m.Columns)), 46)
	// Names of columns read upwards, in as many lines as the cell is wide.
	lines := max(1, int((cell-1)/(textSize*(ascent+descent)+1)))
	heads := make([][]string, len(m.Columns))
	head := 0.0
	for j, c := range m.Columns {
		heads[j] = shortened(c, conclusionMost, min(lines, 3))
		for _, l := range heads[j] {
			head = math.Max(head, measure(regular, textSize, l))
		}
	}
	top := y + head + 5
	for j := range heads {
		pitch := textSize*(ascent+descent) + 1
		at := x0 + (float64(j)+0.5)*cell - pitch*float64(len(heads[j])-1)/2 + middle(textSize)
		for _, l := range heads[j] {
			w := measure(regular, textSize, l)
			s.upright(at, top-3-w/2, regular, textSize, ink, l)
			at += pitch
		}
	}
	end := x0 + cell*float64(len(m.Columns))
	s.text(end+6+totals, top-5, right, regular, textSize, slate, "units")
	bottom := top + truthHeight*float64(len(m.Rows))
	for i := range m.Rows {
		r := &m.Rows[i]
		y := top + truthHeight*float64(i)
		n := r.units()
		s.text(margin+names+2, y+truthHeight/2+middle(textSize), right, regular, textSize, ink, fit(regular, textSize, names+0.01, r.Name))
		s.text(end+6+totals, y+truthHeight/2+middle(textSize), right, regular, textSize, slate, countText(n))
		for j, k := range r.Counts {
			if k > 0 {
				m.shade(s, rect{x0 + cell*float64(j), y, x0 + cell*float64(j+1), y + truthHeight}, float64(k)/float64(n))
			}
		}
	}
	for i := range len(m.Rows) + 1 {
		y := top + truthHeight*float64(i)
		s.line(gridStroke, point{x0, y}, point{end, y})
	}
	for j := range len(m.Columns) + 1 {
		x := x0 + cell*float64(j)
		s.line(gridStroke, point{x, top}, point{x, bottom})
	}
	s.outline(axisStroke, rect{x0, top, end, bottom}.corners()...)
	for i := range m.Rows {
		r := &m.Rows[i]
		n := r.units()
		for j, k := range r.Counts {
			c := rect{x0 + cell*float64(j), top + truthHeight*float64(i), x0 + cell*float64(j+1), top + truthHeight*float64(i+1)}
			f := regular
			if r.Right[j] {
				f = bold
				s.frame(c)
			}
			if k > 0 {
				m.count(s, c, f, k, float64(k)/float64(n))
			}
		}
	}
	return m.key(s, bottom+8)
}

// frame marks a right conclusion.
func (s *scene) frame(c rect) {
	s.outline(stroke{color: white, width: 2.6}, rect{c.x0 + 1.2, c.y0 + 1.2, c.x1 - 1.2, c.y1 - 1.2}.corners()...)
	s.outline(stroke{color: ink, width: 1.3}, rect{c.x0 + 0.8, c.y0 + 0.8, c.x1 - 0.8, c.y1 - 0.8}.corners()...)
}

func (m *confusion) shade(s *scene, c rect, share float64) {
	fill, _ := shadeOf(share)
	s.fill(fill, c.corners()...)
}

// count writes a number where it fits, or shortened to thousands and more.
func (m *confusion) count(s *scene, c rect, f face, k uint64, share float64) {
	_, x := shadeOf(share)
	for _, t := range []string{countText(k), shortCount(k)} {
		if measure(f, textSize, t) <= c.width()-5 {
			s.text((c.x0+c.x1)/2, (c.y0+c.y1)/2+middle(textSize), centre, f, textSize, x, t)
			return
		}
	}
}

// key tells what shades and frames mean.
func (m *confusion) key(s *scene, y float64) float64 {
	const box = 22.0
	x := margin
	x = s.text(x, y+box/4+middle(textSize), left, regular, textSize, ink, "share of the row:").x1 + 6
	for _, share := range []float64{0, 0.25, 0.5, 0.75, 1} {
		c := rect{x, y, x + box, y + box/2}
		text := fmt.Sprintf("%.0f %%", 100*share)
		if share == 0 {
			text = "hardly any"
		}
		m.shade(s, c, share)
		s.outline(outlineSlate, c.corners()...)
		x = s.text(x+box+3, y+box/4+middle(textSize), left, regular, textSize, ink, text).x1 + 8
	}
	c := rect{x, y - 1, x + box, y + box/2 + 1}
	s.frame(c)
	s.text(x+box+3, y+box/4+middle(textSize), left, regular, textSize, ink, "right")
	return y + box/2 + 2
}

// shortened breaks a name into at most n lines of w, the last shortened.
func shortened(t string, w float64, n int) []string {
	lines := wrap(regular, textSize, w, t)
	if len(lines) <= n {
		return lines
	}
	rest := strings.Join(lines[n-1:], " ")
	return append(lines[:n-1:n-1], fit(regular, textSize, w, rest))
}

func countText(n uint64) string { return fmt.Sprintf("%d", n) }

// shortCount writes a count with two digits and a prefix.
func shortCount(n uint64) string {
	v := float64(n)
	for _, p := range []prefix{{1e12, "T"}, {1e9, "G"}, {1e6, "M"}, {1e3, "k"}} {
		if v >= p.factor {
			return number(v/p.factor, 2) + p.sign
		}
	}
	return countText(n)
}
