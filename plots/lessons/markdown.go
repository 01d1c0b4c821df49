package lessons

import (
	"fmt"
	"strings"
)

// markdown writes CommonMark.
type markdown struct{ b strings.Builder }

var _ writer = (*markdown)(nil)

// escaper keeps text from being taken for markup.
var escaper = strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", `\<`, "#", `\#`, "|", `\|`)

// inline is text on one line.
func inline(s string) string { return escaper.Replace(strings.Join(strings.Fields(s), " ")) }

func (m *markdown) gap() {
	if m.b.Len() > 0 {
		m.b.WriteByte('\n')
	}
}

func (m *markdown) begin(title string) { m.heading(1, title) }

func (m *markdown) heading(level int, text string) {
	m.gap()
	fmt.Fprintf(&m.b, "%s %s\n", strings.Repeat("#", level), inline(text))
}

func (m *markdown) paragraph(text string) {
	m.gap()
	m.b.WriteString(start(inline(text)) + "\n")
}

// start keeps the beginning of a paragraph from being a list or a heading.
func start(s string) string {
	if s != "" && strings.ContainsRune("-+=>", rune(s[0])) {
		return `\` + s
	}
	if i := strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }); i > 0 && (s[i] == '.' || s[i] == ')') {
		return s[:i] + `\` + s[i:]
	}
	return s
}

func (m *markdown) caution(text string) {
	m.gap()
	fmt.Fprintf(&m.b, "> **Caution.** %s\n", inline(text))
}

func (m *markdown) figure(f Figure) {
	m.gap()
	fmt.Fprintf(&m.b, "![%s: described in the text below](%s)\n\nIn words: %s\n", inline(f.Title), f.File, inline(f.Alt))
}

func (m *markdown) list(items []link) {
	m.gap()
	for _, x := range items {
		fmt.Fprintf(&m.b, "- [%s](%s)\n", inline(x.text), x.file)
	}
}

func (m *markdown) questions(q []Question) {
	for i := range q {
		m.gap()
		fmt.Fprintf(&m.b, "%d. %s\n", i+1, inline(q[i].Ask))
		for k, c := range q[i].Choices {
			fmt.Fprintf(&m.b, "   - %s: %s\n", letter(k), inline(c))
		}
	}
}

func (m *markdown) answers(q []Question) {
	for i := range q {
		m.gap()
		fmt.Fprintf(&m.b, "%d. %s\n\n   **%s** %s\n", i+1, inline(q[i].Ask), inline(q[i].solution())+".", inline(q[i].Why))
	}
}

func (m *markdown) done() string { return m.b.String() }
