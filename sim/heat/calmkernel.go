package heat

import "boilwright/models/water"

// The equations of a window, lane by lane. Conversions keep a compiler from fusing
// products and sums, so that every processor finds the same bits.

// calmBeginPlain returns which lanes, a bit each, may come to a limit in a window with
// the powers of p, at most factor times those:
//
//	E     = factor energy,  L = factor linkEnergy/C_l
//	water = T_w + E/C_w + (T_e − T_w)⁺ C_e/C_w
//	shell = T_s + parched (T_e + E/C_e − T_s)⁺
//	top   = the greater of both
//	top < limit,  top + L < softens,  T_l + L < melts    or it may
//
// And it finds what is held at its value in the middle of the window. nodes are all of
// the machine's. With γ = T_w − H/c, and so dγ/dH = 1/c_p − 1/c,
//
//	mid     = lid + lidHalf (lidAir (ambient − lid) + bridge (pocket − lid) + Σ sk (T_s − lid))
//	shell   = room + sk mid + Σⱼ beside (T_s,mid of j − T_s,mid)
//	T_s,mid = midShell·T + midLid lid + midRoom
//	w + γ   = T_w + (risen·T − rise draw)(1/c_p − 1/c)
func calmBeginPlain(g *calmLanes, p *rhythm, factor float64, nodes []float64) (near int) {
	var q, shells Lanes
	o, single := &g.single, nodes[kinds*g.count:]
	lid, pocket := single[lidNode], single[pocketNode]
	for l := range Wide {
		te, tw, ts := g.x[elementNode][l], g.water[l], g.x[shellNode][l]
		energy := float64(p.energy[l] * factor)
		top := tw + float64(energy*g.inverse[waterNode][l]) + float64(greater(te-tw, 0)*g.toWater[l])
		shell := ts + float64(greater(te+float64(energy*g.inverse[elementNode][l])-ts, 0)*g.parched[l])
		top = greater(shell, top)
		rise := float64(float64(p.linkEnergy[l]*factor) * g.inverse[linkNode][l])
		if !(top < g.limit[l] && top+rise < g.softens[l] && g.x[linkNode][l]+rise < g.melts[l]) {
			near |= 1 << l
		}
		q[l] = float64(g.sk[l] * (ts - lid))
	}
	alone := float64((o.ambient-lid)*o.lidAir) + float64((pocket-lid)*o.bridge)
	mid := lid + float64((q.sum()+alone)*o.lidHalf)
	o.mid = mid
	for l := range Wide {
		g.x[waterNode][l] = g.water[l]
		shells[l] = g.midShell.dot(&g.x, l) + float64(g.midLid[l]*lid) + g.midRoom[l]
		risen := g.risen.dot(&g.x, l) - float64(g.rise[l]*g.draw[l])
		g.x[waterNode][l] = g.water[l] + float64(risen*(g.inverseCP[l]-g.inverseRef))
	}
	for l := range Wide {
		g.shell[l] = g.room[l] + float64(g.sk[l]*mid)
		for j := range Wide {
			g.shell[l] += float64((shells[j] - shells[l]) * g.beside[j][l])
		}
	}
	return near
}

// greater returns a if it is more than b, or else b.
func greater(a, b float64) float64 {
	if a > b {
		return a
	}
	return b
}

// calmMeansPlain finds the elements' mean temperatures with scale times the powers of p.
func calmMeansPlain(g *calmLanes, means *Lanes, p *rhythm, scale *Lanes) {
	for l := range Wide {
		means[l] = p.mean.of(g, l) + float64(p.self[l]*scale[l])
	}
}

// calmAdvancePlain takes the machine through a window with element, link and power
// times the powers of p, writes temperatures to nodes, which are all of its, and returns
// the lanes whose water has left its piece; [calmLanes.leave] finishes those. With u the
// heat held in the shell,
//
//	gain = change·T + element p.element + link p.link + drawn
//	put  = element p.energy + link p.linkEnergy
//	kept = C·gain
//	left = put + (u − draw) dt − kept,  of which the room has toRoom
//
// Two steps of Newton's method find the water's temperature:
//
//	H   += c gain_w thin − extra
//	T₁   = T_w + (gain of H)/c_p
//	T_w ← T₁ + (H − H(T₁))/c_p(T₁)
//
// Lid and pocket follow, and sums: what was put in, stored, and lost to the room, in J.
func calmAdvancePlain(g *calmLanes, p *rhythm, element, link *Lanes, power float64, nodes []float64) (out int) {
	var gain fives
	var put, kept, left, lost Lanes
	for l := range Wide {
		s, t, q := element[l], link[l], g.shell[l]
		for k := range gain {
			f := &g.change[k]
			into := (float64(f.shell[l]*q) + float64(p.element[k][l]*s)) + (float64(p.link[k][l]*t) + g.drawn[k][l])
			gain[k][l] = f.x.dot(&g.x, l) + into
		}
		kept[l] = g.capacity.dot(&gain, l)
		put[l] = float64(p.energy[l]*s) + float64(p.linkEnergy[l]*t)
		left[l] = put[l] + float64((q-g.draw[l])*g.dt) - kept[l]
		lost[l] = float64(g.toRoom[l] * left[l])
		for k := range gain {
			if k != waterNode {
				g.x[k][l] += gain[k][l]
			}
		}
		gained := float64(float64(gain[waterNode][l]*g.ref)*g.thin[l]) - g.extra[l]
		g.enthalpy[l] += gained
		t1 := g.water[l] + float64(gained*g.inverseCP[l])
		u := float64(t1*0.5) - g.place[l]
		if !(u >= 0 && u < 1) {
			out |= 1 << l
		}
		h := g.start[l] + float64(polynomial(&g.integral, l, u)*u)
		g.guess[l], g.inverseCP[l] = t1, 1/polynomial(&g.cp, l, u)
		g.water[l] = t1 + float64((g.enthalpy[l]-h)*g.inverseCP[l])
	}
	n := g.count
	for k := range g.x {
		now := &g.x[k]
		if k == waterNode {
			now = &g.water
		}
		copy(nodes[k*n:(k+1)*n], now[:n])
	}
	g.singles(float64(p.pocketSum*power), float64(p.pocket*power), put.sum(), kept.sum(), left.sum(), lost.sum(), nodes[kinds*n:])
	return out
}

