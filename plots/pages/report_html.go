package pages

import (
	"bytes"
	"html/template"
	"io"
	"strings"
)

// policy forbids a page everything but its own style, pictures and fonts that
// are part of it (W3C Content Security Policy Level 3).
const policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; form-action 'none'"

// pageStyle is for a screen of any width, light or dark, and for paper.
const pageStyle template.CSS = `
:root{color-scheme:light dark;--ink:#1d1f21;--soft:#555b61;--line:#c9ced3;--ground:#fff;--band:#f3f5f7;--warn:#8a3b00;--warn-ground:#fff4e8}
@media (prefers-color-scheme:dark){:root{--ink:#e6e8ea;--soft:#a9b0b7;--line:#454c53;--ground:#15181b;--band:#1f2428;--warn:#ffb877;--warn-ground:#33210f}}
*{box-sizing:border-box}
body{margin:0 auto;padding:1rem;max-width:72rem;font:1rem/1.5 system-ui,sans-serif;color:var(--ink);background:var(--ground);overflow-wrap:break-word}
h1{font-size:1.6rem;line-height:1.25;margin:.5rem 0 1rem}
h2{font-size:1.25rem;line-height:1.3;margin:2.2rem 0 .6rem;padding-top:.5rem;border-top:2px solid var(--line)}
h3{font-size:1.05rem;margin:1.6rem 0 .4rem}
h4{font-size:1rem;margin:1rem 0 .3rem}
p{max-width:46rem;margin:.5rem 0}
nav ul{columns:14rem;padding-left:1.2rem;margin:.5rem 0}
a{color:inherit;text-underline-offset:.15em}
a:focus-visible,.wide:focus-visible{outline:3px solid currentColor;outline-offset:2px}
.caution{border-left:.4rem solid var(--warn);background:var(--warn-ground);padding:.5rem .8rem;max-width:none}
.caution strong{color:var(--warn)}
.wide{overflow-x:auto;margin:.6rem 0}
table{border-collapse:collapse;font-size:.9rem;font-variant-numeric:tabular-nums}
caption{text-align:left;color:var(--soft);padding-bottom:.3rem}
th,td{padding:.3rem .6rem;text-align:left;vertical-align:top;border-bottom:1px solid var(--line)}
thead th{border-bottom:2px solid var(--soft);vertical-align:bottom}
thead .n{max-width:7rem}
tbody tr:nth-child(even){background:var(--band)}
tbody th{font-weight:600;min-width:8rem;max-width:22rem}
.n{text-align:right}
td:not(.n){min-width:8rem}
pre{background:var(--band);border:1px solid var(--line);padding:.5rem .7rem;white-space:pre-wrap;overflow-wrap:anywhere;font-size:.85rem;margin:.4rem 0}
figure{margin:1rem 0}
figure svg{display:block;width:100%;min-width:38rem;max-width:60rem;height:auto;background:#fff;border:1px solid var(--line)}
details{max-width:60rem;color:var(--soft);font-size:.9rem}
summary{cursor:pointer;padding:.3rem 0}
@media print{:root{color-scheme:light;--ink:#000;--soft:#333;--line:#999;--ground:#fff;--band:#fff;--warn:#000;--warn-ground:#fff}html{font-size:9pt}body{max-width:none;padding:0}nav,details{display:none}.wide{overflow:visible}table{font-size:7pt}th,td{padding:1pt 3pt}tbody th,td:not(.n){min-width:0}figure svg{min-width:0}figure,tr,pre{break-inside:avoid}h2,h3,h4{break-after:avoid}}
`

