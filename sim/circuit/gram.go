package circuit

import "math"

// gram integrates products of basis functions over a part of a segment,
// exactly. Its basis is that of the segment with the time counted from the
// start of the part: per real mode exp(λτ), per complex pair
// exp(στ)·(cos ωτ, sin ωτ), per harmonic (cos nωτ, sin nωτ), and 1.
type gram struct {
	exps  []complex128 // exponent of each mode, pair, harmonic and of 1
	ends  []complex128 // exp(exponent·T)
	first []int        // index of its first basis function
	twin  []bool       // it has two
	g     []float64    // integrals of products of basis functions
	coef  []float64    // width × functions
	half  []float64    // coef·g
	w     []float64    // ∫ z zᵀ dt, width × width
	row   []float64    // of the voltage from L to N
}

// integral returns ∫₀ᵀ exp(s·τ) dτ, given end = exp(s·T).
func integral(s, end complex128, T float64) complex128 {
	if math.Abs(real(s))+math.Abs(imag(s)) < 1e-3/T {
		// T·(1 + x/2 + x²/6 + x³/24 + x⁴/120): next term below 1e-18.
		x := s * complex(T, 0)
		return complex(T, 0) * (1 + x/2*(1+x/3*(1+x/4*(1+x/5))))
	}
	d := real(s)*real(s) + imag(s)*imag(s)
	n := end - 1
	return complex((real(n)*real(s)+imag(n)*imag(s))/d, (imag(n)*real(s)-real(n)*imag(s))/d)
}

func integralReal(s, end, T float64) float64 {
	if math.Abs(s)*T < 1e-3 {
		x := s * T
		return T * (1 + x/2*(1+x/3*(1+x/4*(1+x/5))))
	}
	return (end - 1) / s
}

// moments sets g.w to ∫ z zᵀ dt over [a, b] with z = (x, e, 1) of the segment.
func (g *gram) moments(s *Segment, a, b float64) {
	c, n := s.c, s.c.n
	width, nb, T := c.width, s.size(), b-a
	g.exps, g.ends, g.first, g.twin = g.exps[:0], g.ends[:0], g.first[:0], g.twin[:0]
	g.coef = resize(g.coef, width*nb)
	clear(g.coef)
	coef := g.coef
	var buf [16]float64
	amp := s.amplitudes(a, buf[:0])
	for k := 0; k < n; k++ {
		l := c.lambda[k]
		g.exps = append(g.exps, l)
		g.ends = append(g.ends, 0)
		g.first = append(g.first, k)
		g.twin = append(g.twin, c.pair[k])
		if !c.pair[k] {
			for i := range n {
				coef[i*nb+k] = c.v[i*n+k] * amp[k]
			}
			continue
		}
		p, q := amp[k], amp[k+1]
		for i := range n {
			vp, vq := c.v[i*n+k], c.v[i*n+k+1]
			coef[i*nb+k], coef[i*nb+k+1] = vp*p+vq*q, vp*q-vq*p
		}
		k++
	}
	j := n
	for h, order := range s.src.order {
		w := float64(order) * s.src.omega
		g.exps = append(g.exps, complex(0, w))
		g.ends = append(g.ends, 0)
		g.first = append(g.first, j)
		g.twin = append(g.twin, true)
		sn, cs := math.Sincos(w * a)
		for i := range n {
			u, v := s.ps[h*n+i], s.pc[h*n+i]
			coef[i*nb+j], coef[i*nb+j+1] = u*sn+v*cs, u*cs-v*sn
		}
		u, v := s.src.sin[h], s.src.cos[h]
		coef[n*nb+j], coef[n*nb+j+1] = u*sn+v*cs, u*cs-v*sn
		j += 2
	}
	g.exps = append(g.exps, 0)
	g.ends = append(g.ends, 1)
	g.first = append(g.first, j)
	g.twin = append(g.twin, false)
	for i := range n {
		coef[i*nb+j] = s.p0[i]
	}
	coef[n*nb+j], coef[(n+1)*nb+j] = s.src.dc, 1
	for i, e := range g.exps {
		if imag(e) == 0 {
			g.ends[i] = complex(decay(real(e)*T), 0)
		} else {
			g.ends[i] = cexp(e, T)
		}
	}
	g.products(T, nb)
	g.half = resize(g.half, width*nb)
	g.w = resize(g.w, width*width)
	for r := range width {
		cr, hr := coef[r*nb:(r+1)*nb], g.half[r*nb:(r+1)*nb]
		clear(hr)
		for p, x := range cr {
			if x == 0 {
				continue
			}
			for q, y := range g.g[p*nb : (p+1)*nb] {
				hr[q] += x * y
			}
		}
		for t := 0; t <= r; t++ {
			v := dot(hr, coef[t*nb:(t+1)*nb])
			g.w[r*width+t], g.w[t*width+r] = v, v
		}
	}
}

