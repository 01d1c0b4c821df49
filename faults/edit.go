package faults

import (
	"fmt"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// edit is what an entry of the catalogue needs to change a board: where, how
// far, and with which settings. Severity is more than 0.
type edit struct {
	fault    *Fault
	channel  int // from 0; not used by a fault of the whole board
	severity float64
	settings []Setting
}

// value returns the setting called key, or its default.
func (e edit) value(key string) float64 {
	k, ok := e.fault.Key(key)
	if !ok {
		panic("faults: " + e.fault.Name + " has no key " + key)
	}
	return e.own(key, k.Default)
}

// own returns the setting called key, or the healthy part's own value.
func (e edit) own(key string, healthy float64) float64 {
	if v, ok := e.given(key); ok {
		return v
	}
	return healthy
}

// given returns the setting called key, and whether there is one.
func (e edit) given(key string) (float64, bool) {
	for _, s := range e.settings {
		if s.Key == key {
			return s.Value, true
		}
	}
	return 0, false
}

// terminals returns the nodes of main terminals 1 and 2 of a channel's triac.
// The rail is L behind an upstream link, or N for a triac in the neutral.
func terminals(c *models.Channel, ch int) (mt1, mt2 models.Node) {
	rail := models.At(models.Rail, ch)
	if c.Side == models.NeutralSide {
		rail = models.At(models.Neutral, ch)
	}
	out := models.At(models.Output, ch)
	if c.MT1 == models.MT1Load {
		return out, rail
	}
	return rail, out
}

// bridge adds a path to the board and gives it a name of its own.
func bridge(b *models.Board, p models.Bridge) {
	base := fmt.Sprintf("%s–%s", p.From, p.To)
	p.Name = base
	for n := 2; named(b.Bridges, p.Name); n++ {
		p.Name = fmt.Sprintf("%s (%d)", base, n)
	}
	b.Bridges = append(b.Bridges, p)
}

func named(bridges []models.Bridge, name string) bool {
	for i := range bridges {
		if bridges[i].Name == name {
			return true
		}
	}
	return false
}

// leak adds a plain resistance between two nodes at the edit's severity; its
// full value is the setting "resistance".
func (e edit) leak(b *models.Board, from, to models.Node, part models.Part) {
	bridge(b, models.Bridge{
		From: from, To: to, Part: part, Channel: e.channel,
		Resistance: q.Ohm(path(e.value("resistance"), e.severity)),
	})
}

// oneWay adds a path that conducts one way only, from plus to minus where the
// setting "polarity" is positive. Its threshold and full resistance are the
// settings of those names, or the given ones of the healthy part.
func (e edit) oneWay(b *models.Board, plus, minus models.Node, part models.Part, threshold q.Volt, slope q.Ohm) {
	if e.value("polarity") < 0 {
		plus, minus = minus, plus
	}
	// A part without slope still needs a resistance above zero.
	full := e.own("resistance", max(float64(slope), leastResistance))
	bridge(b, models.Bridge{
		From: plus, To: minus, Part: part, Channel: e.channel, OneWay: true,
		Threshold:  q.Volt(e.own("threshold", float64(threshold))),
		Resistance: q.Ohm(path(full, e.severity)),
	})
}

// leastResistance is the lowest resistance in ohms of an added path.
const leastResistance = 1e-3
