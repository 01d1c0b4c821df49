package sim_test

import (
	"context"
	"testing"
	"time"

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
