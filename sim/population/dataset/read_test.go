package dataset_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"boilwright/faults"
	"boilwright/sim/population"
	"boilwright/sim/population/dataset"
)

// mixed is a population with every type of column: an infinite number (an open
// path), truth values, boards without a fault and with several.
const mixed = `boards = 30
seed = 4
healthy = 0.2
more = 0.6
observe = ["volts dye:output standby rms", "ohms dye:element", "ohms soak:link", "tripped"]
waveforms = ["standby"]
`

// written is what the rows of a definition are, from itself, and as a file.
func written(t *testing.T, d *dataset.Definition, f dataset.Format) (rows []dataset.Row, data, waves []byte) {
	t.Helper()
	if err := d.Rows(context.Background(), 1, func(r *dataset.Row) error { rows = append(rows, *r); return nil }); err != nil {
		t.Fatal(err)
	}
	var a, b bytes.Buffer
	each := func(yield func(*dataset.Row) error) error {
		for i := range rows {
			if err := yield(&rows[i]); err != nil {
				return err
			}
		}
		return nil
	}
	if err := dataset.Write(&a, f, d.Description(), each); err != nil {
		t.Fatal(err)
	}
	if err := dataset.WriteWaveforms(&b, f, d.Description(), each); err != nil {
		t.Fatal(err)
	}
	return rows, a.Bytes(), b.Bytes()
}

// column is where a description has a column.
func column(t *testing.T, d *dataset.Description, name string) int {
	t.Helper()
	i := slices.IndexFunc(d.Columns, func(c dataset.Column) bool { return c.Name == name })
	if i < 0 {
		t.Fatalf("found no column %q", name)
	}
	return i
}

