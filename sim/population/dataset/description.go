package dataset

import (
	"errors"
	"math"

	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
	"boilwright/sim/readings"
)

// Notice belongs with every data set.
const Notice = "simulated; a real board can differ; how often faults occur is assumed, so what depends on it, such as a predictive value, is no statistic"

// descriptionSchema names the kind and version of a description.
const descriptionSchema = "boilwright/dataset/1"

// Description tells what a data set is and what its columns are. It goes with
// every file.
type Description struct {
	Schema      string   `json:"schema" doc:"kind and version of this document"`
	Notice      string   `json:"notice" doc:"what to keep in mind"`
	Caution     string   `json:"caution" doc:"belongs beside every live test"`
	Program     string   `json:"program" doc:"version of the program"`
	Fingerprint string   `json:"fingerprint" doc:"SHA-256 of everything that the rows follow from"`
	Board       string   `json:"board" doc:"title of the board that the boards are drawn around"`
	Channels    []string `json:"channels" doc:"names of its channels, in order"`
	Seed        uint64   `json:"seed" doc:"of the draw"`
	Boards      uint64   `json:"boards" doc:"how many there are"`
	Columns     []Column `json:"columns" doc:"of the rows, one a board, in order"`
	States      []string `json:"states" doc:"of which there are waveforms"`
	Samples     int      `json:"samples" doc:"instants of a waveform, evenly over one cycle of the supply"`
	Waveforms   []Column `json:"waveforms" doc:"columns of the table of waveforms, in order; none without states"`
}

// Group tells what a column is about.
type Group string

// The groups, in the order of their columns.
const (
	OfRow    Group = "row"      // which board it is
	Truth    Group = "truth"    // what is wrong with it
	Observed Group = "observed" // the evidence
	Drawn    Group = "drawn"    // the parameters
)

// Type is what the values of a column are.
type Type string

// The types. In comma-separated values a list is the text of its JSON.
const (
	Integer Type = "integer" // not negative, 64 bits
	Boolean Type = "boolean"
	Number  Type = "number" // 64 bits; of waveforms 32
	Word    Type = "word"   // one of some texts
	Text    Type = "text"
	List    Type = "list" // of faults: fault, channel, severity, keys
)

// Column is a column of a data set.
type Column struct {
	Name     string   `json:"name" doc:"of the column"`
	Group    Group    `json:"group" doc:"row, truth, observed or drawn"`
	Type     Type     `json:"type" doc:"integer, boolean, number, word, text or list"`
	Unit     string   `json:"unit" doc:"of a number; empty for a ratio or a plain number"`
	Words    []string `json:"words" doc:"that a word is one of"`
	Null     bool     `json:"null" doc:"whether it is null where the board has no solution or there is nothing to tell"`
	Infinite bool     `json:"infinite" doc:"whether it may be infinite: beyond every range, open, never"`
	Live     bool     `json:"live" doc:"whether it takes a meter on a board that has its supply: the caution applies"`
	Doc      string   `json:"doc" doc:"what it is"`
}

// The columns that every data set begins with.
var rowColumns = []Column{
	{Name: "index", Group: OfRow, Type: Integer, Doc: "of the board in the population, from 0"},
	{Name: "seed", Group: OfRow, Type: Integer, Doc: "of the population; with the index and the population file it says which board it is"},
	{Name: "problem", Group: OfRow, Type: Text, Null: true, Doc: "why nothing could be observed: the board with its faults has no solution; null where something could"},
	{Name: "healthy", Group: Truth, Type: Boolean, Doc: "whether nothing is wrong with it"},
	{Name: "faults", Group: Truth, Type: Text, Doc: "what is wrong with it, each as --fault takes it, separated by \"; \"; empty for a healthy board"},
	{Name: "truth", Group: Truth, Type: List, Doc: "the same for machines: fault, a name of the catalogue; channel, its name, null for the board; severity, above 0 to 1; keys, each with name and value as text"},
}

