package heat

import "math"

// spanJoinPlain makes s, but for the pocket, the responses to two times one after the
// other, the second of d seconds.
func spanJoinPlain(s, first, then *calmSpan, d float64) {
	for j := range calmNodes {
		for l := range Wide {
			r := response{first.decay[j][l], first.one[j][l], first.two[j][l]}.join(response{then.decay[j][l], then.one[j][l], then.two[j][l]}, d)
			s.decay[j][l], s.one[j][l], s.two[j][l] = r.decay, r.one, r.two
		}
	}
}

// rhythmTotalsPlain finds the energies of paces of n beats, and the links' shares of their
// elements':
//
//	energy = Σ P n beat,  linkEnergy = Σ L n beat,  share = linkEnergy/energy,  weight = 1/energy
//
// It returns the lanes whose links' heat is that share all along, to within calmSame K.
func rhythmTotalsPlain(g *calmLanes, p *rhythm, s *calmSums, paces []Pace) (together int) {
	for l := range Wide {
		energy, linkEnergy := 0.0, 0.0
		for i := range paces {
			w := &paces[i]
			energy += float64(w.Element[l] * float64(w.Beats))
			linkEnergy += float64(w.Link[l] * float64(w.Beats))
		}
		energy, linkEnergy = energy*g.beat, linkEnergy*g.beat
		p.energy[l], p.linkEnergy[l] = energy, linkEnergy
		share, weight := 0.0, 0.0
		if energy > 0 {
			share, weight = linkEnergy/energy, 1/energy
		}
		s.share[l], s.weight[l] = share, weight
		apart := 0.0 // W times beats
		for i := range paces {
			w := &paces[i]
			apart += float64(math.Abs(w.Link[l]-float64(w.Element[l]*share)) * float64(w.Beats))
		}
		if float64(float64(apart*g.beat)*g.inverse[linkNode][l]) <= calmSame {
			together |= 1 << l
		}
	}
	return together
}

// rhythmRespondPlain works out what the elements' powers in paces do to each mode in a
// window, as if each node's input to it were 1. For a pace of response e and power P,
//
//	driven += P e.two + P e.one before.one     before being the response to its start
//	kept   += P e.one before.decay
//	stage   = heat e.one + P e.two             heat being the amplitude so far
//	total  += stage
//	self   += P stage
//	heat    = heat e.decay + P e.one
func rhythmRespondPlain(s *calmSums, paces []Pace, spans []calmSpan) {
	for j := range calmNodes {
		for l := range Wide {
			var heat, total, self, kept, driven float64
			start := 0
			for i := range paces {
				e, before, p := &spans[paces[i].Beats], &spans[start], paces[i].Element[l]
				one, two := float64(p*e.one[j][l]), float64(p*e.two[j][l])
				driven += float64(one*before.one[j][l]) + two
				kept += float64(one * before.decay[j][l])
				stage := float64(heat*e.one[j][l]) + two
				total += stage
				self += float64(stage * p)
				heat = float64(heat*e.decay[j][l]) + one
				start += paces[i].Beats
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
//
// The mean of an element that gets no energy is its temperature at the start.
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
		if p.energy[l] == 0 {
			p.mean.x[elementNode][l] = 1
		}
		p.mean.shell[l] = float64(g.byElement[shellNode].dot(&s.drives, l) * weight)
		p.mean.draw[l] = float64(g.byElement[waterNode].dot(&s.drives, l) * weight)
		p.self[l] = float64(g.byElement[elementNode].dot(&s.selves, l) * weight)
		p.water[l] = float64(g.byElement[waterNode].dot(&s.totals, l) * inverse)
		p.waterLink[l] = float64(float64(g.byLink[waterNode].dot(&s.totals, l)*inverse) * share)
	}
}
