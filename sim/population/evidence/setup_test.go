package evidence_test

import (
	"context"
	"testing"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// exact is a spec without tolerances: every parameter stays as it is on the
// board, and instruments have no errors.
func exact() population.Spec {
	return population.Spec{}
}

func drawn(t testing.TB, b *models.Board, s population.Spec) *population.Population {
	t.Helper()
	p, err := population.New(b, s, 1)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func find(t testing.TB, p *population.Population, form string, args ...string) evidence.Observable {
	t.Helper()
	o, err := evidence.Find(p.Board(), form, args...)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func planned(t testing.TB, p *population.Population, wanted ...evidence.Observable) *evidence.Plan {
	t.Helper()
	plan, err := evidence.NewPlan(p, wanted)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func given(t testing.TB, p *population.Population, index uint64, places ...population.Place) population.Member {
	t.Helper()
	m, err := p.Given(index, places...)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// observed are the values of a member that has a solution.
func observed(t testing.TB, plan *evidence.Plan, m population.Member) []float64 {
	t.Helper()
	r, err := plan.Observe(context.Background(), m)
	if err != nil {
		t.Fatal(err)
	}
	if r.Problem != "" {
		t.Fatalf("member %d: found the problem %q, expected values", m.Index, r.Problem)
	}
	return r.Values
}

// usual is the population of the demonstration board as it is by default.
func usual(t testing.TB) *population.Population {
	b := boardfile.Default()
	return drawn(t, b, population.DefaultSpec(b))
}
