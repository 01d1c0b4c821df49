package dataset

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// shape is how many values the rows of a data set have.
type shape struct{ observed, drawn, states, channels int }

func (d *Description) shape() shape {
	return shape{d.count(Observed), d.count(Drawn), len(d.States), len(d.Channels)}
}

// encode appends a row to the payload of a block, whose order tells its index.
func (s shape) encode(dst []byte, r *Row) []byte {
	dst = encodeText(dst, r.Problem)
	dst = binary.AppendUvarint(dst, uint64(len(r.Faults)))
	for i := range r.Faults {
		f := &r.Faults[i]
		dst = encodeText(dst, f.Fault)
		dst = binary.AppendVarint(dst, int64(f.Channel))
		dst = encodeNumbers(dst, []float64{f.Severity})
		dst = encodeText(dst, f.Text)
		dst = binary.AppendUvarint(dst, uint64(len(f.Keys)))
		for _, k := range f.Keys {
			dst = encodeText(encodeText(dst, k.Name), k.Value)
		}
	}
	dst = encodeNumbers(dst, r.Drawn)
	if r.Problem != "" {
		return dst
	}
	dst = encodeNumbers(dst, r.Observed)
	for i := range r.Waves {
		w := &r.Waves[i]
		dst = encodeNumbers(dst, []float64{w.Period})
		dst = encodeSamples(dst, w.Supply)
		for k := range s.channels {
			dst = encodeSamples(encodeSamples(dst, w.Voltage[k]), w.Current[k])
		}
	}
	return dst
}

func encodeText(dst []byte, s string) []byte {
	return append(binary.AppendUvarint(dst, uint64(len(s))), s...)
}

func encodeNumbers(dst []byte, v []float64) []byte {
	for _, x := range v {
		dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(x))
	}
	return dst
}

func encodeSamples(dst []byte, v []float32) []byte {
	for _, x := range v {
		dst = binary.LittleEndian.AppendUint32(dst, math.Float32bits(x))
	}
	return dst
}

var errShort = errors.New("found the end of a block within a row")

// mostFaults bounds what a row may have; more is damage.
const mostFaults = 1000

// decoder reads the payload of a block.
type decoder struct {
	data []byte
	err  error
}

// decode reads the next row.
func (s shape) decode(d *decoder, index uint64) (Row, error) {
	r := Row{Index: index, Problem: d.text()}
	for range d.count() {
		if d.err != nil {
			return r, d.err
		}
		f := Fault{Fault: d.text(), Channel: d.channel(s.channels), Severity: d.number(), Text: d.text()}
		for range d.count() {
			f.Keys = append(f.Keys, Key{d.text(), d.text()})
		}
		r.Faults = append(r.Faults, f)
	}
	r.Drawn = d.numbers(s.drawn)
	if r.Problem == "" {
		r.Observed = d.numbers(s.observed)
		for range s.states {
			w := Wave{Period: d.number(), Supply: d.samples()}
			for range s.channels {
				if d.err != nil {
					return r, d.err
				}
				w.Voltage, w.Current = append(w.Voltage, d.samples()), append(w.Current, d.samples())
			}
			r.Waves = append(r.Waves, w)
		}
	}
	return r, d.err
}

// take returns the next n bytes; nil at the end.
func (d *decoder) take(n uint64) []byte {
	if n > uint64(len(d.data)) {
		d.data = nil
		if d.err == nil {
			d.err = errShort
		}
		return nil
	}
	out := d.data[:n]
	d.data = d.data[n:]
	return out
}

func (d *decoder) uvarint() uint64 {
	v, n := binary.Uvarint(d.data)
	if n <= 0 {
		d.take(uint64(len(d.data)) + 1)
		return 0
	}
	d.take(uint64(n))
	return v
}

func (d *decoder) count() uint64 {
	n := d.uvarint()
	if n > mostFaults {
		if d.err == nil {
			d.err = fmt.Errorf("found %d faults or keys, expected at most %d", n, mostFaults)
		}
		return 0
	}
	return n
}

func (d *decoder) channel(channels int) int {
	v, n := binary.Varint(d.data)
	if n <= 0 {
		d.take(uint64(len(d.data)) + 1)
		return -1
	}
	d.take(uint64(n))
	if v < -1 || v >= int64(channels) {
		if d.err == nil {
			d.err = fmt.Errorf("found channel %d of %d", v, channels)
		}
		return -1
	}
	return int(v)
}

func (d *decoder) text() string { return string(d.take(d.uvarint())) }

func (d *decoder) number() float64 {
	b := d.take(8)
	if b == nil {
		return 0
	}
	return math.Float64frombits(binary.LittleEndian.Uint64(b))
}

func (d *decoder) numbers(n int) []float64 {
	b := d.take(8 * uint64(n))
	if len(b) == 0 {
		return nil
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	return out
}

func (d *decoder) samples() []float32 {
	b := d.take(4 * samples)
	if b == nil {
		return nil
	}
	out := make([]float32, samples)
	for i := range out {
		out[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
	}
	return out
}
