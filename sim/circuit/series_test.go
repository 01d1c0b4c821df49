package circuit

import (
	"math"
	"testing"

	"boilwright/models"
)

// TestChain: the current of every branch is that of the one that leads its chain,
// but for the sign, whatever conducts; and the chains of a channel are known.
func TestChain(t *testing.T) {
	b := refBoard()
	b.Supply.Damping = 50
	b.Channels[0].Thermostat = models.Thermostat{Fitted: true, Resistance: 0.01, Stray: 1e-12}
	b.Channels[2].Element.Open = true
	b.Channels[2].Element.Insulation = 1e9
	s := mustNew(t, b)
	n := s.net
	n.chain()
	lead := make([]int, len(n.branches))
	length := map[string]int{}
	seen := make([]bool, len(n.branches))
	for i := range n.branches {
		if !n.leads(i) {
			continue
		}
		for at := i; at >= 0; at = n.strands[at].next {
			if seen[at] {
				t.Fatalf("found %s in two chains", n.branches[at].name)
			}
			seen[at], lead[at] = true, i
			length[n.branches[i].name]++
		}
	}
	for i, ok := range seen {
		if !ok {
			t.Fatalf("found %s in no chain", n.branches[i].name)
		}
	}
	for name, want := range map[string]int{"opto1": 2, "wire1": 5, "wire2": 4, "snubber-resistor1": 2, "junction1": 1, "source": 2, "insulation3": 4} {
		if length[name] != want {
			t.Errorf("found %d branches in series with %s and itself, expected %d", length[name], name, want)
		}
	}
	opposed, combinations := 0, 0
	s.OnSegment(func(g *Segment) {
		c := g.c
		combinations++
		for i := range n.branches {
			x, y := c.row(n.sigCurrent(i)), c.row(n.sigCurrent(lead[i]))
			if n.strands[i].sign < 0 {
				opposed++
			}
			scale := 0.0
			for j := range x {
				scale = math.Max(scale, math.Abs(y[j]))
			}
			for j := range x {
				near(t, n.branches[i].name+" and "+n.branches[lead[i]].name, n.strands[i].sign*x[j], y[j], scale+1e-5, 1e-11)
			}
		}
	})
	mustSkip(t, s, 4, drives(12, 12, 0))
	if opposed == 0 || combinations < 10 {
		t.Errorf("found %d opposed currents in %d combinations, expected some", opposed, combinations)
	}
}
