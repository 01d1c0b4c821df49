package models

import (
	"math"

	q "boilwright/models/quantity"
)

// Quadrant is the operating quadrant of a triac's gate (IEC 60747-6 terms):
// signs of MT2 and of the gate current, both against MT1.
type Quadrant int

// The four quadrants.
const (
	QuadrantI   Quadrant = iota // MT2+, gate+
	QuadrantII                  // MT2+, gate−
	QuadrantIII                 // MT2−, gate−
	QuadrantIV                  // MT2−, gate+
)

// QuadrantOf returns the quadrant for the signs of v(MT2 − MT1) and i_G.
func QuadrantOf(v, iG float64) Quadrant {
	switch {
	case v >= 0 && iG >= 0:
		return QuadrantI
	case v >= 0:
		return QuadrantII
	case iG < 0:
		return QuadrantIII
	}
	return QuadrantIV
}

// Triac is the power switch of a channel.
//
// Blocking, the main path MT2–MT1 is the conductance g_off(Tj); conducting it
// is s·V_T0 + r_T·i with s the sign of v(MT2 − MT1) when it fired. The gate
// junction is open below V_G0 and s·V_G0 + r_G·i above it.
//
// Temperature laws, values at 25 °C:
//
//	I_GT, I_L, I_H = value·exp(−(Tj − 25)/scale)
//	g_off          = value·2^((Tj − 25)/10 K)
//	dv/dt limits   = value·exp(−(Tj − 25)/RateScale)
type Triac struct {
	Threshold q.Volt // V_T0
	Slope     q.Ohm  // r_T; 0 allowed
	Off       q.Siemens
	// Open is a main path that never conducts more than Off, with the gate
	// junction alive.
	Open bool

	GateThreshold q.Volt // V_G0
	GateSlope     q.Ohm  // r_G
	// GateOpen is a broken gate lead: the junction is not connected.
	GateOpen bool

	Trigger  [4]q.Ampere // I_GT by Quadrant
	Latching q.Ampere    // I_L
	Holding  q.Ampere    // I_H, below Latching

	StaticRate q.VoltPerSecond // critical dv/dt, blocking
	// CommutatingRate is the dv/dt allowed just after turn-off at the fall
	// rate CommutatingFall.
	CommutatingRate q.VoltPerSecond
	CommutatingFall q.AmperePerSecond
	TurnOffTime     q.Second // t_q
	Breakover       q.Volt   // V_BO; +Inf is none

	TriggerScale  q.Kelvin // [110 K]
	LatchingScale q.Kelvin // [150 K]
	HoldingScale  q.Kelvin // [150 K]
	RateScale     q.Kelvin // [60 K]

	Foster []FosterStage // junction to board
}

// FosterStage is one term R·(1 − exp(−t/τ)) of a thermal impedance.
type FosterStage struct {
	Resistance q.KelvinPerWatt
	Time       q.Second
}

func fall(v, tj, scale float64) float64 { return v * math.Exp(-(tj-25)/scale) }

// TriggerAt returns I_GT in amperes for a quadrant at junction temperature tj
// in °C.
func (t *Triac) TriggerAt(quad Quadrant, tj float64) float64 {
	return fall(float64(t.Trigger[quad]), tj, float64(t.TriggerScale))
}

// LatchingAt returns I_L in amperes at junction temperature tj in °C.
func (t *Triac) LatchingAt(tj float64) float64 {
	return fall(float64(t.Latching), tj, float64(t.LatchingScale))
}

// HoldingAt returns I_H in amperes at junction temperature tj in °C.
func (t *Triac) HoldingAt(tj float64) float64 {
	return fall(float64(t.Holding), tj, float64(t.HoldingScale))
}

// OffAt returns g_off in siemens at junction temperature tj in °C.
func (t *Triac) OffAt(tj float64) float64 {
	return float64(t.Off) * math.Exp2((tj-25)/10)
}

// StaticRateAt returns the critical dv/dt in V/s at junction temperature tj.
func (t *Triac) StaticRateAt(tj float64) float64 {
	return fall(float64(t.StaticRate), tj, float64(t.RateScale))
}

// CommutatingRateAt returns the dv/dt in V/s that a triac withstands just
// after turning off with the current falling at didt (A/s), at junction
// temperature tj in °C; it never exceeds the static limit.
//
//	(dv/dt)_c · (di/dt)_c / |di/dt|
func (t *Triac) CommutatingRateAt(didt, tj float64) float64 {
	limit := t.StaticRateAt(tj)
	if didt == 0 {
		return limit
	}
	c := fall(float64(t.CommutatingRate), tj, float64(t.RateScale)) * float64(t.CommutatingFall) / math.Abs(didt)
	return math.Min(c, limit)
}

// FosterStep advances the junction's stage temperatures (kelvin above board,
// one per stage, in place) by dt seconds under the constant power p in watts
// and returns their sum.
//
//	θk ← p·Rk + (θk − p·Rk)·exp(−dt/τk)
func (t *Triac) FosterStep(stages []float64, p, dt float64) float64 {
	sum := 0.0
	for k, f := range t.Foster {
		final := p * float64(f.Resistance)
		stages[k] = final + (stages[k]-final)*math.Exp(-dt/float64(f.Time))
		sum += stages[k]
	}
	return sum
}

// Snubber is a series resistor and capacitor across MT2–MT1.
type Snubber struct {
	Resistance  q.Ohm   // R_sn; +Inf when open
	Capacitance q.Farad // C_sn; 0 when not fitted
}

// Fitted reports whether the snubber carries current at all.
func (s Snubber) Fitted() bool {
	return s.Capacitance > 0 && !math.IsInf(float64(s.Resistance), 1)
}

// ThermalLink is a one-shot thermal fuse.
type ThermalLink struct {
	Resistance q.Ohm     // r_link closed [5 mΩ]
	Stray      q.Farad   // C_stray when open [5 pF]
	Functions  q.Celsius // T_f, at which it opens for good
	Open       bool      // has opened already
	// Capacity and ToShell are C_l and G_sl of the heat model.
	Capacity q.JoulePerKelvin
	ToShell  q.WattPerKelvin
}

// Stuck tells what has become of a thermostat's contact.
type Stuck int

// The ways of a contact.
const (
	Free     Stuck = iota // it opens and closes
	Welded                // it never opens
	StayOpen              // it never closes
)

// Thermostat is a bimetal contact on the shell of a boiler, in series with the
// element: it opens when the shell reaches Opens and closes again at Closes.
type Thermostat struct {
	Fitted     bool
	Opens      q.Celsius
	Closes     q.Celsius // below Opens
	Resistance q.Ohm     // closed
	Stray      q.Farad   // across the open contact
	Stuck      Stuck
}

// Element is the heating element.
//
//	R(T) = R20·(1 + a·(T − 20))
type Element struct {
	Resistance  q.Ohm // R20
	Coefficient q.PerKelvin
	// Split is the fraction x of the element, from the link side, at which
	// Insulation leads to protective earth and where an Open element is
	// broken.
	Split      q.Ratio
	Insulation q.Ohm // R_ins
	Open       bool
	Capacity   q.JoulePerKelvin // C_e
}

// ResistanceAt returns R in ohms at the element temperature t in °C.
func (e *Element) ResistanceAt(t float64) float64 {
	return float64(e.Resistance) * (1 + float64(e.Coefficient)*(t-20))
}
