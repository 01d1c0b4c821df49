package faults

import (
	"math"
	"math/cmplx"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// supplyDistorted adds the third, fifth and seventh harmonic in the phases
// that flatten the crest of the wave and leave its zeros where they are.
func supplyDistorted(b *models.Board, e edit) error {
	s := &b.Supply
	for _, h := range []struct {
		order int
		key   string
		phase q.Degree
	}{{3, "third", 0}, {5, "fifth", 180}, {7, "seventh", 0}} {
		v := e.value(h.key) * e.severity * float64(s.Voltage)
		if v > 0 {
			addHarmonic(s, models.Harmonic{Order: h.order, Voltage: q.Volt(v), Phase: h.phase})
		}
	}
	return nil
}

// addHarmonic adds a harmonic to a supply. One of an order that is there
// already adds to it as a phasor, since a supply has one of each:
//
//	V·exp(jφ) = V₁·exp(jφ₁) + V₂·exp(jφ₂)
//
// What cancels to a millionth of the larger is gone.
func addHarmonic(s *models.Supply, h models.Harmonic) {
	var out []models.Harmonic
	for _, x := range s.Harmonics {
		if x.Order != h.Order {
			out = append(out, x)
			continue
		}
		larger := math.Max(float64(x.Voltage), float64(h.Voltage))
		if x.Phase == h.Phase { // exactly
			h.Voltage += x.Voltage
			continue
		}
		v, phase := cmplx.Polar(phasor(x) + phasor(h))
		if v < 1e-6*larger {
			v, phase = 0, 0
		}
		h.Voltage, h.Phase = q.Volt(v), q.Degree(phase*180/math.Pi)
	}
	if h.Voltage > 0 {
		out = append(out, h)
	}
	s.Harmonics = out
}

// phasor is V·exp(jφ) of a harmonic.
func phasor(h models.Harmonic) complex128 {
	return cmplx.Rect(float64(h.Voltage), float64(h.Phase)*math.Pi/180)
}
