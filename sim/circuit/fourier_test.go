package circuit

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"

	"boilwright/models"
)

// TestPhaseCutHarmonics compares the harmonics of a symmetrically delayed
// current with the closed forms for a resistive load, e.g. Rashid, Power
// Electronics, AC voltage controllers: with the uncut sine as unit
//
//	a1 = (cos 2α − 1)/(2π), b1 = (2(π − α) + sin 2α)/(2π), c1² = a1² + b1²
//
// and for odd n the sums of cosines whose values at 90° include h3 = 1/π.
func TestPhaseCutHarmonics(t *testing.T) {
	const volts, load = 230.0, 46.0
	for _, row := range []struct {
		delay, displacement, rms float64
		h                        [5]float64 // orders 1, 3, 5, 7, 9
	}{
		{30, 0.9966597153, 0.985477324543, [5]float64{0.974420398723, 0.07957747155, 0.07018073322, 0.05781169278, 0.04430686102}},
		{60, 0.9586804095, 0.896938621379, [5]float64{0.839173182752, 0.2387324146, 0.1378322239, 0.06891611193, 0.0631626599}},
		{90, 0.8435636081, 0.707106781187, [5]float64{0.592723530529, 0.3183098862, 0.1061032954, 0.1061032954, 0.06366197724}},
		{120, 0.6335766512, 0.442155074016, [5]float64{0.30856741501, 0.2387324146, 0.1378322239, 0.06891611193, 0.0631626599}},
		{150, 0.3406699315, 0.169807075268, [5]float64{0.0846404103835, 0.07957747155, 0.07018073322, 0.05781169278, 0.04430686102}},
	} {
		r, v := loadVoltage(t, idealBoard(volts, 50, load), 2, bothHalves(row.delay))
		for i, want := range row.h {
			n := 2*i + 1
			near(t, fmt.Sprintf("delay %g°, order %d", row.delay, n), cmplx.Abs(r.Fourier(v, float64(n)))/volts, want, 1, 1e-9)
			near(t, fmt.Sprintf("delay %g°, order %d", row.delay, n+1), cmplx.Abs(r.Fourier(v, float64(n+1)))/volts, 0, 1, 1e-9)
		}
		near(t, "mean", real(r.Fourier(v, 0))/volts, 0, 1, 1e-9)
		// The phasor of the sine is −j·V: the angle between is the
		// fundamental's displacement.
		near(t, "displacement factor", math.Cos(cmplx.Phase(r.Fourier(v, 1))+math.Pi/2), row.displacement, 1, 1e-9)
	}
}

// TestHalfWaveHarmonics takes one polarity: mean √2/π, fundamental 1/2, even
// orders (2√2/π)/(n² − 1) peak of the rms (Fourier series of the rectified
// sine, circuit texts).
func TestHalfWaveHarmonics(t *testing.T) {
	const volts = 240.0
	r, v := loadVoltage(t, idealBoard(volts, 60, 48), 2, func(half int64) (float64, bool) { return 0, half%2 == 0 })
	near(t, "mean", real(r.Fourier(v, 0))/volts, math.Sqrt2/math.Pi, 1, 1e-9)
	near(t, "order 1", cmplx.Abs(r.Fourier(v, 1))/volts, 0.5, 1, 1e-9)
	for n := 2; n <= 40; n++ {
		want := 0.0
		if n%2 == 0 {
			want = 2 / math.Pi / float64(n*n-1)
		}
		near(t, fmt.Sprintf("order %d", n), cmplx.Abs(r.Fourier(v, float64(n)))/volts, want, 1, 1e-9)
	}
}

// TestFourierQuadrature compares the closed integrals with Gauss-Legendre
// quadrature of the waveform itself, from switching to switching, on a board
// with source impedance, snubbers and a distorted supply, whole orders and a
// fraction.
func TestFourierQuadrature(t *testing.T) {
	b := refBoard()
	b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 4, Phase: 20}, {Order: 8, Voltage: 1, Phase: -70}}
	b.Supply.DC = 0.3
	s := mustNew(t, b)
	// Two cycles on, three off, as in a burst.
	r := mustRecord(t, s, 10, func(half int64) Input {
		d := []float64{0, 0, 0}
		if half < 4 {
			d = []float64{12, 0, 12}
		}
		return Input{Factor: 1, Drive: d}
	})
	supply, err := s.Current("source")
	if err != nil {
		t.Fatal(err)
	}
	volts := voltOf(t, s, models.At(models.Line, 0), models.At(models.Neutral, 0))
	for _, sig := range []Signal{supply, volts} {
		rms := math.Sqrt(r.Moments(sig).MeanSquare)
		for _, order := range []float64{0, 1, 2, 3, 0.2, 1.4, 7.8, 39, 40} {
			var want complex128
			for i := range r.segments {
				g := &r.segments[i]
				at := r.start(g)
				// A fast mode dies soon after a switching: cut there.
				for a, c := g.T0, math.Min(g.T1, g.T0+1e-7); a < g.T1; a, c = c, math.Min(g.T1, math.Min(c+1e-3, g.T0+8*(c-g.T0))) {
					part := func(f func(float64) float64) float64 {
						return quad.Fixed(func(x float64) float64 {
							return g.Value(sig, x) * f(2*math.Pi*50*order*(at+x))
						}, a, c, 24, quad.Legendre{}, 0)
					}
					want += complex(part(math.Cos), -part(math.Sin))
				}
			}
			scale := math.Sqrt2
			if order == 0 {
				scale = 1
			}
			want *= complex(scale/r.Duration(), 0)
			if got := r.Fourier(sig, order); !(cmplx.Abs(got-want) < 1e-9*rms) {
				t.Errorf("order %g: found %v, expected %v", order, got, want)
			}
		}
	}
}

// TestVoltageSquared compares the record's ∫v² with the moments of the
// recording, and the drop of a resistive step with the exact division on the
// reference impedance of IEC 60725 (0.4 + j0.25 Ω): 1500 W at 230 V lowers
// the voltage by 1.12392423 %.
func TestVoltageSquared(t *testing.T) {
	b := idealBoard(230, 50, 230*230/1500.0)
	b.Supply.LineResistance, b.Supply.LineInductance = 0.4, 0.25/(100*math.Pi)
	b.Supply.Damping = 5e5 // next to none
	s := mustNew(t, b)
	volts := voltOf(t, s, models.At(models.Line, 0), models.At(models.Neutral, 0))
	for _, drive := range []float64{0, 12} {
		if _, err := s.Settle(20, drives(drive)); err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		old := s.onSegment
		var rec Recording
		rec.half = b.Supply.HalfCycle()
		rec.first = s.half
		s.OnSegment(func(g *Segment) { rec.segments = append(rec.segments, g.clone()) })
		for range 2 {
			r, err := s.HalfCycle(drives(drive)(s.half))
			if err != nil {
				t.Fatal(err)
			}
			sum += r.VoltageSquared
		}
		s.OnSegment(old)
		rms := math.Sqrt(sum / rec.Duration())
		near(t, "rms", rms, math.Sqrt(rec.Moments(volts).MeanSquare), 230, 1e-12)
		want := 230.0
		if drive > 0 {
			want = 230 * (1 - 0.0112392423)
		}
		near(t, fmt.Sprintf("volts at a drive of %g V", drive), rms, want, 230, 1e-6)
	}
}
