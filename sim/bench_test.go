package sim_test

import (
	"context"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/sim"
	"boilwright/sim/boardfile"
)

// BenchmarkRun simulates the demonstration board, every half-cycle accounted
// for.
func BenchmarkRun(b *testing.B) {
	board := boardfile.Default()
	for _, d := range []time.Duration{time.Minute, 10 * time.Minute, time.Hour, 10 * time.Hour} {
		b.Run("channels=3/time="+d.String(), func(b *testing.B) {
			b.ReportAllocs()
			var solved int64
			for b.Loop() {
				r, err := sim.Run(context.Background(), board, sim.Options{Duration: d, Every: time.Minute})
				if err != nil {
					b.Fatal(err)
				}
				solved = r.Stats.Solved
			}
			b.ReportMetric(float64(solved), "solved")
		})
	}
}

// BenchmarkFault simulates an hour of the demonstration board with each fault
// of the catalogue in turn, on channel dye.
func BenchmarkFault(b *testing.B) {
	healthy := boardfile.Default()
	for _, f := range faults.Catalogue() {
		channel := 1
		if f.Scope == faults.PerBoard {
			channel = faults.WholeBoard
		}
		set := faults.Set{faults.New(f.Name, channel)}
		if set.Check(healthy) != nil {
			continue // needs a part that the board has not
		}
		b.Run(f.Name, func(b *testing.B) {
			var solved int64
			for b.Loop() {
				run, err := set.Start(1)
				if err != nil {
					b.Fatal(err)
				}
				r, err := sim.Run(context.Background(), healthy, sim.Options{Duration: time.Hour, Every: time.Minute, Edits: run})
				if err != nil {
					b.Fatal(err)
				}
				solved = r.Stats.Solved
			}
			b.ReportMetric(float64(solved), "solved")
		})
	}
}
