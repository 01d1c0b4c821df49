package boardfile

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2/unstable"
)

// shape is what a node of a file is.
type shape int

const (
	textShape shape = iota
	integerShape
	floatShape
	booleanShape
	momentShape // a date or a time of day
	arrayShape
	tableShape
)

func (s shape) String() string {
	return [...]string{"text", "the integer", "the number", "the truth value", "the date", "a list", "a table"}[s]
}

// position is a place in a file, both from 1.
type position struct {
	file         string
	line, column int
}

// node is a value of a file with the place of its key and its own.
type node struct {
	shape
	key, at  position
	text     string // of a scalar; decoded if textShape
	keys     []string
	children map[string]*node // of a table
	items    []*node          // of an array

	// How a table or array came about decides what may still be added.
	header bool // by its own [header]
	dotted bool // by a dotted key
	inline bool // written in braces or brackets
	tables bool // an array of [[header]]

	// Filled by the walk over the fields.
	value any
	bad   bool
}

// describe says what the node is, for "found …".
func (n *node) describe() string {
	switch n.shape {
	case textShape:
		return quote(n.text)
	case arrayShape, tableShape:
		return n.shape.String()
	}
	return n.shape.String() + " " + n.text
}

// written is the node's text in the file; the texts of a list.
func (n *node) written() string {
	if n.shape != arrayShape {
		return n.text
	}
	texts := make([]string, len(n.items))
	for i, item := range n.items {
		texts[i] = item.text
	}
	return strings.Join(texts, ", ")
}

func (n *node) child(key string) *node {
	if n == nil || n.shape != tableShape {
		return nil
	}
	return n.children[key]
}

// find follows a dotted path; nil when there is nothing.
func (n *node) find(path string) *node {
	for key := range strings.SplitSeq(path, ".") {
		n = n.child(key)
	}
	return n
}

func (n *node) add(key string, c *node) {
	if n.children == nil {
		n.children = map[string]*node{}
	}
	n.keys = append(n.keys, key)
	n.children[key] = c
}

func (n *node) remove(key string) {
	if _, ok := n.children[key]; ok {
		delete(n.children, key)
		n.keys = slices.DeleteFunc(n.keys, func(k string) bool { return k == key })
	}
}

// reader turns the bytes of one file into a tree.
type reader struct {
	file    string
	data    []byte
	lines   []int // offset of each line
	base    int   // offset of what the parser sees
	parser  unstable.Parser
	last    struct{ offset, line, column int } // of the last place, to count on from
	root    *node
	current *node  // table of the last header; nil after a bad header
	prefix  string // its path with a dot
	entries []*Entry
}

// maxSyntaxErrors stops the reading of a file that is no TOML at all.
const maxSyntaxErrors = 20

var keyLine = regexp.MustCompile(`^[ \t]*(\[|[A-Za-z0-9_-]+([ \t]*\.[ \t]*[A-Za-z0-9_-]+)*[ \t]*=)`)

// read returns the tree of a file and what is wrong with it as TOML. After a
// syntax error it goes on at the next line that begins with a key or a header.
func read(file string, data []byte) (*node, []*Entry) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	r := &reader{file: file, data: data, lines: []int{0}}
	for i, c := range data {
		if c == '\n' {
			r.lines = append(r.lines, i+1)
		}
	}
	r.root = &node{shape: tableShape, header: true, key: position{file, 1, 1}, at: position{file, 1, 1}}
	r.current = r.root
	for range maxSyntaxErrors {
		r.parser.Reset(data[r.base:])
		for r.parser.NextExpression() {
			r.expression(r.parser.Expression())
		}
		err := r.parser.Error()
		if err == nil {
			break
		}
		at := r.syntax(err)
		next := -1
		for _, l := range r.lines {
			if l > at && keyLine.Match(data[l:min(len(data), l+200)]) {
				next = l
				break
			}
		}
		if next < 0 {
			break
		}
		r.base = next
	}
	return r.root, r.entries
}

