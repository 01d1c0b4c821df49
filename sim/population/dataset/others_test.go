package dataset_test

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"boilwright/sim/population"
	"boilwright/sim/population/dataset"
)

// pythonReader prints what Python libraries make of the files, those that are
// there: rows, types and sums.
const pythonReader = `
import sys, json
out = {}
try:
    import pyarrow.parquet as pq
    t = pq.read_table(sys.argv[1])
    v = t.column("ohms dye:element").to_pylist()
    out["pyarrow"] = {"rows": t.num_rows, "volts": str(t.schema.field("volts dye:output standby rms").type), "tripped": str(t.schema.field("tripped fuse").type),
      "index": str(t.schema.field("index").type), "infinite": sum(x == float("inf") for x in v if x is not None), "healthy": sum(t.column("healthy").to_pylist()),
      "faults": sum(len(x) for x in t.column("truth").to_pylist()), "null": t.column("volts dye:output standby rms").null_count,
      "severity": sum(f["severity"] for x in t.column("truth").to_pylist() for f in x), "keys": sum(len(f["keys"]) for x in t.column("truth").to_pylist() for f in x)}
except ImportError:
    pass
try:
    import duckdb
    names = {"duckdb parquet": "read_parquet(?)", "duckdb csv": "read_csv(?)"}
    for (name, of), file in zip(names.items(), sys.argv[1:]):
        q = lambda what: duckdb.execute("select " + what + " from " + of, [file]).fetchone()[0]
        out[name] = {"rows": q("count(*)"), "volts": str(q('any_value(typeof("volts dye:output standby rms"))')).lower(), "tripped": str(q('any_value(typeof("tripped fuse"))')).lower(),
          "index": str(q('any_value(typeof("index"))')).lower(), "infinite": q('count(*) filter (isinf("ohms dye:element"))'), "healthy": q("count(*) filter (healthy)"),
          "null": q('count(*) filter ("volts dye:output standby rms" is null)')}
        if name.endswith("parquet"):
            out[name]["faults"] = q("sum(len(truth))")
            out[name]["severity"] = q("sum(list_sum([f.severity for f in truth]))")
            out[name]["keys"] = q("sum(list_sum([len(f.keys) for f in truth]))")
except ImportError:
    pass
print(json.dumps(out))
`

// outsideReader is the environment variable that names the program built from
// testdata/outside/read, as .ci/outside sets it.
const outsideReader = "BOILWRIGHT_READER"

// madeOf is what another program makes of a file; of what it cannot tell there
// is nothing.
type madeOf struct {
	Rows, Healthy, Null, Infinite int
	Volts, Tripped, Index         string
	Faults, Keys                  *int
	Severity, Sum                 *float64
}

// TestOtherReaders: programs of others find the same types and values.
func TestOtherReaders(t *testing.T) {
	python := os.Getenv("PYTHON")
	if python == "" {
		python = "/usr/bin/python3"
	}
	d := define(t, mixed)
	dir := t.TempDir()
	var rows []dataset.Row
	var names []string
	for _, f := range dataset.Formats() {
		name := filepath.Join(dir, "it's "+string(f))
		var data []byte
		rows, data, _ = written(t, d, f)
		if err := os.WriteFile(name, data, 0o666); err != nil {
			t.Fatal(err)
		}
		names = append(names, name)
	}
	got := map[string]madeOf{}
	ask := func(by string, args ...string) {
		cmd := exec.Command(by, append(args, names...)...)
		cmd.Stderr = os.Stderr
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%s: %v: %s", by, err, out)
		}
		if err := json.Unmarshal(out, &got); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := exec.LookPath(python); err == nil {
		ask(python, "-c", pythonReader)
	}
	if program := os.Getenv(outsideReader); program != "" {
		ask(program)
	}
	if len(got) == 0 {
		t.Skipf("neither pyarrow nor duckdb can be imported by %s, and %s is not set; the library's own reader is tried in any case", python, outsideReader)
	}
	want := madeOf{Rows: len(rows)}
	faults, keys, severity, sum := 0, 0, 0.0, 0.0
	mains := slices.IndexFunc(d.Population.Columns(), func(c population.Column) bool { return c.Name == "supply.voltage" })
	for _, r := range rows {
		if r.Problem != "" {
			want.Null++
		} else if math.IsInf(r.Observed[1], 1) {
			want.Infinite++
		}
		if len(r.Faults) == 0 {
			want.Healthy++
		}
		sum += r.Drawn[mains]
		faults += len(r.Faults)
		for _, f := range r.Faults {
			severity += f.Severity
			keys += len(f.Keys)
		}
	}
	for name, g := range got {
		if g.Rows != want.Rows || g.Healthy != want.Healthy || g.Null != want.Null || g.Infinite != want.Infinite {
			t.Errorf("%s: found %+v, expected %+v", name, g, want)
		}
		if g.Volts != "" && (g.Volts != "double" || !strings.HasPrefix(g.Tripped, "bool") || g.Index != "int64" && g.Index != "bigint") {
			t.Errorf("%s: found types %s, %s and %s, expected a double, a boolean and an integer", name, g.Volts, g.Tripped, g.Index)
		}
		if g.Sum != nil && math.Abs(*g.Sum-sum) > 1e-9*sum {
			t.Errorf("%s: found voltages that sum to %v, expected %v", name, *g.Sum, sum)
		}
		if g.Faults != nil && (*g.Faults != faults || *g.Keys != keys || math.Abs(*g.Severity-severity) > 1e-9) {
			t.Errorf("%s: found %d faults, %d keys, severities of %v; expected %d, %d, %v", name, *g.Faults, *g.Keys, *g.Severity, faults, keys, severity)
		}
	}
	t.Logf("read in %d ways", len(got))
}
