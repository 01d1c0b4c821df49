package plots

import (
	"bytes"
	"compress/zlib"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

func TestSameBytes(t *testing.T) {
	for _, f := range figures() {
		for _, format := range Formats() {
			t.Run(f.name+"/"+format, func(t *testing.T) {
				size := Size{Pixels: 250}
				s, err := f.build()
				first := encoded(t, must(t, s, err), format, size)
				for range 4 {
					s, err := f.build()
					if !bytes.Equal(first, encoded(t, must(t, s, err), format, size)) {
						t.Fatal("found other bytes for the same input")
					}
				}
			})
		}
	}
}

func TestSameBytesAtOnce(t *testing.T) {
	s, err := Temperatures(demoTemperatures())
	must(t, s, err)
	var group sync.WaitGroup
	for _, format := range Formats() {
		want := encoded(t, s, format, Size{Pixels: 300})
		for range 3 {
			group.Go(func() {
				var b bytes.Buffer
				if err := s.Encode(&b, format, Size{Pixels: 300}); err != nil || !bytes.Equal(b.Bytes(), want) {
					t.Errorf("%s: found other bytes, or error %v", format, err)
				}
			})
		}
	}
	group.Wait()
}

func TestPNGSize(t *testing.T) {
	s, err := Readings(demoReadings())
	must(t, s, err)
	for _, c := range []struct {
		size Size
		want int
	}{{Size{}, 1600}, {Size{Pixels: 777}, 777}, {Size{Width: 700, Pixels: 1234}, 1234}} {
		if got := decode(t, encoded(t, s, "png", c.size)).Bounds().Dx(); got != c.want {
			t.Errorf("%+v: found %d pixels, want %d", c.size, got, c.want)
		}
	}
}

func TestEncodeErrors(t *testing.T) {
	s, err := Readings(demoReadings())
	must(t, s, err)
	for _, c := range []struct {
		format string
		size   Size
		want   string
	}{
		{"gif", Size{}, `figure format: found "gif", expected png, svg or pdf`},
		{"svg", Size{Width: 100}, "sheet width: found 100 pt, expected 400 pt to 2000 pt"},
		{"png", Size{Pixels: 20}, "picture width: found 20 pixels, expected 200 to 10000"},
	} {
		if err := s.Encode(io.Discard, c.format, c.size); err == nil || err.Error() != c.want {
			t.Errorf("found error %v, want %s", err, c.want)
		}
	}
	for _, f := range Formats() {
		if err := s.Encode(fullDisk{}, f, Size{Pixels: 200}); !errors.Is(err, errFull) {
			t.Errorf("%s: found error %v, want the writer's", f, err)
		}
	}
}

var errFull = errors.New("disk full")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

func TestSVGDocument(t *testing.T) {
	in := demoTemperatures()
	in.Title = `5 < 6 & "quoted" 'so'`
	in.Channels[0].Name = "soak <&>"
	s, err := Temperatures(in)
	must(t, s, err)
	raw := encoded(t, s, "svg", Size{})
	var doc struct {
		Role  string `xml:"role,attr"`
		Label string `xml:"aria-labelledby,attr"`
		Box   string `xml:"viewBox,attr"`
		Title struct {
			ID   string `xml:"id,attr"`
			Text string `xml:",chardata"`
		} `xml:"title"`
		Desc struct {
			ID   string `xml:"id,attr"`
			Text string `xml:",chardata"`
		} `xml:"desc"`
		Texts []struct {
			Size   float64 `xml:"font-size,attr"`
			Length float64 `xml:"textLength,attr"`
			Text   string  `xml:",chardata"`
		} `xml:"g>text"`
	}
	if err := xml.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Role != "img" || doc.Label != doc.Title.ID+" "+doc.Desc.ID || doc.Title.Text != in.Title || doc.Desc.Text != s.Alt() {
		t.Errorf("found role %q, label %q, title %q, description %.60q", doc.Role, doc.Label, doc.Title.Text, doc.Desc.Text)
	}
	if !strings.HasPrefix(doc.Box, "0 0 512 ") {
		t.Errorf("found view box %q, want a width of 512", doc.Box)
	}
	if len(doc.Texts) < 30 {
		t.Errorf("found %d texts, want the labels", len(doc.Texts))
	}
	for _, x := range doc.Texts {
		if x.Size < 8 || x.Length <= 0 {
			t.Errorf("text %q: found size %g pt and length %g pt, want at least 8 pt and more than 0", x.Text, x.Size, x.Length)
		}
	}
}

// wellFormed fails unless b is well-formed XML.
func wellFormed(t testing.TB, b []byte) {
	t.Helper()
	for d := xml.NewDecoder(bytes.NewReader(b)); ; {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// TestPDFDocument checks the file structure of ISO 32000-1, section 7.5: the
// cross-reference table must point at every object.
func TestPDFDocument(t *testing.T) {
	s, err := Waveforms(demoWaveforms())
	raw := encoded(t, must(t, s, err), "pdf", Size{})
	if !bytes.HasPrefix(raw, []byte("%PDF-1.")) || !bytes.HasSuffix(bytes.TrimSpace(raw), []byte("%%EOF")) {
		t.Fatalf("found %q to %q, want a PDF document", raw[:8], raw[len(raw)-8:])
	}
	m := regexp.MustCompile(`startxref\s+(\d+)`).FindSubmatch(raw)
	if m == nil {
		t.Fatal("found no startxref")
	}
	at, _ := strconv.Atoi(string(m[1]))
	lines := strings.Split(string(raw[at:]), "\n")
	var first, n int
	if lines[0] != "xref" {
		t.Fatalf("found %q at the place of the table, want xref", lines[0])
	}
	if f := strings.Fields(lines[1]); len(f) == 2 {
		first, _ = strconv.Atoi(f[0])
		n, _ = strconv.Atoi(f[1])
	}
	if first != 0 || n < 8 {
		t.Fatalf("found table %q", lines[1])
	}
	for i := 1; i < n; i++ {
		f := strings.Fields(lines[2+i])
		off, _ := strconv.Atoi(f[0])
		if want := strconv.Itoa(i) + " 0 obj"; !bytes.HasPrefix(raw[off:], []byte(want)) {
			t.Errorf("found %q at the place of object %d", raw[off:off+12], i)
		}
	}
	contains(t, "document", string(raw), "/CreationDate (D:20000101000000", "/ModDate (D:20000101000000", "/Lang (en)", "/FontFile2")
	// The page's text is in UTF-16.
	page := pageText(t, raw)
	for _, x := range []string{"fires 40.0°", "−200", "Two firing angles"} {
		var utf16 []byte
		for _, r := range x {
			utf16 = append(utf16, byte(r>>8), byte(r))
		}
		if !bytes.Contains(page, utf16) {
			t.Errorf("found no text %q on the page", x)
		}
	}
}

// pageText is the first compressed stream that holds text operators.
func pageText(t *testing.T, raw []byte) []byte {
	t.Helper()
	for rest := raw; ; {
		i := bytes.Index(rest, []byte("stream\n"))
		if i < 0 {
			t.Fatal("found no page")
		}
		rest = rest[i+7:]
		z, err := zlib.NewReader(bytes.NewReader(rest))
		if err != nil {
			continue
		}
		b, err := io.ReadAll(z)
		if err == nil && bytes.Contains(b, []byte(" Tj")) {
			return b
		}
	}
}

// TestDraw draws on canvases of other sizes: the drawing fills the width, or
// the height where that is what binds, and never more.
func TestDraw(t *testing.T) {
	s, err := Readings(demoReadings())
	must(t, s, err)
	for _, size := range []vg.Point{{X: 512, Y: 600}, {X: 256, Y: 600}, {X: 512, Y: 90}, {X: 900, Y: 300}} {
		c := vgimg.NewWith(vgimg.UseWH(size.X, size.Y), vgimg.UseDPI(72))
		s.Draw(draw.New(c))
		img := c.Image()
		r := 0
		low := 0
		b := img.Bounds()
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				if g, _, _, _ := img.At(x, y).RGBA(); g < 0xe000 {
					r, low = max(r, x), y
				}
			}
		}
		w := max(400, float64(size.X))
		h := float64(s.Height(vg.Length(w)))
		k := min(float64(size.X)/w, float64(size.Y)/h)
		wantRight, wantLow := k*(w-margin), k*(h-margin)
		if math.Abs(float64(r)-wantRight) > 2 || math.Abs(float64(low)-wantLow) > 6 {
			t.Errorf("%v: found a drawing down to the right at %d, %d, want about %.0f, %.0f", size, r, low, wantRight, wantLow)
		}
	}
	s.Draw(draw.Canvas{}) // no room: nothing to draw on, and no harm
}

func BenchmarkEncode(b *testing.B) {
	for _, f := range figures() {
		for _, format := range Formats() {
			b.Run("figure="+f.name+"/format="+format, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					s, err := f.build()
					if err != nil {
						b.Fatal(err)
					}
					if err := s.Encode(io.Discard, format, Size{}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
