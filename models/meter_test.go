package models_test

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"
)

// wave is a waveform over one period of 2π as smooth pieces.
type wave struct {
	v    func(x float64) float64
	ends []float64 // where pieces end, rising, the last at 2π
}

// full is the sine of rms 1.
func full(x float64) float64 { return math.Sqrt2 * math.Sin(x) }

// cut is a sine of rms 1 whose positive and negative half-waves begin late, by
// angles in degrees; 180 leaves one out.
func cut(positive, negative float64) wave {
	a, b := positive*math.Pi/180, math.Pi+negative*math.Pi/180
	return wave{func(x float64) float64 {
		if x < a || x >= math.Pi && x < b {
			return 0
		}
		return full(x)
	}, []float64{a, math.Pi / 2, math.Pi, b, 1.5 * math.Pi, 2 * math.Pi}}
}

// mean is that of f(v) over the period, by Gauss–Legendre quadrature of each
// piece; kinks of f lie at the further ends.
func (w wave) mean(f func(v float64) float64, further ...float64) float64 {
	ends := slices.Sorted(slices.Values(slices.Concat(w.ends, further)))
	sum, from := 0.0, 0.0
	for _, to := range ends {
		if to > from {
			sum += quad.Fixed(func(x float64) float64 { return f(w.v(x)) }, from, to, 24, quad.Legendre{}, 1)
			from = to
		}
	}
	return sum / (2 * math.Pi)
}

// crossings returns where the wave crosses a level within its pieces.
func (w wave) crossings(level float64) []float64 {
	var out []float64
	const n = 20000
	for i := range n {
		a, b := 2*math.Pi*float64(i)/n, 2*math.Pi*float64(i+1)/n
		if (w.v(a) > level) == (w.v(b) > level) {
			continue
		}
		for range 60 {
			mid := (a + b) / 2
			if (w.v(mid) > level) == (w.v(a) > level) {
				a = mid
			} else {
				b = mid
			}
		}
		out = append(out, b)
	}
	return out
}

func (w wave) moments() models.Moments {
	mean := w.mean(func(v float64) float64 { return v })
	return models.Moments{
		Mean:           mean,
		MeanSquare:     w.mean(func(v float64) float64 { return v * v }),
		MeanAbs:        w.mean(math.Abs),
		MeanAbsCoupled: w.mean(func(v float64) float64 { return math.Abs(v - mean) }, w.crossings(mean)...),
	}
}

// TestDetectors compares the detectors with form factors in closed form
// (circuit and measurement texts), as fractions of the full sine's rms:
// average full-wave, the same capacitor-coupled, true rms capacitor-coupled,
// true rms, mean. The moments come from quadrature.
func TestDetectors(t *testing.T) {
	rectified := cut(0, 0)
	rectified.v = func(x float64) float64 { return math.Abs(full(x)) }
	order := []models.Detector{models.AverageFullWave, models.AverageFullWaveCoupled, models.RMSCoupled, models.RMSDirect, models.Direct}
	for _, row := range []struct {
		name string
		w    wave
		want [5]string
	}{
		{"sine", cut(0, 0), [5]string{"1.00000000000", "1.00000000000", "1.00000000000", "1.00000000000", "0.00000000000"}},
		{"half-wave", cut(0, 180), [5]string{"0.500000000000", "0.551101965822", "0.545305082239", "0.707106781187", "0.450158158079"}},
		{"half-wave, negative", cut(180, 0), [5]string{"0.500000000000", "0.551101965822", "0.545305082239", "0.707106781187", "-0.450158158079"}},
		{"full-wave rectified", rectified, [5]string{"1.00000000000", "0.421027324706", "0.435236178254", "1.00000000000", "0.900316316157"}},
		{"cut at 30", cut(30, 30), [5]string{"0.933012701892", "0.933012701892", "0.985477324543", "0.985477324543", "0.000000000000"}},
		{"cut at 60", cut(60, 60), [5]string{"0.750000000000", "0.750000000000", "0.896938621379", "0.896938621379", "0.000000000000"}},
		{"cut at 90", cut(90, 90), [5]string{"0.500000000000", "0.500000000000", "0.707106781187", "0.707106781187", "0.000000000000"}},
		{"cut at 120", cut(120, 120), [5]string{"0.250000000000", "0.250000000000", "0.442155074016", "0.442155074016", "0.000000000000"}},
		{"cut at 150", cut(150, 150), [5]string{"0.0669872981078", "0.0669872981078", "0.169807075268", "0.169807075268", "0.000000000000"}},
		{"half-wave cut at 30", cut(30, 180), [5]string{"0.466506350946", "0.566474292276", "0.556039588457", "0.69683769889", "0.420003279348"}},
		{"half-wave cut at 90", cut(90, 180), [5]string{"0.250000000000", "0.381346043885", "0.44647442052", "0.500000000000", "0.225079079039"}},
		{"half-wave cut at 150", cut(150, 180), [5]string{"0.0334936490539", "0.0615186921615", "0.116223511797", "0.120071734416", "0.0301548787309"}},
		{"positive half cut at 90", cut(90, 0), [5]string{"0.750000000000", "0.76269208777", "0.83626515423", "0.866025403784", "-0.225079079039"}},
	} {
		m := row.w.moments()
		for i, d := range order {
			printed(t, row.name+", "+d.String(), d.Indicated(m), row.want[i])
		}
	}
}

