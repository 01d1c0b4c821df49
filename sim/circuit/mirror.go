package circuit

// mirrored returns the combination of key k from its mirror image c: the same
// network with every threshold's sign exchanged. It holds the rows of the valves
// alone; modes, projections and most losses stay with the original.
func (c *combination) mirrored(k key, w *workspace) *combination {
	m := &combination{key: k, net: c.net, n: c.n, active: c.active, width: c.width, a: c.a, be: c.be, bound: c.bound, apart: c.apart, image: c}
	m.rows, m.kc = w.take(2*len(c.net.valves)*c.width), w.take(c.n)
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
