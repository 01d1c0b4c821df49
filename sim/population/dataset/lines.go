package dataset

import (
	"io"
	"math"
	"strings"
)

// lineRows writes a JSON document a line.
type lineRows struct {
	w      io.Writer
	d      *Description
	keys   []string // of the columns of values, as JSON
	values []value
	buf    []byte
}

func newLineRows(w io.Writer, d *Description) *lineRows {
	t := &lineRows{w: w, d: d}
	for i := range d.Columns {
		c := &d.Columns[i]
		if c.Group == Observed || c.Group == Drawn {
			key, _ := encoded(strings.TrimPrefix(c.Name, drawnPrefix))
			t.keys = append(t.keys, string(key))
		}
	}
	return t
}

func (t *lineRows) row(r *Row) error {
	t.values = t.d.values(t.values[:0], r)
	l := Line{Schema: lineSchema, Index: r.Index, Seed: t.d.Seed, Healthy: len(r.Faults) == 0, Faults: r.faultsText(), Truth: t.d.truth(r)}
	if r.Problem != "" {
		l.Problem = &r.Problem
	}
	// Maps would sort their keys: the columns keep their order.
	head, err := encoded(struct {
		Line
		Observed *int `json:"observed,omitempty"`
		Drawn    *int `json:"drawn,omitempty"`
	}{Line: l})
	if err != nil {
		return err
	}
	observed := t.d.count(Observed)
	t.buf = append(t.buf[:0], head[:len(head)-1]...)
	t.buf = t.object(append(t.buf, `,"observed":`...), 0, observed)
	t.buf = t.object(append(t.buf, `,"drawn":`...), observed, len(t.values))
	_, err = t.w.Write(append(t.buf, "}\n"...))
	return err
}

// object appends the JSON of some of the values.
func (t *lineRows) object(out []byte, from, to int) []byte {
	out = append(out, '{')
	for i := from; i < to; i++ {
		if i > from {
			out = append(out, ',')
		}
		out = append(append(out, t.keys[i]...), ':')
		v := &t.values[i]
		switch {
		case v.null:
			out = append(out, "null"...)
		case v.kind == Boolean && v.number != 0:
			out = append(out, "true"...)
		case v.kind == Boolean:
			out = append(out, "false"...)
		case v.kind == Word:
			text, _ := encoded(v.text)
			out = append(out, text...)
		case math.IsInf(v.number, 0):
			out = append(append(append(out, '"'), decimal(v.number)...), '"')
		default:
			out = append(out, decimal(v.number)...)
		}
	}
	return append(out, '}')
}

func (t *lineRows) end() error { return nil }

// lineWaves writes a JSON document for each board, state and channel.
type lineWaves struct {
	w io.Writer
	d *Description
}

func newLineWaves(w io.Writer, d *Description) *lineWaves { return &lineWaves{w, d} }

func (t *lineWaves) row(r *Row) error {
	for s := range r.Waves {
		x := &r.Waves[s]
		times := make([]float64, samples)
		for i := range times {
			times[i] = x.time(i)
		}
		for k, channel := range t.d.Channels {
			text, err := encoded(WaveLine{waveLineSchema, r.Index, t.d.States[s], channel, times, x.Supply, x.Voltage[k], x.Current[k]})
			if err != nil {
				return err
			}
			if _, err := t.w.Write(append(text, '\n')); err != nil {
				return err
			}
		}
	}
	return nil
}

func (t *lineWaves) end() error { return nil }
