package evidence_test

import (
	"context"
	"testing"

	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// outputs are the standby readings of every channel's output on every meter.
func outputs(t testing.TB, p *population.Population) *evidence.Plan {
	t.Helper()
	b := p.Board()
	var wanted []evidence.Observable
	for k := range b.Channels {
		for i := range b.Meters {
			wanted = append(wanted, find(t, p, "volts", b.Channels[k].Name+":output", "standby", b.Meters[i].Name))
		}
	}
	return planned(t, p, wanted...)
}

// BenchmarkObserve observes members with the standby readings of every output
// on every meter; drawing them is counted by itself.
func BenchmarkObserve(b *testing.B) {
	board := boardfile.Default()
	p, err := population.New(board, population.DefaultSpec(board), 1)
	if err != nil {
		b.Fatal(err)
	}
	plan := outputs(b, p)
	var members []population.Member
	for i := range uint64(1000) {
		m, err := p.Member(i)
		if err != nil {
			b.Fatal(err)
		}
		members = append(members, m)
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if _, err := plan.Observe(context.Background(), members[i%len(members)]); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// BenchmarkObserveRun observes the temperatures of an hour.
func BenchmarkObserveRun(b *testing.B) {
	board := boardfile.Default()
	p, err := population.New(board, population.DefaultSpec(board), 1)
	if err != nil {
		b.Fatal(err)
	}
	plan := planned(b, p, find(b, p, "warm_up", "dye"))
	b.ReportAllocs()
	i := uint64(0)
	for b.Loop() {
		m, err := p.Member(i)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := plan.Observe(context.Background(), m); err != nil {
			b.Fatal(err)
		}
		i++
	}
}
