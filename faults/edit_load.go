package faults

import (
	"fmt"
	"math"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// Edits of what lies around the switch: films, load, boiler, probe, supply.

// filmOpto lies across the opto output: MT2 to the gate resistor.
func filmOpto(b *models.Board, e edit) error {
	mt2, inner := optoOutput(&b.Channels[e.channel], e.channel)
	e.leak(b, mt2, inner, models.GatePart)
	return nil
}

// filmTriac lies across the main terminals. Its loss warms the board pocket,
// as a snubber's does, and not the junction.
func filmTriac(b *models.Board, e edit) error {
	mt1, mt2 := terminals(&b.Channels[e.channel], e.channel)
	e.leak(b, mt2, mt1, models.SnubberPart)
	return nil
}

func filmEarth(b *models.Board, e edit) error {
	e.leak(b, models.At(models.Output, e.channel), models.Node{Place: models.ProtectiveEarth}, models.NoPart)
	return nil
}

func elementOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Element.Open = true
	return nil
}

func elementPartShorted(b *models.Board, e edit) error {
	el := &b.Channels[e.channel].Element
	r := float64(el.Resistance)
	el.Resistance = q.Ohm(linear(r, r*e.value("left"), e.severity))
	return nil
}

func elementLeaking(b *models.Board, e edit) error {
	el := &b.Channels[e.channel].Element
	healthy := min(float64(el.Insulation), nothing)
	el.Insulation = q.Ohm(geometric(healthy, e.value("resistance"), e.severity))
	el.Split = q.Ratio(e.own("position", float64(el.Split)))
	return nil
}

func terminalResistance(b *models.Board, e edit) error {
	b.Channels[e.channel].Wire += q.Ohm(e.value("resistance") * e.severity)
	return nil
}

func wireOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Wire = q.Ohm(math.Inf(1))
	return nil
}

func linkOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Link.Open = true
	return nil
}

func linkWrongRating(b *models.Board, e edit) error {
	l := &b.Channels[e.channel].Link
	l.Functions = q.Celsius(linear(float64(l.Functions), e.value("functions"), e.severity))
	return nil
}

func upstreamLinkOpen(b *models.Board, e edit) error {
	b.Upstream.Open = true
	return nil
}

func scale(b *models.Board, e edit) error {
	v := &b.Channels[e.channel].Boiler
	v.Scale = q.Ratio(scaled(float64(v.Scale), e.value("factor"), e.severity))
	return nil
}

func lowLevel(b *models.Board, e edit) error {
	v := &b.Channels[e.channel].Boiler
	m := float64(v.Water)
	v.Water = max(q.Kilogram(linear(m, m*e.value("left"), e.severity)), min(v.Floor, v.Water))
	return nil
}

func reliefLeaking(b *models.Board, e edit) error {
	v := &b.Channels[e.channel].Boiler
	v.Draws = append(v.Draws, models.Draw{
		To:     longest,
		Flow:   q.KilogramPerSecond(e.value("flow") * e.severity),
		Steam:  true,
		Refill: -1,
	})
	return nil
}

func probeOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Probe.Open = true
	return nil
}

func probeShorted(b *models.Board, e edit) error {
	b.Channels[e.channel].Probe.Shorted = true
	return nil
}

func probeDrift(b *models.Board, e edit) error {
	b.Channels[e.channel].Probe.Offset += q.Kelvin(e.value("drift") * e.severity)
	return nil
}

func probeDetached(b *models.Board, e edit) error {
	p := &b.Channels[e.channel].Probe
	p.ToWater = q.WattPerKelvin(scaled(float64(p.ToWater), e.value("left"), e.severity))
	return nil
}

// The supply voltages in volts that a board is computed for.
const leastSupply, mostSupply = 90, 260

// supplyLevel multiplies the fundamental: a low or a high supply.
func supplyLevel(b *models.Board, e edit) error {
	v := float64(b.Supply.Voltage)
	got := linear(v, v*e.value("factor"), e.severity)
	if got < leastSupply || got > mostSupply {
		return &FieldError{"supply voltage", q.Volt(got).String(), fmt.Sprintf("%v to %v", q.Volt(leastSupply), q.Volt(mostSupply))}
	}
	b.Supply.Voltage = q.Volt(got)
	return nil
}

func looseNeutral(b *models.Board, e edit) error {
	b.Supply.NeutralResistance += q.Ohm(e.value("resistance") * e.severity)
	return nil
}

func earthMissing(b *models.Board, e edit) error {
	b.Earth.Resistance = q.Ohm(math.Inf(1))
	return nil
}

func supplyExchanged(b *models.Board, e edit) error {
	b.Supply.Exchanged = true
	return nil
}

func thermostatWelded(b *models.Board, e edit) error {
	b.Channels[e.channel].Thermostat.Stuck = models.Welded
	return nil
}

func thermostatOpen(b *models.Board, e edit) error {
	b.Channels[e.channel].Thermostat.Stuck = models.StayOpen
	return nil
}