// TestPrintedMeterTable: a multimeter manual prints what meters make of
// waveforms of true rms 1: half-wave 0.771, 0.764 and 0.636 by true-rms,
// average (both capacitor-coupled) and direct ranges; full-wave rectified
// 0.435, 0.421 and 0.900; average response to a square 1.110 and a triangle
// 0.960. Exact values are in closed form; the printed 0.764 is 2 % low for the
// detector that it describes.
func TestPrintedMeterTable(t *testing.T) {
	normalised := func(w wave, d models.Detector) float64 {
		m := w.moments()
		return d.Indicated(m) / models.RMSDirect.Indicated(m)
	}
	half, rectified := cut(0, 180), cut(0, 0)
	rectified.v = func(x float64) float64 { return math.Abs(full(x)) }
	square := wave{func(x float64) float64 { return math.Copysign(1, math.Pi-x) }, []float64{math.Pi, 2 * math.Pi}}
	triangle := wave{func(x float64) float64 { return math.Abs(math.Mod(x+1.5*math.Pi, 2*math.Pi)-math.Pi) - math.Pi/2 },
		[]float64{math.Pi / 2, math.Pi, 1.5 * math.Pi, 2 * math.Pi}}
	for _, row := range []struct {
		name      string
		w         wave
		d         models.Detector
		inExact   string
		inPrint   float64
		printedTo float64
	}{
		{"half-wave, true rms", half, models.RMSCoupled, "0.771177842933", 0.771, 0.0005},
		{"half-wave, average", half, models.AverageFullWaveCoupled, "0.779375874316", 0.764, 0.016},
		{"half-wave, direct", half, models.Direct, "0.636619772368", 0.636, 0.001},
		{"full-wave, true rms", rectified, models.RMSCoupled, "0.4352", 0.435, 0.0005},
		{"full-wave, average", rectified, models.AverageFullWaveCoupled, "0.4210", 0.421, 0.0005},
		{"full-wave, direct", rectified, models.Direct, "0.9003", 0.900, 0.0005},
		{"square, average", square, models.AverageFullWaveCoupled, "1.1107", 1.110, 0.001},
		{"triangle, average", triangle, models.AverageFullWaveCoupled, "0.9619", 0.960, 0.002},
	} {
		got := normalised(row.w, row.d)
		printed(t, row.name, got, row.inExact)
		near(t, row.name+", as printed", got, row.inPrint, 1, row.printedTo)
	}
	if low := 1 - 0.764/normalised(half, models.AverageFullWaveCoupled); !(low > 0.019 && low < 0.021) {
		t.Errorf("the printed average of a half-wave is %.2f %% low, expected 2 %%", 100*low)
	}
}

// TestHalfWaveDetector: a meter with one diode, calibrated on a sine, reads
// all of a half-wave or nothing of it, and twice a full-wave rectified one or
// nothing, depending on which way round its leads are.
func TestHalfWaveDetector(t *testing.T) {
	rectified := cut(0, 0)
	rectified.v = func(x float64) float64 { return math.Abs(full(x)) }
	for _, row := range []struct {
		name           string
		w              wave
		right, swapped float64
	}{{"sine", cut(0, 0), 1, 1}, {"half-wave", cut(0, 180), 1, 0}, {"full-wave rectified", rectified, 2, 0}, {"cut at 90", cut(90, 90), 0.5, 0.5}} {
		m := row.w.moments()
		near(t, row.name, models.AverageHalfWave.Indicated(m), row.right, 1, 1e-13)
		m.Mean = -m.Mean
		near(t, row.name+", leads exchanged", models.AverageHalfWave.Indicated(m), row.swapped, 1, 1e-13)
	}
}

