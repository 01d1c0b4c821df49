package disturbance

import (
	"fmt"
	"math"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// Lamp is the incandescent lamp whose flicker is weighed: a 60 W coiled-coil
// filament. The one for the lower voltage has a thicker filament, which is
// slower.
type Lamp int

// The lamps of IEC 61000-4-15.
const (
	Lamp230 Lamp = iota // 230 V
	Lamp120             // 120 V
)

func (l Lamp) String() string { return [...]string{"230 V lamp", "120 V lamp"}[l] }

// System is the supply system for which a flickermeter weighs.
type System struct {
	Lamp      Lamp
	Frequency q.Hertz
}

// SystemOf returns the system of a supply: the 120 V lamp for a voltage below
// 170 V.
func SystemOf(s *models.Supply) System {
	sys := System{Lamp230, s.Frequency}
	if s.Voltage < 170 {
		sys.Lamp = Lamp120
	}
	return sys
}

// check names what is wrong with a system.
func (s System) check() error {
	if s.Lamp != Lamp230 && s.Lamp != Lamp120 {
		return fmt.Errorf("lamp: found %d, expected %d or %d", int(s.Lamp), int(Lamp230), int(Lamp120))
	}
	if f := float64(s.Frequency); !(f >= 40 && f <= 70) {
		return fmt.Errorf("supply frequency: found %v Hz, expected 40 Hz to 70 Hz", f)
	}
	return nil
}

// response is lamp, eye and brain:
//
//	F(s) = k·ω1·s/(s² + 2λs + ω1²) · (1 + s/ω2)/((1 + s/ω3)(1 + s/ω4))
//
// with the frequencies as s/2π (IEC 61000-4-15, table of filter parameters).
type response struct{ k, lambda, f1, f2, f3, f4 float64 }

var responses = [...]response{
	Lamp230: {1.74802, 4.05981, 9.15494, 2.27979, 1.22535, 21.9},
	Lamp120: {1.6357, 4.167375, 9.077169, 2.939902, 1.394468, 17.31512},
}

// Sinusoidal modulation of 8.8 Hz by this part of the voltage, peak to peak,
// gives P_inst,max = 1: the point at which the meter is scaled
// (IEC 61000-4-15 ed. 2 Table 1).
var unit = [...]float64{Lamp230: 0.250e-2, Lamp120: 0.321e-2}

const unitHertz = 8.8

// Corners of the band in hertz, and the smoothing time of the instantaneous
// flicker in seconds (IEC 61000-4-15 clause 5).
const (
	highPass  = 0.05
	lowPass50 = 35.0 // for 50 Hz
	lowPass60 = 42.0 // for 60 Hz
	smoothing = 0.3
)

// adaptation is the time constant in seconds with which the voltage is
// adapted to its own mean: 10 % to 90 % in a minute (from memory).
const adaptation = 60 / 2.1972245773362196 // ln 9

func (s System) lowPass() float64 {
	if s.Frequency < 55 {
		return lowPass50
	}
	return lowPass60
}

// scale returns the factor from the smoothed square of the filter's output to
// P_inst. A modulation of ΔU/U peak to peak moves the square of the voltage by
// a = ΔU/U about its mean; at Ω the output is a·|H|, its smoothed square
//
//	(a·|H|)²/2·(1 + 1/√(1 + (2Ωτ)²))
//
// at the greatest.
func (s System) scale(f filter) float64 {
	omega := 2 * math.Pi * unitHertz
	y := unit[s.Lamp] * f.gain(omega)
	return 1 / (y * y / 2 * (1 + 1/math.Hypot(1, 2*omega*smoothing)))
}
