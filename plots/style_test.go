package plots

import (
	"bytes"
	"image/color"
	"math"
	"testing"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	fixedpoint "golang.org/x/image/math/fixed"
)

// TestPalette compares with the table of RGB values in Okabe and Ito, "Color
// Universal Design", 2008.
func TestPalette(t *testing.T) {
	for _, c := range []struct {
		name    string
		got     color.RGBA
		r, g, b uint8
	}{
		{"black", black, 0, 0, 0}, {"orange", orange, 230, 159, 0}, {"sky blue", skyBlue, 86, 180, 233},
		{"bluish green", bluishGreen, 0, 158, 115}, {"yellow", yellow, 240, 228, 66}, {"blue", blue, 0, 114, 178},
		{"vermillion", vermillion, 213, 94, 0}, {"reddish purple", reddishPurple, 204, 121, 167},
	} {
		if want := (color.RGBA{c.r, c.g, c.b, 255}); c.got != want {
			t.Errorf("%s: found %v, want %v", c.name, c.got, want)
		}
	}
}

// contrast is the contrast ratio of WCAG 2.2.
func contrast(a, b color.RGBA) float64 {
	luminance := func(c color.RGBA) float64 {
		lin := func(x uint8) float64 {
			v := float64(x) / 255
			if v <= 0.04045 {
				return v / 12.92
			}
			return math.Pow((v+0.055)/1.055, 2.4)
		}
		return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
	}
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// TestContrast asks for 4.5 to 1 between text and what it stands on (WCAG
// 2.2, success criterion 1.4.3) and 3 to 1 for the lines of three channels
// and the axes (criterion 1.4.11).
func TestContrast(t *testing.T) {
	for _, c := range []color.RGBA{ink, slate} {
		if r := contrast(c, white); r < 4.5 {
			t.Errorf("text of %v: found contrast %.2f, want at least 4.5", c, r)
		}
	}
	for i, l := range indicatorLooks {
		if r := contrast(l.text, l.fill); r < 4.5 {
			t.Errorf("%v: found contrast %.2f, want at least 4.5", Indicator(i), r)
		}
	}
	lines := []stroke{axisStroke, supplyStroke, voltageStroke, currentStroke, gateStroke, lidStroke, traceStroke}
	for k := range 3 {
		lines = append(lines, stroke{color: series[k].color})
	}
	for _, l := range lines {
		if r := contrast(l.color, white); r < 3 {
			t.Errorf("line of %v: found contrast %.2f, want at least 3", l.color, r)
		}
	}
}

// TestGrey asks that what differs by colour differs without it: indicators
// by pattern or by grey (luma of ITU-R BT.601), channels by dash and marker.
func TestGrey(t *testing.T) {
	luma := func(c color.RGBA) float64 {
		return 0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B)
	}
	for i, a := range indicatorLooks {
		for j, b := range indicatorLooks[:i] {
			if a.hatch == b.hatch && math.Abs(luma(a.fill)-luma(b.fill)) < 30 {
				t.Errorf("found %v and %v alike in grey: %.0f and %.0f", Indicator(i), Indicator(j), luma(a.fill), luma(b.fill))
			}
			if a.letter == b.letter {
				t.Errorf("found letter %s for both %v and %v", a.letter, Indicator(i), Indicator(j))
			}
		}
	}
	for i, a := range series {
		for j, b := range series[:i] {
			same := len(a.dash) == len(b.dash)
			for k := 0; same && k < len(a.dash); k++ {
				same = a.dash[k] == b.dash[k]
			}
			if same || a.marker == b.marker {
				t.Errorf("found channels %d and %d with the same dash or marker", i+1, j+1)
			}
		}
	}
}

