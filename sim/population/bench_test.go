package population_test

import (
	"context"
	"fmt"
	"runtime"
	"testing"

	"boilwright/sim/boardfile"
	"boilwright/sim/population"
)

// drawn returns the default population around the demonstration board.
func drawn(t testing.TB, seed uint64) *population.Population {
	t.Helper()
	b := boardfile.Default()
	p, err := population.New(b, population.DefaultSpec(b), seed)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// BenchmarkMember draws members.
func BenchmarkMember(b *testing.B) {
	p := drawn(b, 1)
	b.ReportAllocs()
	i := uint64(0)
	for b.Loop() {
		if _, err := p.Member(i); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// boards runs a benchmark over numbers of boards on all cores: neither the time
// per board nor the memory should grow with their number.
func boards(b *testing.B, each func(ctx context.Context, n uint64) error) {
	for _, n := range []uint64{1, 10, 100, 1000} {
		if testing.Short() && n > 10 {
			continue
		}
		b.Run(fmt.Sprintf("boards=%d", n), func(b *testing.B) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			runs := 0
			for b.Loop() {
				if err := each(context.Background(), n); err != nil {
					b.Fatal(err)
				}
				runs++
			}
			runtime.ReadMemStats(&after)
			done := float64(runs) * float64(n)
			b.ReportMetric(done/b.Elapsed().Seconds(), "boards/s")
			b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/done, "B/board")
			b.ReportMetric(float64(after.Sys)/(1<<20), "MiB-from-system") // so far, of this process
		})
	}
}

// BenchmarkPopulationReadings takes the standby readings of boards at every
// test point on every meter.
func BenchmarkPopulationReadings(b *testing.B) {
	p := drawn(b, 1)
	plan, err := p.Readings(population.ReadingsJob{})
	if err != nil {
		b.Fatal(err)
	}
	boards(b, func(ctx context.Context, n uint64) error {
		return population.Each(ctx, 0, n, population.Workers{}, func(_ context.Context, i uint64) (population.Measured, error) {
			m, err := p.Member(i)
			return plan.Measure(m), err
		}, func(uint64, population.Measured) error { return nil })
	})
}

// BenchmarkPopulationRuns simulates an hour of boards.
func BenchmarkPopulationRuns(b *testing.B) {
	p := drawn(b, 1)
	boards(b, func(ctx context.Context, n uint64) error {
		return population.Each(ctx, 0, n, population.Workers{}, func(ctx context.Context, i uint64) (population.Outcome, error) {
			m, err := p.Member(i)
			if err != nil {
				return population.Outcome{}, err
			}
			return population.RunJob{}.Run(ctx, m)
		}, func(uint64, population.Outcome) error { return nil })
	})
}
