package validate_test

import (
	"fmt"
	"testing"
)

// What counting takes: boards drawn, judged by five rules with every meter in
// hand, and counted, without a simulation.
func BenchmarkRun(b *testing.B) {
	for _, rounds := range []uint64{1, 10} {
		j := job(b, rounds, half, full, little, three, doubt)
		boards := j.To - j.From
		b.Run(fmt.Sprintf("boards=%d", boards), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				run(b, j)
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/float64(boards), "µs/board")
		})
	}
}
