package lessons

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Figure is a figure of a lesson or of a solution, a file beside the page.
type Figure struct {
	File  string // "circuit.svg"
	Title string
	Alt   string // the text alternative
}

// Question is a question with its answer.
type Question struct {
	Ask string
	// Choices, where not empty, are what to choose from; Right is the index of
	// the answer, and Answer is not used.
	Choices []string
	Right   int
	Answer  string // "6.4 A"
	Why     string // how one gets there
}

// Lesson is one page.
type Lesson struct {
	Name      string // of its files: lower case, digits and hyphens
	Title     string
	Text      []string // paragraphs
	Figures   []Figure
	Caution   string // needed where Live
	Live      bool   // it speaks of tests with the supply connected
	Questions []Question
	// Solved are figures that only the solution shows.
	Solved []Figure
}

// Pack is all lessons of a class.
type Pack struct {
	Title   string
	Note    string // provenance
	Seed    uint64
	Lessons []Lesson
}

// File is a page of the pack.
type File struct {
	Name string // "index.md"
	Text string
}

// names of files that the pack itself has.
const (
	indexName    = "index"
	solutionName = "solutions"
)

var (
	stem    = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	picture = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*\.(svg|png)$`)
)

// check reports the first thing that is wrong with the pack.
func (p *Pack) check() error {
	if strings.TrimSpace(p.Title) == "" || strings.TrimSpace(p.Note) == "" {
		return fmt.Errorf("pack: found title %q and note %q, expected both", p.Title, p.Note)
	}
	if len(p.Lessons) == 0 {
		return fmt.Errorf("pack: found no lesson, expected at least one")
	}
	var names []string
	for i := range p.Lessons {
		l := &p.Lessons[i]
		where := fmt.Sprintf("lesson %d, %q", i+1, l.Name)
		if !stem.MatchString(l.Name) || l.Name == indexName || l.Name == solutionName || slices.Contains(names, l.Name) {
			return fmt.Errorf("%s: expected a name of its own in lower case, digits and hyphens", where)
		}
		names = append(names, l.Name)
		if l.Title == "" || len(l.Text) == 0 || len(l.Questions) == 0 {
			return fmt.Errorf("%s: found title %q, %d paragraphs, %d questions, expected all three", where, l.Title, len(l.Text), len(l.Questions))
		}
		if l.Live && strings.TrimSpace(l.Caution) == "" {
			return fmt.Errorf("%s: found no caution, expected one with live tests", where)
		}
		for _, f := range slices.Concat(l.Figures, l.Solved) {
			if !picture.MatchString(f.File) || f.Alt == "" {
				return fmt.Errorf("%s: found figure %q with a text alternative of %d characters, expected NAME.svg or NAME.png and a text", where, f.File, len(f.Alt))
			}
		}
		for k, q := range l.Questions {
			at := fmt.Sprintf("%s: question %d", where, k+1)
			if q.Ask == "" || q.Why == "" {
				return fmt.Errorf("%s: found %q because %q, expected a question and a reason", at, q.Ask, q.Why)
			}
			if len(q.Choices) == 0 && q.Answer == "" {
				return fmt.Errorf("%s: found no answer, expected one", at)
			}
			if n := len(q.Choices); n > 0 && (n < 2 || n > 8 || q.Right < 0 || q.Right >= n) {
				return fmt.Errorf("%s: found %d choices with %d right, expected 2 to 8 and one of them", at, n, q.Right+1)
			}
			for j, c := range q.Choices {
				if slices.Contains(q.Choices[:j], c) {
					return fmt.Errorf("%s: found choice %q twice, expected different ones", at, c)
				}
			}
		}
	}
	return nil
}

// solution is a question's answer in words.
func (q *Question) solution() string {
	if len(q.Choices) > 0 {
		return letter(q.Right) + ": " + q.Choices[q.Right]
	}
	return q.Answer
}

// letter names a choice.
func letter(i int) string { return string(rune('A' + i)) }

// Files composes all pages, Markdown first. An error names the lesson and what
// was expected.
func (p *Pack) Files() ([]File, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	var out []File
	for _, form := range []struct {
		ending string
		pages  func() writer
	}{{".md", func() writer { return &markdown{} }}, {".html", func() writer { return &page{} }}} {
		add := func(name string, compose func(w writer)) {
			w := form.pages()
			compose(w)
			out = append(out, File{name + form.ending, w.done()})
		}
		add(indexName, func(w writer) { p.index(w, form.ending) })
		for i := range p.Lessons {
			add(p.Lessons[i].Name, func(w writer) { p.lesson(w, i, form.ending) })
		}
		add(solutionName, func(w writer) { p.solutions(w) })
	}
	return out, nil
}

// writer is the form of a page.
type writer interface {
	begin(title string)
	heading(level int, text string)
	paragraph(text string)
	caution(text string)
	figure(f Figure)
	list(items []link)
	questions(q []Question)
	answers(q []Question)
	done() string
}

// link is an entry of an index.
type link struct{ text, file string }

func (p *Pack) index(w writer, ending string) {
	w.begin(p.Title)
	w.paragraph(fmt.Sprintf("Seed %d: another seed gives other numbers, so that each class can have its own.", p.Seed))
	var items []link
	for _, l := range p.Lessons {
		items = append(items, link{l.Title, l.Name + ending})
	}
	items = append(items, link{"Solutions (for the teacher)", solutionName + ending})
	w.list(items)
	w.paragraph(p.Note)
}

func (p *Pack) lesson(w writer, i int, ending string) {
	l := &p.Lessons[i]
	w.begin(fmt.Sprintf("%d. %s", i+1, l.Title))
	for _, t := range l.Text {
		w.paragraph(t)
	}
	for _, f := range l.Figures {
		w.figure(f)
	}
	if l.Caution != "" {
		w.caution(l.Caution)
	}
	w.heading(2, "Questions")
	w.questions(l.Questions)
	next := link{"All lessons", indexName + ending}
	if i+1 < len(p.Lessons) {
		w.list([]link{next, {"Next: " + p.Lessons[i+1].Title, p.Lessons[i+1].Name + ending}})
	} else {
		w.list([]link{next})
	}
	w.paragraph(p.Note)
}

func (p *Pack) solutions(w writer) {
	w.begin("Solutions: " + p.Title)
	w.paragraph(fmt.Sprintf("Seed %d. All numbers are the simulator's, to the digits given.", p.Seed))
	for i := range p.Lessons {
		l := &p.Lessons[i]
		w.heading(2, fmt.Sprintf("%d. %s", i+1, l.Title))
		if l.Caution != "" {
			w.caution(l.Caution)
		}
		w.answers(l.Questions)
		for _, f := range l.Solved {
			w.figure(f)
		}
	}
	w.paragraph(p.Note)
}
