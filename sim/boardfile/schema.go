package boardfile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"

	"boilwright/models"
	"boilwright/models/quantity"
)

// Schema returns a JSON Schema (draft 2020-12) of the board file, for editors
// that check TOML by one. It accepts every file that [Parse] accepts; Parse
// also checks the bounds of quantities and what lies between values.
func Schema() []byte {
	board := object(boardBranch())
	board["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	board["title"] = "board file"
	board["description"] = "One heater controller with its supply, channels, loads and boilers."
	defs := map[string]any{
		channelKey: object(channelBranch()),
		"duration": map[string]any{"type": "string", "pattern": quantity.DurationPattern(), "examples": []string{"25 min", "1 h 30 min"}},
	}
	for _, d := range quantity.Dimensions() {
		def := map[string]any{"type": "string", "pattern": quantity.Pattern(d), "examples": strings.Split(d.Example(), " or ")}
		if d == quantity.Number {
			def["type"] = []string{"string", "number"}
		}
		defs[defName(d)] = def
	}
	board["$defs"] = defs
	board["anyOf"] = []any{
		map[string]any{"required": []string{basedOnKey}},
		map[string]any{"required": []string{"supply"}},
	}
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(board); err != nil { // maps of texts and numbers; a test encodes all
		panic(fmt.Sprintf("boardfile: schema: %v", err))
	}
	return out.Bytes()
}

func refTo(def string) string { return "#/$defs/" + def }

func defName(d quantity.Dimension) string { return strings.ReplaceAll(d.String(), " ", "-") }

func object(b *branch) map[string]any {
	properties := map[string]any{}
	for _, k := range b.keys {
		properties[k] = property(b.children[k])
	}
	return map[string]any{"type": "object", "additionalProperties": false, "properties": properties}
}

func property(b *branch) map[string]any {
	ref := map[string]any{"$ref": refTo(channelKey)}
	name := channelName.String()
	switch {
	case b.other:
		return map[string]any{"type": "string", "pattern": b.field.other.pattern, "description": b.field.other.doc, "examples": []string{b.field.other.example}}
	case b.field != nil:
		return b.field.schema()
	case b.list != nil:
		items := object(b.items)
		var required []string
		for _, f := range b.list.fields {
			if f.essential {
				required = append(required, f.key)
			}
		}
		items["required"] = required
		return map[string]any{"type": "array", "description": b.list.doc, "items": items}
	case b.key == "":
		return object(b)
	}
	p := map[string]any{}
	switch b.key {
	case basedOnKey:
		p["type"], p["examples"] = "string", embeddedNames
	case channelsKey:
		p["type"], p["uniqueItems"], p["items"] = "array", true, map[string]any{"type": "string", "pattern": name}
		p["maxItems"] = maxChannels
	case channelKey:
		p["type"], p["additionalProperties"], p["patternProperties"] = "object", false, map[string]any{name: ref}
	case everyChannelKey:
		p = ref
	}
	for _, s := range structure {
		if s.key == b.key {
			p["description"] = s.doc
		}
	}
	return p
}

func (f *field) schema() map[string]any {
	doc := f.doc
	if f.usual != "" {
		doc += " (usually " + f.usual + ")"
	}
	p := map[string]any{"description": doc}
	if f.def != "" && f.computed == "" {
		p["default"] = f.def
	}
	switch f.kind {
	case quantityKind:
		p["$ref"] = refTo(defName(f.dim))
		if f.dim == quantity.Number {
			f.numeric(p)
		}
	case quantitiesKind:
		p["type"], p["items"] = "array", map[string]any{"$ref": refTo(defName(f.dim))}
		p["default"] = strings.Split(f.def, ", ")
	case numberKind, integerKind:
		p["type"] = "number"
		if f.def != "" {
			p["default"] = json.Number(f.def)
		}
		if f.kind == integerKind {
			p["type"] = "integer"
		}
		if f.even {
			p["multipleOf"] = 2
		}
		f.numeric(p)
	case booleanKind:
		p["type"] = "boolean"
		if f.computed == "" {
			p["default"] = f.def == "true"
		}
	case textKind:
		p["type"], p["minLength"], p["maxLength"] = "string", f.min, f.max
	case choiceKind:
		p["enum"] = f.names
	case durationKind:
		p["$ref"] = refTo("duration")
	case nodeKind:
		p["type"], p["pattern"] = "string", nodePattern()
	case channelKind:
		p["type"] = "string"
	}
	return p
}

// numeric puts the finite bounds of a number into a schema.
func (l *limits) numeric(p map[string]any) {
	if !math.IsInf(l.min, -1) {
		if l.above {
			p["exclusiveMinimum"] = l.min
		} else {
			p["minimum"] = l.min
		}
	}
	if !math.IsInf(l.max, 1) {
		p["maximum"] = l.max
	}
}

// nodePattern matches the written names of nodes, channels from 1.
func nodePattern() string {
	var names []string
	for _, n := range models.NodeNames() {
		if bare, ok := strings.CutSuffix(n, "K"); ok {
			n = bare + "0*[1-9][0-9]?"
		}
		names = append(names, n)
	}
	return "^(" + strings.Join(names, "|") + ")$"
}
