package circuit

// mirrored returns the combination of key k from its mirror image c: the same
// network with every threshold's sign exchanged. It holds the probes alone;
// modes, projections and most losses stay with the original.
func (c *combination) mirrored(k key, w *workspace) *combination {
	m := w.newCombination(k, c.net)
	m.image = c
	m.n, m.active, m.width = c.n, c.active, c.width
	m.a, m.be, m.bound, m.apart = c.a, c.be, c.bound, c.apart
	m.rows, m.kc = w.lend(len(c.net.probes)*c.width), w.lend(c.n)
	copy(m.rows, c.rows)
	for i := c.width - 1; i < len(m.rows); i += c.width {
		m.rows[i] = -m.rows[i]
	}
	for i, x := range c.kc {
		m.kc[i] = -x
	}
	return m
}

func negated(a []float64) []float64 {
	b := make([]float64, len(a))
	for i, x := range a {
		b[i] = -x
	}
	return b
}
