package dataset_test

import (
	"context"
	"io"
	"testing"

	"boilwright/sim/population/dataset"
)

// wide has the standby readings of every meter at every test point.
const wide = "boards = 512\nobserve = \"volts * standby\"\n"

// counter counts what is written.
type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) { c.n += int64(len(p)); return len(p), nil }

// BenchmarkRow works out rows.
func BenchmarkRow(b *testing.B) {
	d := define(b, wide)
	b.ReportAllocs()
	i := uint64(0)
	for b.Loop() {
		if _, err := d.Row(context.Background(), i%d.Boards); err != nil {
			b.Fatal(err)
		}
		i++
	}
	b.ReportMetric(float64(i)/b.Elapsed().Seconds(), "rows/s")
}

// BenchmarkWrite writes rows that are there already.
func BenchmarkWrite(b *testing.B) {
	d := define(b, wide)
	var some []dataset.Row
	for i := range uint64(16) {
		r, err := d.Row(context.Background(), i)
		if err != nil {
			b.Fatal(err)
		}
		some = append(some, r)
	}
	for _, f := range dataset.Formats() {
		b.Run("format="+string(f), func(b *testing.B) {
			b.ReportAllocs()
			rows, total := 0, int64(0)
			for b.Loop() {
				c := &counter{}
				err := dataset.Write(io.Writer(c), f, d.Description(), func(yield func(*dataset.Row) error) error {
					for i := range d.Boards {
						r := some[i%16]
						r.Index = i
						if err := yield(&r); err != nil {
							return err
						}
					}
					return nil
				})
				if err != nil {
					b.Fatal(err)
				}
				rows, total = rows+int(d.Boards), total+c.n
			}
			b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "rows/s")
			b.ReportMetric(float64(total)/float64(rows), "B/row")
		})
	}
}
