package water

import "math"

// gasConstant is the specific gas constant of ordinary water that IF97 uses, in
// J/(kg K): IAPWS R7-97(2012) eq. 1.
const gasConstant = 461.526

// State is water at one pressure and temperature.
type State struct {
	Pressure    float64 // absolute, Pa
	Temperature float64 // degC
	Volume      float64 // specific volume v, m3/kg
	Enthalpy    float64 // specific enthalpy h, J/kg; near zero for liquid at 0 degC
	Entropy     float64 // specific entropy s, J/(kg K)
	CP          float64 // specific isobaric heat capacity, J/(kg K)
	SoundSpeed  float64 // speed of sound w, m/s
}

// Density returns 1/v in kg/m3.
func (s State) Density() float64 { return 1 / s.Volume }

// gibbs is the dimensionless Gibbs free energy g(pi, tau) of a region and its
// derivatives, with pi the reduced pressure and tau the inverse reduced
// temperature.
type gibbs struct {
	pi, tau float64
	g       float64
	gp, gpp float64 // by pi, by pi twice
	gt, gtt float64 // by tau, by tau twice
	gpt     float64 // by both
}

// power is one term n A^i B^j of a region's sum.
type power struct {
	i, j int
	n    float64
}

// add adds the terms n a^i b^j, where a depends on pi with da/dpi = slope and
// b on tau with db/dtau = 1. Neither a nor b may be zero.
func (f *gibbs) add(terms []power, a, b, slope float64) {
	for _, t := range terms {
		x := t.n * integerPower(a, t.i) * integerPower(b, t.j)
		i, j := float64(t.i), float64(t.j)
		f.g += x
		f.gp += x * i * slope / a
		f.gpp += x * i * (i - 1) / (a * a)
		f.gt += x * j / b
		f.gtt += x * j * (j - 1) / (b * b)
		f.gpt += x * i * j * slope / (a * b)
	}
}

// volume, enthalpy and heatCapacity are the relations of IAPWS R7-97(2012)
// Tables 3 and 12 at T in K and p in Pa:
//
//	v = (R T / p) pi g_pi,  h = R T tau g_tau,  cp = -R tau^2 g_tautau
func (f *gibbs) volume(p, T float64) float64 { return gasConstant * T / p * f.pi * f.gp }
func (f *gibbs) enthalpy(T float64) float64  { return gasConstant * T * f.tau * f.gt }
func (f *gibbs) heatCapacity() float64       { return -gasConstant * f.tau * f.tau * f.gtt }

// state turns the derivatives into properties, also with
//
//	s = R (tau g_tau - g)
//	w^2 = R T g_pi^2 / ((g_pi - tau g_pitau)^2 / (tau^2 g_tautau) - g_pipi)
func (f *gibbs) state(p, T, tC float64) State {
	taugt := f.tau * f.gt
	taugpt := f.tau * f.gpt
	d := f.gp - taugpt
	w2 := gasConstant * T * f.gp * f.gp / (d*d/(f.tau*f.tau*f.gtt) - f.gpp)
	return State{
		Pressure:    p,
		Temperature: tC,
		Volume:      f.volume(p, T),
		Enthalpy:    f.enthalpy(T),
		Entropy:     gasConstant * (taugt - f.g),
		CP:          f.heatCapacity(),
		SoundSpeed:  math.Sqrt(w2),
	}
}

// integerPower returns x^n by squaring; x must not be zero when n < 0. Unlike
// math.Pow it gives the same bits on every machine.
func integerPower(x float64, n int) float64 {
	if n < 0 {
		x, n = 1/x, -n
	}
	r := 1.0
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			r *= x
		}
		x *= x
	}
	return r
}
