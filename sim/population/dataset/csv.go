package dataset

import (
	"encoding/csv"
	"io"
	"strconv"
)

// csvRows writes comma-separated values (RFC 4180, with line feeds), under the
// names of the columns.
type csvRows struct {
	w      *csv.Writer
	d      *Description
	values []value
	cells  []string
}

func newCSVRows(w io.Writer, d *Description) (*csvRows, error) {
	t := &csvRows{w: csv.NewWriter(w), d: d}
	return t, t.w.Write(heads(d.Columns))
}

func heads(columns []Column) []string {
	var out []string
	for i := range columns {
		out = append(out, columns[i].Name)
	}
	return out
}

func (t *csvRows) row(r *Row) error {
	truth, err := encoded(t.d.truth(r))
	if err != nil {
		return err
	}
	t.cells = append(t.cells[:0], strconv.FormatUint(r.Index, 10), strconv.FormatUint(t.d.Seed, 10), r.Problem,
		strconv.FormatBool(len(r.Faults) == 0), r.faultsText(), string(truth))
	t.values = t.d.values(t.values[:0], r)
	for i := range t.values {
		v := &t.values[i]
		cell := ""
		switch {
		case v.null:
		case v.kind == Boolean:
			cell = strconv.FormatBool(v.number != 0)
		case v.kind == Word:
			cell = v.text
		default:
			cell = decimal(v.number)
		}
		t.cells = append(t.cells, cell)
	}
	return t.w.Write(t.cells)
}

func (t *csvRows) end() error {
	t.w.Flush()
	return t.w.Error()
}

// csvWaves writes waveforms, a row an instant of a channel.
type csvWaves struct {
	w *csv.Writer
	d *Description
}

func newCSVWaves(w io.Writer, d *Description) (*csvWaves, error) {
	t := &csvWaves{csv.NewWriter(w), d}
	return t, t.w.Write(heads(d.Waveforms))
}

func (t *csvWaves) row(r *Row) error {
	short := func(v float32) string { return strconv.FormatFloat(float64(v), 'g', -1, 32) }
	index := strconv.FormatUint(r.Index, 10)
	for s := range r.Waves {
		x := &r.Waves[s]
		for k, channel := range t.d.Channels {
			for i := range samples {
				err := t.w.Write([]string{index, t.d.States[s], channel, decimal(x.time(i)), short(x.Supply[i]), short(x.Voltage[k][i]), short(x.Current[k][i])})
				if err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (t *csvWaves) end() error {
	t.w.Flush()
	return t.w.Error()
}
