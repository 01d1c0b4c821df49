package disturbance_test

import (
	"testing"
	"time"

	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/disturbance"
)

// BenchmarkAssess assesses the demonstration board; the run alone beside it.
func BenchmarkAssess(b *testing.B) {
	o := sim.Options{Duration: time.Hour, Every: time.Minute}
	b.Run("what=run/time=1h", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := sim.Run(b.Context(), boardfile.Default(), o); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("what=assess/time=1h", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			assess(b, boardfile.Default(), o)
		}
	})
}

// BenchmarkFlickermeter feeds ten minutes of a voltage.
func BenchmarkFlickermeter(b *testing.B) {
	sys := disturbance.System{Frequency: 50}
	b.Run("input=samples/rate=2kHz", func(b *testing.B) {
		for b.Loop() {
			m, err := disturbance.NewFlickermeter(sys, 230, 2000)
			if err != nil {
				b.Fatal(err)
			}
			for i := range 600 * 2000 {
				m.Feed(float64(300 - i%600))
			}
		}
	})
	b.Run("input=half-cycles", func(b *testing.B) {
		for b.Loop() {
			m, err := disturbance.NewHalfCycleMeter(sys, 230)
			if err != nil {
				b.Fatal(err)
			}
			for i := range 600 * 100 {
				m.Feed(float64(228 + i%3))
			}
		}
	})
}
