package circuit

import (
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

var inf = math.Inf(1)

// healthyChannel is a channel of round invented values with a load of the
// given resistance: no insulation path, no limits on voltage or its rate, no
// dependence on temperature.
func healthyChannel(load float64) models.Channel {
	none := q.Kelvin(inf)
	const trigger = 0.025
	return models.Channel{
		Drive: models.Drive{On: 12, Saturation: 0.2, Resistance: 820},
		Opto: models.Opto{Forward: 1.1, LEDSlope: 5, Trigger: 0.005, Threshold: 1.2, Slope: 5, Off: 2e-9,
			Inhibit: 20, Latching: 0.0006, Holding: 0.0003, TriggerScale: none},
		GateResistance: 330, GateShunt: 330,
		Triac: models.Triac{Threshold: 0.9, Slope: 0.02, Off: 5e-8, GateThreshold: 0.8, GateSlope: 10,
			Trigger: [4]q.Ampere{trigger, trigger, trigger, trigger}, Latching: 0.04, Holding: 0.03,
			StaticRate: q.VoltPerSecond(inf), Breakover: q.Volt(inf),
			TriggerScale: none, LatchingScale: none, HoldingScale: none, RateScale: none},
		Snubber: models.Snubber{Resistance: 100, Capacitance: 1e-8},
		Wire:    0.02,
		Link:    models.ThermalLink{Resistance: 0.005, Stray: 5e-12},
		Element: models.Element{Resistance: q.Ohm(load), Split: 0.5, Insulation: q.Ohm(inf)},
	}
}

// healthyBoard is a board of healthy channels on 230 V, 50 Hz, behind the
// reference impedance of IEC 60725 as one line impedance (0.4 + j0.25 Ω).
func healthyBoard(loads ...float64) *models.Board {
	b := &models.Board{Ambient: 25}
	b.Supply = models.Supply{Voltage: 230, Frequency: 50, LineResistance: 0.4, LineInductance: 0.25 / (100 * math.Pi), Damping: q.Ohm(inf)}
	b.Earth.Resistance = q.Ohm(inf)
	for k, r := range loads {
		c := healthyChannel(r)
		gt := q.Ampere(0.025 + 0.0005*float64(k))
		c.Triac.Trigger = [4]q.Ampere{gt, gt, gt, gt}
		c.Snubber.Capacitance *= q.Farad(1 + 0.03*float64(k))
		b.Channels = append(b.Channels, c)
	}
	return b
}

func refBoard() *models.Board { return healthyBoard(44, 35, 53) }

// idealChannel switches without loss: V_T0 = r_T = 0, currents of the gate,
// latching and holding of at most 1 µA, a random-phase opto, no snubber and
// no leakage. Nothing but the load is left of the waveforms of a textbook.
func idealChannel(load float64) models.Channel {
	c := healthyChannel(load)
	c.Opto.Threshold, c.Opto.Off, c.Opto.Inhibit = 0, 0, q.Volt(inf)
	c.Opto.Latching, c.Opto.Holding = 1e-9, 5e-10
	c.GateResistance, c.GateShunt = 100, q.Ohm(inf)
	t := &c.Triac
	t.Threshold, t.Slope, t.Off, t.GateThreshold, t.GateSlope = 0, 0, 0, 0, 0
	t.Trigger = [4]q.Ampere{2e-9, 2e-9, 2e-9, 2e-9}
	t.Latching, t.Holding = 1e-9, 5e-10
	c.Snubber = models.Snubber{}
	c.Wire, c.Link = 0, models.ThermalLink{}
	return c
}

// idealBoard is one ideal channel on an ideal source.
func idealBoard(volts, hertz, load float64) *models.Board {
	b := &models.Board{Ambient: 25}
	b.Supply = models.Supply{Voltage: q.Volt(volts), Frequency: q.Hertz(hertz), Damping: q.Ohm(inf)}
	b.Earth.Resistance = q.Ohm(inf)
	b.Channels = []models.Channel{idealChannel(load)}
	return b
}

func mustNew(t testing.TB, b *models.Board) *Solver {
	t.Helper()
	s, err := New(b)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// drives is the same drive of all channels in every half-cycle.
func drives(volts ...float64) func(int64) Input {
	return func(int64) Input { return Input{Factor: 1, Drive: volts} }
}

func mustRecord(t testing.TB, s *Solver, n int, in func(int64) Input) *Recording {
	t.Helper()
	r, err := s.Record(n, in)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func mustSkip(t testing.TB, s *Solver, n int, in func(int64) Input) {
	t.Helper()
	for range n {
		if _, err := s.HalfCycle(in(s.Half())); err != nil {
			t.Fatal(err)
		}
	}
}

func voltOf(t testing.TB, s *Solver, a, b models.Node) Signal {
	t.Helper()
	sig, err := s.Voltage(a, b)
	if err != nil {
		t.Fatal(err)
	}
	return sig
}

func ampOf(t testing.TB, s *Solver, branch string) Signal {
	t.Helper()
	sig, err := s.Current(branch)
	if err != nil {
		t.Fatal(err)
	}
	return sig
}

// near fails unless got is within tol of want, relative to scale.
func near(t testing.TB, what string, got, want, scale, tol float64) {
	t.Helper()
	if d := math.Abs(got-want) / math.Abs(scale); !(d <= tol) {
		t.Errorf("%s: got %.15g, want %.15g: off by %.2g, more than %.2g of %.4g", what, got, want, d, tol, scale)
	}
}
