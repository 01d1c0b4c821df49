package command

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/sim/boardfile"
)

// execute runs a command line.
func execute(t testing.TB, ctx context.Context, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	code = Execute(ctx, args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

func Example() {
	code := Execute(context.Background(), []string{"board", "list"}, strings.NewReader(""), os.Stdout, os.Stderr)
	fmt.Println("exit code", code)
	// Output:
	// name              board
	// dye-bench-230     dye bench, 230 V 50 Hz
	// dye-bench-240     dye bench, 240 V 50 Hz
	// dye-bench-120     dye bench, 120 V 60 Hz
	// open-vat-230      dye bench with an open vat, 230 V 50 Hz
	// neutral-side-230  dye bench with triacs in the neutral, 230 V 50 Hz
	//
	// all invented for demonstration
	// exit code 0
}

// A document's struct must say what each of its fields means, in a form that
// the help and the schema can use.
func TestDocuments(t *testing.T) {
	for _, d := range documents {
		typ := reflect.TypeOf(d.zero)
		if name, _ := jsonName(typ.Field(0)); name != "schema" {
			t.Errorf("%s: found first field %q, expected schema", d.name, name)
		}
		if !strings.HasPrefix(d.command, "boilwright ") || !strings.HasSuffix(d.command, "--json") {
			t.Errorf("%s: found command %q", d.name, d.command)
		}
		checkFields(t, d.name, typ)
	}
}

func checkFields(t *testing.T, where string, typ reflect.Type) {
	seen := map[string]bool{}
	for i := range typ.NumField() {
		f := typ.Field(i)
		name, _ := jsonName(f)
		path := where + "." + name
		if name == "" || name != strings.ToLower(name) || seen[name] {
			t.Errorf("%s: found key %q of field %s, expected one of its own in lower case", where, name, f.Name)
		}
		seen[name] = true
		if f.Tag.Get("doc") == "" {
			t.Errorf("%s: found no doc, expected its meaning", path)
		}
		inner := f.Type
		for inner.Kind() == reflect.Slice {
			inner = inner.Elem()
		}
		if inner.Kind() == reflect.Struct {
			checkFields(t, path, inner)
		}
	}
}

func TestNumbers(t *testing.T) {
	tests := []struct {
		x    any
		want string
	}{
		{number(0.1 + 0.2), "0.3"},
		{number(math.Copysign(0, -1)), "0"},
		{number(1234567.891234), "1234567.89"},
		{number(1e-12), "1e-12"},
		{optional(math.Inf(1)), "null"},
		{missing, "null"},
		{optional(2.5), "2.5"},
		{seconds(-1), "null"},
		{seconds(1500 * time.Millisecond), "1.5"},
		{nullable(""), "null"},
		{nullable("dye"), `"dye"`},
		{object{{"z", 1}, {"a", "<"}}, `{"z":1,"a":"<"}`},
	}
	for _, x := range tests {
		var b bytes.Buffer
		e := json.NewEncoder(&b)
		e.SetEscapeHTML(false)
		if err := e.Encode(x.x); err != nil || strings.TrimSpace(b.String()) != x.want {
			t.Errorf("%v: found %q, %v, expected %q", x.x, b.String(), err, x.want)
		}
	}
	if _, err := json.Marshal(number(math.NaN())); err == nil {
		t.Error("found a number that is none written, expected an error")
	}
}

func TestCodes(t *testing.T) {
	tests := []struct {
		err   error
		begun bool
		want  int
	}{
		{nil, false, Done},
		{nil, true, Done},
		{errors.New("unknown flag"), false, Misuse},
		{errors.New("no consistent state"), true, Failed},
		{misuse("x"), true, Misuse},
		{fmt.Errorf("more: %w", misuse("x")), true, Misuse},
		{wrongInput(errors.New("x")), true, WrongInput},
		{unmet(errors.New("x")), true, Unmet},
		{errors.Join(errInterrupted, io.ErrShortWrite), true, Failed},
		{context.Canceled, true, Failed},
		{&boardfile.Error{}, true, WrongInput},
		{&faults.ParseError{}, true, Misuse},
	}
	for _, x := range tests {
		if got := code(x.err, x.begun); got != x.want {
			t.Errorf("%v, begun %v: found %d, expected %d", x.err, x.begun, got, x.want)
		}
	}
}

func TestProgress(t *testing.T) {
	var b bytes.Buffer
	p := &progress{w: &b, what: "run", last: -1}
	for i := range 1001 {
		p.show(time.Duration(i), 1000)
	}
	p.end()
	if got := strings.Count(b.String(), "\r"); got != 102 {
		t.Errorf("found %d changes of the line, expected one a percent, 0 to 100, and its end", got)
	}
	if !strings.Contains(b.String(), "\rrun: 37 %\r") || strings.Contains(b.String(), "\n") {
		t.Errorf("found %q", b.String())
	}
	b.Reset()
	quiet := &progress{what: "run", last: -1}
	quiet.show(1, 2)
	quiet.end()
	if b.Len() != 0 {
		t.Errorf("found %q, expected nothing", b.String())
	}
}

func TestText(t *testing.T) {
	long := strings.Repeat("word ", 40)
	for _, l := range strings.Split(indented("    ", long+"\n\n"+long), "\n") {
		if n := len([]rune(l)); n > lineWidth || l != "" && !strings.HasPrefix(l, "    word") {
			t.Errorf("found the line %q of %d characters", l, n)
		}
	}
	var b bytes.Buffer
	tab := newTable(&b, "  ", "a", "b")
	tab.row("Ωµ°", "x")
	tab.row("", "y")
	if err := tab.flush(); err != nil {
		t.Fatal(err)
	}
	if want := "  a    b\n  Ωµ°  x\n  -    y\n"; b.String() != want {
		t.Errorf("found %q, expected %q", b.String(), want)
	}
	for _, x := range []struct {
		v, step float64
		want    string
	}{{1.25, 0.1, "1.2"}, {230, 1, "230"}, {230, 10, "230"}, {0.0005, 0.0001, "0.0005"}, {-3, 0.01, "-3.00"}} {
		if got := steps(x.v, x.step); got != x.want {
			t.Errorf("%v in steps of %v: found %q, expected %q", x.v, x.step, got, x.want)
		}
	}
	for _, x := range []struct {
		rows []int
		want string
	}{{nil, ""}, {[]int{0}, "1"}, {[]int{0, 1}, "1,2"}, {[]int{0, 1, 2, 6, 8, 9, 10}, "1-3,7,9-11"}} {
		if got := rowNumbers(x.rows); got != x.want {
			t.Errorf("%v: found %q, expected %q", x.rows, got, x.want)
		}
	}
}

func TestParseSize(t *testing.T) {
	for _, text := range []string{"800 px", "512pt", "180 mm", "180mm"} {
		if s, err := parseSize(text); err != nil || s.Pixels == 0 && s.Width == 0 {
			t.Errorf("%q: found %v, %v", text, s, err)
		}
	}
	for _, text := range []string{"800", "px", "-3 mm", "3 in", "1e9 px", "NaN mm", "8 px px"} {
		if s, err := parseSize(text); err == nil {
			t.Errorf("%q: found %v, expected an error", text, s)
		}
	}
}

func TestParallel(t *testing.T) {
	got := make([]int, 100)
	err := parallel(len(got), func(i int) error {
		got[i] = i * i
		if i%40 == 3 {
			return fmt.Errorf("piece %d", i)
		}
		return nil
	})
	if want := "piece 3\npiece 43\npiece 83"; err == nil || err.Error() != want {
		t.Errorf("found %v, expected %q", err, want)
	}
	for i, x := range got {
		if x != i*i {
			t.Fatalf("piece %d: found %d", i, x)
		}
	}
	if err := parallel(0, nil); err != nil {
		t.Error(err)
	}
}

// The whole story, figures included, on as many cores as there are.
func BenchmarkDemo(b *testing.B) {
	dir := b.TempDir()
	b.ReportAllocs()
	for b.Loop() {
		var errs bytes.Buffer
		if code := Execute(context.Background(), []string{"demo", "--out", dir}, strings.NewReader(""), io.Discard, &errs); code != Done {
			b.Fatal(errs.String())
		}
	}
}
