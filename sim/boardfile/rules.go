package boardfile

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"boilwright/models/names"
)

// Written is a text of a file with the place where it is written.
type Written struct {
	Text         string
	File         string
	Line, Column int // from 1; 0 for what is not written

	// Where the first character of the text itself is, and whether every
	// character stands in the file as it is in the text.
	line, column int
	plain        bool
}

// Given reports whether it is written at all.
func (w *Written) Given() bool { return w.Line > 0 }

// At returns the place in the file of a line of the text and a character of
// that line, both from 1. exact is false where the text is written with
// escapes: then the place is that of the whole text.
func (w *Written) At(line, column int) (l, c int, exact bool) {
	switch {
	case !w.plain:
		return w.Line, w.Column, false
	case line <= 1:
		return w.line, w.column + column - 1, true
	}
	return w.line + line - 1, column, true
}

// Mistake makes an entry about the text.
func (w *Written) Mistake(field, found, expected string) *Entry {
	return &Entry{File: w.File, Line: w.Line, Column: w.Column, Field: field, Found: found, Expected: expected}
}

// RuleText is one rule of a rule file as it is written.
type RuleText struct {
	Head      Written // the header of the rule, without a text
	Name      Written
	When      Written
	About     Written
	Channel   Written
	Action    Written
	Words     Written
	Source    Written
	Concludes []Written
}

// Keys of a rule file.
const (
	ruleKey     = "rule"
	ruleName    = "name"
	ruleWhen    = "when"
	ruleAbout   = "about"
	ruleChannel = "channel"
	ruleAction  = "action"
	ruleWords   = "words"
	ruleSource  = "source"
	ruleOutcome = "concludes"
)

// ruleKeys in the order in which they are told.
var ruleKeys = []string{ruleName, ruleWhen, ruleAbout, ruleOutcome, ruleChannel, ruleAction, ruleWords, ruleSource}

// MaxRules is how many rules a file may have.
const MaxRules = 500

// LoadRules reads the rule file at path, see [ParseRules].
func LoadRules(path string) ([]RuleText, error) {
	data, err := readFile(path)
	if err != nil {
		e := unreadable(path, position{}, err)
		e.Expected = "a rule file"
		return nil, &Error{[]*Entry{e}}
	}
	return ParseRules(path, data)
}

// ParseRules reads a rule file: TOML with one table for each rule,
//
//	[[rule]]
//	name = "full supply while off"
//	when = 'volts("output", "standby") > 0.9 * supply'
//	concludes = ["triac-shorted"]
//
// and the keys about, channel, action, words and source, all of them texts.
// What conditions and conclusions mean is not known here. The error is an
// [*Error] with every mistake; what could be read comes beside it, so that
// more can be told.
func ParseRules(name string, data []byte) ([]RuleText, error) {
	if len(data) > MaxSize {
		return nil, &Error{[]*Entry{{File: name, Field: "size", Found: "more than 1 MiB", Expected: fmt.Sprintf("at most %d bytes", MaxSize)}}}
	}
	data = bytes.TrimPrefix(bytes.Clone(data), []byte("\ufeff"))
	root, entries := read(name, bytes.Clone(data))
	p := &ruleParser{lines: strings.Split(string(data), "\n"), partial: len(entries) > 0, entries: entries}
	out := p.rules(name, root)
	return out, errorOf(p.entries, []string{name})
}

type ruleParser struct {
	lines   []string
	partial bool // some of the file could not be read: nothing is missed
	entries []*Entry
}

func (p *ruleParser) fail(at position, field string, w *wrong) {
	p.entries = append(p.entries, &Entry{File: at.file, Line: at.line, Column: at.column, Field: field, Found: w.found, Expected: w.expected})
}

func (p *ruleParser) rules(name string, root *node) []RuleText {
	var out []RuleText
	for _, key := range root.keys {
		n := root.children[key]
		if key != ruleKey {
			p.fail(n.key, key, (&wrong{"a key that is not known", "[[rule]]"}).meant(names.Nearest(key, []string{ruleKey})))
			continue
		}
		if n.shape != arrayShape {
			p.fail(n.at, key, &wrong{n.describe(), "[[rule]], once for each rule"})
			continue
		}
		for i, item := range n.items {
			if i == MaxRules {
				p.fail(item.key, key, &wrong{fmt.Sprintf("%d rules", len(n.items)), fmt.Sprintf("at most %d", MaxRules)})
				return nil // what is wrong with each does not matter then
			}
			if item.shape != tableShape {
				p.fail(item.at, key, &wrong{item.describe(), "a table"})
				continue
			}
			out = append(out, p.rule(element(ruleKey, i)+".", item))
		}
	}
	if len(out) == 0 && len(p.entries) == 0 {
		p.fail(position{name, 1, 1}, ruleKey, &wrong{"no rule", "[[rule]], once for each rule"})
	}
	return out
}