var reportTemplate = template.Must(template.New("report").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{{.Policy}}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<link rel="icon" href="data:,">
<title>{{.Title}}</title>
<style>{{.Style}}</style>
</head>
<body>
<main>
{{range .Blocks}}{{if eq .Kind "h1"}}<h1>{{.Text}}</h1>
{{else if eq .Kind "contents"}}<nav aria-label="Contents"><ul>
{{range $.Contents}}<li><a href="#{{.ID}}">{{.Text}}</a></li>
{{end}}</ul></nav>
{{else if eq .Kind "h2"}}<h2 id="{{.ID}}">{{.Text}}</h2>
{{else if eq .Kind "h3"}}<h3>{{.Text}}</h3>
{{else if eq .Kind "h4"}}<h4>{{.Text}}</h4>
{{else if eq .Kind "text"}}<p>{{.Text}}</p>
{{else if eq .Kind "caution"}}<p class="caution" role="note"><strong>Caution.</strong> {{.Text}}</p>
{{else if eq .Kind "command"}}<pre><code>{{.Text}}</code></pre>
{{else if eq .Kind "table"}}<div class="wide" role="region" tabindex="0" aria-label="{{.Label}}">
<table>
{{if .Text}}<caption>{{.Text}}</caption>
{{end}}<thead><tr>{{range .Heads}}<th scope="col"{{if .Number}} class="n"{{end}}>{{.Text}}</th>{{end}}</tr></thead>
<tbody>
{{range .Rows}}<tr>{{range .}}{{if .First}}<th scope="row">{{.Text}}</th>{{else}}<td{{if .Number}} class="n"{{end}}>{{.Text}}</td>{{end}}{{end}}</tr>
{{end}}</tbody>
</table>
</div>
{{else if eq .Kind "drawing"}}<figure>
<div class="wide" role="region" tabindex="0" aria-label="{{.Label}}">
{{.SVG}}</div>
<figcaption><details><summary>In words: {{.Label}}</summary><p>{{.Text}}</p></details></figcaption>
</figure>
{{end}}{{end}}</main>
</body>
</html>
`))

// cell is one of a table for the template.
type cell struct {
	Text          string
	First, Number bool
}

// part is a block for the template.
type part struct {
	Kind, ID, Text, Label string
	Heads                 []cell
	Rows                  [][]cell
	SVG                   template.HTML
}

var kindNames = map[blockKind]string{textBlock: "text", cautionBlock: "caution", commandBlock: "command", tableBlock: "table", drawingBlock: "drawing"}

// html writes the blocks as one page that needs nothing beside itself.
func (r *report) html(w io.Writer) error {
	page := struct {
		Title, Policy string
		Style         template.CSS
		Contents      []part
		Blocks        []part
	}{Policy: policy, Style: pageStyle}
	section, listed := "", false
	for i := range r.blocks {
		b := &r.blocks[i]
		p := part{Kind: kindNames[b.kind], Text: printable(b.text)}
		switch b.kind {
		case headingBlock:
			p.Kind, p.ID = "h"+string(rune('0'+b.level)), b.id
			section = p.Text
			if b.level == 1 {
				page.Title = p.Text
			}
			if b.level == 2 {
				if !listed {
					listed = true
					page.Blocks = append(page.Blocks, part{Kind: "contents"})
				}
				page.Contents = append(page.Contents, p)
			}
		case cautionBlock:
			p.Text = capital(p.Text)
		case tableBlock:
			p.Label = section
			p.Heads = b.table.cells(b.table.heads)
			for _, row := range b.table.rows {
				cells := b.table.cells(row)
				cells[0].First = true
				p.Rows = append(p.Rows, cells)
			}
		case drawingBlock:
			p.Label, p.Text = printable(b.drawn.Title), printable(b.drawn.Alt)
			svg := b.drawn.SVG
			if i := bytes.Index(svg, []byte("<svg")); i >= 0 { // without the line that makes it a document
				svg = svg[i:]
			}
			p.SVG = template.HTML(svg) // of our own figures, whose texts are escaped
		}
		page.Blocks = append(page.Blocks, p)
	}
	return reportTemplate.Execute(w, page)
}

func (g *grid) cells(row []string) []cell {
	out := make([]cell, len(row))
	for i, t := range row {
		out[i] = cell{Text: printable(t), Number: i >= g.right}
		if out[i].Number { // an interval stays on one line
			out[i].Text = strings.ReplaceAll(out[i].Text, " to ", "\u00a0to\u00a0")
		}
	}
	return out
}

// capital is a sentence of a text.
func capital(text string) string {
	if text == "" {
		return ""
	}
	r := []rune(text)
	if r[0] >= 'a' && r[0] <= 'z' {
		r[0] += 'A' - 'a'
	}
	if last := r[len(r)-1]; last != '.' && last != '?' && last != '!' {
		r = append(r, '.')
	}
	return string(r)
}