var waveformColumns = []Column{
	{Name: "index", Group: OfRow, Type: Integer, Doc: "of the board in the population, from 0"},
	{Name: "state", Group: OfRow, Type: Word, Doc: "what the board is doing"},
	{Name: "channel", Group: OfRow, Type: Word, Doc: "name of the channel"},
	{Name: "time", Group: Observed, Type: Number, Unit: "s", Doc: "from the start of a cycle of the supply, when its voltage rises through zero"},
	{Name: "supply_voltage", Group: Observed, Type: Number, Unit: "V", Live: true, Doc: "line to neutral at the board"},
	{Name: "load_voltage", Group: Observed, Type: Number, Unit: "V", Live: true, Doc: "triac output across the load"},
	{Name: "load_current", Group: Observed, Type: Number, Unit: "A", Live: true, Doc: "through the wire from the triac output to the element"},
}

// DrawnPrefix begins the name of a column of a drawn parameter.
const drawnPrefix = "drawn "

// Description tells what the data set is.
func (d *Definition) Description() *Description {
	out := &Description{
		Schema: descriptionSchema, Notice: Notice, Caution: readings.LiveCaution, Program: d.Program, Fingerprint: d.Fingerprint(),
		Board: d.Board.Board.Name, Channels: d.names, Seed: d.Seed, Boards: d.Boards, States: []string{}, Waveforms: []Column{},
	}
	for _, c := range rowColumns {
		c.Words = []string{}
		out.Columns = append(out.Columns, c)
	}
	for i := range d.Observables {
		o := &d.Observables[i]
		c := Column{Name: o.Name, Group: Observed, Type: Number, Unit: o.Unit, Words: []string{}, Null: true, Infinite: true, Live: o.Live, Doc: d.forms[o.Form]}
		switch o.Kind {
		case evidence.Whether:
			c.Type, c.Infinite = Boolean, false
		case evidence.Word:
			c.Type, c.Infinite, c.Words = Word, false, o.Words
		}
		out.Columns = append(out.Columns, c)
	}
	if d.Parameters {
		for i := range d.columns {
			x := &d.columns[i]
			p, _ := population.FindParameter(x.Parameter)
			out.Columns = append(out.Columns, Column{Name: drawnPrefix + x.Name, Group: Drawn, Type: Number, Unit: x.Dimension.Unit(), Words: []string{},
				Doc: p.Doc + "; drawn as " + p.Kind.String() + " by the law " + x.Spread.String()})
		}
	}
	if len(d.Waveforms) == 0 {
		return out
	}
	out.Samples = samples
	for _, s := range d.Waveforms {
		out.States = append(out.States, s.String())
	}
	for _, c := range waveformColumns {
		c.Words = []string{}
		switch c.Name {
		case "state":
			c.Words = out.States
		case "channel":
			c.Words = out.Channels
		}
		out.Waveforms = append(out.Waveforms, c)
	}
	return out
}

// count is how many columns a group has.
func (d *Description) count(g Group) int {
	n := 0
	for i := range d.Columns {
		if d.Columns[i].Group == g {
			n++
		}
	}
	return n
}

// check tells what is wrong with a description that was read: it must be as
// Definition.Description makes it, as far as reading and writing rows go.
func (d *Description) check() error {
	wrong := errors.New("found a description of columns that contradicts itself")
	if d.Seed > math.MaxInt64 || d.Boards > math.MaxInt64 || len(d.Channels) == 0 || !alike(d.Columns, rowColumns, true) {
		return wrong
	}
	names := map[string]bool{}
	last := Truth
	for i := range d.Columns {
		c := &d.Columns[i]
		if names[c.Name] {
			return wrong
		}
		names[c.Name] = true
		if i < len(rowColumns) {
			continue
		}
		number := c.Type == Number || c.Type == Boolean || c.Type == Word
		observed := c.Group == Observed && last != Drawn && number && c.Null
		drawn := c.Group == Drawn && c.Type == Number && !c.Null
		if !observed && !drawn {
			return wrong
		}
		last = c.Group
	}
	if len(d.States) > 0 && (d.Samples != samples || !alike(d.Waveforms, waveformColumns, false)) {
		return wrong
	}
	return nil
}

// alike tells whether columns are, or begin with, the wanted ones.
func alike(found, wanted []Column, begin bool) bool {
	if len(found) < len(wanted) || !begin && len(found) > len(wanted) {
		return false
	}
	for i, w := range wanted {
		if f := &found[i]; f.Name != w.Name || f.Type != w.Type || f.Group != w.Group || f.Null != w.Null {
			return false
		}
	}
	return true
}
