package models_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// TestPeakAndSlope: peak √2·V and greatest slope √2·V·2πf of the supply, the
// slope here by differences; a 5 A load takes its slope from V/R.
func TestPeakAndSlope(t *testing.T) {
	slope := func(s *models.Supply) float64 { // V/s at the zero
		const h = 1e-5
		return (s.EMF(h) - s.EMF(-h)) / (2 * h) * math.Pi / s.HalfCycle()
	}
	europe := &models.Supply{Voltage: 240, Frequency: 50}
	printed(t, "peak of 240 V", europe.EMF(math.Pi/2), "339.411255")
	printed(t, "its slope in V/µs", slope(europe)*1e-6, "0.1066291905")
	printed(t, "slope of 5 A in A/ms", slope(europe)/(240/5)*1e-3, "2.221441469")
	america := &models.Supply{Voltage: 120, Frequency: 60}
	printed(t, "slope of 120 V 60 Hz in V/µs", slope(america)*1e-6, "0.06397751431")

	near(t, "half-cycle at 50 Hz", europe.HalfCycle(), 0.01, 1, 0)
	near(t, "half-cycle at 60 Hz", america.HalfCycle(), 1.0/120, 1, 0)
	near(t, "zero", europe.EMF(0), 0, 240, 0)
	near(t, "next zero", europe.EMF(math.Pi), 0, 240, 1e-15)
	near(t, "negative peak", europe.EMF(-math.Pi/2), -europe.EMF(math.Pi/2), 240, 1e-15)
}

// TestDistortedEMF takes the supply's voltage apart by Fourier sums over one
// period, which are exact for a trigonometric polynomial on enough points
// (orthogonality), and puts its mean square together by Parseval's theorem.
func TestDistortedEMF(t *testing.T) {
	s := &models.Supply{Voltage: 230, Frequency: 50, DC: 1.5, Harmonics: []models.Harmonic{
		{Order: 3, Voltage: 9, Phase: 180}, {Order: 5, Voltage: 7, Phase: -30}, {Order: 40, Voltage: 0.5, Phase: 77}}}
	const n = 128
	component := func(order int) (rms, degrees float64) {
		var a, b float64 // e = a·sin + b·cos
		for i := range n {
			x := 2 * math.Pi * float64(i) / n
			e := s.EMF(x)
			a += 2 * e * math.Sin(float64(order)*x) / n
			b += 2 * e * math.Cos(float64(order)*x) / n
		}
		return math.Hypot(a, b) / math.Sqrt2, math.Atan2(b, a) * 180 / math.Pi
	}
	mean, square := 0.0, 0.0
	for i := range n {
		e := s.EMF(2 * math.Pi * float64(i) / n)
		mean += e / n
		square += e * e / n
	}
	near(t, "mean", mean, 1.5, 230, 1e-14)
	near(t, "mean square", square, 230*230+1.5*1.5+9*9+7*7+0.5*0.5, square, 1e-14)
	for _, want := range append(s.Harmonics, models.Harmonic{Order: 1, Voltage: 230}, models.Harmonic{Order: 7}) {
		rms, degrees := component(want.Order)
		what := fmt.Sprintf("component %d", want.Order)
		near(t, what, rms, float64(want.Voltage), 230, 1e-14)
		if want.Voltage > 0 {
			turn := math.Remainder(degrees-float64(want.Phase), 360)
			near(t, what+", phase", turn, 0, 1, 1e-10)
		}
	}
}

func TestFactorAt(t *testing.T) {
	s := models.Supply{Events: []models.SupplyEvent{
		{From: time.Second, To: 3 * time.Second, Factor: 0.5},
		{From: 2 * time.Second, To: 4 * time.Second, Factor: 0.8},
		{From: 5 * time.Second, To: 6 * time.Second, Factor: 0},
		{From: 7 * time.Second, To: 7 * time.Second, Factor: 0},
	}}
	for _, c := range []struct {
		at   time.Duration
		want float64
	}{
		{0, 1}, {time.Second - 1, 1}, {time.Second, 0.5}, {2*time.Second - 1, 0.5}, {2 * time.Second, 0.4}, {3*time.Second - 1, 0.4},
		{3 * time.Second, 0.8}, {4 * time.Second, 1}, {5 * time.Second, 0}, {6*time.Second - 1, 0}, {6 * time.Second, 1}, {7 * time.Second, 1},
	} {
		near(t, fmt.Sprintf("factor at %v", c.at), s.FactorAt(c.at), c.want, 1, 1e-15)
		level, until := s.LevelAt(c.at)
		near(t, fmt.Sprintf("level at %v", c.at), level, c.want, 1, 1e-15)
		if until <= c.at {
			t.Fatalf("level at %v: found it to hold until %v, expected later", c.at, until)
		}
		for _, e := range s.Events {
			for _, change := range []time.Duration{e.From, e.To} {
				if change > c.at && change < until {
					t.Errorf("level at %v: found it to hold until %v, expected until %v at the most", c.at, until, change)
				}
			}
		}
	}
	if _, until := s.LevelAt(7 * time.Second); until != math.MaxInt64 {
		t.Errorf("level after all events: found it to hold until %v, expected for good", until)
	}
	near(t, "factor without events", (&models.Supply{}).FactorAt(time.Hour), 1, 1, 0)
}

