package evidence_test

import (
	"context"
	"fmt"
	"log"
	"strings"

	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// What two meters, the energy monitor and the first hour show of an opto that
// fires in one polarity only.
func Example() {
	b := boardfile.Default()
	p, err := population.New(b, population.DefaultSpec(b), 1)
	if err != nil {
		log.Fatal(err)
	}
	var wanted []evidence.Observable
	for _, x := range [][]string{
		{"volts", "dye:output", "heating", "average"},
		{"volts", "dye:output", "heating", "rms"},
		{"warms", "dye", "heating"},
		{"plug_watts", "heating"},
		{"warm_up", "dye"},
	} {
		o, err := evidence.Find(b, x[0], x[1:]...)
		if err != nil {
			log.Fatal(err)
		}
		wanted = append(wanted, o)
	}
	plan, err := evidence.NewPlan(p, wanted)
	if err != nil {
		log.Fatal(err)
	}
	m, err := p.Given(5, population.Place{Fault: "opto-half-wave", Channel: b.ChannelIndex("dye")})
	if err != nil {
		log.Fatal(err)
	}
	r, err := plan.Observe(context.Background(), m)
	if err != nil {
		log.Fatal(err)
	}
	for i, o := range plan.Observables {
		fmt.Println(strings.TrimSpace(fmt.Sprintf("%s: %.4g %s", o.Name, r.Values[i], o.Unit)))
	}
	// Output:
	// volts dye:output heating average: 117 V
	// volts dye:output heating rms: 167.6 V
	// warms dye heating: 0.488
	// plug_watts heating: 3024 W
	// warm_up dye: 14.26 min
}

// An error says what was meant, as far as it can be told.
func ExampleFind_unknown() {
	_, err := evidence.Find(boardfile.Default(), "warm_up", "die")
	fmt.Println(err)
	// Output:
	// warm_up: found channel "die", expected one of soak, dye, steam; did you mean dye?
}