// place converts an offset of the parser's data.
func (r *reader) place(offset int) position {
	offset += r.base
	k, found := slices.BinarySearch(r.lines, offset)
	if !found {
		k--
	}
	from, column := r.lines[k], 1
	if r.last.line == k+1 && r.last.offset <= offset { // count on along a long line
		from, column = r.last.offset, r.last.column
	}
	column += utf8.RuneCount(r.data[from:offset])
	r.last.offset, r.last.line, r.last.column = offset, k+1, column
	return position{r.file, k + 1, column}
}

func (r *reader) fail(at position, field, found, expected string) {
	r.entries = append(r.entries, &Entry{File: at.file, Line: at.line, Column: at.column, Field: field, Found: found, Expected: expected})
}

// A value that lacks its quotes: what begins like a number or a word and goes
// on to the end of the line without one.
var bareValue = regexp.MustCompile(`^[^=#"']*=[ \t]*([-+]?[0-9]|[A-Za-z])[^"'#\[\]{}]*$`)

// syntax reports the parser's error and returns its offset in the file.
func (r *reader) syntax(err error) int {
	offset, found := len(r.data)-r.base, "the end of the file"
	var pe *unstable.ParserError
	if errors.As(err, &pe) && len(pe.Highlight) > 0 {
		offset = int(r.parser.Range(pe.Highlight).Offset)
		found = quote(string(pe.Highlight))
		if pe.Highlight[0] == '\n' || pe.Highlight[0] == '\r' {
			found = "the end of the line"
		}
	}
	at := r.place(offset)
	line, _, _ := bytes.Cut(r.data[r.lines[at.line-1]:], []byte("\n"))
	line = bytes.TrimSuffix(line, []byte("\r"))
	expected := err.Error()
	message, isExpected := strings.CutPrefix(expected, "expected ")
	switch m := bareValue.FindSubmatch(line); {
	case m != nil:
		_, v, _ := bytes.Cut(line, []byte("="))
		found = string(bytes.TrimSpace(v))
		if r := []rune(found); len(r) > 24 {
			found = string(r[:24]) + "…"
		}
		expected = "text in quotes"
		if c := m[1][len(m[1])-1]; c >= '0' && c <= '9' {
			expected = "a quantity in quotes, such as \"230 V\""
		}
	case strings.HasSuffix(expected, "cannot have new lines"):
		expected = "a closing quote"
	case isExpected:
		expected, _, _ = strings.Cut(message, " but got ")
	default:
		expected = "valid TOML: " + expected
	}
	r.fail(at, "syntax", found, expected)
	return r.base + offset
}

// part is one part of a dotted key.
type part struct {
	name string
	at   position
}

func (r *reader) parts(it unstable.Iterator) (parts []part, end int) {
	for it.Next() {
		n := it.Node()
		parts = append(parts, part{string(n.Data), r.place(int(n.Raw.Offset))})
		end = int(n.Raw.Offset + n.Raw.Length)
	}
	return parts, end
}

func path(parts []part) string {
	names := make([]string, len(parts))
	for i, p := range parts {
		names[i] = p.name
	}
	return strings.Join(names, ".")
}

// expression adds one line, header or key with its value, to the tree.
func (r *reader) expression(n *unstable.Node) {
	switch n.Kind {
	case unstable.Table, unstable.ArrayTable:
		parts, _ := r.parts(n.Key())
		r.current = r.header(parts, n.Kind == unstable.ArrayTable)
		r.prefix = path(parts) + "."
	case unstable.KeyValue:
		if r.current != nil {
			r.keyValue(r.current, n, r.prefix)
		}
	}
}

