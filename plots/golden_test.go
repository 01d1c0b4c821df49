package plots

import (
	"bytes"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
)

var (
	numbers  = regexp.MustCompile(`-?\d+(\.\d+)?`)
	fontData = regexp.MustCompile(`base64,[A-Za-z0-9+/=]+`)
)

// TestGoldenSVG compares every figure with a reviewed drawing: the same
// elements and words in the same order, and lengths within 0.03 pt.
func TestGoldenSVG(t *testing.T) {
	for _, f := range figures() {
		t.Run(f.name, func(t *testing.T) {
			s, err := f.build()
			got := fontData.ReplaceAll(encoded(t, must(t, s, err), "svg", Size{}), []byte("base64,"))
			file := filepath.Join("testdata", f.name+".golden.svg")
			if *update {
				write(t, file, got)
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			hash := regexp.MustCompile(`(title|alt|sheet)-[0-9a-f]{8}`)
			got, want = hash.ReplaceAll(got, []byte("$1-id")), hash.ReplaceAll(want, []byte("$1-id"))
			gotLines, wantLines := bytes.Split(got, []byte("\n")), bytes.Split(want, []byte("\n"))
			if len(gotLines) != len(wantLines) {
				t.Errorf("found %d lines, want %d", len(gotLines), len(wantLines))
			}
			for i := range min(len(gotLines), len(wantLines)) {
				g, w := gotLines[i], wantLines[i]
				if bytes.Equal(g, w) {
					continue
				}
				if !bytes.Equal(numbers.ReplaceAll(g, []byte("#")), numbers.ReplaceAll(w, []byte("#"))) {
					t.Fatalf("line %d:\nfound %.300s\nwant  %.300s", i+1, g, w)
				}
				gn, wn := numbers.FindAll(g, -1), numbers.FindAll(w, -1)
				for j := range gn {
					a, _ := strconv.ParseFloat(string(gn[j]), 64)
					b, _ := strconv.ParseFloat(string(wn[j]), 64)
					if math.Abs(a-b) > 0.03 {
						t.Fatalf("line %d: found %v, want %v in %.300s", i+1, a, b, g)
					}
				}
			}
		})
	}
}

// TestGoldenPNG compares every figure with a reviewed picture of 600 pixels:
// hardly any pixel may look different.
func TestGoldenPNG(t *testing.T) {
	for _, f := range figures() {
		t.Run(f.name, func(t *testing.T) {
			s, err := f.build()
			raw := encoded(t, must(t, s, err), "png", Size{Pixels: 600})
			file := filepath.Join("testdata", f.name+".golden.png")
			if *update {
				write(t, file, raw)
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			a, b := decode(t, raw), decode(t, want)
			if a.Bounds() != b.Bounds() {
				t.Fatalf("found a picture of %v, want %v", a.Bounds().Size(), b.Bounds().Size())
			}
			if d := difference(a, b); d > 1e-3 {
				t.Errorf("found %.2g of the pixels visibly different, want at most 0.001", d)
			}
		})
	}
}

func TestDifferenceSees(t *testing.T) {
	in := demoReadings()
	in.Rows[0].Readings[0].Value = 200
	a, err := Readings(demoReadings())
	must(t, a, err)
	b, err := Readings(in)
	must(t, b, err)
	x, y := decode(t, encoded(t, a, "png", Size{Pixels: 600})), decode(t, encoded(t, b, "png", Size{Pixels: 600}))
	if d := difference(x, x); d != 0 {
		t.Errorf("found a picture different from itself by %g", d)
	}
	if d := difference(x, y); d < 1e-3 {
		t.Errorf("found one reading moved by 30 V to change %g of the pixels, want more than 0.001", d)
	}
}

// difference is the share of pixels that differ visibly: by more than a
// quarter of the range in luma (ITU-R BT.601) or colour difference.
func difference(a, b image.Image) float64 {
	r := a.Bounds()
	n := 0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			r1, g1, b1, _ := a.At(x, y).RGBA()
			r2, g2, b2, _ := b.At(x, y).RGBA()
			dr, dg, db := float64(r1)-float64(r2), float64(g1)-float64(g2), float64(b1)-float64(b2)
			luma := 0.299*dr + 0.587*dg + 0.114*db
			if math.Max(math.Abs(luma), math.Max(math.Abs(dr-luma), math.Abs(db-luma))) > 0.25*0xffff {
				n++
			}
		}
	}
	return float64(n) / float64(r.Dx()*r.Dy())
}

func decode(t *testing.T, b []byte) image.Image {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func write(t *testing.T, file string, b []byte) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, b, 0o644); err != nil {
		t.Fatal(err)
	}
}
