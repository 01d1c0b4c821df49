package boardfile

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"boilwright/models/names"
)

// Population is what a population file says: which boards are drawn and what
// is kept of each. What its texts mean is not known here.
type Population struct {
	File string // as it was named
	// Board is the name of an embedded board, or a path from the folder of the
	// file; its Text is empty for the first embedded board.
	Board         Statement
	Seed, Boards  uint64
	Healthy, More float64     // ratios
	Only          []Statement // faults that are drawn; none for all
	Observe       []Statement // what is observed on each
	Waveforms     []Statement // states of which waveforms are kept
	Parameters    bool        // whether what was drawn for the parts is kept
	Tolerances    []Setting   // parameters drawn by another law
	Weights       []Setting   // faults drawn more or less often
}

// Setting is a statement about something that has a name.
type Setting struct {
	Statement
	Name  string
	Value float64 // of a number; Text is how it is written
}

// The most boards that a population file may ask for.
const maxBoards = 1_000_000_000

// What a population file has where it says nothing.
const (
	defaultSeed    = 1
	defaultHealthy = 0.5
	defaultMore    = 0.1
)

var populationKeys = []string{"board", "seed", "boards", "healthy", "more", "only", "observe", "waveforms", "parameters", "tolerances", "weights"}

// LoadPopulation reads the population file at path, see [ParsePopulation].
func LoadPopulation(path string) (*Population, error) {
	data, err := readFile(path)
	if err != nil {
		e := unreadable(path, position{}, err)
		e.Expected = "a population file"
		return nil, &Error{[]*Entry{e}}
	}
	return ParsePopulation(path, data)
}

// ParsePopulation reads a population file:
//
//	board = "our.toml"       # [the first embedded board]
//	boards = 100_000         # how many; needed
//	seed = 1                 # [1]
//	healthy = 0.5            # ratio of boards without a fault [0.5]
//	more = 0.1               # probability of one more fault [0.1]
//	only = ["opto-one-way"]  # faults that are drawn [all]
//	observe = ["volts"]      # what is observed on each
//	waveforms = ["heating"]  # states of which waveforms are kept [none]
//	parameters = true        # whether what was drawn is kept [true]
//
//	[tolerances]
//	gate.resistance = "uniform 0.8 to 1.2"
//
//	[weights]
//	opto-one-way = 3
//
// The error is an [*Error] with every mistake; with it comes what could be
// read, so that the caller can look for further ones. It is nil where there
// is nothing of use.
func ParsePopulation(name string, data []byte) (*Population, error) {
	if len(data) > MaxSize {
		return nil, &Error{[]*Entry{{File: name, Field: "size", Found: "more than 1 MiB", Expected: fmt.Sprintf("at most %d bytes", MaxSize)}}}
	}
	root, entries := read(name, bytes.Clone(data))
	r := &populationReader{entries: entries}
	p := &Population{File: name, Seed: defaultSeed, Healthy: defaultHealthy, More: defaultMore, Parameters: true}
	for _, key := range root.keys {
		n := root.children[key]
		switch key {
		case "board":
			if n.shape != textShape || n.text == "" {
				r.fail(n.at, key, n.describe(), "the name of an embedded board or the path of a file")
				continue
			}
			p.Board = statement(key, n)
		case "seed":
			r.integer(n, key, 0, math.MaxInt64, &p.Seed)
		case "boards":
			r.integer(n, key, 1, maxBoards, &p.Boards)
		case "healthy":
			r.number(n, key, "from 0 to 1", func(v float64) bool { return v >= 0 && v <= 1 }, &p.Healthy)
		case "more":
			r.number(n, key, "from 0 to below 1", func(v float64) bool { return v >= 0 && v < 1 }, &p.More)
		case "only":
			p.Only = r.texts(n, key)
		case "observe":
			p.Observe = r.texts(n, key)
		case "waveforms":
			p.Waveforms = r.texts(n, key)
		case "parameters":
			if n.shape != booleanShape {
				r.fail(n.at, key, n.describe(), "true or false")
				continue
			}
			p.Parameters = n.text == "true"
		case "tolerances":
			p.Tolerances = r.settings(n, key, "", false)
		case "weights":
			p.Weights = r.settings(n, key, "", true)
		default:
			w := (&wrong{"a key that is not known", "one of " + oneOf(populationKeys)}).meant(names.Nearest(key, populationKeys))
			r.fail(n.key, key, w.found, w.expected)
		}
	}
	if root.children["boards"] == nil && len(entries) == 0 {
		r.fail(root.at, "boards", "nothing", "a whole number, how many boards there are")
	}
	return p, errorOf(r.entries, []string{name})
}

