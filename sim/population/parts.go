package population

import (
	"math"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// conductance is a thermal conductance of a channel, within a factor.
func conductance(name, doc string, most float64, spread func(*Tolerances) *Spread, at func(*models.Channel) *q.WattPerKelvin) Parameter {
	return ofChannel(Parameter{Name: name, Doc: doc, Source: assumption, Default: Times(most), max: 1e4, spread: spread}, at)
}

// ambientTemperature takes along what starts at the temperature of the room.
func ambientTemperature(p Parameter) Parameter {
	p = ofBoard(p, func(b *models.Board) *q.Celsius { return &b.Ambient })
	p.put = func(m *Member, _ int, v float64) {
		b := m.Board
		follow := func(start *q.Celsius) {
			if *start == b.Ambient {
				*start = q.Celsius(v)
			}
		}
		follow(&b.Lid.Start)
		follow(&b.Pocket.Start)
		for k := range b.Channels {
			follow(&b.Channels[k].Boiler.Start)
		}
		b.Ambient = q.Celsius(v)
	}
	return p
}

// optoLatches and triacLatches tell whether there is an excess of the latching
// current over the holding current to be drawn.
func optoLatches(b *models.Board, k int) bool {
	o := &b.Channels[k].Opto
	return o.Latching > o.Holding && !math.IsInf(float64(o.Latching), 1)
}

func triacLatches(b *models.Board, k int) bool {
	t := &b.Channels[k].Triac
	return float64(t.Latching) > leastLatching(t)
}

// optoHolding takes the latching current along, so that their ratio stays.
func optoHolding(p Parameter) Parameter {
	p = ofChannel(p, func(c *models.Channel) *q.Ampere { return &c.Opto.Holding })
	p.put = func(m *Member, k int, v float64) {
		o := &m.Board.Channels[k].Opto
		o.Latching *= q.Ampere(v) / o.Holding
		o.Holding = q.Ampere(v)
	}
	return p
}

func triacHolding(p Parameter) Parameter {
	p = ofChannel(p, func(c *models.Channel) *q.Ampere { return &c.Triac.Holding })
	p.put = func(m *Member, k int, v float64) {
		t := &m.Board.Channels[k].Triac
		t.Latching *= q.Ampere(v) / t.Holding
		t.Holding = q.Ampere(v)
	}
	return p
}

// Junction temperatures in °C between which a latching current stays above the
// holding current.
const (
	coldJunction = -20.0
	hotJunction  = 150.0
)

// leastLatching is the latching current in amperes at 25 °C that equals the
// holding current at one of the two junction temperatures and is above it at
// the other: I_H itself where both fall alike.
func leastLatching(t *models.Triac) float64 {
	least := float64(t.Holding)
	for _, tj := range []float64{coldJunction, hotJunction} {
		if fall := t.LatchingAt(tj) / float64(t.Latching); fall > 0 {
			least = math.Max(least, t.HoldingAt(tj)/fall)
		}
	}
	return least
}

// triggers multiplies I_GT of a channel where MT2 is positive and negative.
func triggers(m *Member, k int, positive, negative float64) {
	t := &m.Board.Channels[k].Triac.Trigger
	t[models.QuadrantI] *= q.Ampere(positive)
	t[models.QuadrantII] *= q.Ampere(positive)
	t[models.QuadrantIII] *= q.Ampere(negative)
	t[models.QuadrantIV] *= q.Ampere(negative)
}

// boilerWater leaves what depends on the vessel's shape where it is.
func boilerWater(p Parameter) Parameter {
	p = ofChannel(p, func(c *models.Channel) *q.Kilogram { return &c.Boiler.Water })
	p.put = func(m *Member, k int, v float64) {
		w := &m.Board.Channels[k].Boiler
		w.Water = q.Kilogram(v)
		w.Floor = min(w.Floor, w.Water)
	}
	return p
}

func coupling(p Parameter) Parameter {
	p.Scope = OfCoupling
	return value(p, func(b *models.Board, k int) *q.WattPerKelvin { return &b.Couplings[k].Conductance })
}

// meterError is an error of a meter within its accuracy.
func meterError(p Parameter, accuracy func(*models.Meter) float64, at func(*Calibration) *float64) Parameter {
	p.Kind, p.Scope, p.Dimension = Share, OfMeter, q.Number
	p.nominal = func(b *models.Board, k int) (float64, bool) {
		a := accuracy(&b.Meters[k])
		return a, a > 0
	}
	p.put = func(m *Member, k int, v float64) { *at(&m.Calibrations[k]) = v }
	return p
}

func clampError(p Parameter, accuracy func(*models.Clamp) float64, at func(*Calibration) *float64) Parameter {
	p.Kind, p.Scope, p.Dimension = Share, OfClamp, q.Number
	p.nominal = func(b *models.Board, k int) (float64, bool) {
		a := accuracy(&b.Clamps[k])
		return a, a > 0
	}
	p.put = func(m *Member, k int, v float64) { *at(&m.Clamps[k]) = v }
	return p
}

func monitorGain(p Parameter) Parameter {
	p.Kind, p.Dimension = Share, q.Number
	p.nominal = func(b *models.Board, _ int) (float64, bool) {
		return float64(b.Monitor.Accuracy), b.Monitor.Accuracy > 0
	}
	p.put = func(m *Member, _ int, v float64) { m.MonitorGain = v }
	return p
}
