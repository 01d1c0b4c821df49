package sim

import (
	"math"

	"boilwright/sim/heat"
)

// growth is what plans need of a class of temperatures, one lane a channel: how the
// elements' resistances go with their temperature T, R/R₀ = base + rate·T, and the
// temperatures in °C of junctions, and at which these leak.
type growth struct{ base, rate, junction, leakage heat.Lanes }

// dividePlain is divide for every processor: it divides the energies of a plan among
// those who take them and returns those into the pocket in J. Energies in J up to noise
// are rounding.
func dividePlain(c *course, total *ledger, law *growth, noise float64) (pocket float64) {
	c.element, c.triac, c.wire, c.gate, c.shared = total[inElement], total[inTriac], total[inWire], total[inGate], total[inShared]
	c.shared[ofSource] = 0
	var spent, minor, warmth heat.Lanes
	for k := range heat.Wide {
		minor[k] = c.gate[k] + total[inSnubber][k]
		spent[k] = c.element[k] + c.wire[k] + c.triac[k]
		warmth[k] = c.triac[k] + minor[k]
		c.driven[k] = int64(total[ofDriven][k])
		c.follow(total, law, noise, k)
		half := 0.0
		if x := c.shared[k]; x > noise {
			half = 0.5 / x
		}
		spread(&c.byShared, (*[heat.Wide]heat.Lanes)(total[byShared:]), k, half)
	}
	left := &total[inShared]
	c.rest = left[ofSource] - left[ofWiring] - left[ofUpstream] - sum(&spent)
	c.minor = sum(&minor)
	return sum(&warmth)
}

// sum adds up lanes as registers do.
func sum(a *heat.Lanes) float64 { return (a[0] + a[1]) + (a[2] + a[3]) }

// follow sets what the energies of channel k follow by.
func (c *course) follow(total *ledger, law *growth, noise float64, k int) {
	c.base[k], c.rate[k], c.z[k], c.less[k] = 1, 0, 0, 1
	c.mixed[k], c.warm[k] = 0, 0
	half := 0.0
	if element := c.element[k]; element > noise {
		per, slope := 1/element, total[byElement+k][k]
		z := (1 + float64(slope*per)) * 0.5
		if over := float64(total[ofMixed][k]*per) - float64(z*z); over > 0 {
			c.mixed[k] = 3 * over
		}
		c.warm[k] = total[ofWarm][k] * per
		if slope != 0 {
			c.base[k], c.rate[k], c.z[k], c.less[k] = law.base[k], law.rate[k], z, 1-z
		}
		half = 0.5 * per
	}
	c.early[k] = 1 - float64(c.warm[k]*law.junction[k])
	spread(&c.byElement, (*[heat.Wide]heat.Lanes)(total[byElement:]), k, half)
	c.byElement[k][k] = 0

	c.still[k], c.slope[k], c.linear[k], c.square[k] = 1, 0, 0, 0
	half = 0
	if triac := c.triac[k]; triac > noise {
		per := 1 / triac
		c.still[k], c.slope[k], c.linear[k], c.square[k] = triacParts(float64(total[byTriac+k][k]*per), c.less[k])
		half = 0.5 * per
	}
	spread(&c.byTriac, (*[heat.Wide]heat.Lanes)(total[byTriac:]), k, half)
	c.byTriac[k][k] = 0

	c.leak[k], c.leaksAt[k], c.near[k] = 0, 0, math.Inf(1)
	if leak := total[ofLeak][k]; leak > 0 {
		c.leak[k], c.leaksAt[k], c.near[k] = leak/c.triac[k], law.leakage[k], 1
	}
}

// spread sets a lane of what the drops of channels make of an energy in J, given
// d E/d ln R: half of d ln E/d ln R, by channel. half is half of what the energy goes
// into 1 J, or 0 if it is noise.
func spread(by, of *[heat.Wide]heat.Lanes, lane int, half float64) {
	for j := range by {
		by[j][lane] = of[j][lane] * half
	}
}
