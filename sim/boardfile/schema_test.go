package boardfile_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"boilwright/sim/boardfile"

	"github.com/pelletier/go-toml/v2"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// asJSON converts a TOML text to what a JSON schema judges.
func asJSON(t *testing.T, data []byte) any {
	t.Helper()
	var v map[string]any
	if err := toml.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	instance, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return instance
}

// The schema is valid by the meta-schema of draft 2020-12, accepts every
// board that Parse accepts and rejects what is wrong in form.
func TestSchema(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(boardfile.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("board.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("board.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range boardfile.EmbeddedNames() {
		text, _ := boardfile.EmbeddedSource(name)
		if err := schema.Validate(asJSON(t, text)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(asJSON(t, boardfile.Marshal(f.Board))); err != nil {
			t.Errorf("%s, written: %v", name, err)
		}
	}
	for _, name := range []string{"unknown", "dimensions", "missing", "channels", "empty"} {
		data, err := os.ReadFile(filepath.Join(badDir, name+".toml"))
		if err != nil {
			t.Fatal(err)
		}
		if schema.Validate(asJSON(t, data)) == nil {
			t.Errorf("%s.toml passes the schema", name)
		}
	}
	for _, bad := range []string{
		"supply.voltage = \"230\"", "supply.voltage = 230", "supply.volts = \"230 V\"", "controller.window = 99", "controller.window = 1.5",
		"channel.Soak = {}", "channel.soak.side = \"left\"", "channel.soak.element.rating = \"1200 W\"", "name = 1", "meter = [{}]",
		"channel.soak.draw = [{ from = \"30\", to = \"1 h\", flow = \"1 g/s\" }]", "bridge = [{ from = \"out\", to = \"L\", resistance = \"1 Ω\" }]",
		"every-channel.control.duty = 1.5", "every-channel.control.duty = \"1.5 V\"",
	} {
		if schema.Validate(asJSON(t, []byte("based-on = \"dye-bench-230\"\n"+bad))) == nil {
			t.Errorf("%s passes the schema", bad)
		}
	}
}