// TestReadParquet reads a Parquet file with the library's reader: schema,
// metadata, types, values.
func TestReadParquet(t *testing.T) {
	d := define(t, mixed)
	rows, data, waves := written(t, d, dataset.Parquet)
	f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	if text, ok := f.Lookup(dataset.DescriptionKey); !ok {
		t.Error("found no description in the metadata")
	} else {
		var got dataset.Description
		if err := json.Unmarshal([]byte(text), &got); err != nil || got.Fingerprint != d.Fingerprint() || len(got.Columns) != len(d.Description().Columns) {
			t.Errorf("found the description %+v, %v", got, err)
		}
	}
	describes := d.Description()
	fields := f.Schema().Fields()
	for i, c := range describes.Columns {
		want := map[dataset.Type]parquet.Kind{dataset.Integer: parquet.Int64, dataset.Boolean: parquet.Boolean, dataset.Number: parquet.Double, dataset.Text: parquet.ByteArray, dataset.Word: parquet.ByteArray}
		if fields[i].Name() != c.Name || fields[i].Optional() != c.Null || c.Type != dataset.List && fields[i].Type().Kind() != want[c.Type] {
			t.Errorf("column %d: found %s %v, expected %s %s", i, fields[i].Name(), fields[i], c.Name, c.Type)
		}
	}
	type key struct {
		Name  string `parquet:"name"`
		Value string `parquet:"value"`
	}
	type truth struct {
		Fault    string  `parquet:"fault"`
		Channel  *string `parquet:"channel,optional"`
		Severity float64 `parquet:"severity"`
		Keys     []key   `parquet:"keys,list"`
	}
	type row struct {
		Index   int64    `parquet:"index"`
		Seed    int64    `parquet:"seed"`
		Problem *string  `parquet:"problem,optional"`
		Healthy bool     `parquet:"healthy"`
		Faults  string   `parquet:"faults"`
		Truth   []truth  `parquet:"truth,list"`
		Volts   *float64 `parquet:"volts dye:output standby rms,optional"`
		Ohms    *float64 `parquet:"ohms dye:element,optional"`
		Link    *float64 `parquet:"ohms soak:link,optional"`
		Fuse    *bool    `parquet:"tripped fuse,optional"`
		Mains   float64  `parquet:"drawn supply.voltage"`
	}
	got, err := parquet.Read[row](bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != len(rows) {
		t.Fatalf("found %d rows, expected %d", len(got), len(rows))
	}
	mains := slices.IndexFunc(d.Population.Columns(), func(c population.Column) bool { return c.Name == "supply.voltage" })
	infinite, several := 0, 0
	for i, r := range rows {
		g := got[i]
		if g.Index != int64(i) || g.Seed != 4 || (g.Problem == nil) != (r.Problem == "") || g.Healthy != (len(r.Faults) == 0) || g.Mains != r.Drawn[mains] {
			t.Errorf("row %d: found %+v, expected %+v", i, g, r)
		}
		if len(g.Truth) != len(r.Faults) {
			t.Fatalf("row %d: found %d faults, expected %d", i, len(g.Truth), len(r.Faults))
		}
		var texts []string
		for j, x := range r.Faults {
			y := g.Truth[j]
			if y.Fault != x.Fault || y.Severity != x.Severity || len(y.Keys) != len(x.Keys) || (y.Channel == nil) != (x.Channel == faults.WholeBoard) ||
				y.Channel != nil && *y.Channel != describes.Channels[x.Channel] {
				t.Errorf("row %d: found %+v, expected %+v", i, y, x)
			}
			for k := range x.Keys {
				if y.Keys[k].Name != x.Keys[k].Name || y.Keys[k].Value != x.Keys[k].Value {
					t.Errorf("row %d: found key %v, expected %v", i, y.Keys[k], x.Keys[k])
				}
			}
			texts = append(texts, x.Text)
		}
		if len(r.Faults) > 1 {
			several++
		}
		if g.Faults != strings.Join(texts, "; ") {
			t.Errorf("row %d: found faults %q", i, g.Faults)
		}
		if r.Problem != "" {
			if g.Volts != nil || g.Fuse != nil {
				t.Errorf("row %d: found values with a problem", i)
			}
			continue
		}
		if *g.Volts != r.Observed[0] || *g.Ohms != r.Observed[1] || *g.Link != r.Observed[2] || *g.Fuse != (r.Observed[3] == 1) {
			t.Errorf("row %d: found %v %v %v %v, expected %v", i, *g.Volts, *g.Ohms, *g.Link, *g.Fuse, r.Observed)
		}
		if math.IsInf(*g.Link, 1) || math.IsInf(*g.Ohms, 1) {
			infinite++
		}
	}
	if infinite == 0 || several == 0 {
		t.Errorf("found %d boards with an infinite value and %d with several faults, expected some", infinite, several)
	}
	type instant struct {
		Index   int64   `parquet:"index"`
		State   string  `parquet:"state"`
		Channel string  `parquet:"channel"`
		Time    float64 `parquet:"time"`
		Supply  float32 `parquet:"supply_voltage"`
		Voltage float32 `parquet:"load_voltage"`
		Current float32 `parquet:"load_current"`
	}
	table, err := parquet.Read[instant](bytes.NewReader(waves), int64(len(waves)))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, r := range rows {
		for _, w := range r.Waves {
			for k, name := range describes.Channels {
				for i := range w.Supply {
					x := table[n]
					if x.Index != int64(r.Index) || x.State != "standby" || x.Channel != name || x.Supply != w.Supply[i] || x.Voltage != w.Voltage[k][i] || x.Current != w.Current[k][i] {
						t.Fatalf("instant %d: found %+v", n, x)
					}
					n++
				}
			}
		}
	}
	if n == 0 || n != len(table) {
		t.Errorf("found %d instants, expected %d", len(table), n)
	}
	// The mean square of the supply over its cycle is that of the drawn voltage,
	// up to what the wiring takes and harmonics add.
	for _, r := range rows {
		if len(r.Waves) == 0 || len(r.Faults) > 0 {
			continue
		}
		sum := 0.0
		for _, v := range r.Waves[0].Supply {
			sum += float64(v) * float64(v)
		}
		if rms := math.Sqrt(sum / float64(len(r.Waves[0].Supply))); math.Abs(rms/r.Drawn[mains]-1) > 0.03 {
			t.Errorf("board %d: found %.1f V rms, expected about the drawn %.1f V", r.Index, rms, r.Drawn[mains])
		}
	}
}

// TestReadCSV reads comma-separated values with the standard library's reader:
// every number is what it was, to the last bit.
func TestReadCSV(t *testing.T) {
	d := define(t, mixed)
	rows, data, waves := written(t, d, dataset.CSV)
	got, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	describes := d.Description()
	for i, c := range describes.Columns {
		if got[0][i] != c.Name {
			t.Errorf("column %d: found %q, expected %q", i, got[0][i], c.Name)
		}
	}
	first, drawn := column(t, describes, "volts dye:output standby rms"), len(describes.Columns)-len(rows[0].Drawn)
	for i, r := range rows {
		line := got[1+i]
		if line[0] != strconv.Itoa(i) || line[1] != "4" || line[2] != r.Problem || line[3] != strconv.FormatBool(len(r.Faults) == 0) {
			t.Errorf("row %d: found %q", i, line[:4])
		}
		var truth []dataset.LineFault
		if err := json.Unmarshal([]byte(line[5]), &truth); err != nil || len(truth) != len(r.Faults) {
			t.Errorf("row %d: found truth %q, %v", i, line[5], err)
		}
		for k, want := range r.Drawn {
			if v, err := strconv.ParseFloat(line[drawn+k], 64); err != nil || v != want {
				t.Errorf("row %d: found %q, expected %v", i, line[drawn+k], want)
			}
		}
		for k := range 3 {
			cell := line[first+k]
			if r.Problem != "" {
				if cell != "" {
					t.Errorf("row %d: found %q with a problem", i, cell)
				}
			} else if v, err := strconv.ParseFloat(cell, 64); err != nil || v != r.Observed[k] {
				t.Errorf("row %d: found %q, expected %v", i, cell, r.Observed[k])
			}
		}
	}
	if table, err := csv.NewReader(bytes.NewReader(waves)).ReadAll(); err != nil || len(table) < 1000 || len(table[0]) != len(describes.Waveforms) {
		t.Errorf("waveforms: found %d rows, %v", len(table), err)
	}
}

// TestReadLines reads JSON lines.
func TestReadLines(t *testing.T) {
	d := define(t, mixed)
	rows, data, waves := written(t, d, dataset.Lines)
	lines := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	if len(lines) != len(rows) {
		t.Fatalf("found %d lines, expected %d", len(lines), len(rows))
	}
	for i, r := range rows {
		var l dataset.Line
		e := json.NewDecoder(strings.NewReader(lines[i]))
		e.DisallowUnknownFields()
		if err := e.Decode(&l); err != nil {
			t.Fatal(err)
		}
		if l.Schema != "boilwright/row/1" || l.Index != r.Index || l.Seed != 4 || len(l.Truth) != len(r.Faults) || len(l.Drawn) != len(r.Drawn) || len(l.Observed) != len(d.Observables) {
			t.Errorf("row %d: found %+v", i, l)
		}
		for k, o := range d.Observables {
			var want any
			switch {
			case r.Problem != "":
			case math.IsInf(r.Observed[k], 1):
				want = "inf"
			case strings.HasPrefix(o.Name, "tripped"):
				want = r.Observed[k] == 1
			default:
				want = r.Observed[k]
			}
			if l.Observed[o.Name] != want {
				t.Errorf("row %d: %s: found %v, expected %v", i, o.Name, l.Observed[o.Name], want)
			}
		}
	}
	var w dataset.WaveLine
	text, _, _ := strings.Cut(string(waves), "\n")
	if err := json.Unmarshal([]byte(text), &w); err != nil || w.Schema != "boilwright/waveform/1" || len(w.Time) != len(w.Current) || len(w.Time) < 100 {
		t.Errorf("waveforms: found %+v, %v", w, err)
	}
}
