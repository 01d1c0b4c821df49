package models_test

import (
	"fmt"
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"

	"pgregory.net/rapid"
)

// thermistor is the 10 kΩ thermistor of the tables below.
func thermistor() models.Probe {
	return models.Probe{R25: 10e3, Beta: 3950, Top: 10e3, Bits: 12}
}

// steinhartHart has coefficients fitted to three points of a 10 kΩ thermistor
// (the points from memory).
func steinhartHart() models.Probe {
	return models.Probe{A: 0.00112846385449, B: 0.000234227257951, C: 8.73395136752e-8, Top: 10e3, Bits: 12}
}

// fitPoints are temperatures in °C and resistances in ohms.
var fitPoints = [3][2]float64{{0, 32650}, {25, 10000}, {70, 1752}}

// TestSteinhartHart: equation of Steinhart & Hart, Deep-Sea Research 15 (1968)
// 497. The coefficients are solved for here once more, by Cramer's rule, and
// the probe is asked for the points they were fitted to and for two others.
func TestSteinhartHart(t *testing.T) {
	var m [3][3]float64
	var y [3]float64
	for i, p := range fitPoints {
		ln := math.Log(p[1])
		m[i], y[i] = [3]float64{1, ln, ln * ln * ln}, 1/(p[0]+273.15)
	}
	det := func(a [3][3]float64) float64 {
		return a[0][0]*(a[1][1]*a[2][2]-a[1][2]*a[2][1]) - a[0][1]*(a[1][0]*a[2][2]-a[1][2]*a[2][0]) + a[0][2]*(a[1][0]*a[2][1]-a[1][1]*a[2][0])
	}
	solve := func(col int) float64 {
		a := m
		for i := range a {
			a[i][col] = y[i]
		}
		return det(a) / det(m)
	}
	p := steinhartHart()
	near(t, "A", p.A, solve(0), p.A, 1e-10)
	near(t, "B", p.B, solve(1), p.B, 1e-10)
	near(t, "C", p.C, solve(2), p.C, 1e-10)

	for _, f := range fitPoints {
		near(t, fmt.Sprintf("resistance at %g °C", f[0]), p.Resistance(f[0]), f[1], f[1], 1e-9)
		near(t, fmt.Sprintf("temperature at %g Ω", f[1]), p.Temperature(f[1]), f[0], 100, 1e-10)
	}
	// The twelve digits of the coefficients are worth some 1e-9 K.
	near(t, "temperature at 3603 Ω", p.Temperature(3603), 49.98884037, 1, 1e-8)
	near(t, "temperature at 680 Ω", p.Temperature(680), 99.9360518, 1, 1e-7)

	p.C = 0 // without the cubic term the resistance is in closed form
	near(t, "resistance without C", p.Resistance(25), math.Exp((1/298.15-p.A)/p.B), 1e4, 1e-9)
	near(t, "and back", p.Temperature(p.Resistance(25)), 25, 25, 1e-12)
}

// betaTable is R = R25·exp(β·(1/T − 1/298.15)) for 10 kΩ and β = 3950 K, the
// beta equation of thermistor texts and IEC 60539-1 (from memory), computed
// with 40 digits.
var betaTable = []struct {
	celsius float64
	ohms    string
}{
	{-20, "105384.69"}, {0, "33620.6037"}, {20, "12535.3258"}, {25, "10000"}, {50, "3588.18258"}, {80, "1270.32023"},
	{93, "853.976691"}, {100, "697.519773"}, {120, "407.088777"}, {130, "317.290402"}, {150, "199.682125"},
}

func TestBetaTable(t *testing.T) {
	p := thermistor()
	for _, row := range betaTable {
		printed(t, fmt.Sprintf("resistance at %g °C", row.celsius), p.Resistance(row.celsius), row.ohms)
		near(t, fmt.Sprintf("there and back at %g °C", row.celsius), p.Temperature(p.Resistance(row.celsius)), row.celsius, 300, 1e-13)
	}
}

