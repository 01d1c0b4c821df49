package sim

import (
	"golang.org/x/sys/cpu"

	"boilwright/sim/heat"
)

// wide tells that the processor has registers of four numbers, and what turns
// lanes in them.
var wide = cpu.X86.HasAVX2

// The following are their plain twins in those registers, to the bit; without them they
// go on to these. They trust that what parts do, and what is going on, has a stage for
// each that gains.

//go:noescape
func carry(c *course, on *going, l *leakage) (stale int)

//go:noescape
func fill(p *part, first, each *ledger, times, noise, rate float64)

//go:noescape
func sumParts(total *ledger, gain []heat.Lanes, parts []*part)

//go:noescape
func divide(c *course, total *ledger, law *growth, noise float64) (pocket float64)
