package water

import (
	"fmt"
	"math"
	"testing"
)

// Boiling points by IAPWS R7-97(2012) eq. 31. The pressures at 0, 1000 and 2000
// m are those of the ICAO standard atmosphere, ISO 2533 (from memory); those of
// steam boilers are gauge pressures over 1.01325 bar.
func TestBoilingPoints(t *testing.T) {
	for _, c := range []struct {
		p    float64 // Pa
		want string  // degC
	}{
		{101325, "99.974300"},
		{100e3, "99.60591861"},
		{101325, "99.9743"}, // sea level
		{89875, "96.6489"},  // 1000 m
		{79495, "93.3150"},  // 2000 m
		{101325 + 0.8e5, "117.1400"},
		{101325 + 0.9e5, "118.8153"},
		{101325 + 1.0e5, "120.4204"},
		{101325 + 1.1e5, "121.9617"},
		{101325 + 1.2e5, "123.4447"},
		{101325 + 1.5e5, "127.5879"},
		{101325 + 2.0e5, "133.6757"},
	} {
		tC, err := SaturationTemperature(c.p)
		if err != nil {
			t.Fatal(err)
		}
		checkDigits(t, fmt.Sprintf("tsat(%g Pa)", c.p), tC, c.want)
	}
}

func liquidEnthalpy(t *testing.T, p, tC float64) float64 {
	t.Helper()
	s, err := Liquid(p, tC)
	if err != nil {
		t.Fatal(err)
	}
	return s.Enthalpy
}

// Heat to warm 1 kg of water at constant pressure: IAPWS R7-97(2012) region 1,
// evaluated by an independent implementation of it.
func TestHeatToWarm(t *testing.T) {
	for _, c := range []struct {
		p, from, to float64 // Pa, degC, degC
		want        string  // kJ/kg
	}{
		{101325, 20, 93, "305.59939216"},
		{1e6, 20, 93, "305.443348"},
		{101325, 15, 93, "326.53341874"},
	} {
		heat := liquidEnthalpy(t, c.p, c.to) - liquidEnthalpy(t, c.p, c.from)
		checkDigits(t, fmt.Sprintf("heat %g to %g degC at %g Pa", c.from, c.to, c.p), heat/1e3, c.want)

		// Along the saturation line it's nearly the same: cp of the liquid falls
		// with pressure by 0.05 percent per MPa.
		along := H(c.to) - H(c.from)
		if r := along/heat - 1; math.Abs(r) > 1e-3 {
			t.Errorf("H differs from the heat at %g Pa by %.2g of it", c.p, r)
		}
	}
	heat := liquidEnthalpy(t, 101325, 93) - liquidEnthalpy(t, 101325, 20)
	checkDigits(t, "mean cp 20 to 93 degC", heat/73/1e3, "4.186293043")
}

// Time to warm water from 20 to 93 degC at 0.101325 MPa without losses, m dh / P,
// with dh by an independent implementation of IAPWS R7-97(2012).
func TestLossFreeTime(t *testing.T) {
	dh := liquidEnthalpy(t, 101325, 93) - liquidEnthalpy(t, 101325, 20)
	for _, c := range []struct {
		mass, power float64 // kg, W
		want        string  // s
	}{
		{1, 1000, "305.599392"},
		{1, 1200, "254.666160"},
		{1, 1500, "203.732928"},
		{1, 2000, "152.799696"},
		{0.35, 1200, "89.133156"},
	} {
		checkDigits(t, fmt.Sprintf("time for %g kg at %g W", c.mass, c.power), c.mass*dh/c.power, c.want)
	}
}

// Power that makes 1 g/s of saturated steam at 120 degC from feed water of 20
// degC at the same pressure: an independent implementation of IAPWS
// R7-97(2012).
func TestSteamPower(t *testing.T) {
	steam, err := SaturatedVapour(120)
	if err != nil {
		t.Fatal(err)
	}
	feed := liquidEnthalpy(t, steam.Pressure, 20)
	checkDigits(t, "power for 1 g/s", 1e-3*(steam.Enthalpy-feed), "2621.82958")
}

// Saturation table: IAPWS R7-97(2012) evaluated by an independent implementation
// of it; psat by eq. 30, liquid by region 1, vapour by region 2.
func TestSaturationTable(t *testing.T) {
	for _, c := range []struct {
		tC                                float64
		psat, hf, hfg, cp, rhoLiq, rhoVap string // kPa, kJ/kg, kJ/kg, kJ/(kg K), kg/m3, kg/m3
	}{
		{20, "2.3392148", "83.91990", "2453.54956", "4.185102", "998.16081", "0.017313"},
		{40, "7.3844275", "167.54105", "2406.00137", "4.178784", "992.18315", "0.051237"},
		{60, "19.9458019", "251.15439", "2357.69101", "4.182945", "983.17513", "0.130418"},
		{80, "47.4147199", "334.94870", "2308.06565", "4.195634", "971.77879", "0.293663"},
		{90, "70.1823607", "376.96844", "2282.56034", "4.205091", "965.30444", "0.423882"},
		{93, "78.5680592", "389.59500", "2274.79960", "4.208335", "963.26824", "0.471087"},
		{95, "84.6089384", "398.01854", "2269.59541", "4.210603", "961.88733", "0.504885"},
		{100, "101.4179779", "419.09915", "2256.47287", "4.216645", "958.35428", "0.598136"},
		{105, "120.9020586", "440.21313", "2243.18015", "4.223228", "954.70771", "0.704982"},
		{110, "143.3759672", "461.36335", "2229.70428", "4.230364", "950.94969", "0.826863"},
		{120, "198.6653997", "503.78457", "2202.14968", "4.246371", "943.10568", "1.121952"},
		{125, "232.2241827", "525.06181", "2188.04365", "4.255286", "939.02203", "1.298512"},
		{130, "270.2596066", "546.38784", "2173.69999", "4.264847", "934.83166", "1.496817"},
		{140, "361.5009620", "589.20026", "2144.24368", "4.286041", "926.13205", "1.966494"},
		{150, "476.1013811", "632.25156", "2113.66758", "4.310270", "917.00658", "2.547755"},
	} {
		liquid, err := SaturatedLiquid(c.tC)
		if err != nil {
			t.Fatal(err)
		}
		vapour, err := SaturatedVapour(c.tC)
		if err != nil {
			t.Fatal(err)
		}
		latent, err := LatentHeat(c.tC)
		if err != nil {
			t.Fatal(err)
		}
		at := fmt.Sprintf("(%g degC)", c.tC)
		checkDigits(t, "psat"+at, liquid.Pressure/1e3, c.psat)
		checkDigits(t, "hf"+at, liquid.Enthalpy/1e3, c.hf)
		checkDigits(t, "hfg"+at, latent/1e3, c.hfg)
		checkDigits(t, "cp"+at, liquid.CP/1e3, c.cp)
		checkDigits(t, "rho liq"+at, liquid.Density(), c.rhoLiq)
		checkDigits(t, "rho vap"+at, vapour.Density(), c.rhoVap)
		// The fast forms print the same.
		checkDigits(t, "fast hfg"+at, Hfg(c.tC)/1e3, c.hfg)
		checkDigits(t, "fast cp"+at, CP(c.tC)/1e3, c.cp)
	}
}
