package disturbance

import (
	"fmt"
	"math"
	"testing"
)

// halfCycles returns a meter for half-cycle values.
func halfCycles(t testing.TB, s System) *Flickermeter {
	t.Helper()
	m, err := NewHalfCycleMeter(s, nominal(s))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// bothWays feeds the same voltage to a meter of samples and to one of
// half-cycle values for the given time after 20 s of settling: level says by
// what the amplitude of half-cycle h is multiplied.
func bothWays(t testing.TB, s System, seconds int, level func(h int) float64) (samples, halves *Flickermeter) {
	t.Helper()
	const per = 21 // samples a half-cycle, in the middle of their intervals
	half := int(2 * float64(s.Frequency))
	samples, err := NewFlickermeter(s, nominal(s), 2*per*s.Frequency)
	if err != nil {
		t.Fatal(err)
	}
	halves = halfCycles(t, s)
	for h := range (20 + seconds) * half {
		if h == 20*half {
			samples.Reset()
			halves.Reset()
		}
		v := float64(nominal(s)) * level(h)
		for i := range per {
			samples.Feed(math.Sqrt2 * v * math.Sin(math.Pi*(float64(h)+(float64(i)+0.5)/per)))
		}
		halves.Feed(v)
	}
	return samples, halves
}

// TestTwoWays: for bursts, which change the voltage at its zeros, the rms
// values of half-cycles give the P_st and P_inst,max of samples to 0.2 %, up to
// bursts of single cycles and half-cycles (25 Hz to 60 Hz).
func TestTwoWays(t *testing.T) {
	worst := 0.0
	for _, s := range []System{sys230, sys120, {Lamp230, 60}, {Lamp120, 50}} {
		for _, c := range []struct{ on, of int }{ // half-cycles
			{300, 600}, {100, 200}, {14, 100}, {50, 100}, {80, 100}, {10, 20}, {4, 10}, {4, 8}, {2, 8}, {2, 6}, {2, 4}, {1, 3}, {1, 2},
		} {
			x, y := bothWays(t, s, 30, func(h int) float64 {
				if h%c.of < c.on {
					return 1 - 0.0112
				}
				return 1
			})
			for _, v := range []struct {
				what      string
				got, want float64
			}{{"P_st", y.Pst(), x.Pst()}, {"P_inst,max", y.Peak(), x.Peak()}} {
				// Half-wave at the mains frequency leaves hardly any flicker:
				// there the ripple of the samples shows.
				d := math.Abs(v.got-v.want) / (v.want + 0.05)
				worst = max(worst, d)
				if !(d <= 2e-3) {
					t.Errorf("%v %v Hz, %d of %d half-cycles: found %s %.5f by half-cycles, %.5f by samples", s.Lamp, float64(s.Frequency), c.on, c.of, v.what, v.got, v.want)
				}
			}
		}
	}
	t.Logf("worst difference %.3f %%", 100*worst)
}

// TestSeverityByHalfCycles takes the table of TestSeverity by half-cycle
// values, with each change at the nearest zero: IEC 61000-4-15 ed. 2 Table 5,
// ±5 %. The faster rows have changes within half-cycles.
func TestSeverityByHalfCycles(t *testing.T) {
	for _, row := range severityTable[:5] {
		for _, c := range []struct {
			sys System
			d   float64
		}{{sys230, row.d230}, {sys120, row.d120}} {
			m := halfCycles(t, c.sys)
			per := 2 * float64(c.sys.Frequency)
			for h := range int(660 * per) {
				if h == int(60*per) {
					m.Reset()
				}
				n := int((float64(h) + 0.5) / per * row.perMinute / 60) // changes so far
				x := 1 + c.d/200
				if n%2 == 1 {
					x = 1 - c.d/200
				}
				m.Feed(x * float64(nominal(c.sys)))
			}
			name := fmt.Sprintf("%v, %g changes a minute", c.sys.Lamp, row.perMinute)
			t.Logf("%s: P_st %.4f", name, m.Pst())
			if !(math.Abs(m.Pst()-1) <= 0.05) {
				t.Errorf("%s of %g %%: found P_st %.4f, expected 1 ± 0.05", name, c.d, m.Pst())
			}
		}
	}
}

// TestLinear: P_st is proportional to the relative voltage change, to a
// percent (IEC 61000-4-15: a factor of 0.5 to 5 on the table's values). What is
// left is the square of the change.
func TestLinear(t *testing.T) {
	step := func(d float64) float64 {
		m := halfCycles(t, sys230)
		for h := range 120 * 100 {
			x := 1.0
			if h%154 < 77 {
				x = 1 - d/100
			}
			m.Feed(230 * x)
			if h == 20*100 {
				m.Reset()
			}
		}
		return m.Pst() / d
	}
	one := step(0.894)
	for _, f := range []float64{0.1, 0.5, 2, 5} {
		if got := step(f*0.894) / one; !(math.Abs(got-1) <= 0.03) {
			t.Errorf("%g times the change: found P_st per percent at %.4f of that at one, expected 1 ± 0.03", f, got)
		}
	}
}