// header returns the table that a header names, or nil after an error.
func (r *reader) header(parts []part, array bool) *node {
	t := r.root
	for i, p := range parts {
		c := t.children[p.name]
		last := i == len(parts)-1
		switch {
		case c == nil:
			c = &node{shape: tableShape, key: p.at, at: p.at, header: last}
			if last && array {
				list := &node{shape: arrayShape, key: p.at, at: p.at, tables: true, items: []*node{c}}
				t.add(p.name, list)
				return c
			}
			t.add(p.name, c)
		case c.shape == arrayShape && c.tables && last && array:
			item := &node{shape: tableShape, key: p.at, at: p.at, header: true}
			c.items = append(c.items, item)
			return item
		case c.shape == arrayShape && c.tables && !last:
			c = c.items[len(c.items)-1]
		case c.shape == tableShape && !c.inline && !last:
		case c.shape == tableShape && !c.inline && !c.header && !c.dotted && !array:
			c.header, c.key, c.at = true, p.at, p.at
		default:
			r.again(p, path(parts[:i+1]), c)
			return nil
		}
		t = c
	}
	return t
}

// again reports a second definition.
func (r *reader) again(p part, path string, first *node) {
	r.fail(p.at, path, "a second definition", fmt.Sprintf("one, the first is at line %d", first.key.line))
}

// keyValue adds a possibly dotted key to table t, whose path is prefix.
func (r *reader) keyValue(t *node, n *unstable.Node, prefix string) {
	parts, end := r.parts(n.Key())
	for i, p := range parts[:len(parts)-1] {
		c := t.children[p.name]
		switch {
		case c == nil:
			c = &node{shape: tableShape, key: p.at, at: p.at, dotted: true}
			t.add(p.name, c)
		case c.shape != tableShape || !c.dotted:
			r.again(p, prefix+path(parts[:i+1]), c)
			return
		}
		t = c
	}
	p := parts[len(parts)-1]
	if first := t.children[p.name]; first != nil {
		r.again(p, prefix+path(parts), first)
		return
	}
	// Lists have no place of their own: it is after the equals sign.
	data := r.data[r.base:]
	for end < len(data) && (data[end] == ' ' || data[end] == '\t' || data[end] == '=') {
		end++
	}
	v := r.value(n.Value(), r.place(end), prefix+path(parts))
	v.key = p.at
	t.add(p.name, v)
}

// value converts a value; at is where it is when it doesn't say so itself.
func (r *reader) value(n *unstable.Node, at position, name string) *node {
	v := &node{at: at, text: string(n.Data)}
	if n.Raw.Length > 0 {
		v.at = r.place(int(n.Raw.Offset))
	}
	v.key = v.at
	switch n.Kind {
	case unstable.String:
		v.shape = textShape
	case unstable.Integer:
		v.shape = integerShape
	case unstable.Float:
		v.shape = floatShape
	case unstable.Bool:
		v.shape = booleanShape
	case unstable.Array:
		v.shape, v.inline, v.text = arrayShape, true, ""
		for it := n.Children(); it.Next(); {
			v.items = append(v.items, r.value(it.Node(), at, name))
		}
	case unstable.InlineTable:
		v.shape, v.inline, v.text = tableShape, true, ""
		for it := n.Children(); it.Next(); {
			r.keyValue(v, it.Node(), name+".")
		}
	default:
		v.shape = momentShape
	}
	return v
}

// merge lays the table over on the table base: tables key by key, all else
// replaced. Of two keys that say the same, the one in over removes both.
func merge(base, over *node) *node {
	if base == nil || base.shape != tableShape || over.shape != tableShape {
		return over
	}
	for _, pair := range alternatives() {
		if over.children[pair[0]] != nil || over.children[pair[1]] != nil {
			base.remove(pair[0])
			base.remove(pair[1])
		}
	}
	m := &node{shape: tableShape, key: over.key, at: over.at}
	for _, k := range base.keys {
		c := base.children[k]
		if o := over.children[k]; o != nil {
			c = merge(c, o)
		}
		m.add(k, c)
	}
	for _, k := range over.keys {
		if base.children[k] == nil {
			m.add(k, over.children[k])
		}
	}
	return m
}
