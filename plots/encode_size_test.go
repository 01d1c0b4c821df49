package plots

import (
	"image/color"
	"io"
	"strings"
	"testing"
)

// TestPage asks that a figure fills a page of a given shape and no more.
func TestPage(t *testing.T) {
	for _, f := range figures() {
		s, err := f.build()
		must(t, s, err)
		for _, z := range []Size{{Pixels: 640, Lines: 360}, {Pixels: 300, Lines: 500}} {
			img := decode(t, encoded(t, s, "png", z))
			if b := img.Bounds(); b.Dx() != z.Pixels || b.Dy() != z.Lines {
				t.Errorf("%s: found %v, want %d × %d", f.name, b.Size(), z.Pixels, z.Lines)
			}
			drawn := 0
			for x := 0; x < z.Pixels; x++ {
				for y := z.Lines / 3; y < 2*z.Lines/3; y++ {
					if r, _, _, _ := img.At(x, y).RGBA(); r < 0xf000 {
						drawn++
					}
				}
				for _, y := range []int{0, z.Lines - 1} {
					if r, _, _, _ := img.At(x, y).RGBA(); r < 0xf000 {
						t.Fatalf("%s: found ink on the border of the page", f.name)
					}
				}
			}
			if drawn == 0 {
				t.Errorf("%s: found nothing in the middle of the page", f.name)
			}
		}
	}
	s, err := Readings(demoReadings())
	must(t, s, err)
	if err := s.Encode(io.Discard, "png", Size{Lines: 20}); err == nil || err.Error() != "picture height: found 20 pixels, expected 200 to 10000" {
		t.Errorf("found error %v", err)
	}
}

// TestGreyAndTransparent asks that a figure in greys has no colour, and that
// one without ground has none in its corners and looks the same on white.
func TestGreyAndTransparent(t *testing.T) {
	for _, f := range figures() {
		s, err := f.build()
		must(t, s, err)
		img := decode(t, encoded(t, s, "png", Size{Pixels: 500, Grey: true}))
		for y := 0; y < img.Bounds().Dy(); y++ {
			for x := 0; x < img.Bounds().Dx(); x++ {
				if c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA); c.R != c.G || c.G != c.B {
					t.Fatalf("%s: found %v at %d, %d, want a grey", f.name, c, x, y)
				}
			}
		}
		clear := decode(t, encoded(t, s, "png", Size{Pixels: 500, Transparent: true}))
		if _, _, _, a := clear.At(0, 0).RGBA(); a != 0 {
			t.Errorf("%s: found alpha %d in a corner, want none", f.name, a)
		}
		svg := string(encoded(t, s, "svg", Size{Grey: true}))
		for _, c := range []color.RGBA{blue, vermillion, bluishGreen, orange} {
			if strings.Contains(svg, hex(c)) {
				t.Errorf("%s: found the colour %s in a grey figure", f.name, hex(c))
			}
		}
	}
}
