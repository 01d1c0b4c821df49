package circuit

import "math"

// gram integrates products of the parts that a segment's solution consists of,
// exactly. The parts are, per real mode, its amplitude; per complex pair its
// two; per harmonic e(t) = sin·sin nωt + cos·cos nωt and ê(t), the same a
// quarter of a period ahead; and 1. The second of two is the real part of a
// phasor Z·exp(s·t), the first its imaginary part.
//
// The integral of a product of parts is its change over the segment, divided by
// the sum of their rates. The quadratic forms have been divided beforehand (see
// combination.integrate), so that a segment needs the changes only.
type gram struct {
	sets []changes
	// The parts where the segment begins, by how much they change, their means
	// of begin and end, and the diagonal of the changes of products.
	was, more, mid, own []float64
	energy              []float64 // of each form
}

// changes are those of the products of parts, row by row up to the diagonal,
// summed over all segments with the same forms.
type changes struct {
	c *combination
	m []float64
}

// clear begins a new sum.
func (g *gram) clear() { g.sets = g.sets[:0] }

// of returns the changes for the forms of a combination.
func (g *gram) of(c *combination) []float64 {
	for i := range g.sets {
		if g.sets[i].c == c {
			return g.sets[i].m
		}
	}
	n := len(g.sets)
	if n == cap(g.sets) {
		g.sets = append(g.sets, changes{})
	}
	g.sets = g.sets[:n+1] // with the room of an older one
	set := &g.sets[n]
	set.c, set.m = c, resize(set.m, triangle(len(g.was)))
	clear(set.m)
	return set.m
}

// add takes a segment in, turn being the harmonics where it begins and phi the
// basis functions where it ends. Where the supply has no direct component, the
// losses of a mirror image are those of its original under the opposite
// constants. The sum that is no square, the charge, is added to sums at once.
func (g *gram) add(s *Segment, p *params, turn, phi, sums []float64) {
	if s.T1 <= s.T0 {
		return
	}
	c, one := s.c, 1.0
	if c.image != nil && !p.net.biased {
		c, one = c.image, -1
	}
	if c.forms == nil {
		c.power(p, s.src)
		c.grow(p, s.src)
	}
	g.parts(s, one, turn, phi)
	g.products(g.of(c), c.still, s.T1-s.T0)
	if c.charge != nil {
		sums[p.groups+earthCharge] += g.linear(c.charge, c.still, s.T1-s.T0)
	}
}

// finish adds the energies of the loss groups to sums, and the extra sums after
// them; src is the source of the segments that were taken in.
func (g *gram) finish(src *waveform, sums []float64) {
	for i := range g.sets {
		c, m := g.sets[i].c, g.sets[i].m
		if c.uses++; c.uses == often {
			c.integrate(src, len(m))
			c.condense(len(m))
		}
		if c.uses < often {
			c.integrals(src, m)
			for j, to := range c.groups {
				sums[to] += dot(c.forms[j*len(m):(j+1)*len(m)], m)
			}
			continue
		}
		g.energy = resize(g.energy, len(c.forms)/len(m))
		contract(g.energy, c.forms, m)
		for _, x := range c.shares {
			sums[x.to] += x.times * g.energy[x.form]
		}
	}
}

// lanes is how many forms lie side by side: first number of each, second number
// of each and so on. The processor has registers for the sums of so many.
const lanes = 5

// contract sets each out[i] to the product of m and form i.
func contract(out, forms, m []float64) {
	for ; len(out) >= lanes; out = out[lanes:] {
		var v, w, x, y, z float64
		for _, k := range m {
			r := (*[lanes]float64)(forms)
			v += r[0] * k
			w += r[1] * k
			x += r[2] * k
			y += r[3] * k
			z += r[4] * k
			forms = forms[lanes:]
		}
		*(*[lanes]float64)(out) = [lanes]float64{v, w, x, y, z}
	}
}

