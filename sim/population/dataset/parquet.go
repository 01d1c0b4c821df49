package dataset

import (
	"encoding/json"
	"io"

	"github.com/parquet-go/parquet-go"
)

// How much a row group has: memory is bounded, and a file is the same whatever
// the parts were.
const (
	groupCells      = 1 << 20 // values of rows
	leastGroup      = 64      // boards
	mostGroup       = 1 << 16
	groupWaveBoards = 64
)

// groupBoards is how many boards a row group has.
func (d *Description) groupBoards() uint64 {
	return min(max(groupCells/uint64(len(d.Columns)), leastGroup), mostGroup)
}

// DescriptionKey is the key of the metadata of a Parquet file under which its
// [Description] is, as JSON.
const DescriptionKey = "boilwright.dataset"

// ordered is a group whose fields have an order of their own.
type ordered struct {
	parquet.Group
	names []string
}

// Fields lists the fields in order.
func (o *ordered) Fields() []parquet.Field {
	byName := map[string]parquet.Field{}
	for _, f := range o.Group.Fields() {
		byName[f.Name()] = f
	}
	out := make([]parquet.Field, len(o.names))
	for i, name := range o.names {
		out[i] = byName[name]
	}
	return out
}

func (o *ordered) add(name string, n parquet.Node) *ordered {
	if o.Group == nil {
		o.Group = parquet.Group{}
	}
	o.Group[name] = n
	o.names = append(o.names, name)
	return o
}

func words() parquet.Node  { return parquet.Encoded(parquet.String(), &parquet.RLEDictionary) }
func double() parquet.Node { return parquet.Leaf(parquet.DoubleType) }
func single() parquet.Node { return parquet.Leaf(parquet.FloatType) }

// node is the type of a column.
func (c *Column) node() parquet.Node {
	n := double()
	switch c.Type {
	case Integer:
		n = parquet.Int(64)
	case Boolean:
		n = parquet.Leaf(parquet.BooleanType)
	case Word, Text:
		n = words()
	case List:
		keys := (&ordered{}).add("name", words()).add("value", words())
		n = parquet.List((&ordered{}).add("fault", words()).add("channel", parquet.Optional(words())).
			add("severity", double()).add("keys", parquet.List(keys)))
	}
	if c.Null {
		n = parquet.Optional(n)
	}
	return n
}

// newParquet begins a file with the columns.
func newParquet(w io.Writer, name string, d *Description, root *ordered) (*parquet.GenericWriter[any], error) {
	text, err := json.Marshal(d)
	if err != nil {
		return nil, err
	}
	return parquet.NewGenericWriter[any](w, parquet.NewSchema(name, root), parquet.Compression(&parquet.Zstd),
		parquet.CreatedBy("boilwright", d.Program, ""), parquet.KeyValueMetadata(DescriptionKey, string(text))), nil
}

// parquetRows writes a Parquet file.
type parquetRows struct {
	w      *parquet.GenericWriter[any]
	d      *Description
	group  uint64 // boards of a row group
	values []value
	cells  parquet.Row
	begun  bool
}

func newParquetRows(w io.Writer, d *Description) (*parquetRows, error) {
	root := &ordered{}
	for i := range d.Columns {
		root.add(d.Columns[i].Name, d.Columns[i].node())
	}
	f, err := newParquet(w, "row", d, root)
	return &parquetRows{w: f, d: d, group: d.groupBoards()}, err
}

func (t *parquetRows) row(r *Row) error {
	if t.begun && r.Index%t.group == 0 {
		if err := t.w.Flush(); err != nil {
			return err
		}
	}
	t.begun = true
	t.cells = t.cells[:0]
	column := 0
	put := func(v parquet.Value, repeated, defined int) {
		t.cells = append(t.cells, v.Level(repeated, defined, column))
	}
	plain := func(v any) {
		put(parquet.ValueOf(v), 0, 0)
		column++
	}
	null := parquet.Value{}
	optional := func(isNull bool, v any) {
		if isNull {
			put(null, 0, 0)
		} else {
			put(parquet.ValueOf(v), 0, 1)
		}
		column++
	}
	plain(int64(r.Index))
	plain(int64(t.d.Seed))
	optional(r.Problem == "", r.Problem)
	plain(len(r.Faults) == 0)
	plain(r.faultsText())
	column = t.truth(r, column)
	t.values = t.d.values(t.values[:0], r)
	for i := range t.values {
		v := &t.values[i]
		var x any = v.number
		switch v.kind {
		case Boolean:
			x = v.number != 0
		case Word:
			x = v.text
		}
		if t.d.Columns[len(t.d.Columns)-len(t.values)+i].Null {
			optional(v.null, x)
		} else {
			plain(x)
		}
	}
	_, err := t.w.WriteRows([]parquet.Row{t.cells})
	return err
}

