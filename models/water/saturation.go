package water

import "math"

// n4 holds the coefficients n1 to n10 of the saturation line, IAPWS
// R7-97(2012) Table 34, in the place of their number.
var n4 = [11]float64{
	1:  0.11670521452767e4,
	2:  -0.72421316703206e6,
	3:  -0.17073846940092e2,
	4:  0.12020824702470e5,
	5:  -0.32325550322333e7,
	6:  0.14915108613530e2,
	7:  -0.48232657361591e4,
	8:  0.40511340542057e6,
	9:  -0.23855557567849e0,
	10: 0.65017534844798e3,
}

// minSaturationPressure and maxSaturationPressure, in Pa, are the ends of the
// saturation line: eq. 30 at 273.15 K gives 611.2127 Pa and at 647.096 K
// 22.064 MPa. (The release prints the lower one as 611.213 Pa.)
const (
	minSaturationPressure = 611.2126
	maxSaturationPressure = 22.064e6
)

// SaturationPressure returns the absolute pressure in Pa at which water boils at
// tC degC, 0 to 373.946 degC, after eq. 30 of IAPWS R7-97(2012):
//
//	p = 1 MPa (2C / (-B + sqrt(B^2 - 4AC)))^4
//	A = q^2 + n1 q + n2,  B = n3 q^2 + n4 q + n5,  C = n6 q^2 + n7 q + n8
//	q = T + n9/(T - n10), T in K
//
// Elsewhere, and for NaN, the error is a [*RangeError].
func SaturationPressure(tC float64) (float64, error) {
	if err := checkCelsius(tC, minKelvin, criticalKelvin); err != nil {
		return 0, err
	}
	return saturationPressure(tC + zeroCelsius), nil
}

// saturationPressure is eq. 30, in Pa, of T in K, with no check.
func saturationPressure(T float64) float64 {
	q := T + n4[9]/(T-n4[10])
	a := quadratic(q, 1, n4[1], n4[2])
	b := quadratic(q, n4[3], n4[4], n4[5])
	c := quadratic(q, n4[6], n4[7], n4[8])
	r := 2 * c / (-b + root(b, a, c))
	r *= r
	return 1e6 * r * r
}

// SaturationTemperature returns the temperature in degC at which water boils
// under the absolute pressure p in Pa, 611.2126 Pa to 22.064 MPa, after eq. 31 of
// IAPWS R7-97(2012), which solves eq. 30 for the temperature:
//
//	T = (n10 + D - sqrt((n10 + D)^2 - 4 (n9 + n10 D))) / 2
//	D = 2G / (-F - sqrt(F^2 - 4EG)), b = (p / 1 MPa)^(1/4)
//	E = b^2 + n3 b + n6,  F = n1 b^2 + n4 b + n7,  G = n2 b^2 + n5 b + n8
//
// Elsewhere, and for NaN, the error is a [*RangeError]. A gauge pressure wants
// the ambient pressure added first.
func SaturationTemperature(p float64) (float64, error) {
	if err := checkPressure(p, minSaturationPressure, maxSaturationPressure); err != nil {
		return 0, err
	}
	return saturationTemperature(p) - zeroCelsius, nil
}

// saturationTemperature is eq. 31, in K, of p in Pa, with no check.
func saturationTemperature(p float64) float64 {
	b := math.Sqrt(math.Sqrt(p / 1e6))
	e := quadratic(b, 1, n4[3], n4[6])
	f := quadratic(b, n4[1], n4[4], n4[7])
	g := quadratic(b, n4[2], n4[5], n4[8])
	d := 2 * g / (-f - root(f, e, g))
	s := n4[10] + d
	nd := n4[10] * d
	return (s - root(s, 1, n4[9]+nd)) / 2
}

// quadratic returns a x^2 + b x + c. The conversion keeps a compiler from
// fusing product and sum, so that every machine gives the same bits.
func quadratic(x, a, b, c float64) float64 {
	return float64((float64(a*x)+b)*x) + c
}

// root returns sqrt(b^2 - 4ac), bits as for [quadratic].
func root(b, a, c float64) float64 {
	return math.Sqrt(float64(b*b) - float64(4*a*c))
}
