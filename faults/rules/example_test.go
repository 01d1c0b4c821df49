package rules_test

import (
	"context"
	"fmt"

	"boilwright/faults/rules"
	"boilwright/sim/boardfile"
)

// A rule of thumb, tried on a board of which one voltage is known.
func Example() {
	b := boardfile.Default()
	p, err := rules.Parse("my-rules.toml", []byte(`
[[rule]]
name = "half the supply while off"
when = 'near(volts("output", "standby", "average"), supply / 2, 0.1)'
concludes = ["opto-one-way"]
source = "common practice, no source"
`), b)
	if err != nil {
		fmt.Println(err)
		return
	}
	c := &rules.Case{}
	for _, o := range p.Needs() {
		volts := map[string]float64{"volts dye:output standby average": 118}[o.Name]
		c.Values = append(c.Values, volts)
	}
	got, err := p.Judge(context.Background(), nil, c)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, x := range got {
		fmt.Printf("%s, %s: one of %v\n", b.Channels[x.Channel].Name, x.Rule, x.Faults)
	}
	// Output: dye, half the supply while off: one of [opto-one-way]
}
