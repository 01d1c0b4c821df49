package faults

import (
	"math"
	"slices"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// Edits of the switching parts: triac, opto, gate, snubber and drive.

func triacShorted(b *models.Board, e edit) error {
	mt1, mt2 := terminals(&b.Channels[e.channel], e.channel)
	e.leak(b, mt2, mt1, models.TriacPart)
	return nil
}

func triacOneWay(b *models.Board, e edit) error {
	c := &b.Channels[e.channel]
	mt1, mt2 := terminals(c, e.channel)
	e.oneWay(b, mt2, mt1, models.TriacPart, c.Triac.Threshold, c.Triac.Slope)
	return nil
}

func triacOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Triac.Open = true
	return nil
}

func gateOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Triac.GateOpen = true
	return nil
}

func gateLeak(b *models.Board, e edit) error {
	mt1, _ := terminals(&b.Channels[e.channel], e.channel)
	e.leak(b, models.At(models.Gate, e.channel), mt1, models.GatePart)
	return nil
}

func triacInsensitive(b *models.Board, e edit) error {
	t := &b.Channels[e.channel].Triac
	quadrants := []models.Quadrant{models.QuadrantI, models.QuadrantII}
	if e.value("polarity") < 0 {
		quadrants = []models.Quadrant{models.QuadrantIII, models.QuadrantIV}
	}
	for _, k := range quadrants {
		t.Trigger[k] = q.Ampere(scaled(float64(t.Trigger[k]), e.value("factor"), e.severity))
	}
	return nil
}

func triacWeakLatching(b *models.Board, e edit) error {
	t := &b.Channels[e.channel].Triac
	t.Latching = q.Ampere(scaled(float64(t.Latching), e.value("factor"), e.severity))
	return nil
}

func triacLeaky(b *models.Board, e edit) error {
	t := &b.Channels[e.channel].Triac
	t.Off = q.Siemens(scaled(float64(t.Off), e.value("factor"), e.severity))
	return nil
}

func triacLowRate(b *models.Board, e edit) error {
	t := &b.Channels[e.channel].Triac
	f := 1 / e.value("factor")
	t.StaticRate = q.VoltPerSecond(scaled(float64(t.StaticRate), f, e.severity))
	t.CommutatingRate = q.VoltPerSecond(scaled(float64(t.CommutatingRate), f, e.severity))
	return nil
}

func optoDead(b *models.Board, e edit) error {
	b.Channels[e.channel].Opto.LEDSlope = q.Ohm(math.Inf(1))
	return nil
}

func optoWeakLED(b *models.Board, e edit) error {
	o := &b.Channels[e.channel].Opto
	o.Trigger = q.Ampere(scaled(float64(o.Trigger), e.value("factor"), e.severity))
	if c, ok := e.given("coefficient"); ok {
		o.TriggerScale = q.Kelvin(1 / c) // infinite for no change
	}
	return nil
}

// optoOutput returns the nodes across a channel's opto output: MT2 of the
// triac, and the junction with the gate resistor.
func optoOutput(c *models.Channel, ch int) (mt2, inner models.Node) {
	_, mt2 = terminals(c, ch)
	return mt2, models.At(models.OptoOutput, ch)
}

func optoShorted(b *models.Board, e edit) error {
	mt2, inner := optoOutput(&b.Channels[e.channel], e.channel)
	e.leak(b, mt2, inner, models.GatePart)
	return nil
}

func optoOneWay(b *models.Board, e edit) error {
	c := &b.Channels[e.channel]
	mt2, inner := optoOutput(c, e.channel)
	e.oneWay(b, mt2, inner, models.GatePart, c.Opto.Threshold, c.Opto.Slope)
	return nil
}

func optoBreakover(b *models.Board, e edit) error {
	c := &b.Channels[e.channel]
	mt2, inner := optoOutput(c, e.channel)
	e.oneWay(b, mt2, inner, models.GatePart, q.Volt(e.value("threshold")), c.Opto.Slope)
	return nil
}

func optoHalfWave(b *models.Board, e edit) error {
	b.Channels[e.channel].Opto.Fires = int(e.value("polarity"))
	return nil
}

func optoNoWindow(b *models.Board, e edit) error {
	o := &b.Channels[e.channel].Opto
	if e.severity == 1 {
		o.Inhibit = q.Volt(math.Inf(1))
		return nil
	}
	o.Inhibit /= q.Volt(1 - e.severity)
	return nil
}

// openOutput is the conductance in siemens that is left of a broken output.
const openOutput = 1e-12

func optoOpen(b *models.Board, e edit) error {
	o := &b.Channels[e.channel].Opto
	o.Off = min(o.Off, openOutput)
	o.Latching = q.Ampere(math.Inf(1)) // no current is ever enough to turn on
	return nil
}

func gateResistorOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].GateResistance = q.Ohm(math.Inf(1))
	return nil
}

func gateResistorDrifted(b *models.Board, e edit) error {
	c := &b.Channels[e.channel]
	c.GateResistance = q.Ohm(scaled(float64(c.GateResistance), e.value("factor"), e.severity))
	return nil
}

func snubberResistorOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Snubber.Resistance = q.Ohm(math.Inf(1))
	return nil
}

func snubberCapacitorOpen(b *models.Board, e edit) error {
	s := &b.Channels[e.channel].Snubber
	s.Capacitance = q.Farad(linear(float64(s.Capacitance), 0, e.severity))
	return nil
}

// snubberCapacitorLeak puts a resistance across the snubber's capacitor,
// which lies between the tap and MT1.
func snubberCapacitorLeak(b *models.Board, e edit) error {
	mt1, _ := terminals(&b.Channels[e.channel], e.channel)
	e.leak(b, models.At(models.SnubberTap, e.channel), mt1, models.SnubberPart)
	return nil
}

func driveStuckOn(b *models.Board, e edit) error {
	d := &b.Channels[e.channel].Drive
	d.Off = q.Volt(linear(float64(d.Off), float64(d.On), e.severity))
	if g := q.Siemens(1 / path(e.value("resistance"), e.severity)); !d.Open {
		d.OffConductance = max(d.OffConductance, g)
	}
	return nil
}

func driveStuckOff(b *models.Board, e edit) error {
	d := &b.Channels[e.channel].Drive
	d.On, d.Off = 0, 0
	d.Open, d.OffConductance = true, 0 // whatever it was before, it is open now
	return nil
}

func driveOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Drive.Resistance = q.Ohm(math.Inf(1))
	return nil
}

func driveLow(b *models.Board, e edit) error {
	d := &b.Channels[e.channel].Drive
	d.On = q.Volt(linear(float64(d.On), e.value("voltage"), e.severity))
	return nil
}

// driveCrossed adds the crossing of a pair once: the same plugs are exchanged
// or they are not. Its lower channel comes first, which tells it from that of
// exchanged loads.
func driveCrossed(b *models.Board, e edit) error {
	k, n, err := e.pair(b)
	if err != nil {
		return err
	}
	if c := (models.Crossing{A: min(k, n), B: max(k, n)}); !slices.Contains(b.Crossings, c) {
		b.Crossings = append(b.Crossings, c)
	}
	return nil
}
