package heat

import "math"

// rhythmTotalsPlain finds the energies of steps, and the links' shares of their elements':
//
//	energy = Σ P d,  linkEnergy = Σ L d,  share = linkEnergy/energy,  weight = 1/energy
//
// It returns the lanes whose links' heat is that share all along, to within calmSame K.
func rhythmTotalsPlain(g *calmLanes, p *rhythm, s *calmSums, steps []calmStep) (together int) {
	for l := range Wide {
		energy, linkEnergy := 0.0, 0.0
		for i := range steps {
			w := &steps[i]
			energy += float64(w.element[l] * w.duration)
			linkEnergy += float64(w.link[l] * w.duration)
		}
		p.energy[l], p.linkEnergy[l] = energy, linkEnergy
		share, weight := 0.0, 0.0
		if energy > 0 {
			share, weight = linkEnergy/energy, 1/energy
		}
		s.share[l], s.weight[l] = share, weight
		apart := 0.0 // J
		for i := range steps {
			w := &steps[i]
			apart += float64(math.Abs(w.link[l]-float64(w.element[l]*share)) * w.duration)
		}
		if float64(apart*g.inverse[linkNode][l]) <= calmSame {
			together |= 1 << l
		}
	}
	return together
}

// rhythmRespondPlain works out what the elements' powers in steps do to each mode in a
// window, as if each node's input to it were 1. For a step of response e and power P,
//
//	driven += P (e.two + e.one before)   of before, ∫exp(−λt)
//	stage   = heat e.one + P e.two       of heat, the amplitude so far
//	total  += stage
//	self   += P stage
//	heat    = heat e.decay + P e.one
//	kept   += P passed e.one             of passed, exp(−λt)
//	before += passed e.one
//	passed  = passed e.decay
//
// t being the start of the step.
func rhythmRespondPlain(s *calmSums, steps []calmStep, spans []calmSpan) {
	for j := range calmNodes {
		for l := range Wide {
			var heat, total, self, kept, driven, before float64
			passed := 1.0
			for i := range steps {
				e, p := &spans[steps[i].at], steps[i].element[l]
				one, two, decay := e.one[j][l], e.two[j][l], e.decay[j][l]
				driven += float64((float64(before*one) + two) * p)
				stage := float64(heat*one) + float64(p*two)
				total += stage
				self += float64(stage * p)
				heat = float64(heat*decay) + float64(p*one)
				left := float64(passed * one)
				kept += float64(left * p)
				before += left
				passed = float64(passed * decay)
			}
			s.heats[j][l], s.totals[j][l], s.keeps[j][l], s.drives[j][l], s.selves[j][l] = heat, total, kept, driven, self
		}
	}
}

// rhythmGatherPlain makes temperatures of what rhythmRespondPlain found:
//
//	element = byElement·heats,   link = share (byLink·heats)
//	mean    = (byElement·keeps) C weight, and what is held byElement·drives weight
//	self    = byElement_e·selves weight
//	water   = byElement_w·totals/dt,   waterLink = share (byLink_w·totals)/dt
func rhythmGatherPlain(g *calmLanes, p *rhythm, s *calmSums) {
	inverse := 1 / g.dt
	for l := range Wide {
		share, weight := s.share[l], s.weight[l]
		for k := range calmNodes {
			own := &g.byElement[k]
			p.element[k][l] = own.dot(&s.heats, l)
			p.mean.x[k][l] = float64(float64(own.dot(&s.keeps, l)*g.capacity[k][l]) * weight)
			p.link[k][l] = float64(g.byLink[k].dot(&s.heats, l) * share)
		}
		p.mean.shell[l] = float64(g.byElement[shellNode].dot(&s.drives, l) * weight)
		p.mean.draw[l] = float64(g.byElement[waterNode].dot(&s.drives, l) * weight)
		p.self[l] = float64(g.byElement[elementNode].dot(&s.selves, l) * weight)
		p.water[l] = float64(g.byElement[waterNode].dot(&s.totals, l) * inverse)
		p.waterLink[l] = float64(float64(g.byLink[waterNode].dot(&s.totals, l)*inverse) * share)
	}
}
