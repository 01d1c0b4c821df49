package boardfile

import (
	"bytes"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"boilwright/models"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/pelletier/go-toml/v2"
	"pgregory.net/rapid"
)

var keyPattern = regexp.MustCompile(`^[a-z0-9-]+(\.[a-z0-9-]+)*$`)

// Every row of the table says all that the reference promises, and its
// default is within its own bounds.
func TestTable(t *testing.T) {
	check := func(prefix string, fields []field) {
		seen := map[string]bool{}
		for i := range fields {
			f := &fields[i]
			name := prefix + f.key
			if !keyPattern.MatchString(f.key) || seen[f.key] {
				t.Errorf("%s: bad or repeated key", name)
			}
			seen[f.key] = true
			if f.doc == "" || strings.HasSuffix(f.doc, ".") {
				t.Errorf("%s: doc %q", name, f.doc)
			}
			if (f.kind == quantityKind || f.kind == quantitiesKind || f.kind == numberKind || f.kind == integerKind) && f.usual == "" {
				t.Errorf("%s: no usual range", name)
			}
			if (f.kind == quantityKind || f.kind == numberKind || f.kind == integerKind || f.kind == durationKind) && math.IsInf(f.min, -1) {
				t.Errorf("%s: no lower bound", name)
			}
			if f.kind != textKind && f.kind != booleanKind && f.kind != choiceKind && f.def == "" && f.compute == nil && !f.essential {
				t.Errorf("%s: neither default nor essential", name)
			}
			if f.kind == choiceKind && len(f.names) != len(f.values) {
				t.Errorf("%s: %d names for %d values", name, len(f.names), len(f.values))
			}
			if (f.compute == nil) != (f.computed == "") {
				t.Errorf("%s: a computed default without words", name)
			}
			if f.compute == nil && !f.essential {
				if w := f.check(f.defaultOf(nil, nil, nil), nil); w != nil {
					t.Errorf("%s: default: %v", name, w)
				}
			}
			if strings.Contains(f.doc+f.usual+f.def+f.computed, "|") {
				t.Errorf("%s: a bar breaks the reference", name)
			}
		}
	}
	check("", boardGroup.fields)
	check("channel.", channelGroup.fields)
	for _, l := range slices.Concat(boardGroup.lists, channelGroup.lists) {
		check(l.key+".", l.fields)
		if l.doc == "" {
			t.Errorf("%s: no doc", l.key)
		}
		if l.def != "" {
			defaultList(&l) // panics on a mistake
		}
	}
}

