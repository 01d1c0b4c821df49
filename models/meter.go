package models

import (
	"math"

	q "boilwright/models/quantity"
)

// Detector is the law by which a meter turns a voltage into a number.
type Detector int

// The detectors, all calibrated on a sine.
const (
	AverageFullWave        Detector = iota // π/(2√2)·mean|v|
	AverageFullWaveCoupled                 // the same on v − mean v (capacitor-coupled)
	AverageHalfWave                        // π/√2·mean max(v, 0)
	RMSCoupled                             // √(mean v² − (mean v)²)
	RMSDirect                              // √(mean v²)
	Direct                                 // mean v
)

var detectorNames = [...]string{"average", "average-coupled", "average-half-wave", "rms-coupled", "rms", "direct"}

func (d Detector) String() string { return detectorNames[d] }

// Detectors lists all detectors in order.
func Detectors() []Detector {
	return []Detector{AverageFullWave, AverageFullWaveCoupled, AverageHalfWave, RMSCoupled, RMSDirect, Direct}
}

// ParseDetector returns the detector of a written name.
func ParseDetector(s string) (Detector, bool) {
	for i, n := range detectorNames {
		if n == s {
			return Detector(i), true
		}
	}
	return 0, false
}

// Moments are the time means of a waveform over whole cycles that the
// detectors need.
type Moments struct {
	Mean       float64 // mean v
	MeanSquare float64 // mean v²
	MeanAbs    float64 // mean |v|
	// MeanAbsCoupled is the mean of |v − mean v|.
	MeanAbsCoupled float64
}

// Indicated returns what detector d makes of a waveform, before accuracy and
// display. For AverageHalfWave the leads are the right way round: negate the
// Mean of the moments for the other way.
func (d Detector) Indicated(m Moments) float64 {
	const form = math.Pi / (2 * math.Sqrt2)
	switch d {
	case AverageFullWave:
		return form * m.MeanAbs
	case AverageFullWaveCoupled:
		return form * m.MeanAbsCoupled
	case AverageHalfWave:
		return form * (m.MeanAbs + m.Mean)
	case RMSCoupled:
		return math.Sqrt(math.Max(0, m.MeanSquare-m.Mean*m.Mean))
	case RMSDirect:
		return math.Sqrt(m.MeanSquare)
	}
	return m.Mean
}

// Meter is a voltmeter: an input, a detector, ranges and an accuracy.
type Meter struct {
	Name       string
	Detector   Detector
	Resistance q.Ohm    // input
	Input      q.Farad  // input capacitance
	Cycles     int      // whole cycles over which it measures
	Counts     int      // of the display, e.g. 6000
	Ranges     []q.Volt // full scales, rising; the lowest that fits is used
	// Accuracy is the percentage of reading plus counts of the display.
	Accuracy       q.Ratio
	AccuracyCounts float64
}

// Display returns the value v as displayed, rounded to the resolution of the
// lowest range that holds it, the resolution, and whether every range is
// exceeded. The uncertainty is Accuracy·|v| + AccuracyCounts·resolution.
func (m *Meter) Display(v float64) (shown, resolution, uncertainty float64, over bool) {
	return display(v, m.Counts, m.Ranges, float64(m.Accuracy), m.AccuracyCounts)
}

// display is the display of an instrument whose ranges are in the unit of v.
func display[U ~float64](v float64, counts int, ranges []U, accuracy, accuracyCounts float64) (shown, resolution, uncertainty float64, over bool) {
	if len(ranges) == 0 || counts <= 0 {
		return v, 0, accuracy * math.Abs(v), false
	}
	full := float64(ranges[len(ranges)-1])
	over = math.Abs(v) > full
	for _, r := range ranges {
		if math.Abs(v) <= float64(r) {
			full = float64(r)
			break
		}
	}
	places := decimals(full / float64(counts))
	resolution = math.Pow10(-places)
	shown = decimal(v, places)
	return shown, resolution, accuracy*math.Abs(v) + accuracyCounts*resolution, over
}

// decimals returns the decimal places of a display whose steps, powers of ten, are
// no smaller than least, but for a part in 10⁹ or so.
func decimals(least float64) int {
	const slack = 1e-9 * math.Ln10
	if least > 1e-7*(1+slack) {
		for i, step := range usualSteps {
			if least <= step*(1+slack) {
				return 6 - i
			}
		}
	}
	return -int(math.Ceil(math.Log10(least) - 1e-9))
}

// usualSteps are those of usual displays, found sooner than by a logarithm.
var usualSteps = [...]float64{1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 0.1, 1, 10, 100}

// EnergyMonitor is a plug-in monitor in the supply lead.
type EnergyMonitor struct {
	// Floor is the power below which it shows zero.
	Floor q.Watt
	// Period is the sampling period of its log.
	Period q.Second
	// Accuracy of current and power readings, of reading.
	Accuracy q.Ratio
	// CurrentResolution and PowerResolution are the steps of its display.
	CurrentResolution q.Ampere
	PowerResolution   q.Watt
}

// ShowPower returns the power w in watts as displayed: in steps of
// PowerResolution, zero below Floor.
func (m *EnergyMonitor) ShowPower(w float64) float64 {
	if w < float64(m.Floor) {
		return 0
	}
	return step(w, float64(m.PowerResolution))
}

// ShowCurrent returns the current a in amperes as displayed, zero where the
// power w is below Floor.
func (m *EnergyMonitor) ShowCurrent(a, w float64) float64 {
	if w < float64(m.Floor) {
		return 0
	}
	return step(a, float64(m.CurrentResolution))
}

// step rounds v to a multiple of by.
func step(v, by float64) float64 {
	if by <= 0 {
		return v
	}
	if places := math.Round(-math.Log10(by)); math.Abs(math.Pow10(-int(places))/by-1) < 1e-12 {
		return decimal(v, int(places))
	}
	return math.Round(v/by)*by + 0
}

// decimal rounds v to a number of decimal places, without leaving the dust of
// a multiplication by 0.1, nor a negative zero.
func decimal(v float64, places int) float64 {
	if places < 0 {
		f := math.Pow10(-places)
		return math.Round(v/f)*f + 0
	}
	f := math.Pow10(places)
	return math.Round(v*f)/f + 0
}
