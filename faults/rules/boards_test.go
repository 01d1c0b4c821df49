package rules_test

import (
	"slices"
	"testing"

	"boilwright/faults/rules"
	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// TestStarterOnBoards: what the rules of thumb say of simulated boards without
// tolerances, with a fault on the dye channel. Half the supply means the opto
// with the averaging meter only: one half-wave of a sine is 1/√2 of the supply
// on an rms meter and 1/2 on an averaging one; closed form.
func TestStarterOnBoards(t *testing.T) {
	b := boardfile.Default()
	pop, err := population.New(b, population.Spec{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	p, err := rules.Starter(pop.Board())
	if err != nil {
		t.Fatal(err)
	}
	plan, err := evidence.NewPlan(pop, p.Needs())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		fault, meter string
		says         []string // about the dye channel, among others
		silent       []string
	}{
		{"", "average", []string{"nothing while off, full power while on"}, []string{"hotter than it was set", "slow to warm up", "leaks to earth"}},
		{"triac-shorted", "rms", []string{"full supply while off", "triac reads near zero", "hotter than it was set"}, []string{"nothing while off, full power while on"}},
		{"opto-one-way", "average", []string{"half the supply while off", "half the power while off", "opto conducts one way"}, []string{"full supply while off"}},
		{"opto-one-way", "rms", []string{"half the supply, opto or triac"}, []string{"half the supply while off"}},
		{"gate-resistor-open", "average", []string{"gate resistor reads open", "one boiler stays cold"}, []string{"voltage but no heat"}},
		{"element-open", "average", []string{"voltage but no heat"}, []string{"one boiler stays cold"}},
		{"opto-half-wave", "average", []string{"half the power while heating", "slow to warm up"}, []string{"half the power while off"}},
		{"probe-open", "average", []string{"probe out of its range"}, []string{"probe reads near zero"}},
		{"probe-shorted", "average", []string{"probe reads near zero"}, []string{"probe out of its range"}},
	} {
		var places []population.Place
		if c.fault != "" {
			places = append(places, population.Place{Fault: c.fault, Channel: 1})
		}
		m, err := pop.Given(0, places...)
		if err != nil {
			t.Fatal(err)
		}
		r, err := plan.Observe(t.Context(), m)
		if err != nil || r.Problem != "" {
			t.Fatalf("%s: %v %s", c.fault, err, r.Problem)
		}
		meter := slices.IndexFunc(b.Meters, func(x models.Meter) bool { return x.Name == c.meter })
		got, err := p.Judge(t.Context(), nil, &rules.Case{Meter: meter, Values: r.Values})
		if err != nil {
			t.Fatal(err)
		}
		var said []string
		for _, x := range got {
			if x.Channel == 1 {
				said = append(said, x.Rule)
			}
			if x.Channel != 1 && x.Rule != "nothing while off, full power while on" {
				t.Errorf("%s with %s: found %q elsewhere", c.fault, c.meter, x.Rule)
			}
		}
		for _, s := range c.says {
			if !slices.Contains(said, s) {
				t.Errorf("%s with %s: found %q, expected %q", c.fault, c.meter, said, s)
			}
		}
		for _, s := range c.silent {
			if slices.Contains(said, s) {
				t.Errorf("%s with %s: found %q", c.fault, c.meter, s)
			}
		}
	}
	if tr := p.Troubles(); len(tr) > 0 {
		t.Errorf("troubles: found %+v", tr)
	}
}
