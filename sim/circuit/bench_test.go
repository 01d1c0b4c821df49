package circuit

import (
	"math"
	"testing"
)

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

// BenchmarkRecordRepeats records ten seconds at a time, a cycle that repeats being
// kept once more instead of solved.
func BenchmarkRecordRepeats(b *testing.B) {
	s, err := New(refBoard())
	if err != nil {
		b.Fatal(err)
	}
	in := Input{Factor: 1, Drive: []float64{12, 12, 12}}
	for b.Loop() {
		if _, err := s.RecordRepeats(1000, func(int64) Input { return in }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportAllocs()
	b.ReportMetric(10*float64(b.N)/b.Elapsed().Seconds(), "simsec/s")
}

// A recording with repeated cycles is the one with every cycle solved.
func TestRecordRepeats(t *testing.T) {
	in := func(half int64) Input {
		d := []float64{12, 12, 0}
		if half >= 23 {
			d[2] = 12
		}
		if half >= 30 {
			d[0] = 0
		}
		return Input{Factor: 1, Drive: d}
	}
	solved, repeated := mustNew(t, refBoard()), mustNew(t, refBoard())
	want, err := solved.Record(41, in)
	if err != nil {
		t.Fatal(err)
	}
	got, err := repeated.RecordRepeats(41, in)
	if err != nil {
		t.Fatal(err)
	}
	if got.Duration() != want.Duration() || len(got.Events) != len(want.Events) {
		t.Fatalf("found %v s and %d events, expected %v s and %d", got.Duration(), len(got.Events), want.Duration(), len(want.Events))
	}
	for i, e := range got.Events {
		w := want.Events[i]
		if e.Kind != w.Kind || e.Channel != w.Channel || e.Half != w.Half || math.Abs(e.Degrees-w.Degrees) > 1e-6 {
			t.Errorf("event %d: found %+v, expected %+v", i, e, w)
		}
	}
	for _, name := range []string{"triac1", "element-near3", "snubber-capacitor2"} {
		a, b := got.Moments(ampOf(t, repeated, name)), want.Moments(ampOf(t, solved, name))
		near(t, name, a.MeanSquare, b.MeanSquare, b.MeanSquare, 1e-7)
	}
	if solved.Half() != repeated.Half() {
		t.Errorf("found half-cycle %d next, expected %d", repeated.Half(), solved.Half())
	}
}
