package lessons

import (
	"fmt"
	"html"
	"strings"
)

// page writes HTML.
type page struct{ b strings.Builder }

var _ writer = (*page)(nil)

// look is the style of a page: dark on white, one column, for print too.
const look = `body{font:16px/1.5 "Liberation Sans",Arial,sans-serif;color:#202020;background:#fff;max-width:46em;margin:2em auto;padding:0 1em}
h1{border-bottom:2px solid #202020;padding-bottom:.2em}
img{max-width:100%;height:auto}
figure{margin:1.5em 0}
figcaption,details{font-size:.9em;color:#404040}
.caution{border:2px solid #202020;border-left-width:10px;padding:.5em 1em}
li{margin:.5em 0}
ol.choices{list-style:upper-alpha}
@media print{body{max-width:none;margin:0}figure,li{break-inside:avoid}}`

func (p *page) begin(title string) {
	t := html.EscapeString(title)
	fmt.Fprintf(&p.b, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n<title>%s</title>\n<style>\n%s\n</style>\n</head>\n<body>\n<h1>%s</h1>\n", t, look, t)
}

func (p *page) heading(level int, text string) {
	fmt.Fprintf(&p.b, "<h%d>%s</h%d>\n", level, html.EscapeString(text), level)
}

func (p *page) paragraph(text string) {
	fmt.Fprintf(&p.b, "<p>%s</p>\n", html.EscapeString(text))
}

func (p *page) caution(text string) {
	fmt.Fprintf(&p.b, "<p class=\"caution\" role=\"note\"><strong>Caution.</strong> %s</p>\n", html.EscapeString(text))
}

func (p *page) figure(f Figure) {
	fmt.Fprintf(&p.b, "<figure>\n<img src=\"%s\" alt=\"%s: described in the text below\">\n<figcaption><details><summary>%s, in words</summary>%s</details></figcaption>\n</figure>\n",
		html.EscapeString(f.File), html.EscapeString(f.Title), html.EscapeString(f.Title), html.EscapeString(f.Alt))
}

func (p *page) list(items []link) {
	p.b.WriteString("<ul>\n")
	for _, x := range items {
		fmt.Fprintf(&p.b, "<li><a href=\"%s\">%s</a></li>\n", html.EscapeString(x.file), html.EscapeString(x.text))
	}
	p.b.WriteString("</ul>\n")
}

func (p *page) questions(q []Question) {
	p.b.WriteString("<ol>\n")
	for i := range q {
		fmt.Fprintf(&p.b, "<li>%s", html.EscapeString(q[i].Ask))
		if len(q[i].Choices) > 0 {
			p.b.WriteString("\n<ol class=\"choices\">\n")
			for _, c := range q[i].Choices {
				fmt.Fprintf(&p.b, "<li>%s</li>\n", html.EscapeString(c))
			}
			p.b.WriteString("</ol>\n")
		}
		p.b.WriteString("</li>\n")
	}
	p.b.WriteString("</ol>\n")
}

func (p *page) answers(q []Question) {
	p.b.WriteString("<ol>\n")
	for i := range q {
		fmt.Fprintf(&p.b, "<li>%s<br><strong>%s.</strong> %s</li>\n", html.EscapeString(q[i].Ask), html.EscapeString(q[i].solution()), html.EscapeString(q[i].Why))
	}
	p.b.WriteString("</ol>\n")
}

func (p *page) done() string {
	p.b.WriteString("</body>\n</html>\n")
	return p.b.String()
}
