package infer

import (
	"math"

	"boilwright/models"
	"boilwright/sim/readings"
)

// Stated errors of the model against a real board: assumptions.
const (
	relModel   = 0.01 // of voltages, currents and powers
	ohmsModel  = 0.02 // of resistances, with the ohmmeter's own error
	voltsFloor = 0.2  // V, below which a voltage reading means little
	diodeModel = 0.03 // V
	wattsFloor = 1.0  // W
	ampsFloor  = 0.02 // A
	degModel   = 1.5  // K, besides what the draws spread
	minModel   = 1.0  // min
)

// Ends of what instruments show.
const (
	ohmOpen    = 60e6 // Ω, beyond the last range
	insulated  = 1e9  // Ω, beyond which an insulation tester shows its end
	diodeOpen  = 3.3  // V, stands for open
	neverReach = 75.0 // min, stands for never within the hour
)

// scale is how values of a test are compared.
type scale struct {
	knee  float64 // of asinh(v/knee); 0 is linear
	log   bool
	low   float64 // range of y for the broad density
	high  float64
	open  float64 // value that stands for open
	rel   float64 // relative error, of one standard deviation
	floor float64 // absolute error
	slack float64 // factor on widths, 0 is 1
	// together is how many values are scored together on each draw.
	together int
}

func scaleOf(t *Test, b *models.Board) scale {
	peak := 1.2 * float64(b.Supply.Voltage)
	switch t.Kind {
	case Unplugged, ProbeOhms:
		switch {
		case t.Kind == Unplugged && t.Instrument == readings.DiodeTest:
			return scale{low: 0, high: diodeOpen, open: diodeOpen, rel: 0.005, floor: diodeModel}
		case t.Kind == Unplugged && t.Instrument == readings.Insulation:
			return scale{log: true, low: 2, high: math.Log10(insulated) + 0.5, open: 3 * insulated, rel: 0.05, floor: 1}
		}
		return scale{log: true, low: -1.5, high: math.Log10(ohmOpen) + 0.5, open: 3 * ohmOpen, rel: ohmsModel, floor: 0.1}
	case Temperature:
		return scale{low: -60, high: 210, rel: 0.01, floor: degModel}
	case WarmUp:
		return scale{low: 0, high: neverReach, open: neverReach, rel: 0.04, floor: minModel}
	case MonitorWatt:
		return scale{knee: 20, low: 0, high: math.Asinh(2e4 / 20), rel: relModel, floor: wattsFloor}
	case MonitorAmp, Clamp:
		return scale{knee: 0.2, low: 0, high: math.Asinh(100 / 0.2), rel: relModel, floor: ampsFloor}
	}
	s := scale{knee: 0.5, low: 0, high: math.Asinh(peak / 0.5), rel: relModel, floor: voltsFloor}
	s.low = -s.high / 4 // signed meters are few
	return s
}

// y is where a value lies on the scale.
func (s *scale) y(v float64) float64 {
	if v > 1e300 || s.open > 0 && v > s.open {
		v = s.open
	}
	switch {
	case s.log:
		return math.Log10(math.Max(v, math.Pow(10, s.low)))
	case s.knee > 0:
		return math.Asinh(v / s.knee)
	}
	return v
}

// slope is dy/dv at v.
func (s *scale) slope(v float64) float64 {
	switch {
	case s.log:
		return 1 / (math.Max(v, math.Pow(10, s.low)) * math.Ln10)
	case s.knee > 0:
		return 1 / math.Hypot(v, s.knee)
	}
	return 1
}

// error is the standard deviation on the scale of a reading about v, with an
// instrument's own standard deviation.
func (s *scale) error(v, own float64) float64 {
	if v > 1e300 || s.open > 0 && v >= s.open {
		if s.log {
			return 0.05
		}
		return s.floor
	}
	// An ohmmeter's floor matters for low values only.
	return math.Sqrt(sq(s.rel*v)+sq(s.floor)+sq(own)) * s.slope(v)
}

func sq(x float64) float64 { return x * x }

// density is the normal density of y about mean with deviation sd.
func density(y, mean, sd float64) float64 {
	z := (y - mean) / sd
	return math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
}

// broad is the density of anything that the test can show.
func (s *scale) broad() float64 { return 1 / (s.high - s.low) }

// meterDeviation is the standard deviation in volts that a meter's stated
// accuracy amounts to about v, the bound being that of an even distribution.
func meterDeviation(m *models.Meter, v float64) float64 {
	_, res, unc, _ := m.Display(v)
	return (unc + res/2) / math.Sqrt(3)
}
