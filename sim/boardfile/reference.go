package boardfile

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// Reference writes the reference of the board file in Markdown: every key
// with the values that it takes, its default, the range one meets and its
// meaning.
func Reference(w io.Writer) error {
	b := bufio.NewWriter(w)
	fmt.Fprintln(b, "# Board file")
	fmt.Fprintln(b)
	fmt.Fprintln(b, "One TOML file a board. Quantities are text with a unit: `\"1.5 kΩ\"`, `\"10 nF\"`, `\"25 min\"`.")
	fmt.Fprintln(b, "Defaults and usual ranges are generic handbook values, not those of any product.")
	fmt.Fprintln(b)
	fmt.Fprintln(b, "| key | meaning |")
	fmt.Fprintln(b, "|---|---|")
	for _, s := range structure {
		fmt.Fprintf(b, "| `%s` | %s |\n", s.key, s.doc)
	}
	referGroup(b, &boardGroup, "")
	fmt.Fprintln(b)
	fmt.Fprintln(b, "The tables that follow belong to one channel, or under `every-channel` to all.")
	referGroup(b, &channelGroup, channelKey+".NAME")
	return b.Flush()
}

func referGroup(w io.Writer, g *group, prefix string) {
	last := "-"
	for i := range g.fields {
		f := &g.fields[i]
		if t := join(prefix, tableOf(f.key)); t != last {
			last = t
			heading := "Top of the file"
			if t != "" {
				heading = "`[" + t + "]`"
			}
			referTable(w, heading, "")
		}
		referField(w, f)
	}
	for i := range g.lists {
		l := &g.lists[i]
		doc := l.doc
		if l.def != "" {
			doc += "; without it:\n\n```toml\n" + lastKey(l.key) + " = " + l.def + "\n```"
		}
		referTable(w, "`[["+join(prefix, l.key)+"]]`", doc)
		for j := range l.fields {
			referField(w, &l.fields[j])
		}
	}
}

func referTable(w io.Writer, heading, doc string) {
	fmt.Fprintf(w, "\n## %s\n\n", heading)
	if doc != "" {
		fmt.Fprintf(w, "%s\n\n", strings.ToUpper(doc[:1])+doc[1:])
	}
	fmt.Fprintln(w, "| key | value | default | usual | meaning |")
	fmt.Fprintln(w, "|---|---|---|---|---|")
}

func referField(w io.Writer, f *field) {
	def := f.written()
	if f.def != "" && f.computed == "" {
		def = "`" + f.def + "`"
	}
	value := f.expected(nil)
	switch f.kind {
	case durationKind:
		value = f.bounds()
	case nodeKind:
		value = "a node: L, N, PE, out1 …"
	case channelKind:
		value = "the name of a channel"
		if len(f.names) > 0 {
			value = oneOf(f.names) + ", or " + value
		}
	case numberKind:
		value = f.bounds()
	}
	fmt.Fprintf(w, "| `%s` | %s | %s | %s | %s |\n", lastKey(f.key), value, def, f.usual, f.doc)
	if f.other != nil {
		fmt.Fprintf(w, "| `%s` | text such as %s | | | in place of `%s`: %s |\n", lastKey(f.other.key), f.other.example, lastKey(f.key), f.other.doc)
	}
}

// Explain writes every value of a board that was read and where it comes
// from.
func Explain(w io.Writer, f *File) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "%s: %s\n", f.Name, f.Board.Name)
	if len(f.Bases) > 0 {
		fmt.Fprintf(b, "based on %s\n", strings.Join(f.Bases, ", which is based on "))
	}
	fmt.Fprintln(b)
	t := tabwriter.NewWriter(b, 0, 8, 2, ' ', 0)
	fmt.Fprintln(t, "field\tvalue\tfrom")
	for _, o := range f.Origins {
		from := "default"
		switch {
		case o.Source != FromDefault:
			from = fmt.Sprintf("%s:%d", o.File, o.Line)
		case o.Written != "" && o.Written != o.Value:
			from += ": " + o.Written
		}
		fmt.Fprintf(t, "%s\t%s\t%s\n", o.Path, oneLine(o.Value), from)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	return b.Flush()
}

// oneLine shows a text with its line breaks as spaces, shortened.
func oneLine(s string) string {
	const most = 40
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > most {
		s = string(r[:most-1]) + "…"
	}
	return s
}
