package dataset

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"reflect"
	"slices"
	"testing"
)

// logged is a part with what the rows have.
func logged(t testing.TB, rows ...Row) []byte {
	t.Helper()
	d := &Description{Boards: uint64(len(rows)), Channels: []string{"dye", "soak"}, Columns: append(slices.Clone(rowColumns),
		Column{Name: "a", Group: Observed, Type: Word, Words: []string{"off", "on"}, Null: true}, Column{Name: "b", Group: Observed, Type: Number, Null: true}, Column{Name: "c", Group: Drawn, Type: Number})}
	h := Header{Format: formatVersion, To: uint64(len(rows)), Description: d}
	out, err := h.bytes()
	if err != nil {
		t.Fatal(err)
	}
	for i := range rows {
		out = appendBlock(out, uint64(i), 1, d.shape().encode(nil, &rows[i]))
	}
	return out
}

var loggedRows = []Row{
	{Index: 0, Observed: []float64{1.5, math.Inf(1)}, Drawn: []float64{3}},
	{Index: 1, Problem: "no solution", Drawn: []float64{-0.25}, Faults: []Fault{
		{Fault: "opto-one-way", Channel: 1, Severity: 0.5, Text: "soak:opto-one-way", Keys: []Key{{"polarity", "positive"}, {"gap", "3 ms"}}},
		{Fault: "supply-high", Channel: -1, Severity: 1, Text: "board:supply-high"}}},
}

// readLog returns all rows of a part.
func readLog(data []byte) ([]Row, error) {
	l, err := openLog(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	var rows []Row
	for {
		b, err := l.block()
		if err != nil {
			return rows, err
		}
		if err := l.rows(b, func(r *Row) error { rows = append(rows, *r); return nil }); err != nil {
			return rows, err
		}
	}
}

// TestLog: what is written is read, to the last bit.
func TestLog(t *testing.T) {
	got, err := readLog(logged(t, loggedRows...))
	if err != io.EOF || !reflect.DeepEqual(got, loggedRows) {
		t.Errorf("found %+v and error %v, expected %+v", got, err, loggedRows)
	}
}

// TestSum: the checksum is CRC-32C (RFC 3720, B.4: of 32 bytes of zeros it is
// the bytes aa 36 91 8a).
func TestSum(t *testing.T) {
	got := appendSum(make([]byte, 32), 0)[32:]
	if !bytes.Equal(got, []byte{0xaa, 0x36, 0x91, 0x8a}) {
		t.Errorf("found % x, expected aa 36 91 8a", got)
	}
}

// FuzzPart: no bytes end a reader, or make it hold more than there is. Sums
// are put right half of the time, so that what is behind them is met too.
func FuzzPart(f *testing.F) {
	whole := logged(f, loggedRows...)
	blocks := bytes.Index(whole, []byte(blockMagic))
	f.Add(whole[blocks:], false, false)
	f.Add(whole[blocks:], true, false)
	f.Add(whole[blocks:len(whole)-3], true, false)
	f.Add([]byte(partMagic+"\x02\x00\x00\x00{}"), true, true)
	f.Fuzz(func(t *testing.T, data []byte, mend, all bool) {
		if all {
			data = bytes.Clone(data)
		} else { // after a header that is right
			data = append(bytes.Clone(whole[:blocks]), data...)
		}
		if mend {
			mended(data)
		}
		rows, err := readLog(data)
		if err == nil {
			t.Fatal("found no error, expected the end at least")
		}
		if err == io.EOF && len(rows) > len(data) {
			t.Errorf("found %d rows in %d bytes", len(rows), len(data))
		}
		var torn *tornError
		if errors.As(err, &torn) && (torn.offset < 0 || torn.offset > int64(len(data))) {
			t.Errorf("found an end at %d of %d bytes", torn.offset, len(data))
		}
		if l, err := openLog(bytes.NewReader(data), int64(len(data))); err == nil && len(rows) > 0 {
			for _, f := range []Format{CSV, Lines} {
				err := Write(io.Discard, f, l.header.Description, func(yield func(*Row) error) error {
					for i := range rows {
						if err := yield(&rows[i]); err != nil {
							return err
						}
					}
					return nil
				})
				if err != nil {
					t.Errorf("%s: %v", f, err)
				}
			}
		}
		for i := range rows {
			if c := rows[i].Faults; len(c) > 0 && (c[0].Channel < -1 || c[0].Channel > 1000) {
				t.Errorf("found channel %d", c[0].Channel)
			}
		}
	})
}

// mended puts the sums of a part right, as far as there is one.
func mended(data []byte) {
	sum := func(from, to int) bool {
		if from < 0 || to < from || to+sumSize > len(data) {
			return false
		}
		copy(data[to:], appendSum(bytes.Clone(data[from:to]), 0)[to-from:])
		return true
	}
	at := len(partMagic) + 4
	if len(data) < at {
		return
	}
	length := int(binary.LittleEndian.Uint32(data[len(partMagic):]))
	if length > len(data) || !sum(0, at+length) {
		return
	}
	at += length + sumSize
	for at+blockHead <= len(data) {
		copy(data[at:], blockMagic)
		sum(at, at+blockHead-sumSize)
		length := int(binary.LittleEndian.Uint32(data[at+16:]))
		if length > len(data) || !sum(at+blockHead, at+blockHead+length) {
			return
		}
		at += blockHead + length + sumSize
	}
}

// TestContradiction: a header whose sum is right but whose columns are not
// those of a data set is refused.
func TestContradiction(t *testing.T) {
	whole := logged(t, loggedRows...)
	for _, pair := range [][2]string{{`"index"`, `"indey"`}, {`"group":"drawn"`, `"group":"truth"`}, {`"name":"a"`, `"name":"b"`}, {`"type":"list"`, `"type":"text"`}, {`"boards":2`, `"boards":1`}, {`"format":1`, `"format":2`}} {
		data := bytes.Replace(whole, []byte(pair[0]), []byte(pair[1]), 1)
		if bytes.Equal(data, whole) {
			t.Fatalf("found no %s", pair[0])
		}
		mended(data)
		if rows, err := readLog(data); err == io.EOF || len(rows) > 0 {
			t.Errorf("%s: found %d rows and error %v", pair[1], len(rows), err)
		}
	}
}