func (p *ruleParser) rule(prefix string, n *node) RuleText {
	r := RuleText{Head: Written{File: n.key.file, Line: n.key.line, Column: n.key.column}}
	texts := map[string]*Written{
		ruleName: &r.Name, ruleWhen: &r.When, ruleAbout: &r.About, ruleChannel: &r.Channel,
		ruleAction: &r.Action, ruleWords: &r.Words, ruleSource: &r.Source,
	}
	bad := map[string]bool{}
	for _, key := range n.keys {
		c := n.children[key]
		switch to, known := texts[key]; {
		case known && c.shape == textShape && c.text != "":
			*to = p.written(c)
		case known:
			bad[key] = true
			p.fail(c.at, prefix+key, &wrong{c.describe(), "text"})
		case key == ruleOutcome:
			r.Concludes, bad[key] = p.outcomes(prefix+key, c)
		default:
			p.fail(c.key, prefix+key, (&wrong{"a key that is not known", "one of " + oneOf(ruleKeys)}).meant(names.Nearest(key, ruleKeys)))
		}
	}
	if p.partial {
		return r
	}
	for _, key := range []string{ruleName, ruleWhen, ruleOutcome} {
		if given := n.children[key] != nil; !given && !bad[key] {
			p.fail(n.key, prefix+key, &wrong{"nothing", map[string]string{
				ruleName: "a name for the rule", ruleWhen: "a condition", ruleOutcome: `a list of faults, or "healthy"`,
			}[key]})
		}
	}
	return r
}

// outcomes reads a text or a list of texts.
func (p *ruleParser) outcomes(field string, n *node) (out []Written, bad bool) {
	items := []*node{n}
	if n.shape == arrayShape {
		items = n.items
	}
	if len(items) == 0 {
		p.fail(n.at, field, &wrong{"an empty list", `a list of faults, or "healthy"`})
		return nil, true
	}
	for _, item := range items {
		if item.shape != textShape || item.text == "" {
			p.fail(item.at, field, &wrong{item.describe(), "text"})
			bad = true
			continue
		}
		out = append(out, p.written(item))
	}
	return out, bad
}

// written finds out where the characters of a text are.
func (p *ruleParser) written(n *node) Written {
	w := Written{Text: n.text, File: n.at.file, Line: n.at.line, Column: n.at.column, line: n.at.line}
	line := []rune(p.lines[min(n.at.line, len(p.lines))-1])
	open := string(line[min(n.at.column-1, len(line)):])
	for _, quotes := range []string{`"""`, "'''", `"`, "'"} {
		if !strings.HasPrefix(open, quotes) {
			continue
		}
		w.column = n.at.column + len(quotes)
		rest := open[len(quotes):]
		if strings.TrimSuffix(rest, "\r") == "" { // the first end of line is not of the text
			w.line, w.column, rest = w.line+1, 1, ""
			if w.line <= len(p.lines) {
				rest = p.lines[w.line-1]
			}
		}
		first, _, more := strings.Cut(n.text, "\n")
		w.plain = strings.HasPrefix(rest, first)
		if more {
			w.plain = w.plain && p.same(w.line, n.text)
		}
		break
	}
	return w
}

// same reports whether the lines after a line of the file are those of a text.
func (p *ruleParser) same(line int, text string) bool {
	texts := strings.Split(text, "\n")
	for i, t := range texts[1:] {
		if line+i >= len(p.lines) || !strings.HasPrefix(p.lines[line+i], strings.TrimSuffix(t, "\r")) {
			return false
		}
	}
	return true
}

// Mistakes gathers entries about one file into an [*Error], sorted by
// position; nil for none. Entries of an *Error in err are among them.
func Mistakes(file string, entries []*Entry, err error) error {
	if e, ok := err.(*Error); ok {
		entries = slices.Concat(e.Entries, entries)
	}
	return errorOf(entries, []string{file})
}

// Meant adds to what was expected the candidate that a person may have meant
// by text, if there is one.
func (e *Entry) Meant(text string, candidates []string) *Entry {
	if near := names.Nearest(text, candidates); near != "" {
		e.Expected += "; did you mean " + near
	}
	return e
}
