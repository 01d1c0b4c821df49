package circuit

import (
	"testing"

	"boilwright/sim/boardfile"
)

// BenchmarkFirstMet compiles the demonstration board and solves its first
// half-cycles at two sets of temperatures, so that every network is met for
// the first time.
func BenchmarkFirstMet(b *testing.B) {
	board := boardfile.Default()
	n := len(board.Channels)
	in := Input{Factor: 1, Drive: make([]float64, n)}
	for k := range in.Drive {
		in.Drive[k] = float64(board.Channels[k].Drive.On)
	}
	warmth := 25.0
	for b.Loop() {
		s, err := New(board)
		if err != nil {
			b.Fatal(err)
		}
		for range 2 {
			warmth += 1e-3
			s.SetTemperatures(Uniform(n, warmth))
			for range 2 {
				if _, err := s.HalfCycle(in); err != nil {
					b.Fatal(err)
				}
			}
		}
		s.Release()
	}
	b.ReportAllocs()
}
