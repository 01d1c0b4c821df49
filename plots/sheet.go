package plots

import (
	"math"

	"gonum.org/v1/plot/vg/draw"
)

// Invented is the provenance that stands in the caption where the input has
// none of its own.
const Invented = "Simulated; the board and its values are invented for demonstration, and a real board can differ."

// Caution stands in the caption of figures of mains voltages.
const Caution = "These points carry mains voltage, in standby too: unplugged tests come first, live ones are for competent and, where local rules ask for it, licensed people; local codes prevail."

// LinkCaution stands in the caption of figures in which a thermal link opens,
// StandbyCaution of those in which a channel conducts although nothing is asked
// for, and FrameCaution in every frame of a circuit.
const (
	LinkCaution    = "A thermal link that has opened is a symptom: find out why before it is replaced by one of the same rating, and never bridge one. Boilers stay hot and under pressure."
	StandbyCaution = "Unplug a machine that conducts when nothing is asked for, and leave it unplugged until the cause is found. Boilers stay hot and under pressure."
	FrameCaution   = "mains voltage, in standby too: unplug first"
)

// Heading is what every figure's input has in common. Empty fields have the
// defaults stated.
type Heading struct {
	Title    string // in bold above the figure [the figure's own]
	Subtitle string // conditions, in one line [none]
	Caption  string // what to see in the figure, before the reading aid [none]
	Source   string // provenance, at the end of the caption [Invented]
	// Language has the words of the sheet itself [English].
	Language *Language
}

// Sheet is a figure: a drawing with title and caption, its text alternative
// and its data. It does not change once built and may be drawn by several
// goroutines at once.
type Sheet struct {
	title    string
	subtitle string
	caption  string
	alt      string
	words    *Language
	data     []Table
	// body lays the figure out below y on a page of width w and returns the
	// y of its lower side.
	body func(s *scene, y float64) float64
}

// Title returns the title.
func (s *Sheet) Title() string { return s.title }

// Caption returns the text under the figure, provenance included.
func (s *Sheet) Caption() string { return s.caption }

// Alt returns the text alternative: what the figure shows, in words and
// numbers, for readers who do not see it.
func (s *Sheet) Alt() string { return s.alt }

// Data returns the data behind the figure. It must not be changed.
func (s *Sheet) Data() []Table { return s.data }

// Height returns the height in which a sheet of the given width is drawn; 0
// is the default width.
func (s *Sheet) Height(width Length) Length {
	if width == 0 {
		width = defaultWidth
	}
	return Length(s.layout(float64(width)).h)
}

// Draw draws the sheet at the top left of c, laid out for its width, or
// smaller where the height does not suffice. The smallest text is 8 pt in a
// canvas of at least 400 pt by [Sheet.Height].
//
// The PDF canvas of gonum.org/v1/plot v0.17 takes neither bold faces nor text
// beyond ASCII (it passes UTF-8 to fonts in code page 1252); use Encode for PDF.
func (s *Sheet) Draw(c draw.Canvas) {
	area := c.Size()
	w := math.Max(minWidth, math.Min(maxWidth, float64(area.X)))
	sc := s.layout(w)
	k := math.Min(float64(area.X)/sc.w, float64(area.Y)/sc.h)
	if !(k > 0) {
		return
	}
	sc.paint(&canvasPainter{c: c, k: k})
}

// layout places everything on a page of width w.
func (s *Sheet) layout(w float64) *scene {
	sc := &scene{w: w, Language: s.words}
	y := margin
	for _, l := range wrap(bold, titleSize, w-2*margin, s.title) {
		sc.text(margin, y+ascent*titleSize, left, bold, titleSize, ink, l)
		y += titleHeight
	}
	for _, l := range wrap(regular, headSize, w-2*margin, s.subtitle) {
		sc.text(margin, y+ascent*headSize, left, regular, headSize, slate, l)
		y += 1.25 * headSize
	}
	y += 2
	sc.line(ruleStroke, point{margin, y}, point{w - margin, y})
	y = s.body(sc, y+7)
	y += 8
	sc.line(separator, point{margin, y}, point{w - margin, y})
	y += 4
	for _, l := range wrap(regular, textSize, w-2*margin, s.caption) {
		sc.text(margin, y+ascent*textSize, left, regular, textSize, ink, l)
		y += lineHeight
	}
	sc.h = math.Ceil(y + margin - (lineHeight - textSize))
	return sc
}

// sheet fills in the heading of a figure.
func (h Heading) sheet(title, aid string) *Sheet {
	s := &Sheet{title: clean(h.Title), subtitle: clean(h.Subtitle)}
	if s.title == "" {
		s.title = title
	}
	s.words = h.Language
	src := clean(h.Source)
	if src == "" {
		src = h.Language.T(Invented)
	}
	for _, t := range []string{clean(h.Caption), aid, src} {
		if t == "" {
			continue
		}
		if s.caption != "" {
			s.caption += " "
		}
		s.caption += t
	}
	return s
}
