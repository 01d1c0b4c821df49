package checker_test

import (
	"fmt"

	"boilwright/faults/rules/checker"
)

// The lines of a case: what the program reads, and what it may answer, are of
// the types Question and Verdict.
func Example() {
	fmt.Println(checker.Schema)
	v := checker.Verdict{ID: 1, Conclusions: []checker.Conclusion{{Rule: "half", Channel: "dye", Faults: []string{"opto-one-way"}}}}
	fmt.Printf("%+v\n", v)
	// Output:
	// boilwright/checker/1
	// {ID:1 Conclusions:[{Rule:half Channel:dye Faults:[opto-one-way]}] Error:}
}
