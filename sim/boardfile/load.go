package boardfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"boilwright/models"
)

// MaxSize is the largest file that is read, in bytes.
const MaxSize = 1 << 20

// maxBases is how many boards may be based on one another.
const maxBases = 16

// File is a board that was read, with the origin of each value.
type File struct {
	Name    string   // as it was named
	Bases   []string // the boards that it is based on, nearest first
	Board   *models.Board
	Origins []Origin // every value, in the order of the reference
}

// Source says where a value comes from.
type Source int

// The sources, the closest to the reader last.
const (
	FromDefault Source = iota // neither written in the file nor in a base
	FromBase                  // written in a board that the file is based on
	FromFile                  // written in the file itself
)

func (s Source) String() string { return [...]string{"default", "base", "file"}[s] }

// Origin tells where one value comes from.
type Origin struct {
	Path    string // "channel.dye.triac.holding-current"
	Value   string // in force, printed
	Written string // as written; of a default, how it is given in the reference
	Source  Source
	// File, Line and Column are where the value is written; empty and 0 for a
	// default.
	File         string
	Line, Column int
}

// Origin returns the origin of the value with the given path.
func (f *File) Origin(path string) (Origin, bool) {
	i := slices.IndexFunc(f.Origins, func(o Origin) bool { return o.Path == path })
	if i < 0 {
		return Origin{}, false
	}
	return f.Origins[i], true
}

// Load reads the board file at path. A base that is no embedded board is
// found from the directory of the file that names it. The error is an
// [*Error]; an operating system's error is within.
func Load(path string) (*File, error) {
	data, err := readFile(path)
	if err != nil {
		return nil, &Error{[]*Entry{unreadable(path, position{}, err)}}
	}
	return Parse(path, data, readFile)
}

func readFile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	// One byte more than allowed shows that there is too much.
	return io.ReadAll(io.LimitReader(f, MaxSize+1))
}

func unreadable(name string, at position, err error) *Entry {
	e := &Entry{File: name, Found: "no readable file", Expected: "a board file", Err: err}
	if at.file != "" {
		e.File, e.Line, e.Column, e.Field = at.file, at.line, at.column, basedOnKey
		e.Found = quote(name)
		e.Expected = "an embedded board (" + oneOf(EmbeddedNames()) + ") or the path of a file"
	}
	if cause := (*os.PathError)(nil); errors.As(err, &cause) {
		e.Found += ": " + cause.Err.Error()
	} else if err != nil {
		e.Found += ": " + err.Error()
	}
	return e
}

// Parse reads a board from data. name is what errors call it, and relative to
// it bases are found: open returns the bytes of one by its path; nil allows
// embedded boards only. An empty name is board. The error is an [*Error].
func Parse(name string, data []byte, open func(name string) ([]byte, error)) (*File, error) {
	if name == "" {
		name = "board"
	}
	l := &loader{open: open}
	root, partial := l.tree(name, data)
	board, origins, entries := decode(root, name, partial)
	if err := errorOf(append(l.entries, entries...), l.files); err != nil {
		return nil, err
	}
	return &File{Name: name, Bases: l.files[1:], Board: board, Origins: origins}, nil
}

// loader reads a file and its bases.
type loader struct {
	open    func(name string) ([]byte, error)
	entries []*Entry
	files   []string
}

// tree returns the tree of a file laid over those of its bases, and whether
// some of it could not be read.
func (l *loader) tree(name string, data []byte) (root *node, partial bool) {
	l.files = append(l.files, name)
	if len(data) > MaxSize {
		l.entries = append(l.entries, &Entry{File: name, Field: "size", Found: "more than 1 MiB", Expected: fmt.Sprintf("at most %d bytes", MaxSize)})
		data = nil
		partial = true
	}
	root, entries := read(name, bytes.Clone(data))
	l.entries = append(l.entries, entries...)
	partial = partial || len(entries) > 0
	based := root.child(basedOnKey)
	if based == nil {
		return root, partial
	}
	root.remove(basedOnKey)
	base, baseData, e := l.base(name, based)
	if e != nil {
		l.entries = append(l.entries, e)
		return root, true
	}
	under, basePartial := l.tree(base, baseData)
	return merge(under, root), partial || basePartial
}

// base finds the board that the node names in file.
func (l *loader) base(file string, n *node) (name string, data []byte, e *Entry) {
	fail := func(found, expected string) (string, []byte, *Entry) {
		return "", nil, &Entry{File: n.at.file, Line: n.at.line, Column: n.at.column, Field: basedOnKey, Found: found, Expected: expected}
	}
	if n.shape != textShape || n.text == "" {
		return fail(n.describe(), "the name of an embedded board or the path of a file")
	}
	embedded, isEmbedded := embeddedData(n.text)
	name = n.text
	if !isEmbedded && !filepath.IsAbs(name) {
		name = filepath.Join(filepath.Dir(file), name)
	}
	switch {
	case slices.Contains(l.files, name):
		return fail("a loop back to "+quote(name), "boards that are not based on themselves")
	case len(l.files) > maxBases:
		return fail("one more base", fmt.Sprintf("at most %d", maxBases))
	case isEmbedded:
		return name, embedded, nil
	case l.open == nil:
		return fail(quote(n.text), "an embedded board: "+oneOf(EmbeddedNames()))
	}
	data, err := l.open(name)
	if err != nil {
		return "", nil, unreadable(name, n.at, err)
	}
	return name, data, nil
}
