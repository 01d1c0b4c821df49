package sim

// follow carries out a plan.
func (r *run) follow(e *reuse, p *plan) {
	calm, g := r.m.calm, &r.going
	g.means = calm.Means(p.rhythm, &g.scale)
	if p.rare != nil {
		r.followRare(e, p)
	} else if stale := carry(&p.course, g, &e.leaks[0]); stale != 0 {
		r.carryOn(e, p, stale)
	}
	calm.Advance(p.rhythm, &g.scale, &g.link, g.pocket/p.pocket)
	if events := calm.Turn(); len(events) > 0 {
		r.heatEvents(events)
	}
	r.source += g.source
	r.accTime += float64(r.window) * r.half
	d := &r.guard
	d.heat = d.heat*p.fuse.keep + p.fuse.add
	d.cycle, d.above = p.earth.last, 0
	e.node, e.flip = p.to, p.flip
}

// carryOn carries a window that leakages, by bit, were too far from their last
// exponentials for.
func (r *run) carryOn(e *reuse, p *plan, stale int) {
	for stale != 0 {
		for k := range r.n {
			if stale>>k&1 == 1 {
				e.leaks[0].move(k, r.going.junction[k]-p.leaksAt[k])
			}
		}
		stale = carry(&p.course, &r.going, &e.leaks[0])
	}
}

// followRare is what follow does for a plan in which triacs fire late or leaks tell, or
// where the losses of gates and snubbers follow the resistances.
func (r *run) followRare(e *reuse, p *plan) {
	g := &r.going
	adds := r.moves(e, p)
	for k := range r.n {
		if d := adds.channel(k); d[tElement] != 0 {
			g.lateElement[k], g.lateTriac[k] = d[tElement]/p.element[k], d[tTriac]/p.triac[k]
		}
	}
	r.carryOn(e, p, carry(&p.course, g, &e.leaks[0]))
	clear(g.lateElement[:])
	clear(g.lateTriac[:])
	more := adds[tWiring] + adds[tUpstream] // J, of the source
	g.shared[ofWiring] += adds[tWiring]
	g.shared[ofUpstream] += adds[tUpstream]
	g.shared[ofSquare] += adds[tSquare]
	for k := range r.n {
		gate, snubber := 0.0, 0.0 // J more
		if minor := p.rare.minor[k]; minor != nil {
			var m moved
			m.y = g.drops[k] / (1 + p.z[k]*g.drops[k])
			gate = minor[0].energy * (m.carried(minor[0].slope[k])*minor[0].others(&g.drops, k) - 1)
			snubber = minor[1].energy * (m.carried(minor[1].slope[k])*minor[1].others(&g.drops, k) - 1)
		}
		if d := adds.channel(k); d[tElement] != 0 {
			gate += d[tGate]
			snubber += d[tSnubber]
			more += d[tWire]
		}
		if leaks := p.rare.leaks[k]; leaks != nil {
			for i, x := range leaks.warms {
				x *= adds.channel(k)[tTriac]
				*r.stage(k, i) += x
				g.warmer[k] += x
			}
		}
		g.gate[k] += gate
		g.pocket += gate + snubber
		more += gate + snubber
	}
	g.source += more
}
