package boardfile

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"unicode"

	"boilwright/models"
)

// Marshal writes a board as a file that reads back as an equal board: the
// essentials and every value that is not the default, in the order of the
// reference. A board that [Check] does not pass is written too, but its file
// may not read back.
func Marshal(b *models.Board) []byte {
	e := &encoder{board: b, index: map[string]int{}}
	for _, c := range b.Channels {
		e.channels = append(e.channels, c.Name)
	}
	e.section("")
	e.group(&boardGroup, b, "")
	for i := range b.Channels {
		e.group(&channelGroup, &b.Channels[i], channelKey+"."+bareKey(b.Channels[i].Name))
	}
	var out bytes.Buffer
	for _, s := range e.sections {
		if len(s.lines) == 0 {
			continue
		}
		if out.Len() > 0 {
			out.WriteByte('\n')
		}
		if s.header != "" {
			out.WriteString(s.header + "\n")
		}
		for _, l := range s.lines {
			out.WriteString(l + "\n")
		}
	}
	return out.Bytes()
}

// section is a table of the file with its lines.
type section struct {
	header string
	lines  []string
}

// encoder collects sections in order.
type encoder struct {
	board    *models.Board
	channels []string
	sections []*section
	index    map[string]int // of a table's section
}

func (e *encoder) section(table string) *section {
	if i, ok := e.index[table]; ok {
		return e.sections[i]
	}
	s := &section{}
	if table != "" {
		s.header = "[" + table + "]"
	}
	e.index[table] = len(e.sections)
	e.sections = append(e.sections, s)
	return s
}

func (e *encoder) group(g *group, target any, prefix string) {
	for i := range g.fields {
		f := &g.fields[i]
		if line, ok := e.field(f, target); ok {
			s := e.section(join(prefix, tableOf(f.key)))
			s.lines = append(s.lines, line)
		}
	}
	for i := range g.lists {
		l := &g.lists[i]
		n := l.length(target)
		if e.isDefault(l, target) {
			continue
		}
		if n == 0 {
			s := e.section(join(prefix, tableOf(l.key)))
			s.lines = append(s.lines, lastKey(l.key)+" = []")
		}
		for k := range n {
			s := &section{header: "[[" + join(prefix, l.key) + "]]"}
			for j := range l.fields {
				if line, ok := e.field(&l.fields[j], l.item(target, k)); ok {
					s.lines = append(s.lines, line)
				}
			}
			e.sections = append(e.sections, s)
		}
	}
}

func join(prefix, path string) string {
	if prefix == "" || path == "" {
		return prefix + path
	}
	return prefix + "." + path
}

// isDefault reports whether a list is what a file without it would give.
func (e *encoder) isDefault(l *list, target any) bool {
	n := l.length(target)
	if l.def == "" {
		return n == 0
	}
	d := &decoder{byPath: map[string]int{}, bad: map[string]bool{}}
	def := reflect.New(reflect.TypeOf(target).Elem()).Interface()
	d.group(&group{lists: []list{*l}}, e.board, def, nil, "", false)
	if l.length(def) != n {
		return false
	}
	for k := range n {
		if !reflect.DeepEqual(l.item(def, k), l.item(target, k)) {
			return false
		}
	}
	return true
}

// field returns the line of a value, or false where it is not needed.
func (e *encoder) field(f *field, target any) (string, bool) {
	v, ok := f.get(target)
	if !ok {
		return "", false
	}
	if !f.essential && reflect.DeepEqual(v, f.defaultOf(e.board, target, e.channels)) {
		return "", false
	}
	key := lastKey(f.key)
	switch f.kind {
	case numberKind, integerKind, booleanKind:
		return key + " = " + f.format(v, e.channels), true
	case quantitiesKind:
		var items []string
		if s := f.format(v, e.channels); s != "" {
			for item := range strings.SplitSeq(s, ", ") {
				items = append(items, basicString(item))
			}
		}
		return key + " = [" + strings.Join(items, ", ") + "]", true
	}
	return key + " = " + basicString(f.format(v, e.channels)), true
}

// bareKey writes a key, quoted where TOML asks for it.
func bareKey(k string) string {
	for _, r := range k {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_') {
			return basicString(k)
		}
	}
	if k == "" {
		return `""`
	}
	return k
}

// basicString writes a TOML basic string.
func basicString(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "\ufffd") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case unicode.IsControl(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
