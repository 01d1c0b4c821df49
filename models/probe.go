package models

import (
	"math"

	q "boilwright/models/quantity"
)

// Probe is a negative-temperature-coefficient thermistor in a divider, read
// by an analogue-to-digital converter.
//
// With Steinhart–Hart coefficients A, B, C (T in kelvin, R in ohms)
//
//	1/T = A + B·ln R + C·(ln R)³
//
// (Steinhart & Hart, Deep-Sea Research 15 (1968) 497), or, where A is zero,
// by the beta equation R = R25·exp(β·(1/T − 1/298.15)).
type Probe struct {
	R25     q.Ohm
	Beta    q.Kelvin
	A, B, C float64

	Top  q.Ohm // divider resistor to the reference; the thermistor is below
	Bits int   // of the converter

	Capacity q.JoulePerKelvin // C_p
	ToWater  q.WattPerKelvin  // G_wp

	Offset  q.Kelvin // drift, added to the temperature that the probe senses
	Open    bool
	Shorted bool
}

const kelvin = 273.15

// Resistance returns the thermistor's resistance in ohms at t in °C.
func (p *Probe) Resistance(t float64) float64 {
	T := t + kelvin
	if p.A == 0 {
		return float64(p.R25) * math.Exp(float64(p.Beta)*(1/T-1/298.15))
	}
	// The cubic x³ + (B/C)x + (A − 1/T)/C = 0 in x = ln R has one real root.
	if p.C == 0 {
		return math.Exp((1/T - p.A) / p.B)
	}
	y := (p.A - 1/T) / p.C / 2
	d := math.Sqrt(math.Pow(p.B/(3*p.C), 3) + y*y)
	return math.Exp(math.Cbrt(d-y) - math.Cbrt(d+y))
}

// Temperature returns the temperature in °C at which the thermistor has the
// resistance r in ohms; it is the inverse of Resistance. A resistance too low
// for any temperature, where 1/T is not positive, gives +Inf.
func (p *Probe) Temperature(r float64) float64 {
	inverse := 0.0
	if p.A == 0 {
		inverse = 1/298.15 + math.Log(r/float64(p.R25))/float64(p.Beta)
	} else {
		ln := math.Log(r)
		inverse = p.A + p.B*ln + p.C*ln*ln*ln
	}
	if inverse <= 0 {
		return math.Inf(1)
	}
	return 1/inverse - kelvin
}

// Code returns the converter's code for a probe at t in °C: the divider's
// ratio R/(R + Top) in 2^Bits steps, rounded down and held within
// 0 … 2^Bits − 1.
func (p *Probe) Code(t float64) int {
	full := float64(int(1) << p.Bits)
	ratio := 1.0
	switch {
	case p.Open:
	case p.Shorted:
		ratio = 0
	default:
		r := p.Resistance(t + float64(p.Offset))
		ratio = r / (r + float64(p.Top))
	}
	return int(max(0, min(full-1, math.Floor(ratio*full))))
}

// Span returns temperatures in °C between which the converter is sure to give
// a code; they lie a little inside its step.
func (p *Probe) Span(code int) (low, high float64) {
	full := float64(int(1) << p.Bits)
	at := func(step int) float64 {
		ratio := float64(step) / full
		return p.Temperature(float64(p.Top)*ratio/(1-ratio)) - float64(p.Offset)
	}
	const inside = 1e-7
	if p.Open || p.Shorted {
		return math.Inf(-1), math.Inf(1)
	}
	low, high = math.Inf(-1), math.Inf(1)
	if float64(code+1) < full {
		low = at(code+1) + inside
	}
	if code > 0 {
		high = at(code) - inside
	}
	if !(p.Resistance(20) > p.Resistance(30)) || math.IsNaN(low) || math.IsNaN(high) {
		return 0, 0 // not a thermistor of the usual kind
	}
	return low, high
}

// Limits of what a controller takes for a temperature, in °C.
const (
	coldest = -55.0
	hottest = 200.0
)

// Reading returns the temperature in °C that the controller takes a code for:
// that of the middle of its step, held within −55 °C and 200 °C. With a
// converter of ten bits or more an open probe reads coldest and a shorted one
// hottest.
func (p *Probe) Reading(code int) float64 {
	full := float64(int(1) << p.Bits)
	ratio := (float64(code) + 0.5) / full
	r := float64(p.Top) * ratio / (1 - ratio)
	return max(coldest, min(hottest, p.Temperature(r)))
}
