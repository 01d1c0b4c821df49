package dataset_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"boilwright/sim/population/dataset"
)

// small is a population of which a board takes about a millisecond.
const small = `boards = 23
seed = 5
healthy = 0.3
more = 0.4
observe = [
  "volts dye:output standby",
  "ohms dye:element",
  "tripped",
]
waveforms = ["standby"]
[tolerances]
gate.resistance = "uniform 0.8 to 1.2"
[weights]
"dye:opto-one-way" = 4
`

const version = "9.9.9"

func define(t testing.TB, text string) *dataset.Definition {
	t.Helper()
	d, err := dataset.Parse("small.toml", []byte(text), version)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// part computes a shard into a new file.
func part(t testing.TB, d *dataset.Definition, o dataset.Options) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "part-"+filepath.Base(o.Shard.String()))
	if err := dataset.Compute(context.Background(), d, name, o); err != nil {
		t.Fatal(err)
	}
	return name
}

// merged is the bytes of both files of parts.
func merged(t testing.TB, f dataset.Format, names ...string) (rows, waves []byte) {
	t.Helper()
	ctx := context.Background()
	p, err := dataset.Open(ctx, names...)
	if err != nil {
		t.Fatal(err)
	}
	each := func(yield func(*dataset.Row) error) error { return p.Rows(ctx, yield) }
	var a, b bytes.Buffer
	if err := dataset.Write(&a, f, p.Description, each); err != nil {
		t.Fatal(err)
	}
	if len(p.Description.States) > 0 {
		if err := dataset.WriteWaveforms(&b, f, p.Description, each); err != nil {
			t.Fatal(err)
		}
	}
	return a.Bytes(), b.Bytes()
}

func read(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}