// TestSubset compares every glyph of a cut font with the whole one: outline
// and advance.
func TestSubset(t *testing.T) {
	chars := []rune("Aé°±µΩ−…–×№ fi,1½ÅŁ")
	for f, ttf := range [][]byte{liberationsansregular.TTF, liberationsansbold.TTF} {
		whole := loadFaces()[f].Face
		b, err := subset(ttf, whole, append(chars, '\U0001F525', 'A'), "Cut")
		if err != nil {
			t.Fatal(err)
		}
		if len(b) > len(ttf)/20 {
			t.Errorf("found %d bytes of %d, want a small part", len(b), len(ttf))
		}
		if sum := checksum(b); sum != 0xb1b0afba {
			t.Errorf("found checksum %#x, want 0xb1b0afba as in ISO/IEC 14496-22, table head", sum)
		}
		cut, err := sfnt.Parse(b)
		if err != nil {
			t.Fatal(err)
		}
		const ppem = fixedpoint.Int26_6(2048 << 6)
		var buf, buf2 sfnt.Buffer
		for _, r := range chars {
			i, err1 := whole.GlyphIndex(&buf, r)
			j, err2 := cut.GlyphIndex(&buf2, r)
			if err1 != nil || err2 != nil || i == 0 || j == 0 {
				t.Fatalf("%q: found glyphs %d and %d, errors %v and %v", r, i, j, err1, err2)
			}
			a, err1 := whole.GlyphAdvance(&buf, i, ppem, font.HintingNone)
			b, err2 := cut.GlyphAdvance(&buf2, j, ppem, font.HintingNone)
			if a != b || err1 != nil || err2 != nil {
				t.Errorf("%q: found advance %v, want %v", r, b, a)
			}
			x, err1 := whole.LoadGlyph(&buf, i, ppem, nil)
			y, err2 := cut.LoadGlyph(&buf2, j, ppem, nil)
			if err1 != nil || err2 != nil || len(x) != len(y) {
				t.Fatalf("%q: found %d segments, want %d; errors %v and %v", r, len(y), len(x), err1, err2)
			}
			for k := range x {
				if x[k] != y[k] {
					t.Fatalf("%q: found segment %v, want %v", r, y[k], x[k])
				}
			}
		}
		if i, _ := cut.GlyphIndex(&buf, 'Z'); i != 0 {
			t.Errorf("found glyph %d for a letter left out, want 0", i)
		}
		again, err := subset(ttf, whole, append([]rune{'½'}, chars...), "Cut")
		if err != nil || !bytes.Equal(again, b) {
			t.Errorf("found other bytes for the same characters, error %v", err)
		}
	}
	if _, err := subset([]byte("OTTO"), loadFaces()[0].Face, chars, "Cut"); err == nil {
		t.Error("found no error for a font cut short")
	}
}

func TestText(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{" a\tb\x00c\u00a0d\u2028e ", "a b c d e"}, {"\xff", "\ufffd"}, {"\U0001F525", "\ufffd"}, {"№ 3", "№ 3"},
	} {
		if got := clean(c.in); got != c.want {
			t.Errorf("clean %q: found %q, want %q", c.in, got, c.want)
		}
	}
	for _, c := range []struct {
		x      float64
		digits int
		want   string
	}{{229.8097, 4, "229.8"}, {-0.02, 3, "−0.02"}, {1600, 3, "1600"}, {0, 3, "0"}, {1e-9, 3, "1e−09"}} {
		if got := number(c.x, c.digits); got != c.want {
			t.Errorf("%g: found %q, want %q", c.x, got, c.want)
		}
	}
	for _, c := range []struct {
		x    float64
		unit string
		want string
	}{{0.0302, "A", "30.2 mA"}, {7e-6, "A", "7 µA"}, {3450, "W", "3450 W"}, {12e3, "V", "12 kV"}, {0.03, "K", "0.03 K"}, {0, "V", "0 V"}} {
		if got := quantity(c.x, c.unit, 3); got != c.want {
			t.Errorf("%g: found %q, want %q", c.x, got, c.want)
		}
	}
	if got := fixed(-0.001, 1); got != "0.0" {
		t.Errorf("found %q, want no negative zero", got)
	}
	const words = "a thermal link that opened is a symptom"
	for _, w := range []float64{30, 60, 100} {
		for _, l := range wrap(regular, 8, w, words+" Donaudampfschifffahrt") {
			if measure(regular, 8, l) > w {
				t.Errorf("found line %q wider than %g", l, w)
			}
		}
		if s := fit(bold, 8, w, words); measure(bold, 8, s) > w || s[len(s)-3:] != "…" {
			t.Errorf("found %q, want at most %g with an ellipsis", s, w)
		}
	}
}