// truth puts in the leaves of the list of faults: the values of each leaf one
// after the other, with the levels of the Dremel encoding of nested columns
// that Parquet has.
func (t *parquetRows) truth(r *Row, column int) int {
	list := t.d.truth(r)
	leaf := func(each func(put func(v parquet.Value, repeated, defined int))) {
		each(func(v parquet.Value, repeated, defined int) {
			t.cells = append(t.cells, v.Level(repeated, defined, column))
		})
		column++
	}
	perFault := func(of func(f *LineFault) (parquet.Value, int)) {
		leaf(func(put func(parquet.Value, int, int)) {
			if len(list) == 0 {
				put(parquet.Value{}, 0, 0)
			}
			for i := range list {
				v, defined := of(&list[i])
				put(v, min(i, 1), defined)
			}
		})
	}
	perKey := func(of func(k Key) string) {
		leaf(func(put func(parquet.Value, int, int)) {
			if len(list) == 0 {
				put(parquet.Value{}, 0, 0)
			}
			for i := range list {
				if len(list[i].Keys) == 0 {
					put(parquet.Value{}, min(i, 1), 1)
				}
				for j, k := range list[i].Keys {
					repeated := 2
					if j == 0 {
						repeated = min(i, 1)
					}
					put(parquet.ValueOf(of(k)), repeated, 2)
				}
			}
		})
	}
	perFault(func(f *LineFault) (parquet.Value, int) { return parquet.ValueOf(f.Fault), 1 })
	perFault(func(f *LineFault) (parquet.Value, int) {
		if f.Channel == nil {
			return parquet.Value{}, 1
		}
		return parquet.ValueOf(*f.Channel), 2
	})
	perFault(func(f *LineFault) (parquet.Value, int) { return parquet.ValueOf(f.Severity), 1 })
	perKey(func(k Key) string { return k.Name })
	perKey(func(k Key) string { return k.Value })
	return column
}

func (t *parquetRows) end() error { return t.w.Close() }

// parquetWaves writes waveforms to a Parquet file, a row an instant of a
// channel.
type parquetWaves struct {
	w     *parquet.GenericWriter[any]
	d     *Description
	group uint64 // of the last board
	rows  []parquet.Row
}

func newParquetWaves(w io.Writer, d *Description) (*parquetWaves, error) {
	root := &ordered{}
	for i := range d.Waveforms {
		c := &d.Waveforms[i]
		n := c.node()
		if c.Type == Number && c.Name != "time" {
			n = single()
		}
		root.add(c.Name, n)
	}
	f, err := newParquet(w, "waveform", d, root)
	return &parquetWaves{w: f, d: d}, err
}

func (t *parquetWaves) row(r *Row) error {
	if g := r.Index / groupWaveBoards; g != t.group {
		t.group = g
		if err := t.w.Flush(); err != nil {
			return err
		}
	}
	t.rows = t.rows[:0]
	for s := range r.Waves {
		x := &r.Waves[s]
		for k, channel := range t.d.Channels {
			for i := range samples {
				var row parquet.Row
				for c, v := range []any{int64(r.Index), t.d.States[s], channel, x.time(i), x.Supply[i], x.Voltage[k][i], x.Current[k][i]} {
					row = append(row, parquet.ValueOf(v).Level(0, 0, c))
				}
				t.rows = append(t.rows, row)
			}
		}
	}
	if len(t.rows) == 0 {
		return nil
	}
	_, err := t.w.WriteRows(t.rows)
	return err
}

func (t *parquetWaves) end() error { return t.w.Close() }
