package disturbance

import (
	"math"
	"testing"
	"time"
)

// course feeds voltages, each for a number of half-cycles at 50 Hz.
func course(t *testing.T, nominal float64, parts ...[2]float64) VoltageChanges {
	t.Helper()
	c, err := NewChanges(230, 50)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range parts {
		for range int(p[1]) {
			c.Feed(p[0] * nominal)
		}
	}
	return c.Result()
}

// TestChanges works out courses of the voltage by hand, as IEC 61000-3-3
// defines d_c, d_max and d(t) (from memory).
func TestChanges(t *testing.T) {
	for _, c := range []struct {
		name  string
		parts [][2]float64 // part of nominal, half-cycles
		want  VoltageChanges
	}{
		{"steady", [][2]float64{{1, 300}}, VoltageChanges{}},
		{"within the band", [][2]float64{{1, 150}, {0.9985, 150}}, VoltageChanges{Count: 1}},
		{"a step", [][2]float64{{1, 150}, {0.98, 150}}, VoltageChanges{Max: 2, Steady: 2, Count: 1}},
		{"a step and back", [][2]float64{{1, 150}, {0.98, 150}, {1, 150}}, VoltageChanges{Max: 2, Steady: 2, Count: 2}},
		{"an inrush", [][2]float64{{1, 150}, {0.95, 10}, {0.96, 5}, {0.97, 5}, {0.98, 150}},
			VoltageChanges{Max: 5, Steady: 2, Count: 4, Beyond: 150 * time.Millisecond}},
		{"too short for a steady state", [][2]float64{{1, 150}, {0.96, 80}, {1, 150}},
			VoltageChanges{Max: 4, Count: 2, Beyond: 800 * time.Millisecond}},
		{"a burst without steady state", [][2]float64{{1, 150}, {0.99, 50}, {1, 50}, {0.99, 50}, {1, 50}, {0.99, 50}},
			VoltageChanges{Max: 1, Count: 5}},
		{"one change in three half-cycles", [][2]float64{{1, 150}, {0.99, 1}, {0.985, 1}, {0.98, 150}}, VoltageChanges{Max: 2, Steady: 2, Count: 1}},
		{"two changes 40 ms apart", [][2]float64{{1, 150}, {0.99, 4}, {0.98, 150}}, VoltageChanges{Max: 2, Steady: 2, Count: 2}},
		{"steps down", [][2]float64{{1, 150}, {0.98, 150}, {0.965, 150}}, VoltageChanges{Max: 2, Steady: 2, Count: 2}},
	} {
		got := course(t, 230, c.parts...)
		if math.Abs(got.Max-c.want.Max) > 1e-9 || math.Abs(got.Steady-c.want.Steady) > 1e-9 || got.Beyond != c.want.Beyond || got.Count != c.want.Count {
			t.Errorf("%s: found %+v, expected %+v", c.name, got, c.want)
		}
	}
	// A steady state is the mean of its band: half of it at 1, half at 0.998.
	got := course(t, 230, [2]float64{1, 100}, [2]float64{0.998, 100}, [2]float64{0.97, 150})
	if math.Abs(got.Steady-2.9) > 1e-9 || math.Abs(got.PerMinute-2/(350*0.01/60)) > 1e-9 || got.Lowest != 0.97*230 || got.Highest != 230 {
		t.Errorf("found %+v, expected a steady change of 2.9 %% among 2 in 3.5 s, 223.1 V to 230 V", got)
	}
	for i, limit := range []float64{4, 3.3, 0.5} { // IEC 61000-3-3:2013, from memory
		if c := got.Checks()[i]; c.Limit != limit || !c.Met() {
			t.Errorf("found %+v, expected a limit of %g that is met", c, limit)
		}
	}
}
