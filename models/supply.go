package models

import (
	"math"
	"time"

	q "boilwright/models/quantity"
)

// Supply is the mains as the board sees it.
//
//	e(θ) = √2·V1·sin θ + Σ √2·Vn·sin(nθ + φn) + Vdc,  dθ/dt = 2πf
//
// behind a line and a neutral impedance, each inductance shunted by the
// damping resistance. Defaults of the impedances are the reference impedance
// of IEC 60725 split 0.24 + j0.15 Ω (line) and 0.16 + j0.10 Ω (neutral) at
// 50 Hz (split from memory).
type Supply struct {
	Voltage   q.Volt  // V1, rms of the fundamental, 90 V to 260 V
	Frequency q.Hertz // 45 Hz to 65 Hz
	DC        q.Volt  // Vdc [0]
	Harmonics []Harmonic
	Events    []SupplyEvent

	LineResistance    q.Ohm   // Rs
	LineInductance    q.Henry // Ls
	NeutralResistance q.Ohm   // Rn
	NeutralInductance q.Henry // Ln
	// Damping is R_p, in parallel with each inductance; +Inf is none.
	Damping q.Ohm
	// Exchanged tells that line and neutral are exchanged at the plug: the
	// board's L is the supply's neutral.
	Exchanged bool
	// AcrossCapacitance is C_x between L and N on the board; 0 is none.
	AcrossCapacitance q.Farad
}

// Harmonic is one component of the supply voltage above the fundamental.
type Harmonic struct {
	Order   int // 2 to 40
	Voltage q.Volt
	Phase   q.Degree
}

// SupplyEvent sets the fundamental's voltage for a time: a sag, a swell, an
// interruption. It takes effect at zeros of the fundamental.
type SupplyEvent struct {
	From, To time.Duration
	Factor   q.Ratio // multiplies Voltage
}

// Earth is the protective conductor.
type Earth struct {
	// Resistance is R_pe, from PE on the board to the neutral at the supply
	// end; +Inf is a missing protective earth.
	Resistance q.Ohm
}

// EMF returns e(θ) in volts at the angle theta of the fundamental, in
// radians.
func (s *Supply) EMF(theta float64) float64 {
	e := float64(s.DC) + math.Sqrt2*float64(s.Voltage)*math.Sin(theta)
	for _, h := range s.Harmonics {
		e += math.Sqrt2 * float64(h.Voltage) * math.Sin(float64(h.Order)*theta+float64(h.Phase)*math.Pi/180)
	}
	return e
}

// FactorAt returns the factor on the fundamental's voltage at time t: the
// product of the events in force.
func (s *Supply) FactorAt(t time.Duration) float64 {
	f, _ := s.LevelAt(t)
	return f
}

// LevelAt returns that factor and how long it holds: the next time at which an event
// begins or ends, or the largest duration.
func (s *Supply) LevelAt(t time.Duration) (factor float64, until time.Duration) {
	factor, until = 1, math.MaxInt64
	for i := range s.Events {
		e := &s.Events[i]
		if t >= e.From && t < e.To {
			factor *= float64(e.Factor)
		}
		for _, change := range [...]time.Duration{e.From, e.To} {
			if change > t {
				until = min(until, change)
			}
		}
	}
	return factor, until
}

// HalfCycle returns the duration of a half-cycle in seconds, 1/(2f).
func (s *Supply) HalfCycle() float64 { return 1 / (2 * float64(s.Frequency)) }

// Drive is the control side of a channel: an extra-low-voltage signal through
// a transistor to the LED of the opto.
type Drive struct {
	On q.Volt // V_d when on [12 V]
	// Off is V_d when off [0 V]; a stuck transistor shows here.
	Off        q.Volt
	Saturation q.Volt // V_sat of the transistor [0.2 V]
	Resistance q.Ohm  // R_LED in series with the LED
	// OffConductance lies from the transistor's output to its emitter with no
	// base current; it is what an unplugged test finds there. A punctured
	// transistor shows here, while Off says what it does to the LED.
	OffConductance q.Siemens
	// Open is a transistor whose bond has parted: its base junction is open.
	Open bool
}

// The base junction of a drive transistor, of silicon: open below
// BaseThreshold, BaseThreshold + BaseSlope·i above. A diode test at 1 mA shows
// 0.6 V to 0.7 V (common practice, no source).
const (
	BaseThreshold q.Volt = 0.65
	BaseSlope     q.Ohm  = 10
)

// AtPlug returns the voltage in volts at the pins of the control plug for the
// drive voltage vd in volts: what the transistor leaves of it.
func (d *Drive) AtPlug(vd float64) float64 {
	if vd <= 0 {
		return vd
	}
	return math.Max(0, vd-float64(d.Saturation))
}

// LEDVoltage returns the voltage in volts across the LED of o for the drive
// voltage vd in volts, with a resistance of load ohms, such as a meter's
// input, beside the LED; +Inf is none.
//
// Behind R_LED in parallel with the load the LED sees the voltage
// E·load/(R_LED + load); it blocks up to V_F0.
func (d *Drive) LEDVoltage(o *Opto, vd, load float64) float64 {
	series := float64(d.Resistance)
	if math.IsInf(series, 1) {
		return 0
	}
	e := d.AtPlug(vd)
	if !math.IsInf(load, 1) {
		e *= load / (series + load)
		series *= load / (series + load)
	}
	v0, r := float64(o.Forward), float64(o.LEDSlope)
	if e <= v0 || math.IsInf(r, 1) || series+r == 0 {
		return e
	}
	return v0 + r*(e-v0)/(series+r)
}

// Opto is the optically coupled driver of a triac's gate.
type Opto struct {
	Forward   q.Volt    // V_F0 of the LED [1.1 V]
	LEDSlope  q.Ohm     // r_F of the LED [5 Ω]; +Inf when the LED is open
	Trigger   q.Ampere  // I_FT at 25 °C
	Threshold q.Volt    // V_P0 of the output [1.2 V]
	Slope     q.Ohm     // r_P of the output [5 Ω]
	Off       q.Siemens // g_p of the blocking output
	// Inhibit is V_IH: above this voltage across the output it does not turn
	// on; +Inf is a random-phase type.
	Inhibit  q.Volt
	Latching q.Ampere // I_LP, above Holding
	Holding  q.Ampere // I_HP
	// Fires restricts turn-on to one polarity of MT2 − G: 0 both, +1
	// positive, −1 negative.
	Fires int
	// TriggerScale raises the LED current needed with temperature:
	// I_FT(T) = Trigger·exp((T − 25)/TriggerScale); 0 and +Inf are none, a
	// negative one makes the opto need less when warm.
	TriggerScale q.Kelvin
}

// LEDCurrent returns I_F = max(0, (V_d − V_F0 − V_sat)/(R_LED + r_F)) in
// amperes for the drive voltage vd in volts.
func (d *Drive) LEDCurrent(o *Opto, vd float64) float64 {
	r := float64(d.Resistance) + float64(o.LEDSlope)
	return math.Max(0, (vd-float64(o.Forward)-float64(d.Saturation))/r)
}

// TriggerAt returns I_FT in amperes at board temperature t in °C.
func (o *Opto) TriggerAt(t float64) float64 {
	if o.TriggerScale == 0 {
		return float64(o.Trigger)
	}
	return float64(o.Trigger) * math.Exp((t-25)/float64(o.TriggerScale))
}
