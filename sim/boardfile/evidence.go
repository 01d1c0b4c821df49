package boardfile

import (
	"bytes"
	"fmt"
	"slices"

	"boilwright/models/names"
)

// Statement is one line of an evidence file: what kind of evidence it is and
// its text, with the place where it is written.
type Statement struct {
	Form, Text   string
	File         string
	Line, Column int // from 1
}

// Wrong makes an error about the statement from one that says what was found
// and what was expected.
func (s *Statement) Wrong(err error) error {
	return fmt.Errorf("%s:%d:%d: %s: %w", s.File, s.Line, s.Column, s.Form, err)
}

// LoadEvidence reads the evidence file at path, see [ParseEvidence].
func LoadEvidence(path string, forms []string) ([]Statement, error) {
	data, err := readFile(path)
	if err != nil {
		e := unreadable(path, position{}, err)
		e.Expected = "an evidence file"
		return nil, &Error{[]*Entry{e}}
	}
	return ParseEvidence(path, data, forms)
}

// ParseEvidence reads an evidence file: TOML whose keys are forms of evidence,
// each with a text or a list of texts, in the words of the command line:
//
//	reading = ["dye output to neutral, standby, 118 V, averaging meter"]
//	monitor = "standby, 1480 W, 6.4 A"
//
// What the texts mean is not known here. Statements come in the order in which
// they are written. The error is an [*Error] with every mistake.
func ParseEvidence(name string, data []byte, forms []string) ([]Statement, error) {
	if len(data) > MaxSize {
		return nil, &Error{[]*Entry{{File: name, Field: "size", Found: "more than 1 MiB", Expected: fmt.Sprintf("at most %d bytes", MaxSize)}}}
	}
	root, entries := read(name, bytes.Clone(data))
	var out []Statement
	for _, key := range root.keys {
		n := root.children[key]
		fail := func(at position, w *wrong) {
			entries = append(entries, &Entry{File: at.file, Line: at.line, Column: at.column, Field: key, Found: w.found, Expected: w.expected})
		}
		if !slices.Contains(forms, key) {
			w := &wrong{"a key that is not known", "one of " + oneOf(forms)}
			fail(n.key, w.meant(names.Nearest(key, forms)))
			continue
		}
		items := []*node{n}
		if n.shape == arrayShape {
			items = n.items
		}
		for _, item := range items {
			if item.shape != textShape || item.text == "" {
				fail(item.at, &wrong{item.describe(), "text"})
				continue
			}
			out = append(out, Statement{key, item.text, item.at.file, item.at.line, item.at.column})
		}
	}
	if err := errorOf(entries, []string{name}); err != nil {
		return nil, err
	}
	slices.SortStableFunc(out, func(a, b Statement) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return out, nil
}