func statement(key string, n *node) Statement {
	return Statement{key, n.text, n.at.file, n.at.line, n.at.column}
}

// populationReader gathers what is wrong with a population file.
type populationReader struct{ entries []*Entry }

func (r *populationReader) fail(at position, field, found, expected string) {
	r.entries = append(r.entries, &Entry{File: at.file, Line: at.line, Column: at.column, Field: field, Found: found, Expected: expected})
}

func (r *populationReader) integer(n *node, key string, least, most uint64, to *uint64) {
	v, err := strconv.ParseUint(strings.TrimPrefix(strings.ReplaceAll(n.text, "_", ""), "+"), 0, 64)
	if n.shape != integerShape || err != nil || v < least || v > most {
		r.fail(n.at, key, n.describe(), fmt.Sprintf("a whole number from %d to %d", least, most))
		return
	}
	*to = v
}

func (r *populationReader) number(n *node, key, bounds string, within func(float64) bool, to *float64) {
	v, err := strconv.ParseFloat(strings.ReplaceAll(n.text, "_", ""), 64)
	if n.shape != floatShape && n.shape != integerShape || err != nil || !within(v) {
		r.fail(n.at, key, n.describe(), "a number "+bounds)
		return
	}
	*to = v
}

// texts reads a text or a list of them.
func (r *populationReader) texts(n *node, key string) []Statement {
	items := []*node{n}
	if n.shape == arrayShape {
		items = n.items
	}
	var out []Statement
	for _, item := range items {
		if item.shape != textShape || item.text == "" {
			r.fail(item.at, key, item.describe(), "text")
			continue
		}
		out = append(out, statement(key, item))
	}
	return out
}

// settings reads a table of texts or of numbers. A name with dots may be
// written in tables.
func (r *populationReader) settings(n *node, key, prefix string, numbers bool) []Setting {
	if n.shape != tableShape {
		r.fail(n.at, key, n.describe(), "a table")
		return nil
	}
	var out []Setting
	for _, k := range n.keys {
		c, name := n.children[k], prefix+k
		s := Setting{Statement: statement(key+"."+name, c), Name: name}
		switch {
		case c.shape == tableShape:
			out = append(out, r.settings(c, key, name+".", numbers)...)
			continue
		case numbers:
			least := func(v float64) bool { return v >= 0 && !math.IsInf(v, 1) }
			before := len(r.entries)
			if r.number(c, s.Form, "of 0 or more", least, &s.Value); len(r.entries) > before {
				continue
			}
		case c.shape != textShape || c.text == "":
			r.fail(c.at, s.Form, c.describe(), "text")
			continue
		}
		out = append(out, s)
	}
	return out
}

// LoadBoard reads the board of the population: the first embedded one where
// none is named. Files are found from the folder of the population file. The
// error is an [*Error].
func (p *Population) LoadBoard() (*File, error) {
	name := p.Board.Text
	if name == "" {
		return Embedded(EmbeddedNames()[0])
	}
	if slices.Contains(EmbeddedNames(), name) {
		return Embedded(name)
	}
	if !filepath.IsAbs(name) {
		name = filepath.Join(filepath.Dir(p.File), name)
	}
	data, err := readFile(name)
	if err != nil {
		at := position{p.Board.File, p.Board.Line, p.Board.Column}
		e := unreadable(p.Board.Text, at, err)
		e.Field = p.Board.Form
		return nil, &Error{[]*Entry{e}}
	}
	return Parse(name, data, os.ReadFile)
}