// TestBetaSensitivity: α = −β/T² in percent a kelvin (thermistor texts), here
// the slope of ln R by central differences.
func TestBetaSensitivity(t *testing.T) {
	p := thermistor()
	for _, row := range []struct {
		celsius float64
		percent string
	}{{25, "-4.4435234"}, {93, "-2.9463139"}, {120, "-2.5555274"}} {
		const h = 1e-3
		slope := (math.Log(p.Resistance(row.celsius+h)) - math.Log(p.Resistance(row.celsius-h))) / (2 * h)
		printed(t, fmt.Sprintf("sensitivity at %g °C", row.celsius), 100*slope, row.percent)
	}
}

// TestDivider: the thermistor below 10 kΩ on 3.3 V, by Ohm's law; a converter
// of 40 bits shows the divider's voltage to 3 pV.
func TestDivider(t *testing.T) {
	p := thermistor()
	p.Bits = 40
	volts := func(p models.Probe, tC float64) float64 { return 3.3 * float64(p.Code(tC)) / (1 << 40) }
	near(t, "divider at 25 °C", volts(p, 25), 1.65, 1.65, 0)
	printed(t, "divider at 93 °C", volts(p, 93), "0.259639684")
	printed(t, "divider at 120 °C", volts(p, 120), "0.129084415")
	open, shorted := p, p
	open.Open, shorted.Shorted = true, true
	near(t, "divider, probe open", volts(open, 93), 3.3, 3.3, 1e-11)
	near(t, "divider, probe shorted", volts(shorted, 93), 0, 3.3, 0)
}

// TestCodeBoundary: the code changes between two neighbouring floating-point
// temperatures, where the divider's ratio is a whole number of steps.
func TestCodeBoundary(t *testing.T) {
	for _, p := range []models.Probe{thermistor(), steinhartHart()} {
		full := 1 << p.Bits
		for _, k := range []int{40, 321, 1000, 2048, 3000, 3900} {
			ratio := float64(k) / float64(full)
			edge := p.Temperature(float64(p.Top) * ratio / (1 - ratio))
			lo, hi := edge-1, edge+1
			if p.Code(lo) < k || p.Code(hi) >= k {
				t.Fatalf("code %d is not crossed between %g and %g °C", k, lo, hi)
			}
			for math.Nextafter(lo, hi) < hi {
				mid := lo + (hi-lo)/2
				if mid == lo || mid == hi {
					mid = math.Nextafter(lo, hi)
				}
				if p.Code(mid) >= k {
					lo = mid
				} else {
					hi = mid
				}
			}
			if a, b := p.Code(lo), p.Code(math.Nextafter(lo, math.Inf(1))); a != k || b != k-1 {
				t.Errorf("codes %d and %d at neighbouring temperatures, want %d and %d", a, b, k, k-1)
			}
			near(t, fmt.Sprintf("edge of code %d", k), lo, edge, 100, 1e-12)
		}
	}
}

// TestCodeOnTheEdge: a ratio of exactly k steps is code k.
func TestCodeOnTheEdge(t *testing.T) {
	for _, x := range []struct {
		r25  q.Ohm
		want int
	}{{10e3, 2048}, {30e3, 3072}, {70e3, 3584}} { // 1/2, 3/4 and 7/8 of 4096
		p := models.Probe{R25: x.r25, Top: 10e3, Bits: 12} // β = 0: no dependence on temperature
		if got := p.Code(60); got != x.want {
			t.Errorf("%g Ω over 10 kΩ: code %d, want %d", float64(x.r25), got, x.want)
		}
	}
}

// TestReading: a code stands for the middle of its step.
func TestReading(t *testing.T) {
	for _, p := range []models.Probe{thermistor(), steinhartHart()} {
		edge := func(code int) float64 {
			ratio := float64(code) / float64(int(1)<<p.Bits)
			return p.Temperature(float64(p.Top) * ratio / (1 - ratio))
		}
		rapid.Check(t, func(t *rapid.T) {
			tC := rapid.Float64Range(-50, 195).Draw(t, "temperature")
			code := p.Code(tC)
			r := p.Reading(code)
			if low, high := edge(code+1), edge(code); !(low-1e-9 <= tC && tC <= high+1e-9 && low < r && r < high) {
				t.Fatalf("code %d of %v °C reads %v, expected within %v to %v", code, tC, r, low, high)
			}
		})
	}
}