// singles takes lid and pocket through a window with heat in J that adds sum K s to the
// integral of the pocket's temperature. With integrals of temperatures,
//
//	pocket = sum + own T_pocket + byLid mid + byRoom
//	cross  = bridge (mid − pocket)
//	away   = lidAir (mid − ambient), pocketAir (pocket − ambient)
//	into   = left − lost − toLid mid − cross − away,  cross + heat − away
func (g *calmLanes) singles(sum, heat, put, kept, left, lost float64, nodes []float64) {
	o, lid, pocket := &g.single, nodes[lidNode], nodes[pocketNode]
	mid := float64(o.mid * g.dt)
	sum += float64(pocket*o.own) + float64(mid*o.byLid) + o.byRoom
	cross := float64((mid - sum) * o.bridge)
	lidAway, pocketAway := float64((mid-o.ambientSum)*o.lidAir), float64((sum-o.ambientSum)*o.pocketAir)
	intoLid := left - lost - float64(mid*o.toLid) - cross - lidAway
	intoPocket := cross + heat - pocketAway
	g.sums[0], g.sums[1] = put+heat, kept+(intoLid+intoPocket)
	g.sums[2] = lost + (lidAway + pocketAway) - o.roomHeat
	nodes[lidNode] = lid + float64(intoLid*o.lidInverse)
	nodes[pocketNode] = pocket + float64(intoPocket*o.pocketInverse)
}

// mix finds what draws take from each boiler with its water at the middle enthalpy h,
// steam at the temperature that it has there:
//
//	draw = Σⱼ flowsⱼ hⱼ − cold + steam h_fg(T_w + (h − H)/c)
func (g *calmLanes) mix(draw *Lanes) {
	h := &g.middle
	for l := range Wide {
		latent := 0.0 // J/kg
		if g.steam[l] != 0 {
			latent = water.Hfg(g.water[l] + float64((h[l]-g.enthalpy[l])*g.inverseRef))
		}
		liquid := float64(g.flows[0][l]*h[0]) + float64(g.flows[1][l]*h[1]) + float64(g.flows[2][l]*h[2]) + float64(g.flows[3][l]*h[3]) - g.cold[l]
		draw[l] = liquid + float64(latent*g.steam[l])
	}
}

// calmDrawnPlain finds the heat that draws take with the water at the middle of the
// window: first with the enthalpies at its start, for the rates, then with those that
// the rates lead to:
//
//	h = H,  h += risen·T − rise mix(h),  draw = mix(h)
func calmDrawnPlain(g *calmLanes) {
	g.middle = g.enthalpy
	g.mix(&g.draw)
	for l := range Wide {
		g.x[waterNode][l] = g.water[l]
		g.middle[l] += g.risen.dot(&g.x, l) - float64(g.rise[l]*g.draw[l])
	}
	g.mix(&g.draw)
}

// calmRedrawPlain corrects what draws take for the mean enthalpy that the water comes
// to have with the powers that calmAdvancePlain is told of. The heat is taken all
// window long as if it were what calmDrawnPlain found, the correction at the end:
//
//	h     = H + c (waterMean + element p.water + link p.waterLink − (w + γ))
//	taken = draw,  draw = mix(h)
//	drawn = −change.draw taken,  drawn_w −= (draw − taken) dt/C_w
//
// It returns what all draws take, in W.
func calmRedrawPlain(g *calmLanes, p *rhythm, element, link *Lanes) (carried float64) {
	for l := range Wide {
		mean := g.waterMean.of(g, l) + float64(p.water[l]*element[l]) + float64(p.waterLink[l]*link[l])
		g.middle[l] = g.enthalpy[l] + float64((mean-g.x[waterNode][l])*g.ref)
	}
	g.taken = g.draw
	g.mix(&g.draw)
	for l := range Wide {
		for k := range g.drawn {
			g.drawn[k][l] = float64(g.change[k].draw[l] * -g.taken[l])
		}
		g.drawn[waterNode][l] -= float64(float64((g.draw[l]-g.taken[l])*g.dt) * g.inverse[waterNode][l])
	}
	return g.draw.sum()
}
