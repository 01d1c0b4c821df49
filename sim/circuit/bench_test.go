package circuit

import "testing"

func BenchmarkHalfCycle(b *testing.B) {
	s, err := New(refBoard())
	if err != nil {
		b.Fatal(err)
	}
	in := Input{Factor: 1, Drive: []float64{12, 12, 12}}
	for b.Loop() {
		if _, err := s.HalfCycle(in); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportAllocs()
	b.ReportMetric(0.01*float64(b.N)/b.Elapsed().Seconds(), "simsec/s")
}