// TestProbeMonotone: warmer never gives a higher code, a higher code never a
// warmer reading, and drift is a shift of the temperature.
func TestProbeMonotone(t *testing.T) {
	for _, p := range []models.Probe{thermistor(), steinhartHart()} {
		rapid.Check(t, func(t *rapid.T) {
			a, b := rapid.Float64Range(-80, 400).Draw(t, "a"), rapid.Float64Range(-80, 400).Draw(t, "b")
			if a > b {
				a, b = b, a
			}
			if p.Code(a) < p.Code(b) {
				t.Fatalf("code %d at %v °C and %d at %v °C", p.Code(a), a, p.Code(b), b)
			}
			if !(p.Resistance(a) >= p.Resistance(b)) {
				t.Fatalf("%v Ω at %v °C and %v Ω at %v °C", p.Resistance(a), a, p.Resistance(b), b)
			}
			drifted := p
			drifted.Offset = 7
			if drifted.Code(a) != p.Code(a+7) {
				t.Fatalf("a drift of 7 K: code %d, want that of %v °C, %d", drifted.Code(a), a+7, p.Code(a+7))
			}
		})
		last := math.Inf(1)
		for code := range 1 << p.Bits {
			r := p.Reading(code)
			if !(r <= last && r >= -55 && r <= 200) {
				t.Fatalf("code %d reads %v °C after %v °C", code, r, last)
			}
			last = r
		}
	}
}

// TestProbeFaultsRead: an open probe reads the coldest that the controller
// takes, a shorted one the hottest, with a converter of any size.
func TestProbeFaultsRead(t *testing.T) {
	for _, p := range []models.Probe{thermistor(), steinhartHart()} {
		for bits := 8; bits <= 24; bits++ {
			p.Bits, p.Top = bits, 2200
			p.Open, p.Shorted = true, false
			if got := p.Code(60); got != 1<<bits-1 {
				t.Errorf("%d bits: an open probe gives code %d, want %d", bits, got, 1<<bits-1)
			}
			if got := p.Reading(p.Code(60)); bits >= 10 && got != -55 || got > 0 {
				t.Errorf("%d bits: an open probe reads %v °C, want -55", bits, got)
			}
			p.Open, p.Shorted = false, true
			if got := p.Code(60); got != 0 {
				t.Errorf("%d bits: a shorted probe gives code %d, want 0", bits, got)
			}
			if got := p.Reading(0); got != 200 {
				t.Errorf("%d bits: a shorted probe reads %v °C, want 200", bits, got)
			}
		}
	}
}

// A thermistor in a divider, read by a converter: what the controller takes
// 93 °C for, and how coarse a step is.
func ExampleProbe() {
	p := models.Probe{R25: 10e3, Beta: 3950, Top: 2.2e3, Bits: 10}
	code := p.Code(93)
	fmt.Printf("%.0f Ω, code %d, read as %.1f °C (next step %.1f °C)\n", p.Resistance(93), code, p.Reading(code), p.Reading(code+1))
	// Output: 854 Ω, code 286, read as 93.0 °C (next step 92.8 °C)
}

// A span must lie inside the step of its code and all but fill it.
func TestProbeSpan(t *testing.T) {
	for _, p := range []models.Probe{
		{R25: 10e3, Beta: 3950, Top: 2200, Bits: 12},
		{A: 1.129241e-3, B: 2.341077e-4, C: 8.775468e-8, Top: 4700, Bits: 10, Offset: 2},
		{R25: 10e3, Beta: 3950, Top: 2200, Bits: 4},
		{R25: 10e3, Beta: 3950, Top: 2200, Bits: 12, Open: true},
	} {
		for at := -20.0; at < 150; at += 0.37 {
			code := p.Code(at)
			low, high := p.Span(code)
			if !(low <= at+1e-6 && at-1e-6 <= high) {
				t.Errorf("%g °C: found a span of %g to %g, expected it to hold the temperature", at, low, high)
			}
			for _, x := range []float64{low, high} {
				if !math.IsInf(x, 0) && p.Code(x) != code {
					t.Errorf("%g °C: found code %d at the end %g of its span, expected %d", at, p.Code(x), x, code)
				}
			}
			if !math.IsInf(low, 0) && p.Code(low-1e-6) == code || !math.IsInf(high, 0) && p.Code(high+1e-6) == code {
				t.Errorf("%g °C: found the span %g to %g short of its step", at, low, high)
			}
		}
	}
}
