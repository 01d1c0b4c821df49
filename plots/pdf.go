package plots

import (
	"image/color"
	"io"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// pdfDate stands for the date of every document, so that equal sheets are
// equal files.
var pdfDate = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// encodePDF writes one page. It draws on the library under the PDF canvas of
// gonum/plot rather than on that canvas, which lets neither the date be fixed,
// nor bold faces nor text beyond ASCII be written.
func (s *Sheet) encodePDF(w io.Writer, width float64, size Size) error {
	sc := s.layout(width)
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: sc.w, Ht: sc.h}})
	doc.SetCatalogSort(true)
	doc.SetCreationDate(pdfDate)
	doc.SetModificationDate(pdfDate)
	doc.SetProducer("boilwright", true)
	doc.SetTitle(s.title, true)
	doc.SetSubject(s.alt, true)
	doc.SetLang(s.words.code())
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	doc.AddPage()
	sc.paint(size.shade(&pdfPainter{doc}))
	return doc.Output(w)
}

// pdfPainter draws on a page whose unit is the point.
type pdfPainter struct{ doc *fpdf.Fpdf }

var _ painter = (*pdfPainter)(nil)

func (p *pdfPainter) path(pts []point) {
	p.doc.MoveTo(pts[0].x, pts[0].y)
	for _, q := range pts[1:] {
		p.doc.LineTo(q.x, q.y)
	}
}

func (p *pdfPainter) line(pts []point, st stroke) {
	p.doc.SetDrawColor(int(st.color.R), int(st.color.G), int(st.color.B))
	p.doc.SetLineWidth(st.width)
	p.doc.SetDashPattern(st.dash, 0)
	if n := len(pts); n > 2 && pts[0] == pts[n-1] {
		p.path(pts[:n-1])
		p.doc.ClosePath()
	} else {
		p.path(pts)
	}
	p.doc.DrawPath("D")
}

func (p *pdfPainter) fill(pts []point, c color.RGBA) {
	p.doc.SetFillColor(int(c.R), int(c.G), int(c.B))
	p.path(pts)
	p.doc.ClosePath()
	p.doc.DrawPath("F")
}

func (p *pdfPainter) text(at point, t string, f face, size float64, c color.RGBA, turned bool) {
	style := ""
	if f == bold {
		style = "B"
	}
	p.doc.SetFont("sans", style, size)
	p.doc.SetTextColor(int(c.R), int(c.G), int(c.B))
	if !turned {
		p.doc.Text(at.x, at.y, t)
		return
	}
	p.doc.TransformBegin()
	p.doc.TransformRotate(90, at.x, at.y)
	p.doc.Text(at.x, at.y, t)
	p.doc.TransformEnd()
}
