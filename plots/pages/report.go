package pages

import (
	"net/url"
	"strings"
)

// A report is a list of blocks that is written as Markdown or as a page for a
// browser. Everything in it is plain text until it is written.

// blockKind is what a block is.
type blockKind int

const (
	headingBlock blockKind = iota
	textBlock
	cautionBlock
	commandBlock
	tableBlock
	drawingBlock
)

// block is one part of a report.
type block struct {
	kind  blockKind
	level int    // of a heading, 1 to 4
	id    string // of a heading of level 2
	text  string // of a heading, text, caution, command; what a table tells
	table *grid
	drawn *Drawing
}

// grid is a table: in each row the first cell names it. Columns from right on
// hold numbers.
type grid struct {
	heads []string
	right int
	rows  [][]string
}

// Drawing is a figure with its text alternative.
type Drawing struct {
	Title string
	Alt   string
	SVG   []byte // as plots encodes it; taken as it is
	File  string // beside a report in Markdown
}

// report is a list of blocks being made.
type report struct{ blocks []block }

func (r *report) add(b block) { r.blocks = append(r.blocks, b) }

func (r *report) heading(level int, text string) {
	b := block{kind: headingBlock, level: level, text: text}
	if level == 2 {
		b.id = anchor(text)
	}
	r.add(b)
}

func (r *report) text(text string)    { r.add(block{kind: textBlock, text: text}) }
func (r *report) caution(text string) { r.add(block{kind: cautionBlock, text: text}) }
func (r *report) command(text string) { r.add(block{kind: commandBlock, text: text}) }

func (r *report) tabled(caption string, right int, heads []string, rows [][]string) {
	r.add(block{kind: tableBlock, text: caption, table: &grid{heads, right, rows}})
}

func (r *report) drawing(d *Drawing) {
	if d != nil {
		r.add(block{kind: drawingBlock, drawn: d})
	}
}

// anchor makes an identifier of a heading of the report's own.
func anchor(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return '-'
	}, text)
}

// markdown writes the blocks.
func (r *report) markdown() string {
	d := &document{}
	for i := range r.blocks {
		b := &r.blocks[i]
		switch b.kind {
		case headingBlock:
			d.heading(b.level, oneLine(b.text))
		case textBlock:
			d.paragraph("%s", escape(oneLine(b.text)))
		case cautionBlock:
			d.caution(oneLine(b.text))
		case commandBlock:
			d.fenced(b.text)
		case tableBlock:
			if b.text != "" {
				d.paragraph("%s", escape(oneLine(b.text)))
			}
			g := &grid{heads: escaped(b.table.heads), right: b.table.right}
			for _, row := range b.table.rows {
				g.rows = append(g.rows, escaped(row))
			}
			d.table(g.heads, g.right, g.rows)
		case drawingBlock:
			d.figure(Figure{File: url.PathEscape(b.drawn.File), Title: oneLine(b.drawn.Title), Alt: oneLine(b.drawn.Alt)})
		}
	}
	return d.String()
}

func escaped(row []string) []string {
	out := make([]string, len(row))
	for i, c := range row {
		out[i] = escape(oneLine(c))
	}
	return out
}

// fenced writes a command as a block of code, in a fence longer than any run
// of backticks in it.
func (d *document) fenced(text string) {
	d.gap()
	longest, run := 2, 0
	for _, r := range text {
		if run++; r != '`' {
			run = 0
		}
		longest = max(longest, run)
	}
	fence := strings.Repeat("`", longest+1)
	d.WriteString(fence + "sh\n" + text + "\n" + fence + "\n")
}

// oneLine is text without line breaks, controls and surrounding space.
func oneLine(text string) string { return strings.Join(strings.Fields(printable(text)), " ") }

// printable is text without controls and broken characters, line breaks kept.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, "\uFFFD"))
}
