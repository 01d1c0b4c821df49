package checker

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/faults/rules"
	"boilwright/models"
	"boilwright/sim/population/evidence"
	"boilwright/sim/readings"
)

// Schema is the kind and version of all lines.
const Schema = "boilwright/checker/1"

// MaxLine is the longest line that is taken from a program, in bytes.
const MaxLine = 1 << 20

// MaxConclusions is how many conclusions one verdict may have.
const MaxConclusions = 1000

// Header is the first line to a program.
type Header struct {
	Schema      string       `json:"schema" doc:"kind and version of all lines"`
	Notice      string       `json:"notice" doc:"what to keep in mind"`
	Caution     string       `json:"caution" doc:"belongs beside every live test"`
	Observables []Observable `json:"observables" doc:"what can be observed on the board"`
	Channels    []Channel    `json:"channels" doc:"in order"`
	Meters      []string     `json:"meters" doc:"names of the board's meters"`
	Supply      float64      `json:"supply_v" doc:"nominal voltage of the supply"`
	Faults      []string     `json:"faults" doc:"names that a conclusion may have"`
}

// Observable is what can be observed, in a header.
type Observable struct {
	Name    string   `json:"name" doc:"as an answer asks for it"`
	Channel string   `json:"channel,omitempty" doc:"that it is about; missing for the whole board"`
	Meter   string   `json:"meter,omitempty" doc:"that it is read with; missing for none"`
	Kind    string   `json:"kind" doc:"number, whether or word"`
	Words   []string `json:"words,omitempty" doc:"of a word"`
	Unit    string   `json:"unit,omitempty" doc:"of a number; missing for a ratio"`
	Live    bool     `json:"live,omitempty" doc:"takes a meter on a board that has its supply: the caution applies"`
}

// Channel is the plate of a channel, in a header.
type Channel struct {
	Name       string  `json:"name" doc:"as a conclusion has it"`
	SetPoint   float64 `json:"set_point_degc" doc:"set point"`
	RatedWatts float64 `json:"rated_w" doc:"what the element takes, cold, at the nominal voltage"`
}

// Answer is what a program answers to the header.
type Answer struct {
	Schema      string   `json:"schema" doc:"as in the header"`
	Observables []string `json:"observables" doc:"names of those that it wants, each once"`
	Rules       []string `json:"rules,omitempty" doc:"names of its rules; missing where they are not known beforehand"`
	InHand      bool     `json:"in_hand,omitempty" doc:"every board is to come once with each meter in hand"`
}

// Question is a case for the program.
type Question struct {
	ID     uint64 `json:"id" doc:"to be answered with"`
	Meter  string `json:"meter,omitempty" doc:"in hand, where the answer asked for it"`
	Values []any  `json:"values" doc:"by the observables of the answer: number or \"inf\" or \"-inf\" or null for none, true or false, text"`
}

// Verdict is what a program answers to a question.
type Verdict struct {
	ID          uint64       `json:"id" doc:"of the question"`
	Conclusions []Conclusion `json:"conclusions,omitempty" doc:"in any order"`
	Error       string       `json:"error,omitempty" doc:"why it can't judge this case"`
}

// Conclusion is one conclusion of a verdict.
type Conclusion struct {
	Rule    string   `json:"rule" doc:"that it follows from"`
	Channel string   `json:"channel,omitempty" doc:"that it is about; missing for the board as a whole"`
	Faults  []string `json:"faults,omitempty" doc:"of which one is meant; missing for healthy"`
}

// NewHeader returns the first line that a program reads for a board, with a
// notice on what to keep in mind.
func NewHeader(b *models.Board, notice string) *Header { return header(b, notice, evidence.All(b)) }

func header(b *models.Board, notice string, all []evidence.Observable) *Header {
	h := &Header{Schema: Schema, Notice: notice, Caution: readings.LiveCaution, Observables: []Observable{}, Channels: []Channel{}, Meters: []string{},
		Supply: float64(b.Supply.Voltage), Faults: faults.Names()}
	for i := range b.Channels {
		c := &b.Channels[i]
		h.Channels = append(h.Channels, Channel{c.Name, float64(c.Control.SetPoint), h.Supply * h.Supply / float64(c.Element.Resistance)})
	}
	for i := range b.Meters {
		h.Meters = append(h.Meters, b.Meters[i].Name)
	}
	for i := range all {
		o := &all[i]
		x := Observable{Name: o.Name, Kind: o.Kind.String(), Words: o.Words, Unit: o.Unit, Live: o.Live}
		if o.Channel >= 0 {
			x.Channel = b.Channels[o.Channel].Name
		}
		if o.Meter >= 0 {
			x.Meter = b.Meters[o.Meter].Name
		}
		h.Observables = append(h.Observables, x)
	}
	return h
}

// strict reads one JSON object of a line and nothing else.
func strict(line []byte, to any) error {
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	if err := d.Decode(to); err != nil {
		return fmt.Errorf("found %s, expected a JSON object: %s", shortened(string(line)), strings.TrimPrefix(err.Error(), "json: "))
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("found %s, expected one JSON object", shortened(string(line)))
	}
	return nil
}