// TestLEDCurrent: Ohm's law around the LED's loop, never backwards.
func TestLEDCurrent(t *testing.T) {
	d := &models.Drive{On: 12, Saturation: 0.2, Resistance: 820}
	o := &models.Opto{Forward: 1.1, LEDSlope: 5, Trigger: 5e-3, TriggerScale: q.Kelvin(math.Inf(1))}
	i := d.LEDCurrent(o, 12)
	near(t, "Kirchhoff's voltage law", i*(820+5)+1.1+0.2, 12, 12, 1e-15)
	for _, v := range []float64{0, 1.3, -12} {
		if got := d.LEDCurrent(o, v); got != 0 || math.Signbit(got) {
			t.Errorf("%g A from a drive of %g V, want 0", got, v)
		}
	}
	if got := d.LEDCurrent(o, math.Nextafter(1.5, 2)); !(got > 0) {
		t.Errorf("%g A just above the thresholds, want more than 0", got)
	}
	broken := *o
	broken.LEDSlope = q.Ohm(math.Inf(1))
	if got := d.LEDCurrent(&broken, 12); got != 0 {
		t.Errorf("%g A through a broken LED, want 0", got)
	}
	near(t, "I_FT without a scale", o.TriggerAt(100), 5e-3, 5e-3, 0)
	o.TriggerScale = 200
	near(t, "I_FT at 25 °C", o.TriggerAt(25), 5e-3, 5e-3, 0)
	near(t, "I_FT a scale above, where the LED needs more", o.TriggerAt(225), 5e-3*math.E, 5e-3, 1e-14)
}

// TestLEDVoltage: Kirchhoff's laws around R_LED, the LED and a meter beside
// it, the LED blocking below V_F0 and in reverse.
func TestLEDVoltage(t *testing.T) {
	inf := math.Inf(1)
	d := &models.Drive{On: 12, Saturation: 0.2, Resistance: 820}
	o := &models.Opto{Forward: 1.1, LEDSlope: 5}
	near(t, "at the plug", d.AtPlug(12), 11.8, 12, 1e-15)
	near(t, "at the plug, undriven", d.AtPlug(0), 0, 1, 0)
	near(t, "at the plug, below V_sat", d.AtPlug(0.1), 0, 1, 0)
	near(t, "at the plug, in reverse", d.AtPlug(-5), -5, 5, 0)
	near(t, "alone", d.LEDVoltage(o, 12, inf), 1.1+5*d.LEDCurrent(o, 12), 1, 1e-15)
	for _, load := range []float64{inf, 10e6, 3e3, 200} {
		for _, vd := range []float64{12, 3, 1.2, 0, -12} {
			v := d.LEDVoltage(o, vd, load)
			in := (d.AtPlug(vd) - v) / 820
			led := math.Max(0, (v-1.1)/5)
			near(t, fmt.Sprintf("currents at %g V with %g Ω", vd, load), in, led+v/load, 12.0/820, 1e-13)
		}
	}
	near(t, "broken LED, no meter", d.LEDVoltage(&models.Opto{Forward: 1.1, LEDSlope: q.Ohm(inf)}, 12, inf), 11.8, 12, 1e-15)
	near(t, "broken LED, 3 kΩ", d.LEDVoltage(&models.Opto{Forward: 1.1, LEDSlope: q.Ohm(inf)}, 12, 3e3), 11.8*3000/3820, 12, 1e-15)
	d.Resistance = q.Ohm(inf)
	near(t, "open connector", d.LEDVoltage(o, 12, 10e6), 0, 12, 0)
}
