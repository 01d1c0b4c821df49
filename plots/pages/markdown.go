package pages

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	q "boilwright/models/quantity"
	"boilwright/sim/readings"
)

// document is a page being written.
type document struct{ strings.Builder }

// heading writes a heading of a level.
func (d *document) heading(level int, text string) {
	d.gap()
	d.WriteString(strings.Repeat("#", level) + " " + escape(text) + "\n")
}

// paragraph writes text that is Markdown already.
func (d *document) paragraph(format string, args ...any) {
	d.gap()
	fmt.Fprintf(d, format, args...)
	d.WriteByte('\n')
}

// caution writes a caution that stands out.
func (d *document) caution(text string) {
	d.paragraph("> **Caution.** %s", sentence(text))
}

// figure writes a figure and, below it, what it shows in words.
func (d *document) figure(f Figure) {
	if f.File == "" {
		return
	}
	d.paragraph("![%s: described in the text below](%s)", escape(f.Title), f.File)
	d.paragraph("In words: %s", escape(f.Alt))
}

// table writes a table of cells that are Markdown already, with the columns
// from the given one on aligned to the right.
func (d *document) table(heads []string, right int, rows [][]string) {
	d.gap()
	rule := make([]string, len(heads))
	for i := range rule {
		rule[i] = "---"
		if i >= right {
			rule[i] = "---:"
		}
	}
	for _, row := range slices.Concat([][]string{heads, rule}, rows) {
		for _, c := range row {
			d.WriteString("| " + c + " ")
		}
		d.WriteString("|\n")
	}
}

// gap leaves a line free, except at the top.
func (d *document) gap() {
	if d.Len() > 0 {
		d.WriteByte('\n')
	}
}

var escaper = strings.NewReplacer("\\", "\\\\", "`", "\\`", "*", "\\*", "_", "\\_", "[", "\\[", "]", "\\]",
	"<", "\\<", ">", "\\>", "|", "\\|", "~", "\\~", "&", "\\&", "#", "\\#", "$", "\\$", "\n", " ", "\r", " ")

// escape makes Markdown of plain text, on one line.
func escape(text string) string { return escaper.Replace(text) }

// code writes a name as a span of code where it can be one.
func code(name string) string {
	if name == "" || strings.ContainsAny(name, "`|\n\r\\") || strings.TrimSpace(name) != name {
		return escape(name)
	}
	return "`" + name + "`"
}

// sentence is plain text as a sentence of Markdown.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	text = strings.TrimRight(text, ".") + "."
	return escape(strings.ToUpper(text[:1]) + text[1:])
}

// mark writes a result, with the healthy board's where it can be told apart.
func mark(healthy, faulty string, apart bool) string {
	if !apart {
		return faulty
	}
	return "**" + healthy + " → " + faulty + "**"
}

// decimals writes v as a display that steps by resolution shows it.
func decimals(v, resolution float64) string {
	places := 0
	if resolution > 0 {
		places = max(0, int(math.Ceil(-math.Log10(resolution)-1e-9)))
	}
	text := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(text, "-0.") == "" { // no negative zero
		text = strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

// display writes a reading as the meter shows it.
func display(v readings.Value) string {
	switch {
	case v.Over:
		return "over range"
	case v.Varies:
		return decimals(v.Low, v.Resolution) + " to " + decimals(v.High, v.Resolution)
	}
	return decimals(v.Shown, v.Resolution)
}

// dead writes the result of a test on the unplugged board.
func dead(d *Dead) string {
	switch {
	case d.Test == readings.Continuity && d.Beeps:
		return "beeps"
	case d.Test == readings.Continuity:
		return "silent"
	case d.Open:
		return "open"
	case d.Test == readings.DiodeTest:
		return decimals(d.Volts, 0.001) + " V"
	}
	return strings.TrimSpace(q.Digits(q.Ohm(d.Ohms), 3))
}

// clock writes an instant of a run, a dash for one that never came.
func clock(d time.Duration) string {
	if d < 0 {
		return "–"
	}
	return q.FormatDuration(d.Round(time.Second))
}

func degrees(t float64) string { return decimals(t, 0.1) + " °C" }

func energy(joules float64) string { return decimals(joules/3.6e6, 0.001) + " kWh" }
