package dataset_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"boilwright/sim/population/dataset"
)

// Two parts, as two machines would compute them, are put together to one file.
func Example() {
	file := []byte(`boards = 4
seed = 2
healthy = 0.5
only = ["opto-one-way"]
observe = ["volts dye:output standby average", "volts dye:output standby rms"]
parameters = false
`)
	ctx := context.Background()
	d, err := dataset.Parse("boards.toml", file, "1")
	if err != nil {
		fmt.Println(err)
		return
	}
	dir, err := os.MkdirTemp("", "parts")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	var names []string
	for k := uint64(1); k <= 2; k++ {
		names = append(names, filepath.Join(dir, fmt.Sprint("part-", k)))
		if err := dataset.Compute(ctx, d, names[k-1], dataset.Options{Shard: dataset.Shard{K: k, N: 2}}); err != nil {
			fmt.Println(err)
			return
		}
	}
	p, err := dataset.Open(ctx, names...)
	if err != nil {
		fmt.Println(err)
		return
	}
	var text strings.Builder
	err = dataset.Write(&text, dataset.CSV, p.Description, func(yield func(*dataset.Row) error) error { return p.Rows(ctx, yield) })
	if err != nil {
		fmt.Println(err)
		return
	}
	for line := range strings.Lines(text.String()) {
		cells := strings.Split(line, ",")
		fmt.Println(cells[0], cells[3], strings.Trim(strings.Join(cells[len(cells)-2:], " "), "\n"))
	}
	// Output:
	// index healthy volts dye:output standby average volts dye:output standby rms
	// 0 false 0.0345 0.2051
	// 1 true 0.023 0.023
	// 2 true 0.026 0.0262
	// 3 false 0.0292 0.0338
}