// TestCoupledOfDirect: rounding never makes a root of a negative number.
func TestCoupledOfDirect(t *testing.T) {
	for _, v := range []float64{0.1, 1.1, 12, 1e-9, 325.27} {
		if got := models.RMSCoupled.Indicated(models.Moments{Mean: v, MeanSquare: v * v * (1 - 1e-16), MeanAbs: v}); !(got >= 0 && got < 1e-7*v) {
			t.Errorf("direct voltage of %g V reads %g V behind a capacitor, want 0", v, got)
		}
	}
}

func TestDetectorNames(t *testing.T) {
	seen := map[string]bool{}
	for _, d := range models.Detectors() {
		got, ok := models.ParseDetector(d.String())
		if !ok || got != d || seen[d.String()] {
			t.Errorf("detector %d is written %q, which reads as %d, %v", d, d.String(), got, ok)
		}
		seen[d.String()] = true
	}
	for _, s := range []string{"", "RMS", "rms ", "average "} {
		if d, ok := models.ParseDetector(s); ok {
			t.Errorf("%q reads as %v, want none", s, d)
		}
	}
}

// handheld is a 6000-count voltmeter.
func handheld() models.Meter {
	return models.Meter{Counts: 6000, Ranges: []q.Volt{0.6, 6, 60, 600, 1000}, Accuracy: 0.01, AccuracyCounts: 3}
}

func TestDisplay(t *testing.T) {
	up, down := math.Inf(1), math.Inf(-1)
	m := handheld()
	for _, x := range []struct {
		v, shown, resolution float64
		over                 bool
	}{
		{0, 0, 1e-4, false},
		{0.59999, 0.6, 1e-4, false},
		{0.6, 0.6, 1e-4, false},
		{math.Nextafter(0.6, up), 0.6, 1e-3, false},
		{6, 6, 1e-3, false},
		{math.Nextafter(6, up), 6, 1e-2, false},
		{59.994, 59.99, 1e-2, false},
		{230.04, 230, 0.1, false},
		{230.06, 230.1, 0.1, false},
		{600, 600, 0.1, false},
		{math.Nextafter(600, up), 600, 1, false},
		{1000, 1000, 1, false},
		{math.Nextafter(1000, up), 1000, 1, true},
		{-1000, -1000, 1, false},
		{math.Nextafter(-1000, down), -1000, 1, true},
		{-230.06, -230.1, 0.1, false},
		// Half a step goes away from zero, one bit less toward it.
		{700.5, 701, 1, false},
		{math.Nextafter(700.5, down), 700, 1, false},
		{-700.5, -701, 1, false},
		{100.25, 100.3, 0.1, false},
		{math.Nextafter(100.25, down), 100.2, 0.1, false},
	} {
		shown, resolution, uncertainty, over := m.Display(x.v)
		if shown != x.shown || resolution != x.resolution || over != x.over {
			t.Errorf("%v V: shown %v in steps of %v, over %v; want %v in steps of %v, over %v", x.v, shown, resolution, over, x.shown, x.resolution, x.over)
		}
		near(t, fmt.Sprintf("uncertainty of %v V", x.v), uncertainty, 0.01*math.Abs(x.v)+3*x.resolution, uncertainty, 1e-15)
	}
	for _, v := range []float64{math.Copysign(0, -1), -1e-9, -0.00004} {
		if shown, _, _, _ := m.Display(v); shown != 0 || math.Signbit(shown) {
			t.Errorf("%v V is shown as %v, want 0 without a sign", v, shown)
		}
	}
	if shown, _, _, over := m.Display(up); !over || !math.IsInf(shown, 1) {
		t.Errorf("an infinite voltage is shown as %v, over %v", shown, over)
	}
}

// TestDisplayCounts: the resolution is the least power of ten with which the
// range fits the counts.
func TestDisplayCounts(t *testing.T) {
	for _, x := range []struct {
		counts     int
		full       q.Volt
		resolution float64
	}{{6000, 600, 0.1}, {5999, 600, 1}, {2000, 200, 0.1}, {1999, 200, 1}, {4000, 600, 1}, {60000, 600, 0.01}, {20000, 1000, 0.1}, {50, 1000, 100}, {6000, 0.06, 1e-5}, {10, 1000, 100}, {9, 1000, 1000}} {
		m := models.Meter{Counts: x.counts, Ranges: []q.Volt{x.full}}
		if _, got, _, _ := m.Display(0); got != x.resolution {
			t.Errorf("%d counts on %g V: steps of %v V, want %v", x.counts, float64(x.full), got, x.resolution)
		}
		if counts := float64(x.full) / x.resolution; counts > float64(x.counts)*(1+1e-9) {
			t.Errorf("%d counts on %g V: full scale takes %g", x.counts, float64(x.full), counts)
		}
	}
	m := models.Meter{Counts: 50, Ranges: []q.Volt{1000}}
	if shown, _, _, _ := m.Display(349); shown != 300 {
		t.Errorf("349 V in steps of 100 V: shown %v, want 300", shown)
	}
	for _, m := range []models.Meter{{Accuracy: 0.01}, {Counts: 6000, Accuracy: 0.01}, {Ranges: []q.Volt{600}, Accuracy: 0.01}} {
		shown, resolution, uncertainty, over := m.Display(-math.Pi)
		if shown != -math.Pi || resolution != 0 || uncertainty != 0.01*math.Pi || over {
			t.Errorf("without a display: %v, %v, %v, %v", shown, resolution, uncertainty, over)
		}
	}
}

