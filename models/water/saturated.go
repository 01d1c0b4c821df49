package water

import "gonum.org/v1/gonum/integrate/quad"

// SaturatedLiquid returns the state of liquid water about to boil at tC degC, 0
// to 350: region 1 at the pressure of eq. 30. CP is the isobaric heat capacity
// there and Enthalpy is hf. Elsewhere, and for NaN, the error is a [*RangeError].
func SaturatedLiquid(tC float64) (State, error) {
	if err := checkCelsius(tC, minKelvin, boundaryKelvin); err != nil {
		return State{}, err
	}
	T := tC + zeroCelsius
	p := saturationPressure(T)
	f := liquidGibbs(p, T)
	return f.state(p, T, tC), nil
}

// SaturatedVapour returns the state of steam about to condense at tC degC, 0 to
// 350: region 2 at the pressure of eq. 30. Enthalpy is hg. Elsewhere, and for
// NaN, the error is a [*RangeError].
func SaturatedVapour(tC float64) (State, error) {
	if err := checkCelsius(tC, minKelvin, boundaryKelvin); err != nil {
		return State{}, err
	}
	T := tC + zeroCelsius
	p := saturationPressure(T)
	f := vapourGibbs(p, T)
	return f.state(p, T, tC), nil
}

// LatentHeat returns hfg = hg - hf in J/kg, the heat that evaporates 1 kg of
// saturated liquid at tC degC, 0 to 350. Elsewhere, and for NaN, the error is a
// [*RangeError]. [Hfg] is its fast form.
func LatentHeat(tC float64) (float64, error) {
	if err := checkCelsius(tC, minKelvin, boundaryKelvin); err != nil {
		return 0, err
	}
	return latentHeat(tC + zeroCelsius), nil
}

// EnthalpyIntegral returns, in J/kg,
//
//	H(t) = integral from 0 degC to t of cp(t', psat(t')) dt'
//
// the heat that warms 1 kg of liquid along the saturation line in the model
// that stores cp dT, at tC degC, 0 to 350. It differs a little from hf(t) - hf(0);
// the package comment says how and why. The integrand is the IF97 formula,
// taken by Gauss-Legendre quadrature with 20 points in each span of at most
// 25 K; what is left is round-off, near 1e-15 relative. Elsewhere, and for NaN, the
// error is a [*RangeError]. [H] is its fast form.
func EnthalpyIntegral(tC float64) (float64, error) {
	if err := checkCelsius(tC, minKelvin, boundaryKelvin); err != nil {
		return 0, err
	}
	const span = 25
	cp := func(t float64) float64 { return saturatedHeatCapacity(t + zeroCelsius) }
	var sum float64
	for lo := 0.0; lo < tC; lo += span {
		sum += quad.Fixed(cp, lo, min(lo+span, tC), 20, quad.Legendre{}, 0)
	}
	return sum, nil
}

// saturatedHeatCapacity is cp of saturated liquid in J/(kg K) at T in K.
func saturatedHeatCapacity(T float64) float64 {
	f := liquidGibbs(saturationPressure(T), T)
	return f.heatCapacity()
}

// latentHeat is hg - hf in J/kg at T in K.
func latentHeat(T float64) float64 {
	p := saturationPressure(T)
	liquid, vapour := liquidGibbs(p, T), vapourGibbs(p, T)
	return vapour.enthalpy(T) - liquid.enthalpy(T)
}