// products fills g.g with the integrals of all products of basis functions.
func (g *gram) products(T float64, nb int) {
	g.g = resize(g.g, nb*nb)
	set := func(i, j int, v float64) { g.g[i*nb+j], g.g[j*nb+i] = v, v }
	for p, sp := range g.exps {
		ip := g.first[p]
		for q := p; q < len(g.exps); q++ {
			sq, iq := g.exps[q], g.first[q]
			if !g.twin[p] && !g.twin[q] {
				set(ip, iq, integralReal(real(sp)+real(sq), real(g.ends[p])*real(g.ends[q]), T))
				continue
			}
			sum := integral(sp+sq, g.ends[p]*g.ends[q], T)
			if !g.twin[p] { // e^{λτ} times (cos, sin)
				set(ip, iq, real(sum))
				set(ip, iq+1, imag(sum))
				continue
			}
			if !g.twin[q] {
				set(ip, iq, real(sum))
				set(ip+1, iq, imag(sum))
				continue
			}
			eq := complex(real(g.ends[q]), -imag(g.ends[q]))
			dif := integral(sp+complex(real(sq), -imag(sq)), g.ends[p]*eq, T)
			set(ip, iq, (real(dif)+real(sum))/2)     // cos cos
			set(ip+1, iq+1, (real(dif)-real(sum))/2) // sin sin
			set(ip+1, iq, (imag(sum)+imag(dif))/2)   // sin cos
			set(ip, iq+1, (imag(sum)-imag(dif))/2)   // cos sin
		}
	}
}

// extraSums are the sums that follow those of the loss groups: ∫i² of the
// source, ∫i² and ∫i of the earth conductor, ∫v² from L to N.
const extraSums = 4

// add adds the energies of a segment's loss groups to sums, and the extra
// sums after them.
func (g *gram) add(s *Segment, p *params, sums []float64) {
	if s.T1 <= s.T0 {
		return
	}
	s.c.power(p.net, p.groupOf, p.groups)
	g.moments(s, s.T0, s.T1)
	for i, q := range s.c.groups {
		sums[i] += dot(q, g.w)
	}
	extra := sums[len(s.c.groups):]
	extra[0] += g.square(s.c.row(p.net.sigCurrent(sourceBranch)))
	if p.net.earth >= 0 {
		row := s.c.row(p.net.sigCurrent(p.net.earth))
		extra[1] += g.square(row)
		extra[2] += dot(row, g.w[len(g.w)-len(row):])
	}
	g.row = resize(g.row, s.c.width)
	s.signalRow(Signal{p.net.sigNode(p.net.line), p.net.sigNode(p.net.neutral)}, g.row)
	extra[3] += g.square(g.row)
}

// square returns ∫y² dt of the signal y = row·z.
func (g *gram) square(row []float64) float64 {
	sum, w := 0.0, len(row)
	for a, x := range row {
		if x != 0 {
			sum += x * dot(row, g.w[a*w:(a+1)*w])
		}
	}
	return sum
}
