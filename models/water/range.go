package water

import (
	"errors"
	"fmt"
)

// zeroCelsius is 0 degC in K, exact by definition (ITS-90).
const zeroCelsius = 273.15

// Limits of IF97, IAPWS R7-97(2012) sections 3 and 8.
const (
	minKelvin      = 273.15  // K, lower limit of regions 1, 2 and 4
	boundaryKelvin = 623.15  // K, upper limit of region 1, where region 3 begins
	maxB23Kelvin   = 863.15  // K, end of the boundary between regions 2 and 3
	maxKelvin      = 1073.15 // K, upper limit of region 2
	criticalKelvin = 647.096 // K, critical temperature
	maxPressure    = 100e6   // Pa, upper limit of regions 1 and 2
)

// ErrRange is what every [*RangeError] unwraps to. It is returned when an
// argument is outside the range in which the formulation holds.
var ErrRange = errors.New("outside the range of IAPWS-IF97")

// RangeError tells which argument was outside the formulation's range.
type RangeError struct {
	Quantity string  // what was out of range, such as "temperature"
	Unit     string  // its unit, also of Min and Max
	Value    float64 // what was found
	Min, Max float64 // what was expected, both ends included
}

// Error names the quantity, what was found and what was expected.
func (e *RangeError) Error() string {
	return fmt.Sprintf("%s %.9g %s is outside %.9g to %.9g %s of IAPWS-IF97",
		e.Quantity, e.Value, e.Unit, e.Min, e.Max, e.Unit)
}

// Unwrap returns [ErrRange].
func (e *RangeError) Unwrap() error { return ErrRange }

// checkCelsius wants a temperature in degC between two limits in K. The
// comparison is made in degC and in K, so that an end given as either is let in.
func checkCelsius(tC, minK, maxK float64) error {
	T := tC + zeroCelsius
	lo, hi := minK-zeroCelsius, maxK-zeroCelsius
	if (tC >= lo || T >= minK) && (tC <= hi || T <= maxK) {
		return nil
	}
	return &RangeError{Quantity: "temperature", Unit: "degC", Value: tC, Min: lo, Max: hi}
}

// checkPressure wants an absolute pressure in Pa between two limits, give or take 1e-9
// of them so that a point computed to lie on the saturation line is let in.
func checkPressure(p, lo, hi float64) error {
	if p >= lo*(1-1e-9) && p <= hi*(1+1e-9) {
		return nil
	}
	return &RangeError{Quantity: "pressure", Unit: "Pa", Value: p, Min: lo, Max: hi}
}
