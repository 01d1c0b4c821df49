package disturbance

import (
	"math"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// TestAnalytic compares the analytical method of IEC 61000-3-3 (formula from
// memory, so a check of plausibility) at the changes for which the table of
// IEC 61000-4-15 ed. 2 has P_st = 1: the ratios were worked out independently.
func TestAnalytic(t *testing.T) {
	want := []float64{0.980, 0.982, 0.961, 1.014, 1.132}
	for i, row := range severityTable[:5] {
		got := AnalyticPst(row.d230, 1, row.perMinute)
		if !(math.Abs(got-want[i]) <= 0.001) {
			t.Errorf("%g changes of %g %% a minute: found P_st %.4f, expected %.3f", row.perMinute, row.d230, got, want[i])
		}
	}
}

// TestPstOfLevels works the formula out by hand: equal levels give the root of
// the weights' sum, 0.5096 (IEC 61000-4-15 clause 5), and levels that rise
// evenly from 0 to 100 are exceeded for p percent at 100 − p.
func TestPstOfLevels(t *testing.T) {
	flat := make([]float64, 1000)
	for i := range flat {
		flat[i] = 1
	}
	if got, want := Pst(flat), math.Sqrt(0.5096); math.Abs(got-want) > 1e-12 {
		t.Errorf("equal levels: found %.6f, expected %.6f", got, want)
	}
	const n = 100000
	ramp := make([]float64, n)
	for i := range ramp {
		ramp[i] = 100 * float64((i*7919)%n) / n // in no order
	}
	p := func(x ...float64) float64 {
		sum := 0.0
		for _, v := range x {
			sum += 100 - v
		}
		return sum / float64(len(x))
	}
	want := math.Sqrt(0.0314*p(0.1) + 0.0525*p(0.7, 1, 1.5) + 0.0657*p(2.2, 3, 4) + 0.28*p(6, 8, 10, 13, 17) + 0.08*p(30, 50, 80))
	if got := Pst(ramp); math.Abs(got-want) > 1e-4 {
		t.Errorf("rising levels: found %.6f, expected %.6f", got, want)
	}
	if got := Pst([]float64{4}); math.Abs(got-2*math.Sqrt(0.5096)) > 1e-12 {
		t.Errorf("one level: found %.6f, expected twice that of 1", got)
	}
	if Pst(nil) != 0 || Plt(nil) != 0 {
		t.Error("no levels: expected 0")
	}
}

// TestPlt: the cube root of the mean of the cubes (IEC 61000-3-3).
func TestPlt(t *testing.T) {
	if got, want := Plt([]float64{1, 2, 3}), math.Cbrt(12); math.Abs(got-want) > 1e-12 {
		t.Errorf("found %.6f, expected %.6f", got, want)
	}
	one := make([]float64, 12)
	one[4] = 1
	if got, want := Plt(one), math.Cbrt(1.0/12); math.Abs(got-want) > 1e-12 {
		t.Errorf("found %.6f, expected %.6f", got, want)
	}
}

// TestWeighting compares the filter by its poles with the product of its
// parts. At 8.8 Hz lamp, eye and brain have a gain of 1, and of 0.250/0.321
// with the slower lamp, which needs so much more change to be seen
// (IEC 61000-4-15 ed. 2 Table 1).
func TestWeighting(t *testing.T) {
	for _, s := range []System{sys230, sys120} {
		f := s.weighting()
		for _, hz := range []float64{0.01, 0.5, 4, 8.8, 20, 35, 42, 100} {
			w := complex(0, 2*math.Pi*hz)
			c := responses[s.Lamp]
			p := func(f float64) complex128 { return 1 + w/complex(2*math.Pi*f, 0) }
			h := complex(2*math.Pi*c.f1*c.k, 0) * w / (w*w + complex(4*math.Pi*c.lambda, 0)*w + complex(math.Pow(2*math.Pi*c.f1, 2), 0))
			h *= p(c.f2) / (p(c.f3) * p(c.f4))
			if g := math.Hypot(real(h), imag(h)); hz == unitHertz && math.Abs(g/(unit[Lamp230]/unit[s.Lamp])-1) > 0.01 {
				t.Errorf("%v: found a gain of %.4f at 8.8 Hz, expected %.4f", s.Lamp, g, unit[Lamp230]/unit[s.Lamp])
			}
			h *= w / (w + complex(2*math.Pi*highPass, 0))
			// |Butterworth|² of order 6 is 1/(1 + (f/fc)¹²).
			want := math.Hypot(real(h), imag(h)) / math.Sqrt(1+math.Pow(hz/s.lowPass(), 12))
			if got := f.gain(2 * math.Pi * hz); !(math.Abs(got-want) <= 1e-9*want) {
				t.Errorf("%v at %g Hz: found a gain of %.12g, expected %.12g", s.Lamp, hz, got, want)
			}
		}
	}
}

// TestSystemOf: the lamp by the voltage, the band by the frequency.
func TestSystemOf(t *testing.T) {
	for _, c := range []struct {
		supply models.Supply
		want   System
		band   float64
	}{
		{models.Supply{Voltage: 240, Frequency: 50}, System{Lamp230, 50}, 35},
		{models.Supply{Voltage: 120, Frequency: 60}, System{Lamp120, 60}, 42},
	} {
		if got := SystemOf(&c.supply); got != c.want || got.lowPass() != c.band {
			t.Errorf("found %+v to %g Hz, expected %+v to %g Hz", got, got.lowPass(), c.want, c.band)
		}
	}
}

// TestErrors: what is out of range is named.
func TestErrors(t *testing.T) {
	for _, c := range []struct {
		want string
		make func() error
	}{
		{"sampling rate: found 700 Hz", func() error { _, err := NewFlickermeter(sys230, 230, 700); return err }},
		{"nominal voltage: found 0 V", func() error { _, err := NewFlickermeter(sys230, 0, 2000); return err }},
		{"lamp: found 7", func() error { _, err := NewHalfCycleMeter(System{7, 50}, 230); return err }},
		{"supply frequency: found 400 Hz", func() error { _, err := NewHalfCycleMeter(System{Lamp120, 400}, 230); return err }},
		{"nominal voltage: found NaN V", func() error { _, err := NewChanges(q.Volt(math.NaN()), 50); return err }},
		{"supply frequency: found 0 Hz", func() error { _, err := NewChanges(230, 0); return err }},
		{"analysis window: found 9 cycles", func() error { _, err := NewWindows(9); return err }},
	} {
		if err := c.make(); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("found error %v, expected %q", err, c.want)
		}
	}
}
