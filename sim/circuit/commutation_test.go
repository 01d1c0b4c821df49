package circuit

import (
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// slopeBoard has a supply whose third harmonic, 20 % in opposition, makes the
// voltage rise slowly at its zero (0.4 of √2·V·ω) and fast later (1.1 of it at
// 60°). The triac withstands window in the time t_q after turn-off and static
// at other times, both as fractions of √2·V·ω.
func slopeBoard(window, static float64) *models.Board {
	b := idealBoard(230, 50, 44)
	b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 0.2 * 230, Phase: 180}}
	full := math.Sqrt2 * 230 * 100 * math.Pi
	t := &b.Channels[0].Triac
	t.StaticRate = q.VoltPerSecond(static * full)
	t.CommutatingRate = q.VoltPerSecond(window * full)
	t.CommutatingFall = q.AmperePerSecond(0.4 * full / 44) // that of this load
	t.TurnOffTime = 50e-6
	t.Latching, t.Holding = 0.002, 0.001 // turns off within the half-cycle
	return b
}

// firedUndriven drives the first half-cycle and returns the angle at which the
// triac fires in the second, undriven, or NaN.
func firedUndriven(t *testing.T, b *models.Board) float64 {
	t.Helper()
	s := mustNew(t, b)
	r := mustRecord(t, s, 2, func(h int64) Input {
		if h == 1 {
			return Input{Factor: 1, Drive: []float64{0}}
		}
		return Input{Factor: 1, Drive: []float64{12}, Changes: []DriveChange{{After: 0.001, Channel: 0, Volts: 0}}}
	})
	c := Conduction(r.Events, 0)
	if len(c) == 0 || c[0].Half != 0 {
		t.Fatal("did not conduct in the driven half-cycle")
	}
	if len(c) == 2 {
		return c[1].Firing
	}
	return math.NaN()
}

// TestCommutatingWindow checks the three regimes of the rule on rates of rise
// (terms of IEC 60747-6): withstood throughout, exceeded just after turn-off,
// exceeded later when only the static limit counts.
func TestCommutatingWindow(t *testing.T) {
	// The end of the window falls on other digits with every t_q.
	for i := range 20 {
		b := slopeBoard(0.7, 2)
		b.Channels[0].Triac.TurnOffTime = q.Second(50e-6 + 1e-7*float64(i))
		if a := firedUndriven(t, b); !math.IsNaN(a) {
			t.Errorf("t_q = %v: fired at %.3f°, more than t_q after turn-off and below the static limit", b.Channels[0].Triac.TurnOffTime, a)
		}
	}
	// Just after turn-off the triac fires as soon as its latching current of
	// 2 mA can flow.
	a := firedUndriven(t, slopeBoard(0.3, 2))
	near(t, "firing in the commutating window", a, 0.002*44/(0.4*math.Sqrt2*230)*180/math.Pi, a, 1e-3)
	// Static: cos θ − 0.6·cos 3θ = 0.9.
	want := 40.0
	for range 60 {
		r := want * math.Pi / 180
		want += (0.9 - math.Cos(r) + 0.6*math.Cos(3*r)) / (-math.Sin(r) + 1.8*math.Sin(3*r)) * 180 / math.Pi
	}
	near(t, "angle of breakover by rate", firedUndriven(t, slopeBoard(0.7, 0.9)), want, 1, 1e-7)
}
