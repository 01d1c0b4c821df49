package sim

import "boilwright/sim/heat"

// course is a plan in lanes, one a channel: what carry makes of a window. Lanes
// of channels that are not there hold zeros, and 1 in base and early.
type course struct {
	base, rate heat.Lanes // R/R₀ = base + rate·T of the element at T °C; 1 if its energy does not follow
	z, less    heat.Lanes // see moved, and 1 − z
	mixed      heat.Lanes // three times the variance of z over the pieces

	element, wire, triac heat.Lanes // J; the wire's goes with the square of the element's current

	// What the drop of each channel's current makes of the energies of elements, of
	// triacs, and of what the channels share: half of d ln E/d ln R, by channel of R.
	// What a channel makes of its own element and triac is left out.
	byElement, byTriac, byShared [heat.Wide]heat.Lanes

	early, warm heat.Lanes // the element's energy goes as early + warm·T_j, at T_j °C: see warmth

	// A triac's energy goes as still + slope·y + current·(linear + square·current),
	// where current is the element's.
	still, slope, linear, square heat.Lanes

	leak    heat.Lanes // part of the triac's energy that is leakage,
	leaksAt heat.Lanes // with the junction at so many °C
	near    heat.Lanes // K² from its last exponential in which a series serves; +Inf where nothing leaks

	gate   heat.Lanes       // J
	shared heat.Lanes       // J, A²s: see ofWiring
	driven [heat.Wide]int64 // half-cycles

	// Energies in J that do not follow: in the source all that others leave, and of
	// gates and snubbers.
	rest, minor float64

	gain []heat.Lanes // K that the triacs' stages gain
}

// lanesSize is the size of lanes in bytes.
//
//lint:ignore U1000 read in assembly
const lanesSize = 8 * heat.Wide

// The lanes of what channels share.
const (
	ofWiring   = iota // J
	ofUpstream        // J
	ofSquare          // A²s
)

// going is the state of up to four channels, lane by lane, and what windows add up
// to.
type going struct {
	means    heat.Lanes   // °C of the elements in the window at hand
	junction heat.Lanes   // °C at its start
	stages   []heat.Lanes // K, of the triacs' thermal networks
	left     []heat.Lanes // what a window leaves of them
	warmer   heat.Lanes   // sums of them

	// What late firings add to element and triac, as parts of their energies.
	lateElement, lateTriac heat.Lanes

	drops           heat.Lanes // see moved
	scale, link     heat.Lanes // of the energies of elements and wires in the last plan
	gate            heat.Lanes // J in each gate path since the window's start
	source, pocket  float64    // J of this window: from the source and into the pocket
	cycles          [heat.Wide]int64
	element, shared heat.Lanes // J and A²s since the last sample
}

// places returns one for each of n channels, in lanes if they are enough.
func places[T any](lanes []T, n int) []T {
	if n <= len(lanes) {
		return lanes[:n:n]
	}
	return make([]T, n)
}

// stage is the place of stage i of channel k's triac.
func (r *run) stage(k, i int) *float64 { return &r.stages[k/heat.Wide*r.deep+i][k%heat.Wide] }

// carryPlain is carry for every processor: it takes what is going on through a
// window. Where a leakage has moved too far from its last exponential it does nothing
// and returns the lanes of those, by bit.
//
// Products are rounded before they are added, as in the registers.
func carryPlain(c *course, on *going, l *leakage) (stale int) {
	for k := range heat.Wide {
		d := on.junction[k] - c.leaksAt[k] - l.at[k]
		if float64(d*d) > c.near[k] {
			stale |= 1 << k
		}
	}
	if stale != 0 {
		return stale
	}
	var y, current, ratio heat.Lanes
	for k := range heat.Wide {
		ratio[k] = float64(c.rate[k]*on.means[k]) + c.base[k]
		above := ratio[k] - 1
		y[k] = above / ratio[k]
		on.drops[k] = above / (ratio[k] - float64(above*c.z[k]))
		current[k] = 1 - float64(on.drops[k]*c.less[k])
	}
	ones := heat.Lanes{1, 1, 1, 1}
	elements, triacs, shares := ones, ones, ones // what drops make of them
	for j, drop := range on.drops {
		for k := range heat.Wide {
			elements[k] += float64(drop * c.byElement[j][k])
			triacs[k] += float64(drop * c.byTriac[j][k])
			shares[k] += float64(drop * c.byShared[j][k])
		}
	}
	var source, pocket, shared heat.Lanes
	for k := range heat.Wide {
		neighbours := float64(elements[k] * elements[k])
		wire := float64(current[k] * current[k])
		// To second order (1 − y)/(1 − z·y)² is linear in z and z².
		element := float64(wire*ratio[k]) + float64(float64(y[k]*y[k])*c.mixed[k])
		early := float64(c.warm[k]*on.junction[k]) + c.early[k]
		on.scale[k] = float64(float64(element*neighbours)*early) + on.lateElement[k]
		on.link[k] = wire * neighbours
		element = float64(on.scale[k] * c.element[k])
		on.element[k] += element

		triac := float64(current[k]*(float64(current[k]*c.square[k])+c.linear[k])) + (float64(y[k]*c.slope[k]) + c.still[k])
		triac = float64(triac*float64(triacs[k]*triacs[k])) + float64(l.grown(k, on.junction[k]-c.leaksAt[k])*c.leak[k]) + on.lateTriac[k]
		pocket[k] = float64(triac * c.triac[k])
		source[k] = float64(on.link[k]*c.wire[k]) + element + pocket[k]

		on.warmer[k] = 0
		for i := range on.stages {
			on.stages[i][k] = float64(on.stages[i][k]*on.left[i][k]) + float64(triac*c.gain[i][k])
			on.warmer[k] += on.stages[i][k]
		}
		on.gate[k] = c.gate[k]
		on.cycles[k] += c.driven[k]
		shared[k] = float64(float64(shares[k]*shares[k]) * c.shared[k])
		on.shared[k] += shared[k]
	}
	source[ofWiring] += shared[ofWiring]
	source[ofUpstream] += shared[ofUpstream]
	on.source = (source[0] + source[1]) + (source[2] + source[3]) + c.rest
	on.pocket = (pocket[0] + pocket[1]) + (pocket[2] + pocket[3]) + c.minor
	return 0
}
