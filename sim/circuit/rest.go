package circuit

// settle brings the discrete state at time t to rest: piecewise-linear parts
// first, then one demand at a time in the order of the switching rules, until
// nothing is demanded.
func (s *Solver) settle(t float64) error {
	for range 1000 {
		c, err := s.combination(s.key)
		if err != nil {
			return err
		}
		s.zAt(c, t)
		b := s.band(c)
		out := b.outside(s.readAll(c))
		if out&s.prober.passive != 0 {
			before := s.key
			if c, err = s.resolve(t); err != nil {
				return err
			}
			if s.key != before {
				b = s.band(c)
				out = b.outside(s.readAll(c))
			}
		}
		s.seg.c = c
		s.quiet = out == 0 && !s.opening()
		var changed bool
		if s.quiet {
			changed, err = s.pending(c, b, t)
		} else {
			changed, err = s.demand(c, b, out, t)
			if !changed { // a trial may have raised a bound
				s.quiet = b.outside(s.readAll(c)) == 0 && !s.opening()
			}
		}
		if err != nil {
			return err
		}
		if !changed {
			if !c.ready {
				_, err = s.par.modal(s.key)
			}
			return err
		}
		s.rec.Switchings++
	}
	return s.fail(t, "the switching rules do not come to rest")
}

// resolve flips junctions and one-way paths, the least index first, until all
// are consistent (K. G. Murty, Linear Algebra and its Applications 7 (1974)
// 65: the least-index rule ends for the P-matrices of passive networks).
func (s *Solver) resolve(t float64) (*combination, error) {
	k, c, err := s.resolveFrom(s.key, t, everyValve)
	if err != nil {
		return nil, err
	}
	s.key = k
	return c, nil
}

// everyValve is the set of all valves, one bit each.
const everyValve = ^uint64(0)

// resolveFrom resolves the given valves of key k at time t.
func (s *Solver) resolveFrom(k key, t float64, which uint64) (key, *combination, error) {
	for range 400 {
		c, err := s.combination(k)
		if err != nil {
			return k, nil, err
		}
		s.zAt(c, t)
		if which == everyValve {
			s.readAll(c) // the rules will look at most of them
		}
		next, ok := s.consistent(c, k, which)
		if ok {
			return k, c, nil
		}
		k = next
	}
	return k, nil, s.fail(t, "junctions and one-way paths do not come to rest")
}

// consistent reports whether the junctions and one-way paths of key k agree
// with the solution of its combination c; if not, it returns the key with the
// first that does not agree changed. Only the valves in which are looked at.
func (s *Solver) consistent(c *combination, k key, which uint64) (key, bool) {
	for i := range s.prober.edges {
		e := &s.prober.edges[i]
		if which>>e.valve&1 == 0 {
			continue
		}
		l := k.level(e.valve)
		if to := e.branch.follow(l, s.read(c, e.probe)); to != l {
			return k.with(e.valve, to), false
		}
	}
	return k, true
}

// follow returns the level that a junction or one-way path takes from level l,
// y being its current where it conducts and its voltage where it blocks.
func (b *branch) follow(l level, y float64) level {
	switch {
	case l != off:
		if l.sign()*y < -tolAmpere {
			return off
		}
	case y > b.volts+tolVolt:
		return positive
	case !b.oneWay && y < -b.volts-tolVolt:
		return negative
	}
	return l
}

// consistent is Solver.consistent for given inputs z.
func (n *netlist) consistent(c *combination, k key, z []float64, which uint64) (key, bool) {
	for v, i := range n.valves {
		b := &n.branches[i]
		if which>>v&1 == 0 || b.kind != junction && b.kind != diode {
			continue
		}
		l, sig := k.level(v), n.sigVolt(i)
		if l != off {
			sig = n.sigCurrent(i)
		}
		if to := b.follow(l, dot(c.row(sig), z)); to != l {
			return k.with(v, to), false
		}
	}
	return k, true
}
