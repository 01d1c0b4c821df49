package sim

import (
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// tally is the energies of one half-cycle in joules, one number a group.
type tally []float64

// The groups of a tally: the shared ones, then per channel.
const (
	tSource = iota
	tWiring
	tOutside
	tUpstream
	tSquare // ∫i² dt of the supply current, A²s
	tEarth  // ∫i² dt of the earth conductor's current, A²s
	tCharge // ∫i dt of the same, A s
	tVolts  // ∫v² dt between L and N, V²s
	tShared
)

// Per channel.
const (
	tElement = iota
	tTriac
	tGate
	tSnubber
	tWire
	tLink
	tPerChannel
)

func tallySize(channels int) int { return tShared + channels*tPerChannel }

func (t tally) channel(k int) tally { return t[tShared+k*tPerChannel:][:tPerChannel] }

// from fills t with a record of the circuit.
func (t tally) from(r *circuit.Record, b *models.Board) {
	t[tSource], t[tWiring], t[tOutside], t[tUpstream] = r.Source, r.Wiring, r.Outside, r.Upstream
	t[tSquare], t[tEarth], t[tCharge] = r.CurrentSquared, r.EarthSquared, r.EarthCharge
	t[tVolts] = r.VoltageSquared
	for k := range r.Element {
		c := t.channel(k)
		c[tElement], c[tTriac], c[tGate], c[tSnubber], c[tWire] = r.Element[k], r.Triac[k], r.Gate[k], r.Snubber[k], r.Wire[k]
		// The link and the channel's wire carry the same current: their
		// losses divide as their resistances.
		link, wire := float64(b.Channels[k].Link.Resistance), float64(b.Channels[k].Wire)
		if th := &b.Channels[k].Thermostat; th.Fitted {
			wire += float64(th.Resistance)
		}
		c[tLink] = 0
		if s := link + wire; s > 0 && !math.IsInf(s, 1) {
			c[tLink] = r.Wire[k] * link / s
		}
	}
}
