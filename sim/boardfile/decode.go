package boardfile

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"boilwright/models"
	"boilwright/models/names"
)

// decoder turns the merged tree of a board into the board.
type decoder struct {
	root     *node
	leaf     string // the file that was asked for, before its bases
	channels []string
	entries  []*Entry
	origins  []Origin
	byPath   map[string]int  // into origins
	bad      map[string]bool // paths with a mistake already told
}

func (d *decoder) fail(at position, field string, w *wrong) {
	d.entries = append(d.entries, &Entry{File: at.file, Line: at.line, Column: at.column, Field: field, Found: w.found, Expected: w.expected})
}

// decode returns the board, where each value is from, and what is wrong.
// Where the file is not all TOML (partial) nothing is missed.
func decode(root *node, leaf string, partial bool) (*models.Board, []Origin, []*Entry) {
	d := &decoder{root: root, leaf: leaf, byPath: map[string]int{}, bad: map[string]bool{}}
	channels := d.channelNames(partial)
	d.walk(root, boardBranch(), "")
	b := &models.Board{Channels: make([]models.Channel, len(d.channels))}
	d.group(&boardGroup, b, b, []*node{root}, "", partial)
	for i, name := range d.channels {
		b.Channels[i].Name = name
		own, every := channels[i], root.child(everyChannelKey)
		unread := own != nil && own.shape != tableShape // told already
		d.group(&channelGroup, b, &b.Channels[i], []*node{own, every}, channelKey+"."+name+".", partial || unread)
	}
	d.rules(b)
	return b, d.origins, d.entries
}

// channelNames finds the channels in order and the table of each, which may
// be nil.
func (d *decoder) channelNames(partial bool) []*node {
	tables := d.root.child(channelKey)
	listed := d.root.child(channelsKey)
	if listed != nil && listed.shape != arrayShape {
		d.fail(listed.at, channelsKey, &wrong{listed.describe(), "a list of channel names"})
		listed = nil
	}
	var order []*node // whose text is a name
	switch {
	case listed != nil:
		order = listed.items
	case tables != nil:
		for _, k := range tables.keys {
			order = append(order, &node{text: k, at: tables.children[k].key})
		}
	}
	var nodes []*node
	for _, n := range order {
		if n.shape != textShape {
			d.fail(n.at, channelsKey, &wrong{n.describe(), "the name of a channel"})
			continue
		}
		if w := checkChannelName(n.text); w != nil {
			d.fail(n.at, channelsKey, w)
			continue
		}
		if slices.Contains(d.channels, n.text) {
			d.fail(n.at, channelsKey, &wrong{quote(n.text) + " twice", "different names"})
			continue
		}
		if len(d.channels) == maxChannels {
			d.fail(n.at, channelsKey, &wrong{"one more channel", fmt.Sprintf("at most %d", maxChannels)})
			break
		}
		d.channels = append(d.channels, n.text)
		nodes = append(nodes, tables.child(n.text))
	}
	if len(d.channels) == 0 && len(d.entries) == 0 && !partial {
		d.fail(d.root.at, channelKey, &wrong{"no channel", "at least one table [channel.NAME]"})
	}
	if listed != nil && tables != nil {
		for _, k := range tables.keys {
			c := tables.children[k]
			if !slices.Contains(d.channels, k) && c.key.file == listed.key.file {
				w := &wrong{"a channel that the key channels does not list", "one of " + oneOf(d.channels)}
				d.fail(c.key, channelKey+"."+k, w.meant(names.Nearest(k, d.channels)))
			}
		}
	}
	return nodes
}

