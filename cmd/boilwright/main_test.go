package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"boilwright/cmd/boilwright/command"
)

var update = flag.Bool("update", false, "rewrite the expected texts in testdata/script")

func TestMain(m *testing.M) { testscript.Main(m, map[string]func(){"boilwright": main}) }

// TestScripts runs the scripts: every promise of the command line, typed in as
// a user would.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			dir, err := os.Getwd()
			e.Setenv("BOARDS", dir+"/../../testdata/boards")
			return err
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "valid": valid, "keys": keys, "lines": lines, "columns": columns,
		},
	})
}

// exits CODE PROGRAM ARG… runs a program that must end with the code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM [ARG…]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var e *exec.ExitError
	switch {
	case errors.As(err, &e):
		got = e.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("found exit code %d, expected %d", got, want)
	}
}

// valid FILE… checks documents against the schemas that they name and the
// program prints. A .jsonl file has a document a line.
func valid(ts *testscript.TestScript, neg bool, args []string) {
	for _, name := range args {
		documents := []string{ts.ReadFile(name)}
		if strings.HasSuffix(name, ".jsonl") {
			documents = strings.Split(strings.TrimSuffix(documents[0], "\n"), "\n")
		}
		for i, text := range documents {
			if err := validate(text); (err == nil) == neg {
				ts.Fatalf("%s, document %d: found error %v, expected valid to be %v", name, i+1, err, !neg)
			}
		}
	}
}

func validate(text string) error {
	document, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		return err
	}
	fields, _ := document.(map[string]any)
	name, _ := fields["schema"].(string)
	kind := strings.Split(name, "/")
	if len(kind) != 3 || kind[0] != "boilwright" || kind[2] != "1" {
		return fmt.Errorf("found schema %q, expected boilwright/DOCUMENT/1", name)
	}
	var out, errs bytes.Buffer
	if code := command.Execute(context.Background(), []string{"schema", kind[1]}, strings.NewReader(""), &out, &errs); code != command.Done {
		return fmt.Errorf("schema %s: exit code %d: %s", kind[1], code, errs.String())
	}
	schema, err := jsonschema.UnmarshalJSON(&out)
	if err != nil {
		return err
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("schema.json", schema); err != nil {
		return err
	}
	compiled, err := c.Compile("schema.json")
	if err != nil {
		return err
	}
	return compiled.Validate(document)
}

// keys FILE prints the keys of a document in their order; of a list the keys
// of the first object.
func keys(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: keys FILE")
	}
	d := json.NewDecoder(strings.NewReader(ts.ReadFile(args[0])))
	ts.Check(walk(ts.Stdout(), d, ""))
}

// walk prints the keys of the next value of d, if w is not nil.
func walk(w io.Writer, d *json.Decoder, prefix string) error {
	t, err := d.Token()
	if err != nil {
		return err
	}
	switch t {
	case json.Delim('{'):
		for d.More() {
			key, err := d.Token()
			if err != nil {
				return err
			}
			path := prefix + "." + key.(string)
			if w != nil {
				fmt.Fprintln(w, strings.TrimPrefix(path, "."))
			}
			if err := walk(w, d, path); err != nil {
				return err
			}
		}
	case json.Delim('['):
		for i := 0; d.More(); i++ {
			if i > 0 {
				w = nil
			}
			if err := walk(w, d, prefix+"[]"); err != nil {
				return err
			}
		}
	default:
		return nil
	}
	_, err = d.Token() // the closing one
	return err
}

// lines FILE COUNT checks how many lines a text has.
func lines(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: lines FILE COUNT")
	}
	if got := strings.Count(ts.ReadFile(args[0]), "\n"); strconv.Itoa(got) != args[1] {
		ts.Fatalf("%s: found %d lines, expected %s", args[0], got, args[1])
	}
}

// columns FILE COUNT checks that a table of comma-separated values has so
// many columns in every row, and numbers or words in all of them.
func columns(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: columns FILE COUNT")
	}
	rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[0]))).ReadAll()
	ts.Check(err)
	for i, r := range rows {
		if strconv.Itoa(len(r)) != args[1] {
			ts.Fatalf("%s: row %d: found %d columns, expected %s", args[0], i+1, len(r), args[1])
		}
		for j, cell := range r {
			if cell == "" || cell == "NaN" || strings.HasSuffix(cell, "Inf") {
				ts.Fatalf("%s: row %d, column %d: found %q, expected a number or a word", args[0], i+1, j+1, cell)
			}
		}
	}
}
