package pages_test

import (
	"bytes"
	"fmt"
	"strings"

	"boilwright/faults/rules/validate"
	"boilwright/plots/pages"
)

// A report on a validation of one rule, in Markdown.
func ExampleValidation_WriteMarkdown() {
	half := validate.Rule{
		Claim:   validate.Claim{Rule: "half the supply", Faults: []string{"opto-one-way"}},
		Counts:  validate.Counts{TP: 48, FP: 2, FN: 52, TN: 898},
		ByMeter: []validate.Counts{{TP: 48, FP: 2, FN: 52, TN: 898}},
	}
	v := &pages.Validation{Rules: "my-rules.toml", Notice: "everything here is simulated", Report: &validate.Report{Asked: 250, Done: 250, Rules: []validate.Rule{half}}}
	var page bytes.Buffer
	if err := v.WriteMarkdown(&page); err != nil {
		fmt.Println(err)
		return
	}
	for _, line := range strings.Split(page.String(), "\n") {
		if strings.HasPrefix(line, "| half") || strings.HasPrefix(line, "# ") {
			fmt.Println(line)
		}
	}
	// Output:
	// # Rules against ground truth: my-rules.toml
	// | half the supply | opto-one-way | 50 | 0.10 | 0.48 (0.38 to 0.58) | 0.9978 (0.9919 to 0.9994) | 0.96 | 0.95 |
}
