package water

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// sameDigits reports whether got, printed with as many digits as want, is want.
// want is in plain or in exponent notation.
func sameDigits(got float64, want string) (string, bool) {
	mantissa, _, hasExponent := strings.Cut(want, "e")
	decimals := 0
	if _, fraction, ok := strings.Cut(mantissa, "."); ok {
		decimals = len(fraction)
	}
	verb := "f"
	if hasExponent {
		verb = "e"
	}
	printed := fmt.Sprintf("%.*"+verb, decimals, got)
	return printed, printed == want
}

func checkDigits(t *testing.T, what string, got float64, want string) {
	t.Helper()
	if printed, ok := sameDigits(got, want); !ok {
		t.Errorf("%s = %s, want %s", what, printed, want)
	}
}

// IAPWS R7-97(2012) Table 35: saturation pressures of eq. 30, in MPa.
func TestSaturationPressureVerification(t *testing.T) {
	for _, c := range []struct {
		T    float64 // K
		want string  // MPa
	}{
		{300, "3.53658941e-03"},
		{500, "2.63889776e+00"},
		{600, "1.23443146e+01"},
	} {
		p, err := SaturationPressure(c.T - zeroCelsius)
		if err != nil {
			t.Fatal(err)
		}
		checkDigits(t, fmt.Sprintf("psat(%g K)", c.T), p/1e6, c.want)
	}
}

// IAPWS R7-97(2012) Table 36: saturation temperatures of eq. 31, in K.
func TestSaturationTemperatureVerification(t *testing.T) {
	for _, c := range []struct {
		p    float64 // MPa
		want string  // K
	}{
		{0.1, "372.755919"},
		{1, "453.035632"},
		{10, "584.149488"},
	} {
		tC, err := SaturationTemperature(c.p * 1e6)
		if err != nil {
			t.Fatal(err)
		}
		checkDigits(t, fmt.Sprintf("tsat(%g MPa)", c.p), tC+zeroCelsius, c.want)
	}
}

// verification is one column of the release's Tables 5 and 15, in its units.
type verification struct {
	T, p           float64 // K, MPa
	v, h, s, cp, w string  // m3/kg, kJ/kg, kJ/(kg K), kJ/(kg K), m/s
}

func (c verification) check(t *testing.T, state func(p, tC float64) (State, error)) {
	t.Helper()
	s, err := state(c.p*1e6, c.T-zeroCelsius)
	if err != nil {
		t.Fatal(err)
	}
	at := fmt.Sprintf("(%g K, %g MPa)", c.T, c.p)
	checkDigits(t, "v"+at, s.Volume, c.v)
	checkDigits(t, "h"+at, s.Enthalpy/1e3, c.h)
	checkDigits(t, "s"+at, s.Entropy/1e3, c.s)
	checkDigits(t, "cp"+at, s.CP/1e3, c.cp)
	checkDigits(t, "w"+at, s.SoundSpeed, c.w)
}

// IAPWS R7-97(2012) Table 5: region 1.
func TestLiquidVerification(t *testing.T) {
	for _, c := range []verification{
		{300, 3, "1.00215168e-03", "1.15331273e+02", "3.92294792e-01", "4.17301218e+00", "1.50773921e+03"},
		{300, 80, "9.71180894e-04", "1.84142828e+02", "3.68563852e-01", "4.01008987e+00", "1.63469054e+03"},
		{500, 3, "1.20241800e-03", "9.75542239e+02", "2.58041912e+00", "4.65580682e+00", "1.24071337e+03"},
	} {
		c.check(t, Liquid)
	}
}

// IAPWS R7-97(2012) Table 15: region 2. In the last column the residual terms weigh
// most. A few of them it feels only to 1e-2 of the coefficient (6,35 least); such a
// term is worth 3e-6 of hfg per percent of it, or less, up to 340 degC.
func TestVapourVerification(t *testing.T) {
	for _, c := range []verification{
		{300, 0.0035, "3.94913866e+01", "2.54991145e+03", "8.52238967e+00", "1.91300162e+00", "4.27920172e+02"},
		{700, 0.0035, "9.23015898e+01", "3.33568375e+03", "1.01749996e+01", "2.08141274e+00", "6.44289068e+02"},
		{700, 30, "5.42946619e-03", "2.63149474e+03", "5.17540298e+00", "1.03505092e+01", "4.80386523e+02"},
	} {
		c.check(t, Vapour)
	}
}

// IAPWS R7-97(2012) section 4: eq. 5 gives 16.5291643 MPa at 623.15 K, where
// eq. 30 gives the same.
func TestBoundaryVerification(t *testing.T) {
	checkDigits(t, "boundary(623.15 K)", boundaryPressure(623.15)/1e6, "16.5291643")
	checkDigits(t, "psat(623.15 K)", saturationPressure(623.15)/1e6, "16.5291643")
}

// The end of the line is the critical point, 647.096 K and 22.064 MPa: IAPWS
// R7-97(2012) eqs. 2 and 3. The lower end is printed there as 611.213 Pa.
func TestEndsOfSaturationLine(t *testing.T) {
	for _, c := range []struct {
		tC, p, tolerance float64
	}{
		{0, 611.213, 0.0005},
		{647.096 - zeroCelsius, 22.064e6, 0.5},
	} {
		p, err := SaturationPressure(c.tC)
		if err != nil || math.Abs(p-c.p) > c.tolerance {
			t.Errorf("psat(%g degC) = %g, %v, want %g", c.tC, p, err, c.p)
		}
		tC, err := SaturationTemperature(p)
		if err != nil || math.Abs(tC-c.tC) > 1e-8 {
			t.Errorf("tsat(%g Pa) = %.10g, %v, want %.10g", p, tC, err, c.tC)
		}
	}
}
