package sim_test

import (
	"context"
	"math"
	"testing"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/boardfile"
)

// TestIdlePathHasNoSlope: a path that carries next to nothing, here the opto's
// of a channel whose gate resistor is open, must not take part in a run by the
// rounding of its energy, however the channel's element resistances move.
func TestIdlePathHasNoSlope(t *testing.T) {
	b := boardfile.Default()
	s := &b.Supply
	s.LineResistance, s.LineInductance, s.NeutralResistance, s.NeutralInductance = 0.7894888162686333, 1.570638095311527e-3, 0.05772000823337536, 0.11483030782058232e-3
	c := &b.Channels[1]
	c.MT1, c.GateResistance = models.MT1Load, q.Ohm(math.Inf(1))
	r, err := sim.Run(context.Background(), b, sim.Options{Duration: 5 * time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	if o := r.Outcomes[1]; o.Verdict != sim.Unheated {
		t.Errorf("the channel that cannot fire: %q, %.1f J", o.Verdict, o.Energy)
	}
	if err := r.Heat.Check(); err != nil {
		t.Error(err)
	}
}
