package command

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

func addJSONFlag(cmd *cobra.Command, to *bool) {
	cmd.Flags().BoolVar(to, "json", false, "print a document for machines; see \"boilwright help json\"")
}

// writeJSON writes a document, keys in the order of its fields.
func writeJSON(w io.Writer, document any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(document)
}

// number is a number of a document: 9 significant digits, so that the last
// bits of a sum do not show. What is no number, such as the resistance of an
// open circuit, is null; such fields are of type optional.
type number float64

// optional is a number that may be missing: NaN and infinities are null.
type optional float64

// missing is an optional number that is not there.
var missing = optional(math.NaN())

const digits = 9

// MarshalJSON writes the shortest decimal that has so many digits.
func (x number) MarshalJSON() ([]byte, error) {
	v := float64(x)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil, fmt.Errorf("found %v, expected a finite number", v)
	}
	v, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return nil, err
	}
	return json.Marshal(v + 0) // no negative zero
}

// MarshalJSON writes null for what is not there.
func (x optional) MarshalJSON() ([]byte, error) {
	if v := float64(x); math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return number(x).MarshalJSON()
}

// seconds is a time that comes, or null for one that never did.
func seconds(d time.Duration) optional {
	if d < 0 {
		return missing
	}
	return optional(d.Seconds())
}

// schemaName is what a document's schema field says.
func schemaName(document string) string { return "boilwright/" + document + "/1" }

// documentKind is one kind of document that --json prints.
type documentKind struct {
	name    string
	command string
	zero    any
}

func findDocument(name string) (documentKind, bool) {
	for _, d := range documents {
		if d.name == name {
			return d, true
		}
	}
	return documentKind{}, false
}

// jsonTopic is the help topic on documents. Its text is made when it is asked
// for.
func jsonTopic() *cobra.Command {
	cmd := &cobra.Command{Use: "json", Short: "The documents that --json prints"}
	cmd.SetHelpFunc(func(cmd *cobra.Command, _ []string) { fmt.Fprintln(cmd.OutOrStdout(), jsonText()) })
	return cmd
}

func jsonText() string {
	var b strings.Builder
	b.WriteString(wrapped(`Every command takes --json and prints one document, an object whose first field,
schema, names its kind and the version of its form: a field may be added within a version; a field that is
removed or means something else makes a new version. Keys come in the order below. Names end in their unit:
_s seconds, _degc degrees Celsius, _k kelvins, _v volts, _a amperes, _w watts, _j joules, _ohm ohms, _pa pascals
absolute, _kg kilograms. A number has 9 significant digits. Null is a value that does not exist, such as the time
of what never happened or the resistance of an open circuit. "boilwright schema DOCUMENT" prints the same as
JSON Schema.`))
	for _, d := range documents {
		fmt.Fprintf(&b, "\n\n%s, from %q:\n", schemaName(d.name), d.command)
		t := newTable(&b, "  ", "field", "type", "meaning")
		describe(t, "", reflect.TypeOf(d.zero))
		t.flush()
	}
	return strings.TrimRight(b.String(), "\n")
}

// jsonName is the key of a field.
func jsonName(f reflect.StructField) (name string, omitted bool) {
	name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
	return name, strings.Contains(options, "omitempty")
}

// describe adds a row for each field of a struct.
func describe(t *table, prefix string, typ reflect.Type) {
	for typ.Kind() == reflect.Pointer {
		typ = typ.Elem()
	}
	for i := range typ.NumField() {
		f := typ.Field(i)
		name, _ := jsonName(f)
		inner, kind := f.Type, ""
		for inner.Kind() == reflect.Slice || inner.Kind() == reflect.Pointer && inner.Elem().Kind() == reflect.Struct {
			if inner.Kind() == reflect.Slice {
				name += "[]"
			}
			inner = inner.Elem()
		}
		kind = strings.Join(typeNames(inner), " or ")
		t.row(prefix+name, kind, f.Tag.Get("doc"))
		if inner.Kind() == reflect.Struct {
			describe(t, prefix+name+".", inner)
		}
	}
}

// typeNames are the JSON types of a Go type.
func typeNames(t reflect.Type) []string {
	switch {
	case t == reflect.TypeFor[optional]():
		return []string{"number", "null"}
	case t == reflect.TypeFor[nullable]():
		return []string{"string", "null"}
	}
	switch t.Kind() {
	case reflect.Bool:
		return []string{"boolean"}
	case reflect.String:
		return []string{"string"}
	case reflect.Float32, reflect.Float64:
		return []string{"number"}
	case reflect.Struct, reflect.Map:
		return []string{"object"}
	case reflect.Interface:
		return []string{"number", "boolean", "string", "null"}
	case reflect.Pointer:
		return append(typeNames(t.Elem()), "null")
	case reflect.Slice:
		return []string{"array"}
	}
	return []string{"integer"}
}

// nullable is a text that may be missing: empty is null.
type nullable string

// MarshalJSON writes null for what is not there.
func (s nullable) MarshalJSON() ([]byte, error) {
	if s == "" {
		return []byte("null"), nil
	}
	return json.Marshal(string(s))
}
