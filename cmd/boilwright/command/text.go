package command

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"
	"unicode/utf8"

	q "boilwright/models/quantity"
)

// lineWidth is where running text breaks.
const lineWidth = 100

// wrapped breaks running text into lines of at most lineWidth; an empty line
// in it begins a new paragraph.
func wrapped(text string) string { return wrapTo(text, "", lineWidth) }

// indented is wrapped with every line after indent.
func indented(indent, text string) string { return wrapTo(text, indent, lineWidth) }

func wrapTo(text, indent string, width int) string {
	var b strings.Builder
	for i, p := range strings.Split(text, "\n\n") {
		if i > 0 {
			b.WriteString("\n\n")
		}
		col := 0
		for _, word := range strings.Fields(p) {
			n := utf8.RuneCountInString(word)
			switch {
			case col == 0:
				b.WriteString(indent)
				col = utf8.RuneCountInString(indent)
			case col+1+n > width:
				b.WriteString("\n" + indent)
				col = utf8.RuneCountInString(indent)
			default:
				b.WriteByte(' ')
				col++
			}
			b.WriteString(word)
			col += n
		}
	}
	return b.String()
}

// table writes rows of cells in columns.
type table struct {
	w *tabwriter.Writer
}

func newTable(w io.Writer, indent string, heads ...string) *table {
	t := &table{tabwriter.NewWriter(&trimmer{w: w, indent: indent}, 0, 8, 2, ' ', 0)}
	if len(heads) > 0 {
		t.row(heads...)
	}
	return t
}

func (t *table) row(cells ...string) {
	for i, c := range cells {
		if c == "" {
			cells[i] = "-"
		}
	}
	fmt.Fprintln(t.w, strings.Join(cells, "\t"))
}

func (t *table) flush() error { return t.w.Flush() }

// trimmer indents lines and takes the spaces off their ends.
type trimmer struct {
	w      io.Writer
	indent string
	line   []byte
}

func (t *trimmer) Write(p []byte) (int, error) {
	for _, c := range p {
		if c != '\n' {
			t.line = append(t.line, c)
			continue
		}
		if _, err := io.WriteString(t.w, t.indent+strings.TrimRight(string(t.line), " ")+"\n"); err != nil {
			return 0, err
		}
		t.line = t.line[:0]
	}
	return len(p), nil
}

// degrees writes a temperature to a tenth.
func degrees(t float64) string { return strconv.FormatFloat(t, 'f', 1, 64) + " °C" }

// clock writes an instant of a run to a second; nothing for one that never
// came.
func clock(d time.Duration) string {
	if d < 0 {
		return ""
	}
	return q.FormatDuration(d.Round(time.Second))
}

// energy writes an energy in kilowatt-hours.
func energy(joules float64) string {
	return strconv.FormatFloat(joules/3.6e6, 'f', 3, 64) + " kWh"
}

// steps writes v with the decimals of a display that steps by resolution.
func steps(v, resolution float64) string {
	places := 0
	if resolution > 0 {
		places = max(0, int(math.Ceil(-math.Log10(resolution)-1e-9)))
	}
	return strconv.FormatFloat(v, 'f', places, 64)
}

// list joins words with commas; none is what an empty list says.
func list(words []string, none string) string {
	if len(words) == 0 {
		return none
	}
	return strings.Join(words, ", ")
}
