//go:build !amd64

package sim

import "boilwright/sim/heat"

func carry(c *course, on *going, l *leakage) (stale int) { return carryPlain(c, on, l) }

func fill(p *part, first, each *ledger, times, noise, rate float64) {
	fillPlain(p, first, each, times, noise, rate)
}

func sumParts(total *ledger, gain []heat.Lanes, parts []*part) { sumPartsPlain(total, gain, parts) }

func divide(c *course, total *ledger, law *growth, noise float64) (pocket float64) {
	return dividePlain(c, total, law, noise)
}