// full returns a board that uses every part of the format.
func full(t *testing.T) *models.Board {
	f, err := Parse("full", []byte(`
based-on = "dye-bench-230"
[[supply.harmonic]]
order = 3
voltage = "5 V"
[[supply.event]]
from = "1 min"
to = "2 min"
factor = "70 %"
[upstream-link]
functions = "200 °C"
[[controller.on-period]]
from = "0 s"
to = "8 h"
[[crossing]]
channel = "soak"
with = "steam"
[[bridge]]
name = "film"
from = "gate2"
to = "out3"
resistance = "10 kΩ"
part = "triac"
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	return f.Board
}

// Every value of a board has a row: changing any of them changes the text.
func TestTableIsComplete(t *testing.T) {
	b := full(t)
	before := Marshal(b)
	leaves := 0
	var walk func(v reflect.Value, path string)
	walk = func(v reflect.Value, path string) {
		switch v.Kind() {
		case reflect.Struct:
			for i := range v.NumField() {
				walk(v.Field(i), path+"."+v.Type().Field(i).Name)
			}
			return
		case reflect.Pointer:
			walk(v.Elem(), path)
			return
		case reflect.Slice, reflect.Array:
			if v.Len() == 0 {
				if !strings.HasSuffix(path, ".Draws") { // soak has none, dye has one
					t.Errorf("%s is empty in the test's board", path)
				}
				return
			}
			for i := range v.Len() {
				walk(v.Index(i), path)
			}
			return
		}
		leaves++
		old := reflect.New(v.Type()).Elem()
		old.Set(v)
		switch v.Kind() {
		case reflect.Float64:
			v.SetFloat(v.Float()*1.25 + 0.125)
			if math.IsInf(old.Float(), 1) {
				v.SetFloat(1)
			}
		case reflect.Int, reflect.Int64:
			v.SetInt(v.Int() + 1)
		case reflect.Bool:
			v.SetBool(!v.Bool())
		case reflect.String:
			v.SetString(v.String() + "x")
		default:
			t.Fatalf("%s is a %v", path, v.Kind())
		}
		if bytes.Equal(before, Marshal(b)) {
			t.Errorf("%s has no row in the table of fields", path)
		}
		v.Set(old)
	}
	walk(reflect.ValueOf(b), "Board")
	if !bytes.Equal(before, Marshal(b)) {
		t.Error("the board did not come back")
	}
	if leaves < 300 {
		t.Errorf("only %d values", leaves)
	}
}

// drawValue draws a value within the bounds of a field, its limits included.
func drawValue(t *rapid.T, f *field, path string, channels []string) any {
	high := f.max
	if math.IsInf(high, 1) {
		high = 1e12
	}
	number := func(label string) float64 {
		if f.infinite && rapid.IntRange(0, 4).Draw(t, label+" infinite") == 0 {
			return math.Inf(1)
		}
		low := f.min
		if f.above {
			low = math.Nextafter(low, high)
		}
		return rapid.OneOf(rapid.Float64Range(low, high), rapid.Just(low), rapid.Just(high)).Draw(t, label)
	}
	switch f.kind {
	case quantityKind, numberKind:
		return number(path)
	case quantitiesKind:
		s := rapid.SliceOfNDistinct(rapid.Float64Range(1e-3, f.max), 0, 5, func(x float64) float64 { return x }).Draw(t, path)
		slices.Sort(s)
		return s
	case integerKind:
		v := rapid.IntRange(int(f.min), int(high)).Draw(t, path)
		if f.even {
			v -= v % 2
		}
		return v
	case booleanKind:
		return rapid.Bool().Draw(t, path)
	case textKind:
		runes := rapid.SampledFrom([]rune{'a', 'Z', ' ', '"', '\\', '\'', '#', '[', 'Ω', '°', '\u2028', '😀'})
		if !f.singleLine {
			runes = rapid.OneOf(runes, rapid.SampledFrom([]rune{'\n', '\t'}))
		}
		return rapid.StringOfN(runes, int(f.min), min(int(f.max), 20), -1).Draw(t, path)
	case choiceKind:
		return rapid.SampledFrom(f.values).Draw(t, path)
	case durationKind:
		return time.Duration(rapid.Int64Range(0, int64(f.max)*int64(time.Second)).Draw(t, path))
	case nodeKind:
		p := models.Place(rapid.IntRange(0, int(models.SnubberTap)).Draw(t, path))
		return models.At(p, rapid.IntRange(0, len(channels)-1).Draw(t, path+" channel"))
	}
	return rapid.OneOf(rapid.IntRange(0, len(channels)-1), rapid.SampledFrom(append([]int{0}, f.values...))).Draw(t, path)
}

func drawGroup(t *rapid.T, g *group, target any, prefix string, channels []string) {
	for i := range g.fields {
		f := &g.fields[i]
		if f.presence {
			f.set(target, rapid.Bool().Draw(t, prefix+f.key))
		} else if _, ok := f.get(target); ok {
			f.set(target, drawValue(t, f, prefix+f.key, channels))
		}
	}
	for i := range g.lists {
		l := &g.lists[i]
		l.resize(target, rapid.IntRange(0, 2).Draw(t, prefix+l.key))
		for k := range l.length(target) {
			for j := range l.fields {
				l.fields[j].set(l.item(target, k), drawValue(t, &l.fields[j], prefix+l.key+"."+l.fields[j].key, channels))
			}
		}
	}
}

// Any board whose values are within bounds is written so that it reads back
// equal, or is rejected by Check and by reading alike.
func TestRoundTripOfAnyBoard(t *testing.T) {
	accepted := 0
	rapid.Check(t, func(t *rapid.T) {
		names := []string{"soak", "dye-2"}
		b := &models.Board{Channels: []models.Channel{{Name: names[0]}, {Name: names[1]}}}
		drawGroup(t, &boardGroup, b, "", names)
		for i := range b.Channels {
			c := &b.Channels[i]
			drawGroup(t, &channelGroup, c, names[i]+".", names)
			if rapid.IntRange(0, 9).Draw(t, "mend") > 0 { // the rules between values
				c.Triac.Latching, c.Triac.LatchingScale = max(c.Triac.Latching, 1e-6), max(c.Triac.LatchingScale, 1)
				c.Opto.Latching, c.Boiler.Water = max(c.Opto.Latching, 1e-6), max(c.Boiler.Water, 1e-6)
				c.Triac.Holding, c.Triac.HoldingScale = c.Triac.Latching*0.9, c.Triac.LatchingScale
				c.Opto.Holding = min(c.Opto.Latching, 1) / 2
				c.Boiler.Floor = c.Boiler.Water / 2
				c.Boiler.Reseat = 101325
				c.Probe.A = 0
				c.Thermostat.Closes = min(c.Thermostat.Closes, c.Thermostat.Opens-1)
				for k := range c.Boiler.Draws {
					d := &c.Boiler.Draws[k]
					d.To, d.Every = max(d.From, d.To)+1, 0
					d.Refill = -1
				}
			}
		}
		if rapid.IntRange(0, 9).Draw(t, "mend lists") > 0 {
			for i := range b.Supply.Harmonics {
				b.Supply.Harmonics[i].Order = 2 + i
			}
			for i := range b.Supply.Events {
				e := &b.Supply.Events[i]
				e.From, e.To = min(e.From, e.To)/2, max(e.From, e.To)/2+1
			}
			for i := range b.Controller.Schedule {
				p := &b.Controller.Schedule[i]
				p.From, p.To = min(p.From, p.To)/2, max(p.From, p.To)/2+1
			}
			for i := range b.Couplings {
				b.Couplings[i].A, b.Couplings[i].B = 0, 1
			}
			for i := range b.Crossings {
				b.Crossings[i].A, b.Crossings[i].B = 1, 0
			}
			for i := range b.Bridges {
				b.Bridges[i].From, b.Bridges[i].To = models.At(models.Gate, 1), models.At(models.Line, 0)
			}
			for i := range b.Meters {
				b.Meters[i].Name = "m" + string(rune('a'+i))
			}
			for i := range b.Clamps {
				b.Clamps[i].Name = "c" + string(rune('a'+i))
			}
		}
		text := Marshal(b)
		f, err := Parse("drawn", text, nil)
		if problem := Check(b); (problem == nil) != (err == nil) {
			t.Fatalf("Check: %v\nParse: %v\nof\n%s", problem, err, text)
		}
		if err != nil {
			return
		}
		accepted++
		if d := cmp.Diff(b, f.Board, cmpopts.EquateEmpty()); d != "" {
			t.Fatalf("read back (-written +read):\n%s\nfrom\n%s", d, text)
		}
	})
	if accepted == 0 {
		t.Error("no board was accepted")
	}
}

// fuzzTOML holds the corners of the TOML specification, v1.0.0, on tables,
// dotted keys and arrays that the tree must judge as the specification does.
var fuzzTOML = []string{
	"a = 1\na = 2\n",
	"[a]\n[a]\n",
	"[a.b]\n[a]\n",
	"[a]\nb.c = 1\n[a.b]\n",
	"[a]\nb.c = 1\n[a.b.d]\n",
	"[a.b.c]\n[a]\nb.d = 1\n",
	"a = {b = 1}\n[a]\n",
	"a = {b = 1}\na.c = 2\n",
	"a = {b.c = 1, b.d = 2}\n",
	"a = {b = 1, b = 2}\n",
	"a = [{b = 1}]\n[[a]]\n",
	"[[a]]\n[[a]]\nb = 1\n[a.c]\n",
	"[[a]]\n[a]\n",
	"[a]\n[[a]]\n",
	"[[a.b]]\n[a]\n",
	"[a.b]\n[[a.b]]\n",
	"a.b = 1\na = 2\n",
	"a = 1\na.b = 2\n",
	"a.b = 1\n[a]\n",
	"\"a.b\" = 1\na.b = 2\n",
	"[[a]]\nb.c = 1\n[[a]]\nb.c = 2\n",
	"[a]\n[a.b]\nc = 1\n[d]\n[a.e]\n",
	"a = \"\"\"\n[b]\n\"\"\"\n[b]\n",
	"a = [\n1,\n# comment\n2]\nb = 1 # c\n",
}

// The tree finds a mistake exactly where an independent decoder of the same
// grammar finds one, for documents of tables, numbers and text.
func sameJudgement(t *testing.T, data []byte) {
	var v map[string]any
	want := toml.Unmarshal(data, &v)
	_, entries := read("fuzz", data)
	if (want == nil) != (len(entries) == 0) {
		// Dates and the size of numbers are judged by the fields, not by the tree.
		if want != nil && regexp.MustCompile(`date|time|range|integer|offset|hour|minute|second|day|month|year`).MatchString(want.Error()) {
			return
		}
		t.Errorf("%q: the decoder says %v, the tree %v", data, want, entries)
	}
}

func TestTreeAgainstDecoder(t *testing.T) {
	for _, s := range fuzzTOML {
		sameJudgement(t, []byte(s))
	}
	line := rapid.SampledFrom([]string{
		"[a]", "[b]", "[a.b]", "[a.b.c]", "[[a]]", "[[b]]", "[[a.b]]", "[a.b.c.d]",
		"a = 1", "b = 1", "c = 1", "a.b = 1", "b.c = 1", "a.b.c = 1", "b.c.d = 1", "c = {a = 1}", "a = {}", "b = {c.d = 1}", "b = [{c = 1}]", "a = []",
	})
	rapid.Check(t, func(rt *rapid.T) {
		lines := rapid.SliceOfN(line, 1, 8).Draw(rt, "lines")
		sameJudgement(t, []byte(strings.Join(lines, "\n")+"\n"))
		if t.Failed() {
			rt.Fatalf("%q", lines)
		}
	})
}

func FuzzTree(f *testing.F) {
	for _, s := range fuzzTOML {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { sameJudgement(t, data) })
}