func shortened(s string) string {
	if r := []rune(s); len(r) > 48 {
		s = string(r[:48]) + "…"
	}
	return fmt.Sprintf("%q", s)
}

// answer reads what a program answers to the header, and returns the
// observables that it wants.
func answer(line []byte, all []evidence.Observable) (*Answer, []evidence.Observable, error) {
	a := &Answer{}
	if err := strict(line, a); err != nil {
		return nil, nil, err
	}
	if a.Schema != Schema {
		return nil, nil, fmt.Errorf("schema: found %s, expected %q", shortened(a.Schema), Schema)
	}
	byName := map[string]int{}
	for i := range all {
		byName[all[i].Name] = i
	}
	var needs []evidence.Observable
	seen := map[string]bool{}
	for _, name := range a.Observables {
		i, known := byName[name]
		if !known || seen[name] {
			return nil, nil, fmt.Errorf("observables: found %s, expected names of the header, each once", shortened(name))
		}
		seen[name] = true
		needs = append(needs, all[i])
	}
	clear(seen)
	for _, r := range a.Rules {
		if r == "" || seen[r] {
			return nil, nil, fmt.Errorf("rules: found %s, expected names, each once", shortened(r))
		}
		seen[r] = true
	}
	return a, needs, nil
}

// question is the line of a case.
func question(id uint64, meter string, needs []evidence.Observable, values []float64) ([]byte, error) {
	q := Question{ID: id, Meter: meter, Values: make([]any, len(needs))}
	for i, v := range values {
		switch o := &needs[i]; {
		case math.IsNaN(v):
		case o.Kind == evidence.Whether:
			q.Values[i] = v != 0
		case o.Kind == evidence.Word:
			if v >= 0 && v < float64(len(o.Words)) {
				q.Values[i] = o.Words[int(v)]
			}
		case math.IsInf(v, 0):
			q.Values[i] = map[bool]string{true: "inf", false: "-inf"}[v > 0]
		default:
			q.Values[i] = v
		}
	}
	line, err := json.Marshal(&q)
	return append(line, '\n'), err
}

// errUnable is a verdict that says that there is none.
type errUnable string

func (e errUnable) Error() string { return "the program says: " + shortened(string(e)) }

// verdict reads what a program answers to the question with an id, for a board
// with these channels. names are those of its rules, nil for any. The
// conclusions come in the order of the rules and then of the channels.
func verdict(line []byte, id uint64, channels, names []string) ([]*rules.Conclusion, error) {
	v := &Verdict{}
	if err := strict(line, v); err != nil {
		return nil, err
	}
	switch {
	case v.ID != id:
		return nil, fmt.Errorf("id: found %d, expected %d", v.ID, id)
	case v.Error != "" && len(v.Conclusions) > 0:
		return nil, fmt.Errorf("error: found conclusions beside %s, expected one of them", shortened(v.Error))
	case v.Error != "":
		return nil, errUnable(v.Error)
	case len(v.Conclusions) > MaxConclusions:
		return nil, fmt.Errorf("conclusions: found %d, expected at most %d", len(v.Conclusions), MaxConclusions)
	}
	var out []*rules.Conclusion
	for i := range v.Conclusions {
		c, err := conclusion(&v.Conclusions[i], channels, names)
		if err != nil {
			return nil, fmt.Errorf("conclusions[%d].%w", i+1, err)
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b *rules.Conclusion) int {
		if n := slices.Index(names, a.Rule) - slices.Index(names, b.Rule); n != 0 {
			return n
		}
		if n := strings.Compare(a.Rule, b.Rule); n != 0 {
			return n
		}
		return a.Channel - b.Channel
	})
	return out, nil
}

func conclusion(c *Conclusion, channels, names []string) (*rules.Conclusion, error) {
	out := &rules.Conclusion{Rule: c.Rule, Channel: faults.WholeBoard, Faults: c.Faults}
	if c.Rule == "" || names != nil && !slices.Contains(names, c.Rule) {
		return nil, fmt.Errorf("rule: found %s, expected a rule of the answer", shortened(c.Rule))
	}
	if c.Channel != "" {
		if out.Channel = slices.Index(channels, c.Channel); out.Channel < 0 {
			return nil, fmt.Errorf("channel: found %s, expected one of %s", shortened(c.Channel), strings.Join(channels, ", "))
		}
	}
	for i, name := range c.Faults {
		f, known := faults.Find(name)
		switch {
		case !known:
			return nil, fmt.Errorf("faults: found %s, expected a fault's name", shortened(name))
		case slices.Contains(c.Faults[:i], name):
			return nil, fmt.Errorf("faults: found %q a second time, expected each once", name)
		case (f.Scope == faults.PerBoard) != (c.Channel == ""):
			return nil, fmt.Errorf("faults: found %q, a fault of a %s, expected one of what the conclusion is about", name, f.Scope)
		}
	}
	return out, nil
}
