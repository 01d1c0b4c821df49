package command

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"

	"github.com/spf13/cobra"
)

func (a *app) schema() *cobra.Command {
	return &cobra.Command{
		Use:   "schema [DOCUMENT]",
		Short: "Print the JSON Schema of a document that --json prints",
		Long:  "Print the JSON Schema (draft 2020-12) of a document that --json prints, or list the documents.",
		Args:  cobra.MaximumNArgs(1),
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			var names []string
			if len(args) == 0 {
				for _, d := range documents {
					names = append(names, d.name+"\t"+d.command)
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				t := newTable(cmd.OutOrStdout(), "", "document", "schema", "from")
				for _, d := range documents {
					t.row(d.name, schemaName(d.name), d.command)
				}
				return t.flush()
			}
			d, ok := findDocument(args[0])
			if !ok {
				var names []string
				for _, d := range documents {
					names = append(names, d.name)
				}
				return misuse("document: found %q, expected one of %s", args[0], list(names, ""))
			}
			return writeJSON(cmd.OutOrStdout(), documentSchema(d))
		}),
	}
}

// object is a JSON object whose keys keep their order.
type object []member

type member struct {
	key   string
	value any
}

// documentSchema makes the schema of a document from its struct.
func documentSchema(d documentKind) object {
	return append(object{
		{"$schema", "https://json-schema.org/draft/2020-12/schema"},
		{"title", schemaName(d.name)},
		{"description", fmt.Sprintf("What %q prints.", d.command)},
	}, structSchema(reflect.TypeOf(d.zero), schemaName(d.name))...)
}

// structSchema closes the object: a document has the fields of its version
// and no others. name, where given, is what the field schema says.
func structSchema(t reflect.Type, name string) object {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	var properties object
	var required []string
	for i := range t.NumField() {
		f := t.Field(i)
		key, omitted := jsonName(f)
		s := typeSchema(f.Type)
		if key == "schema" && name != "" {
			s = append(s, member{"const", name})
		}
		properties = append(properties, member{key, append(s, member{"description", f.Tag.Get("doc")})})
		if !omitted {
			required = append(required, key)
		}
	}
	return object{{"type", "object"}, {"properties", properties}, {"required", required}, {"additionalProperties", false}}
}

func typeSchema(t reflect.Type) object {
	for t.Kind() == reflect.Pointer && t.Elem().Kind() == reflect.Struct {
		t = t.Elem()
	}
	switch names := typeNames(t); {
	case t.Kind() == reflect.Map:
		return object{{"type", "object"}, {"additionalProperties", typeSchema(t.Elem())}}
	case names[0] == "object":
		return structSchema(t, "")
	case names[0] == "array":
		return object{{"type", "array"}, {"items", typeSchema(t.Elem())}}
	case len(names) > 1:
		return object{{"type", names}}
	default:
		return object{{"type", names[0]}}
	}
}

// MarshalJSON writes the members in their order.
func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		for j, x := range []any{m.key, m.value} {
			if j > 0 {
				b.WriteByte(':')
			}
			e := json.NewEncoder(&b)
			e.SetEscapeHTML(false)
			if err := e.Encode(x); err != nil {
				return nil, err
			}
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}