// walk checks the keys of a table, reads the value of each field once, and
// tells every mistake at its place.
func (d *decoder) walk(n *node, b *branch, prefix string) {
	for _, k := range n.keys {
		c, path := n.children[k], prefix+k
		switch cb := b.children[k]; {
		case cb == nil:
			d.unknown(c, b, k, prefix)
		case cb.field != nil:
			d.leafValue(c, cb, n, path)
		case cb.list != nil:
			d.walkList(c, cb, path)
		case cb.key == basedOnKey:
		case cb.key == channelsKey:
		case c.shape != tableShape:
			d.fail(c.at, path, &wrong{c.describe(), "a table"})
		case cb.key == everyChannelKey:
			d.walk(c, channelBranch(), path+".")
		case cb.key == channelKey:
			for _, name := range c.keys {
				t := c.children[name]
				switch {
				case !slices.Contains(d.channels, name):
				case t.shape != tableShape:
					d.fail(t.at, path+"."+name, &wrong{t.describe(), "a table"})
				default:
					d.walk(t, channelBranch(), path+"."+name+".")
				}
			}
		default:
			d.walk(c, cb, path+".")
		}
	}
}

func (d *decoder) unknown(c *node, b *branch, k, prefix string) {
	w := &wrong{"the unknown key " + quote(k), "one of " + oneOf(b.keys)}
	if near := names.Nearest(k, b.keys); near != "" {
		w.expected = "a known key; did you mean " + near
	} else if p := channelBranch().where(k); p != nil {
		w.expected = "a known key; did you mean " + oneOf(p) + " of a channel"
	} else if p := boardBranch().where(k); p != nil {
		w.expected = "a known key; did you mean " + oneOf(p)
	}
	d.fail(c.key, prefix+k, w)
}

// leafValue reads a field's value from its node.
func (d *decoder) leafValue(c *node, b *branch, table *node, path string) {
	f := b.field
	var w *wrong
	if b.other {
		if table.children[lastKey(f.key)] != nil {
			w = &wrong{lastKey(f.key) + " and " + lastKey(f.other.key), "one of them"}
		} else if c.shape != textShape {
			w = &wrong{c.describe(), "text such as " + f.other.example}
		} else if v, err := f.other.parse(c.text); err != nil {
			w = wrongQuantity(c, err)
		} else {
			c.value = v
			w = f.check(v, d.channels)
		}
	} else {
		c.value, w = f.parse(c, d.channels)
	}
	if w != nil {
		c.bad = true
		d.fail(c.at, path, w)
	}
}

func (d *decoder) walkList(c *node, b *branch, path string) {
	if c.shape != arrayShape {
		d.fail(c.at, path, &wrong{c.describe(), "a list: one table [[" + path + "]] for each element"})
		return
	}
	if n := len(c.items); n > maxElements {
		d.fail(c.items[maxElements].at, path, &wrong{fmt.Sprintf("%d elements", n), fmt.Sprintf("at most %d", maxElements)})
		c.items = c.items[:maxElements]
	}
	for k, item := range c.items {
		p := element(path, k)
		if item.shape != tableShape {
			d.fail(item.at, p, &wrong{item.describe(), "a table"})
			continue
		}
		d.walk(item, b.items, p+".")
	}
}

// group fills the fields and lists of target from the first scope that has
// them, or the default.
func (d *decoder) group(g *group, b *models.Board, target any, scopes []*node, prefix string, partial bool) {
	for i := range g.fields {
		d.field(&g.fields[i], b, target, scopes, prefix, partial)
	}
	for i := range g.lists {
		l := &g.lists[i]
		var n *node
		for _, s := range scopes {
			if n = s.find(l.key); n != nil {
				break
			}
		}
		switch {
		case n != nil && n.shape == arrayShape:
		case l.def != "":
			n = defaultList(l)
		default:
			continue
		}
		l.resize(target, len(n.items))
		if len(n.items) == 0 {
			d.record(Origin{Path: prefix + l.key, Value: "none", Source: d.source(n), File: n.key.file, Line: n.key.line, Column: n.key.column})
		}
		for k, item := range n.items {
			if item.shape != tableShape {
				d.bad[element(prefix+l.key, k)] = true
				continue
			}
			for j := range l.fields {
				d.field(&l.fields[j], b, l.item(target, k), []*node{item}, element(prefix+l.key, k)+".", partial)
			}
		}
	}
}

