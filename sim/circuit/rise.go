package circuit

// Rates of rise across triacs are asked for at every switching. Each is linear in
// the states, the parts of the source and 1, as Segment.parts writes them.

// rise returns dv/dt in V/s of the main branch of channel k in combination c at
// the present state and time, jumps left out.
func (s *Solver) rise(c *combination, k int, t float64) (float64, error) {
	z := s.zAt(c, t)
	if s.risen == nil {
		s.risen = make([]risen, len(s.chans))
	}
	known := &s.risen[k]
	if known.of == c && known.serial == s.zSerial {
		return known.rate, nil
	}
	row, err := s.riseRow(c, k)
	if err != nil {
		return 0, err
	}
	var buf [16]float64
	parts := room(buf[:], len(row)-c.n)
	s.src.parts(s.turn, parts)
	*known = risen{c, s.zSerial, dot(row[:c.n], z[:c.n]) + dot(row[c.n:], parts)}
	return known.rate, nil
}

// risen is a rate of rise that has been asked for, of a combination at the (x, e, 1)
// of a serial number.
type risen struct {
	of     *combination
	serial uint64
	rate   float64
}

// riseRow returns the coefficients of a rate of rise, found once.
func (s *Solver) riseRow(c *combination, k int) ([]float64, error) {
	m := &c.memo
	if m.rises == nil {
		m.rises = resize(m.few[:0], len(s.chans))
	}
	if m.rises[k] != nil {
		return m.rises[k], nil
	}
	v := c.row(s.net.sigVolt(s.net.channels[k].main))
	to := s.net.work.take(c.n + 2*len(s.src.order) + 1)
	if c.bound > jump {
		if _, err := s.par.modal(c.key); err != nil {
			return nil, err
		}
		c.smoothRise(s.src, v, to)
	} else {
		c.plainRise(s.src, v, to)
	}
	m.rises[k] = to
	return to, nil
}

// plainRise writes the coefficients of the rate of y = C x + d·e + h, which is
// C·(A x + b·e + k) + d·de/dt, given its row (C, d, h).
func (c *combination) plainRise(src *waveform, row, to []float64) {
	n, last := c.n, len(to)-1
	for i, x := range row[:n] {
		if x == 0 {
			continue
		}
		for j, a := range c.a[i*n : (i+1)*n] {
			to[j] += x * a
		}
		for h := range src.order {
			to[n+2*h] += x * c.be[i]
		}
		to[last] += x * (c.kc[i] + src.dc*c.be[i])
	}
	for h, r := range src.rates {
		to[n+2*h+1] = row[n] * r
	}
}

// smoothRise is plainRise by the modes that are no jumps.
func (c *combination) smoothRise(src *waveform, row, to []float64) {
	n, nb := c.n, len(to)
	modes := make([]float64, n)
	c.project(row, modes)
	_, amplitudes := c.transforms(src)
	for k := range n {
		l := c.lambda[k]
		switch {
		case k > 0 && c.pair[k-1]: // done with its first column
			continue
		case -real(l) > jump:
			modes[k] = 0
			if c.pair[k] {
				modes[k+1] = 0
			}
		case c.pair[k]:
			p, q := modes[k], modes[k+1]
			modes[k], modes[k+1] = real(l)*p-imag(l)*q, real(l)*q+imag(l)*p
		default:
			modes[k] *= real(l)
		}
	}
	for k, x := range modes {
		for j, y := range amplitudes[k*nb : (k+1)*nb] {
			to[j] += x * y
		}
	}
	for h, resp := range c.responses(src) {
		re, im := row[n], 0.0
		for i, x := range resp {
			re += row[i] * real(x)
			im += row[i] * imag(x)
		}
		r := src.rates[h]
		to[n+2*h] -= r * im
		to[n+2*h+1] += r * re
	}
}