// parts sets the parts of a segment and their changes; one is the constant.
func (g *gram) parts(s *Segment, one float64, turn, phi []float64) {
	c, T := s.c, s.T1-s.T0
	nb := s.size()
	g.was, g.more, g.mid, g.own = resize(g.was, nb), resize(g.more, nb), resize(g.mid, nb), resize(g.own, nb)
	was, more, own := g.was, g.more, g.own
	n := c.n
	for k := 0; k < n; k++ {
		a := s.xi[k]
		if !c.pair[k] {
			d := a * lessOne(real(c.lambda[k])*T, phi[k])
			was[k], more[k], own[k] = a, d, d*(2*a+d)
			continue
		}
		b, l := s.xi[k+1], c.lambda[k]
		re, im := phi[k]-1, phi[k+1]
		if x := real(l) * T; x >= -brief && math.Abs(imag(l))*T <= brief {
			re, im = turned(lessOne(x, 0), imag(l)*T)
		}
		was[k], was[k+1] = a, b
		more[k], more[k+1] = a*re+b*im, b*re-a*im
		own[k] = more[k] * (2*a + more[k])
		own[k+1] = (a*a + b*b) * lasting(2*real(l), T, phi[k]*phi[k]+phi[k+1]*phi[k+1])
		k++
	}
	j := n
	for h, w := range s.src.rates {
		sn, cs := turn[2*h], turn[2*h+1]
		ds, dc := phi[j]-sn, phi[j+1]-cs
		if w*T <= brief {
			re, im := turned(0, w*T)
			ds, dc = sn*re+cs*im, cs*re-sn*im
		}
		x, y := s.src.sin[h], s.src.cos[h]
		was[j], was[j+1] = x*sn+y*cs, x*cs-y*sn
		more[j], more[j+1] = x*ds+y*dc, x*dc-y*ds
		own[j] = more[j] * (2*was[j] + more[j])
		own[j+1] = (x*x + y*y) * T
		j += 2
	}
	was[j], more[j], own[j] = one, 0, 0
	for i, x := range was {
		g.mid[i] = x + more[i]/2
	}
}

// products adds the changes of the parts' products over a time T to m.
func (g *gram) products(m []float64, still []product, T float64) {
	mid, more := g.mid[:len(g.own)], g.more[:len(g.own)]
	rest := m
	for i, x := range g.own {
		row, y, d := rest[:i+1], mid[i], more[i]
		for j := range row[:i] {
			row[j] += y*more[j] + d*mid[j]
		}
		row[i] += x
		rest = rest[i+1:]
	}
	for _, k := range still {
		m[k.at] += k.sign * g.was[k.i] * g.was[k.j] * T
	}
}

// linear returns the integral of the parts weighted by row over a time T.
func (g *gram) linear(row []float64, still []product, T float64) float64 {
	sum := dot(row, g.more)
	last := len(row) - 1
	for _, k := range still {
		if k.i == last {
			sum += row[k.j] * g.was[k.j] * T
		}
	}
	return sum
}

// series is where exponentials minus one are taken from their series: the first
// term left out is x⁹/10!, below 1e-17.
const series = 1. / 16

// meanExp returns (exp(x) − 1)/x for |x| ≤ series.
func meanExp(x float64) float64 {
	return 1 + x*(1./2+x*(1./6+x*(1./24+x*(1./120+x*(1./720+x*(1./5040+x*(1./40320+x*(1./362880))))))))
}

// lessOne returns exp(x) − 1 for x ≤ 0 without loss of digits, given exp.
func lessOne(x, exp float64) float64 {
	if x < -series {
		return exp - 1
	}
	return x * meanExp(x)
}

// turned returns exp(s) − 1 without loss of digits, given more = exp(Re s) − 1
// and the angle Im s, at most brief.
func turned(more, angle float64) (re, im float64) {
	y := angle * angle
	less := -y * (1./2 - y*(1./24-y*(1./720)))
	sin := angle * (1 - y*(1./6-y*(1./120-y*(1./5040))))
	return more + less + more*less, sin + more*sin
}

// lasting returns ∫₀ᵀ exp(rate·t) dt for a rate ≤ 0, given end = exp(rate·T).
func lasting(rate, T, end float64) float64 {
	x := rate * T
	if x < -series {
		return (end - 1) / rate
	}
	return T * meanExp(x)
}

// triangle is how many products there are of the parts before part i, with
// themselves and each other.
func triangle(i int) int { return i * (i + 1) / 2 }

// productAt is where the product of parts i and j is.
func productAt(i, j int) int {
	if i < j {
		i, j = j, i
	}
	return triangle(i) + j
}

func conj(z complex128) complex128 { return complex(real(z), -imag(z)) }
