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

// add takes a segment in, turn being the harmonics where it begins, phi the basis
// functions where it ends and ends the parts of the solution there. Where the supply has no direct component, the
// losses of a mirror image are those of its original under the opposite
// constants. The sum that is no square, the charge, is added to sums at once.
func (g *gram) add(s *Segment, p *params, turn, phi, ends, sums []float64) {
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
	g.parts(s, one, turn, phi, ends)
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
			g.energy = resize(g.energy, len(c.groups))
			dots(g.energy, c.forms, m)
			for j, to := range c.groups {
				sums[to] += g.energy[j]
			}
			continue
		}
		g.energy = resize(g.energy, len(c.forms)/len(m))
		contract(g.energy, c.forms, m)
		energy, shares := g.energy, c.shares
		for j := range shares {
			x := &shares[j]
			sums[x.to] += x.times * energy[x.form]
		}
	}
}

// lanes is how many forms lie side by side: first number of each, second number
// of each and so on. The processor has registers for the sums of so many.
const lanes = 8

// contract sets each out[i] to the product of m and form i; out and forms are
// filled up to a multiple of lanes.
func contract(out, forms, m []float64) {
	out = out[:len(out)/lanes*lanes]
	contractLanes(out, forms[:len(out)*len(m)], m)
}

// contractPlain is contractLanes for every processor.
func contractPlain(out, forms, m []float64) {
	for ; len(out) >= lanes; out = out[lanes:] {
		var s, t, u, v, w, x, y, z float64
		for _, k := range m {
			r := (*[lanes]float64)(forms)
			s += r[0] * k
			t += r[1] * k
			u += r[2] * k
			v += r[3] * k
			w += r[4] * k
			x += r[5] * k
			y += r[6] * k
			z += r[7] * k
			forms = forms[lanes:]
		}
		*(*[lanes]float64)(out) = [lanes]float64{s, t, u, v, w, x, y, z}
	}
}

// parts sets the parts of a segment and their changes; one is the constant.
// Changes over a short time are taken from series, which lose no digits.
func (g *gram) parts(s *Segment, one float64, turn, phi, ends []float64) {
	c, T := s.c, s.T1-s.T0
	nb := len(ends)
	if len(g.was) != nb {
		g.was, g.more, g.mid, g.own = resize(g.was, nb), resize(g.more, nb), resize(g.mid, nb), resize(g.own, nb)
	}
	was, more, own, mid := g.was, g.more[:nb], g.own[:nb], g.mid[:nb]
	n, lambda, pair := copy(was, s.xi), c.lambda, c.pair[:len(c.lambda)]
	s.src.parts(turn, was[n:])
	for i, x := range was {
		more[i] = ends[i] - x
	}
	for k := 0; k < len(lambda); k++ {
		a, l := was[k], lambda[k]
		x := real(l) * T
		if !pair[k] {
			if x >= -series {
				more[k] = a * x * meanExp(x)
			}
			continue
		}
		b := was[k+1]
		if x >= -brief && math.Abs(imag(l))*T <= brief {
			re, im := turned(lessOne(x, 0), imag(l)*T)
			more[k], more[k+1] = a*re+b*im, b*re-a*im
		}
		k++
	}
	j := n
	for _, w := range s.src.rates {
		if w*T <= brief {
			re, im := turned(0, w*T)
			x, y := was[j], was[j+1]
			more[j], more[j+1] = x*re+y*im, y*re-x*im
		}
		j += 2
	}
	was[j], more[j] = one, 0
	for i, x := range was {
		d := more[i]
		mid[i], own[i] = x+d/2, d*(2*x+d)
	}
	// Second diagonal terms are no changes: see integrate.
	if c.paired {
		for k, pair := range c.pair {
			if pair {
				own[k+1] = (was[k]*was[k] + was[k+1]*was[k+1]) * lasting(2*real(c.lambda[k]), T, phi[k]*phi[k]+phi[k+1]*phi[k+1])
			}
		}
	}
	for k := n; k < j; k += 2 {
		own[k+1] = (was[k]*was[k] + was[k+1]*was[k+1]) * T
	}
}

// products adds the changes of the parts' products over a time T to m. The numbers
// of parts of usual boards are written out.
func (g *gram) products(m []float64, still []product, T float64) {
	switch len(g.own) {
	case 7:
		products7((*[28]float64)(m), (*[7]float64)(g.mid), (*[7]float64)(g.more), (*[7]float64)(g.own))
	case 8:
		products7((*[28]float64)(m), (*[7]float64)(g.mid), (*[7]float64)(g.more), (*[7]float64)(g.own))
		g.productsFrom(7, m)
	default:
		g.productsFrom(0, m)
	}
	for _, k := range still {
		m[k.at] += k.sign * g.was[k.i] * g.was[k.j] * T
	}
}

// productsFrom adds the changes of the products of part i and those after it.
func (g *gram) productsFrom(i int, m []float64) {
	mid, more := g.mid[:len(g.own)], g.more[:len(g.own)]
	for rest := m[triangle(i):]; i < len(mid); i++ {
		row, y, d := rest[:i+1], mid[i], more[i]
		for j := range row[:i] {
			row[j] += y*more[j] + d*mid[j]
		}
		row[i] += g.own[i]
		rest = rest[i+1:]
	}
}

func products7(m *[28]float64, mid, more, own *[7]float64) {
	a, b, c, d, e, f := mid[0], mid[1], mid[2], mid[3], mid[4], mid[5]
	p, q, r, s, t, u := more[0], more[1], more[2], more[3], more[4], more[5]
	m[0] += own[0]
	m[1], m[2] = m[1]+(b*p+q*a), m[2]+own[1]
	m[3], m[4], m[5] = m[3]+(c*p+r*a), m[4]+(c*q+r*b), m[5]+own[2]
	m[6], m[7], m[8], m[9] = m[6]+(d*p+s*a), m[7]+(d*q+s*b), m[8]+(d*r+s*c), m[9]+own[3]
	m[10], m[11], m[12] = m[10]+(e*p+t*a), m[11]+(e*q+t*b), m[12]+(e*r+t*c)
	m[13], m[14] = m[13]+(e*s+t*d), m[14]+own[4]
	m[15], m[16], m[17] = m[15]+(f*p+u*a), m[16]+(f*q+u*b), m[17]+(f*r+u*c)
	m[18], m[19], m[20] = m[18]+(f*s+u*d), m[19]+(f*t+u*e), m[20]+own[5]
	x, y := mid[6], more[6]
	m[21], m[22], m[23] = m[21]+(x*p+y*a), m[22]+(x*q+y*b), m[23]+(x*r+y*c)
	m[24], m[25], m[26], m[27] = m[24]+(x*s+y*d), m[25]+(x*t+y*e), m[26]+(x*u+y*f), m[27]+own[6]
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