// field sets one value of target.
func (d *decoder) field(f *field, b *models.Board, target any, scopes []*node, prefix string, partial bool) {
	path := prefix + f.key
	o := Origin{Path: path, Source: FromDefault, Written: f.written()}
	if _, ok := f.get(target); !ok {
		return // the part is not there
	}
	var n *node
	for _, s := range scopes {
		if n = s.find(f.key); n == nil && f.other != nil {
			n = s.find(f.other.key)
		}
		if n != nil {
			break
		}
	}
	switch {
	case n != nil && !n.bad && n.value != nil:
		f.set(target, n.value)
		if o.Source = d.source(n); o.Source != FromDefault {
			o.Written = n.written()
			o.File, o.Line, o.Column = n.at.file, n.at.line, n.at.column
		}
	case n != nil:
		d.bad[path] = true
		if f.essential {
			return
		}
		f.set(target, f.defaultOf(b, target, d.channels))
	case f.essential:
		d.bad[path] = true
		if !partial {
			w := &wrong{"nothing", f.bounds()}
			if f.kind != quantityKind {
				w.expected = f.expected(d.channels)
			}
			if f.other != nil {
				w.expected += ", or " + lastKey(f.other.key) + " such as " + f.other.example
			}
			d.fail(d.nearestTable(scopes, prefix, f.key), path, w)
		}
		return
	case f.presence:
		table := scopes[0].find(tableOf(f.key))
		f.set(target, table != nil && len(table.keys) > 0)
	default:
		f.set(target, f.defaultOf(b, target, d.channels))
	}
	v, _ := f.get(target)
	o.Value = f.format(v, d.channels)
	d.record(o)
}

func (d *decoder) record(o Origin) {
	d.byPath[o.Path] = len(d.origins)
	d.origins = append(d.origins, o)
}

func (d *decoder) source(n *node) Source {
	switch n.key.file {
	case "":
		return FromDefault
	case d.leaf:
		return FromFile
	}
	return FromBase
}

// nearestTable is the place of the innermost table that a missing key belongs
// into.
func (d *decoder) nearestTable(scopes []*node, prefix, key string) position {
	n := scopes[0]
	if n == nil { // a channel without a table of its own
		if n = d.root.child(channelsKey); n == nil {
			n = d.root
		}
		return n.at
	}
	for k := range strings.SplitSeq(key, ".") {
		c := n.child(k)
		if c == nil {
			break
		}
		n = c
	}
	return n.key
}

// rules tells the broken rules between values, at the value that was written
// closest to the reader.
func (d *decoder) rules(b *models.Board) {
	for _, v := range violations(b) {
		best, rank := told{}, Source(-1)
		var at position
		for _, t := range v {
			if d.isBad(t.path) {
				rank = -2
				break
			}
			o := Origin{}
			if i, ok := d.byPath[t.path]; ok {
				o = d.origins[i]
			}
			if rank == -1 || o.Source > rank {
				best, rank = t, o.Source
				at = position{o.File, o.Line, o.Column}
			}
		}
		switch {
		case rank == -2, best.path == channelKey, best.path == channelsKey: // told already
		case rank == FromDefault && len(d.entries) > 0: // computed from a value that was told already
		default:
			if at.file == "" {
				at = d.root.at
			}
			d.fail(at, best.path, &best.wrong)
		}
	}
}

// isBad reports whether a path, or the list element that it is in, was told
// already.
func (d *decoder) isBad(path string) bool {
	if d.bad[path] {
		return true
	}
	i := strings.LastIndexByte(path, ']')
	return i >= 0 && d.bad[path[:i+1]]
}

// defaultList returns the tree of a list's default, its values read.
func defaultList(l *list) *node { return defaultLists()[l.key] }

var defaultLists = sync.OnceValue(func() map[string]*node {
	trees := map[string]*node{}
	for _, l := range slices.Concat(boardGroup.lists, channelGroup.lists) {
		if l.def == "" {
			continue
		}
		root, entries := read("", []byte("x = "+l.def))
		d := &decoder{root: root}
		n := root.child("x")
		d.walkList(n, &branch{list: &l, items: branches(l.fields, nil)}, l.key)
		if len(entries) > 0 || len(d.entries) > 0 { // a mistake in the table itself; a test reads every default
			panic(fmt.Sprintf("boardfile: default of %s: %v %v", l.key, entries, d.entries))
		}
		trees[l.key] = n
	}
	return trees
})
