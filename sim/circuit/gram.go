package circuit

import "math"

// gram integrates products of the parts that a segment's solution consists of,
// exactly. The parts are, per real mode, its amplitude; per complex pair its
// two; per harmonic e(t) = sin·sin nωt + cos·cos nωt and ê(t), the same a
// quarter of a period ahead; and 1. The second of two is the real part of a
// phasor Z·exp(s·t), the first its imaginary part.
type gram struct {
	real []growth
	turn []turn
	m    []float64 // ∫ of the products, row by row up to the diagonal
}

// growth is a real exponential.
type growth struct {
	at   int     // its place among the parts
	rate float64 // 1/s
	was  float64 // its value at the beginning
	more float64 // exp(rate·T) − 1
}

// turn is a complex one.
type turn struct {
	at        int
	rate      complex128
	was, more complex128
}

// moments sets g.m for the parts of segment s with modal amplitudes xi at its
// beginning, amplitudes sin and cos of the harmonics and the constant one.
func (g *gram) moments(s *Segment, xi, sin, cos []float64, one float64) {
	c, T := s.c, s.T1-s.T0
	g.real, g.turn = g.real[:0], g.turn[:0]
	for k := 0; k < c.n; k++ {
		l := c.lambda[k]
		if !c.pair[k] {
			g.real = append(g.real, growth{k, real(l), xi[k], math.Expm1(real(l) * T)})
			continue
		}
		g.turn = append(g.turn, turn{k, l, complex(xi[k+1], xi[k]), turned(l, T)})
		k++
	}
	at := c.n
	for h, order := range s.src.order {
		w := float64(order) * s.src.omega
		sn, cs := math.Sincos(w * s.T0)
		z := complex(sin[h]*cs-cos[h]*sn, sin[h]*sn+cos[h]*cs)
		g.turn = append(g.turn, turn{at, complex(0, w), z, turned(complex(0, w), T)})
		at += 2
	}
	g.real = append(g.real, growth{at, 0, one, 0})
	g.m = resize(g.m, triangle(at+1))
	for i := range g.real {
		p := &g.real[i]
		row := g.m[triangle(p.at):]
		for j := range g.real[:i+1] {
			q := &g.real[j]
			x := T
			if rate := p.rate + q.rate; rate != 0 {
				x = (p.more*q.more + p.more + q.more) / rate
			}
			row[q.at] = p.was * q.was * x
		}
		for j := range g.turn {
			q := &g.turn[j]
			z := scaled(p.was, q.was) * duration(complex(p.rate+real(q.rate), imag(q.rate)), scaled(p.more, q.more)+complex(p.more, 0)+q.more, T)
			g.m[productAt(p.at, q.at)], g.m[productAt(p.at, q.at+1)] = imag(z), real(z)
		}
	}
	for i := range g.turn {
		p := &g.turn[i]
		first, second := g.m[triangle(p.at):], g.m[triangle(p.at+1):]
		for j := range g.turn[:i+1] {
			q := &g.turn[j]
			sum := p.was * q.was * duration(p.rate+q.rate, p.more*q.more+p.more+q.more, T)
			back := conj(q.more)
			dif := p.was * conj(q.was) * duration(p.rate+conj(q.rate), p.more*back+p.more+back, T)
			first[q.at] = (real(dif) - real(sum)) / 2
			second[q.at] = (imag(sum) - imag(dif)) / 2
			second[q.at+1] = (real(dif) + real(sum)) / 2
			if j < i {
				first[q.at+1] = (imag(sum) + imag(dif)) / 2
			}
		}
	}
}

// turned returns exp(s·T) − 1 without loss of digits where that is small.
func turned(s complex128, T float64) complex128 {
	more := math.Expm1(real(s) * T)
	sn, cs := math.Sincos(imag(s) * T / 2)
	less := -2 * sn * sn // cos − 1
	return complex(more+less+more*less, (1+more)*2*sn*cs)
}

// duration returns ∫₀ᵀ exp(s·t) dt, given more = exp(s·T) − 1.
func duration(s, more complex128, T float64) complex128 {
	d := real(s)*real(s) + imag(s)*imag(s)
	if d == 0 {
		return complex(T, 0)
	}
	return complex((real(more)*real(s)+imag(more)*imag(s))/d, (imag(more)*real(s)-real(more)*imag(s))/d)
}

// integral returns ∫₀ᵀ exp(s·τ) dτ, given end = exp(s·T).
func integral(s, end complex128, T float64) complex128 {
	if math.Abs(real(s))+math.Abs(imag(s)) < 1e-3/T {
		// T·(1 + x/2 + x²/6 + x³/24 + x⁴/120): next term below 1e-18.
		x := s * complex(T, 0)
		return complex(T, 0) * (1 + x/2*(1+x/3*(1+x/4*(1+x/5))))
	}
	return duration(s, end-1, T)
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

func scaled(x float64, z complex128) complex128 { return complex(x*real(z), x*imag(z)) }

// fourfold returns the sums of the products of four successive rows with m.
func fourfold(rows, m []float64) (w, x, y, z float64) {
	n := len(m)
	a, b, c, d := rows[:n], rows[n:2*n], rows[2*n:3*n], rows[3*n:4*n]
	for i, u := range m {
		w += a[i] * u
		x += b[i] * u
		y += c[i] * u
		z += d[i] * u
	}
	return w, x, y, z
}

// add adds the energies of a segment's loss groups to sums, and the extra
// sums after them. Where the supply has no direct component, the losses of a
// mirror image are those of its original under the opposite constants.
func (g *gram) add(s *Segment, p *params, sums []float64) {
	if s.T1 <= s.T0 {
		return
	}
	c, one := s.c, 1.0
	if c.image != nil && !p.net.biased {
		c, one = c.image, -1
	}
	if c.forms == nil {
		c.power(p, s.src)
	}
	g.moments(s, s.xi, s.src.sin, s.src.cos, one)
	if c.charge != nil {
		sums[p.groups+earthCharge] += one * dot(c.charge, g.m[len(g.m)-len(c.charge):])
	}
	for i := 0; i+4 <= len(c.groups); i += 4 {
		w, x, y, z := fourfold(c.forms[i*len(g.m):], g.m)
		to := c.groups[i : i+4]
		sums[to[0]] += w
		sums[to[1]] += x
		sums[to[2]] += y
		sums[to[3]] += z
	}
}
