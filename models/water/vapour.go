package water

import "math"

// region2Ideal holds the terms of the ideal-gas part of the vapour's Gibbs free
// energy besides ln(pi), IAPWS R7-97(2012) Table 10.
var region2Ideal = []power{
	{0, 0, -0.96927686500217e1},
	{0, 1, 0.10086655968018e2},
	{0, -5, -0.56087911283020e-2},
	{0, -4, 0.71452738081455e-1},
	{0, -3, -0.40710498223928e0},
	{0, -2, 0.14240819171444e1},
	{0, -1, -0.43839511319450e1},
	{0, 2, -0.28408632460772e0},
	{0, 3, 0.21268463753307e-1},
}

// region2Residual holds the terms of its residual part, Table 11.
var region2Residual = []power{
	{1, 0, -0.17731742473213e-2},
	{1, 1, -0.17834862292358e-1},
	{1, 2, -0.45996013696365e-1},
	{1, 3, -0.57581259083432e-1},
	{1, 6, -0.50325278727930e-1},
	{2, 1, -0.33032641670203e-4},
	{2, 2, -0.18948987516315e-3},
	{2, 4, -0.39392777243355e-2},
	{2, 7, -0.43797295650573e-1},
	{2, 36, -0.26674547914087e-4},
	{3, 0, 0.20481737692309e-7},
	{3, 1, 0.43870667284435e-6},
	{3, 3, -0.32277677238570e-4},
	{3, 6, -0.15033924542148e-2},
	{3, 35, -0.40668253562649e-1},
	{4, 1, -0.78847309559367e-9},
	{4, 2, 0.12790717852285e-7},
	{4, 3, 0.48225372718507e-6},
	{5, 7, 0.22922076337661e-5},
	{6, 3, -0.16714766451061e-10},
	{6, 16, -0.21171472321355e-2},
	{6, 35, -0.23895741934104e2},
	{7, 0, -0.59059564324270e-17},
	{7, 11, -0.12621808899101e-5},
	{7, 25, -0.38946842435739e-1},
	{8, 8, 0.11256211360459e-10},
	{8, 36, -0.82311340897998e1},
	{9, 13, 0.19809712802088e-7},
	{10, 4, 0.10406965210174e-18},
	{10, 10, -0.10234747095929e-12},
	{10, 14, -0.10018179379511e-8},
	{16, 29, -0.80882908646985e-10},
	{16, 50, 0.10693031879409e0},
	{18, 57, -0.33662250574171e0},
	{20, 20, 0.89185845355421e-24},
	{20, 35, 0.30629316876232e-12},
	{20, 48, -0.42002467698208e-5},
	{21, 21, -0.59056029685639e-25},
	{22, 53, 0.37826947613457e-5},
	{23, 39, -0.12768608934681e-14},
	{24, 26, 0.73087610595061e-28},
	{24, 40, 0.55414715350778e-16},
	{24, 58, -0.94369707241210e-6},
}

// minVapourPressure is the lowest pressure, in Pa, that [Vapour] takes. The
// release sets none above zero; this keeps the derivatives well scaled.
const minVapourPressure = 1

// Vapour returns the state of steam at the absolute pressure p in Pa and tC degC,
// from the basic equation of region 2, IAPWS R7-97(2012) eqs. 15 to 17:
//
//	g(pi, tau) = ln(pi) + sum of n tau^J + sum of n pi^I (tau - 0.5)^J
//	pi = p / 1 MPa, tau = 540 K / T
//
// It holds from 0 to 800 degC and from 1 Pa up to the saturation pressure (to 350
// degC), the boundary with region 3 (to 590 degC), or 100 MPa. Elsewhere, and
// for NaN, the error is a [*RangeError].
func Vapour(p, tC float64) (State, error) {
	if err := checkCelsius(tC, minKelvin, maxKelvin); err != nil {
		return State{}, err
	}
	T := tC + zeroCelsius
	if err := checkPressure(p, minVapourPressure, maxVapourPressure(T)); err != nil {
		return State{}, err
	}
	f := vapourGibbs(p, T)
	return f.state(p, T, tC), nil
}

// maxVapourPressure returns the upper limit of region 2, in Pa, at T in K.
func maxVapourPressure(T float64) float64 {
	switch {
	case T <= boundaryKelvin:
		return saturationPressure(T)
	case T <= maxB23Kelvin:
		return boundaryPressure(T)
	default:
		return maxPressure
	}
}

// boundaryPressure is the boundary between regions 2 and 3, in Pa, at T in K:
// IAPWS R7-97(2012) eq. 5 and Table 1.
func boundaryPressure(T float64) float64 {
	return 1e6 * quadratic(T, 0.10192970039326e-2, -0.11671859879975e1, 0.34805185628969e3)
}

// vapourGibbs is eq. 15 with its derivatives at p in Pa and T in K, with no check.
func vapourGibbs(p, T float64) gibbs {
	pi := p / 1e6
	f := gibbs{pi: pi, tau: 540 / T, g: math.Log(pi), gp: 1 / pi, gpp: -1 / (pi * pi)}
	f.add(region2Ideal, pi, f.tau, 1)
	f.add(region2Residual, pi, f.tau-0.5, 1)
	return f
}