// TestDisplayDigits: what is shown is the very number that its digits read as,
// half a step from the value at most.
func TestDisplayDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := handheld()
		m.Counts = rapid.SampledFrom([]int{2000, 6000, 50000}).Draw(t, "counts")
		v := rapid.Float64Range(-1000, 1000).Draw(t, "v")
		shown, resolution, _, over := m.Display(v)
		places := max(0, int(math.Round(-math.Log10(resolution))))
		text := strconv.FormatFloat(shown, 'f', places, 64)
		if back, _ := strconv.ParseFloat(text, 64); back != shown || over {
			t.Fatalf("%v is shown as %v, over %v, in steps of %v: not the number %s", v, shown, over, resolution, text)
		}
		if math.Abs(shown-v) > resolution*(0.5+1e-9) {
			t.Fatalf("%v is shown as %v in steps of %v", v, shown, resolution)
		}
	})
}

func TestEnergyMonitor(t *testing.T) {
	m := models.EnergyMonitor{Floor: 2, PowerResolution: 0.1, CurrentResolution: 0.01}
	for _, x := range []struct{ w, a, showW, showA float64 }{
		{0, 0, 0, 0}, {-5, 0.02, 0, 0},
		{math.Nextafter(2, 0), 0.3, 0, 0},
		{2, 0.3, 2, 0.3},
		{1200.04, 5.217, 1200, 5.22},
		{1200.06, 5.214, 1200.1, 5.21},
		{2.25, 0.125, 2.3, 0.13},
		{math.Nextafter(2.25, 0), math.Nextafter(0.125, 0), 2.2, 0.12},
	} {
		if w, a := m.ShowPower(x.w), m.ShowCurrent(x.a, x.w); w != x.showW || a != x.showA {
			t.Errorf("%v W and %v A are shown as %v W and %v A, want %v and %v", x.w, x.a, w, a, x.showW, x.showA)
		}
	}
	for _, x := range []struct{ step, w, want float64 }{
		{1, 1200.5, 1201}, {10, 1204.9, 1200}, {100, 1250, 1300}, {0.25, 1200.37, 1200.25}, {0.5, 1200.25, 1200.5}, {20, 1209, 1200}, {0, 1200.123, 1200.123},
		{0.02, 7.031, 7.04}, {0.001, 3.0004, 3}, {0.0001, 3.00015, 3.0002},
	} {
		m := models.EnergyMonitor{PowerResolution: q.Watt(x.step), CurrentResolution: q.Ampere(x.step)}
		near(t, fmt.Sprintf("%v W in steps of %v", x.w, x.step), m.ShowPower(x.w), x.want, x.want, 1e-15)
		near(t, fmt.Sprintf("%v A in steps of %v", x.w, x.step), m.ShowCurrent(x.w, 1), x.want, x.want, 1e-15)
	}
}

// The same half-wave on 240 V, by four detectors of hand-held meters.
func ExampleDetector_Indicated() {
	// Means of √2·240 V·sin over one half of the cycle, nothing over the other.
	mean := math.Sqrt2 / math.Pi * 240
	coupled := (math.Sqrt(1-1/(math.Pi*math.Pi)) - 0.5 + math.Asin(1/math.Pi)/math.Pi) * 2 * math.Sqrt2 / math.Pi * 240
	m := models.Moments{Mean: mean, MeanSquare: 240 * 240 / 2, MeanAbs: mean, MeanAbsCoupled: coupled}
	for _, d := range []models.Detector{models.AverageFullWave, models.AverageFullWaveCoupled, models.RMSCoupled, models.RMSDirect} {
		meter := models.Meter{Counts: 6000, Ranges: []q.Volt{6, 60, 600}}
		shown, _, _, _ := meter.Display(d.Indicated(m))
		fmt.Printf("%-16s %.1f V\n", d, shown)
	}
	// Output:
	// average          120.0 V
	// average-coupled  132.3 V
	// rms-coupled      130.9 V
	// rms              169.7 V
}
