// Package water gives the properties of water and steam that a boiler's heat
// balance needs: the saturation line, the compressed liquid, the vapour, and
// fast forms of the heat capacity of saturated liquid, of its integral and of
// the latent heat.
//
// Everything comes from one formulation: IAPWS R7-97(2012), "Revised Release
// on the IAPWS Industrial Formulation 1997 for the Thermodynamic Properties of
// Water and Steam", called IF97 below. Its numbers are those of
//
//	W. Wagner et al., "The IAPWS Industrial Formulation 1997 for the
//	Thermodynamic Properties of Water and Steam", J. Eng. Gas Turbines Power
//	122 (2000) 150-184.
//
// Temperatures are in degrees Celsius on ITS-90 (t = T - 273.15 K), pressures
// are absolute and in pascals, and all else is SI.
//
//	symbol  here                            unit      range              source in R7-97
//	psat    SaturationPressure              Pa        0..373.946 degC    eq. 30
//	tsat    SaturationTemperature           degC      611.2 Pa..22.064 MPa  eq. 31
//	v       State.Volume                    m3/kg     as the state       Tables 3, 12
//	h       State.Enthalpy                  J/kg      as the state       Tables 3, 12
//	s       State.Entropy                   J/(kg K)  as the state       Tables 3, 12
//	cp      State.CP                        J/(kg K)  as the state       Tables 3, 12
//	w       State.SoundSpeed                m/s       as the state       Tables 3, 12
//	        Liquid                                    0..350 degC, psat..100 MPa  eq. 7
//	        Vapour                                    0..800 degC        eqs. 15-17
//	hf, hg  SaturatedLiquid, SaturatedVapour          0..350 degC        eqs. 7, 15, 30
//	hfg     LatentHeat, Hfg (fast)          J/kg      0..350, 0..200     hg - hf
//	cp,sat  SaturatedLiquid, CP (fast)      J/(kg K)  0..350, 0..200     eqs. 7, 30
//	H       EnthalpyIntegral, H (fast)      J/kg      0..350, 0..200     integral of cp,sat
//
// # Checked and fast
//
// The functions named after the formulas return a [*RangeError] outside the
// range in which the release holds, for a NaN too; with a nil error the result
// is finite. The fast functions [CP], [H], [Hfg] and [TemperatureOfH] are
// made for an inner loop: a few nanoseconds to tens of nanoseconds, no error,
// no allocation. They hold from 0 to 200 degC, agree there with the formulas
// within 1e-10 relative, and beyond either end continue without a jump: the
// heat capacity and the latent heat keep their end values and H goes on along
// a straight line. For a finite temperature they never return NaN; a NaN stays
// a NaN, since hiding it would hide a mistake made elsewhere.
//
// # Two enthalpies that differ
//
// H is the integral of cp along the saturation line,
//
//	H(t) = integral from 0 degC to t of cp(t', psat(t')) dt'
//
// which isn't the enthalpy hf of the saturated liquid less its value at 0 degC,
// because going along the line the pressure rises as well:
//
//	dhf/dT = cp + (v - T (dv/dT)_p) dpsat/dT
//
// The second term is small. H is below hf(t) - hf(0) by 0.08 kJ/kg at 100 degC
// (0.02 percent) and by 0.33 kJ/kg at 150 degC (0.05 percent). A balance of a
// closed vessel that stores C dT and carries water in and out with H closes
// exactly; one that mixes H with hf doesn't.
//
// # What it doesn't know
//
// Pure ordinary water only: no dissolved air, salts or scale, no ice, no
// superheated or supercooled liquid, no transport properties, no kinetics of
// boiling. Nothing near the critical point (region 3 of IF97) and nothing hotter
// than 800 degC (region 5). The uncertainty that the release states for cp of
// the liquid, some tenths of a percent (from memory), is far above any numerical
// error here.
package water
