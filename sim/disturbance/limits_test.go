package disturbance

import (
	"math"
	"testing"
)

// TestLimits: IEC 61000-3-2 Table 1 and EN 50160 Table 1 up to 2010.
func TestLimits(t *testing.T) {
	classA := map[int]float64{2: 1.08, 3: 2.30, 4: 0.43, 5: 1.14, 6: 0.30, 7: 0.77, 8: 0.23, 9: 0.40, 11: 0.33, 13: 0.21, 15: 0.15, 16: 0.115, 25: 0.09, 39: 0.15 * 15 / 39, 40: 0.046}
	for n, want := range classA {
		if got := ClassA(n); math.Abs(got-want) > 1e-12 {
			t.Errorf("class A, order %d: found %g A, expected %g A", n, got, want)
		}
	}
	voltage := map[int]float64{2: 2, 3: 5, 4: 1, 5: 6, 6: 0.5, 7: 5, 9: 1.5, 10: 0.5, 11: 3.5, 13: 3, 15: 0.5, 17: 2, 19: 1.5, 21: 0.5, 23: 1.5, 24: 0.5, 25: 1.5}
	for n := range 60 {
		want, limited := voltage[n]
		if n%2 == 0 && n >= 6 && n <= 24 {
			want, limited = 0.5, true
		}
		if got := VoltageLimit(n); limited && got != want || !limited && !math.IsNaN(got) {
			t.Errorf("EN 50160, order %d: found %g %%, expected %g %%", n, got, want)
		}
	}
	for _, n := range []int{-1, 0, 1, 41} {
		if got := ClassA(n); !math.IsNaN(got) {
			t.Errorf("class A, order %d: found %g A, expected none", n, got)
		}
	}
}

// TestChecks: a spectrum just at its limits meets them, one just beyond does
// not, and the worst is found.
func TestChecks(t *testing.T) {
	var s Spectrum
	s.RMS[1] = 10
	for n := 2; n <= Orders; n++ {
		s.RMS[n] = ClassA(n)
	}
	for _, c := range s.ClassA() {
		if !c.Met() || c.Ratio() != 1 {
			t.Errorf("%+v: expected it to be just met", c)
		}
	}
	s.RMS[7] = math.Nextafter(s.RMS[7], 1)
	if c, ok := Worst(s.ClassA()); !ok || c.Met() || c.What != "current harmonic 7" {
		t.Errorf("found %+v, expected order 7 not to meet its limit", c)
	}
	if _, ok := Worst(nil); ok {
		t.Error("no checks: expected no worst")
	}

	v := Spectrum{}
	if len(v.Voltage()) != 0 {
		t.Error("no fundamental: expected no check")
	}
	v.RMS[1], v.RMS[3], v.RMS[5] = 230, 230*0.05, 230*0.0651
	var bad []string
	for _, c := range v.Voltage() {
		if !c.Met() {
			bad = append(bad, c.What)
		}
	}
	if want := []string{"voltage harmonic 5", "voltage distortion"}; len(bad) != 2 || bad[0] != want[0] || bad[1] != want[1] {
		t.Errorf("found %v not met, expected %v", bad, want)
	}
}
