package validate_test

import (
	"context"
	"fmt"
	"log"

	"boilwright/faults/rules/validate"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
)

// A rule of thumb on balanced boards: how often it is said where it is true,
// with each kind of meter in hand.
func Example() {
	b := boardfile.Default()
	spec := population.DefaultSpec(b)
	p, err := population.New(b, spec, 1)
	if err != nil {
		log.Fatal(err)
	}
	design, err := validate.Balanced(p, 0.5)
	if err != nil {
		log.Fatal(err)
	}
	j := newJudge(b, rule{"half the supply is the opto", 0.4, 0.6, []string{"opto-one-way"}})
	job := validate.Job{
		Source: validate.Source{Population: p, Spec: spec, Seed: 1, Design: design, To: 5 * design.Round()},
		Judge:  j, Claims: j.claims(), Observer: bench{b},
	}
	r, err := job.Run(context.Background())
	if err != nil {
		log.Fatal(err)
	}
	x := r.Rules[0]
	for i, name := range r.Meters[:4] {
		s := x.ByMeter[i].Sensitivity()
		low, high := s.Interval()
		fmt.Printf("%-16s sensitivity %d of %d, %.2f to %.2f\n", name, s.Count, s.Of, low, high)
	}
	// Output:
	// average          sensitivity 15 of 15, 0.80 to 1.00
	// average-coupled  sensitivity 15 of 15, 0.80 to 1.00
	// rms-coupled      sensitivity 15 of 15, 0.80 to 1.00
	// rms              sensitivity 0 of 15, 0.00 to 0.20
}
