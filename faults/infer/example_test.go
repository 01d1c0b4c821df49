package infer_test

import (
	"fmt"

	"boilwright/faults/infer"
	"boilwright/sim/boardfile"
)

// Half the supply in standby: which faults explain it, and what next.
func Example() {
	w, err := infer.NewBench(boardfile.Default(), infer.Options{Draws: 6})
	if err != nil {
		panic(err)
	}
	seen, err := w.Parse("reading", "dye output to neutral, standby, 115 V, averaging meter")
	if err != nil {
		panic(err)
	}
	d, err := w.Diagnose(seen, nil)
	if err != nil {
		panic(err)
	}
	fmt.Println(d.Suspects[0].Name)
	fmt.Println(d.Suspects[0].Action)
	fmt.Println(d.Next.Test.Risk())
	// Output:
	// dye:opto-one-way
	// dye: replace the opto
	// unplugged
}
