package disturbance

import (
	"fmt"
	"math"

	q "boilwright/models/quantity"
)

// Flickermeter weighs a voltage as IEC 61000-4-15 edition 2 does: adaptation
// to the mean, square, weighting by band and lamp, eye and brain, square and
// smoothing to the instantaneous flicker P_inst, and its statistics P_st.
//
// It takes either samples of the voltage ([NewFlickermeter]) or the rms values
// of half-cycles ([NewHalfCycleMeter]). Filters are exact, for v² linear
// between samples, or for a half-sine of the given rms in each half-cycle.
//
// Half-cycle values lose what goes on within a half-cycle. A burst changes the
// voltage at its zeros, so that it loses nothing but the few degrees before a
// triac fires and the distortion of the wave. Fluctuations that do not keep to
// the zeros, and interharmonics above a quarter of the mains frequency, need
// samples.
type Flickermeter struct {
	filter   stepper
	perHalf  int     // steps a half-cycle value is held for; 0 for samples
	adapt    float64 // part by which the mean moves at each value
	mean     float64 // of v², V²
	floor    float64 // V²; the mean counts as no less
	input    float64 // at the last step
	square   float64 // of the weighted input at the last step
	instant  float64 // P_inst over scale
	keep     float64 // decay of the smoothing in a step
	from, to float64 // weights of the squares at a step's ends
	scale    float64
	every    int // values between those that are counted
	count    int
	levels   []float64
	peak     float64
}

// least is the lowest sampling rate, in samples a cycle: enough for the band
// below twice the mains frequency and its images.
const least = 16

// NewFlickermeter returns a meter for samples of the voltage, rate of them a
// second, adapted to a sine of nominal volts rms. An error names what is out
// of range.
func NewFlickermeter(sys System, nominal q.Volt, rate q.Hertz) (*Flickermeter, error) {
	if err := sys.check(); err != nil {
		return nil, err
	}
	if min := least * sys.Frequency; !(rate >= min) || math.IsInf(float64(rate), 0) {
		return nil, fmt.Errorf("sampling rate: found %v Hz, expected at least %v Hz", float64(rate), float64(min))
	}
	m, err := newMeter(sys, nominal, 1/float64(rate), 1/float64(rate))
	if err != nil {
		return nil, err
	}
	m.every = max(1, int(float64(rate)/(2*float64(sys.Frequency))+0.5))
	return m, nil
}

// steps in which a half-cycle is taken, so that the square of what is in the
// band is seen whole.
const steps = 4

// NewHalfCycleMeter returns a meter for the rms values of the half-cycles,
// adapted to nominal volts. An error names what is out of range.
func NewHalfCycleMeter(sys System, nominal q.Volt) (*Flickermeter, error) {
	if err := sys.check(); err != nil {
		return nil, err
	}
	T := 1 / (2 * float64(sys.Frequency))
	m, err := newMeter(sys, nominal, T, T/steps)
	if err != nil {
		return nil, err
	}
	m.perHalf, m.every = steps, 1
	m.filter.halfCycles(sys.weighting(), steps, T/steps)
	return m, nil
}

// newMeter returns a meter whose values come every value seconds and whose
// filters go in steps of step seconds.
func newMeter(sys System, nominal q.Volt, value, step float64) (*Flickermeter, error) {
	if !(nominal > 0) || math.IsInf(float64(nominal), 0) {
		return nil, fmt.Errorf("nominal voltage: found %v V, expected more than 0", float64(nominal))
	}
	f := sys.weighting()
	u := float64(nominal) * float64(nominal)
	m := &Flickermeter{
		filter: f.stepper(step), scale: sys.scale(f),
		adapt: -math.Expm1(-value / adaptation), mean: u, floor: 1e-2 * u,
	}
	// τ·dP/dt = y² − P with y² linear in a step.
	one, two := phi(complex(-step/smoothing, 0))
	x := step / smoothing
	m.keep, m.from, m.to = math.Exp(-x), x*real(one-two), x*real(two)
	return m, nil
}

// Feed takes the next value, in volts: a sample, or the rms of a half-cycle.
// It returns P_inst at its end.
func (m *Flickermeter) Feed(v float64) float64 {
	square := v * v
	u := square / max(m.mean, m.floor)
	m.mean += m.adapt * (square - m.mean)
	if m.perHalf == 0 {
		m.smooth(m.filter.step(m.input, u-1))
	} else {
		for j := range m.perHalf {
			m.smooth(m.filter.halfCycle(j, u))
		}
	}
	m.input = u - 1
	if m.count++; m.count == m.every {
		m.count = 0
		m.levels = append(m.levels, m.scale*m.instant)
	}
	return m.scale * m.instant
}

// smooth takes what the eye perceives at the end of a step.
func (m *Flickermeter) smooth(y float64) {
	y *= y
	m.instant = m.keep*m.instant + m.from*m.square + m.to*y
	m.square = y
	m.peak = max(m.peak, m.instant)
}

// Peak returns the greatest P_inst since the last Reset.
func (m *Flickermeter) Peak() float64 { return m.scale * m.peak }

// Pst returns the short-term severity of all values since the last Reset; it
// is meant for 10 minutes of them. Without any it is 0.
func (m *Flickermeter) Pst() float64 { return Pst(m.levels) }

// Reset begins a new observation. The filters go on.
func (m *Flickermeter) Reset() { m.levels, m.peak, m.count = m.levels[:0], 0, 0 }
