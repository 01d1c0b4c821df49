package circuit

import (
	"math"

	"boilwright/models"
)

// waveform is the source voltage within one half-cycle, t from its start:
//
//	e(t) = Σ sinₕ·sin(nₕωt) + cosₕ·cos(nₕωt) + dc
type waveform struct {
	omega float64
	order []int
	sin   []float64
	cos   []float64
	dc    float64
}

func newWaveform(sup *models.Supply, factor float64, odd bool) *waveform {
	w := &waveform{omega: 2 * math.Pi * float64(sup.Frequency), dc: float64(sup.DC)}
	add := func(order int, volts, phase float64) {
		a := math.Sqrt2 * volts * factor
		if odd && order&1 == 1 {
			a = -a
		}
		sn, cs := math.Sincos(phase)
		w.order = append(w.order, order)
		w.sin = append(w.sin, a*cs)
		w.cos = append(w.cos, a*sn)
	}
	add(1, float64(sup.Voltage), 0)
	for _, h := range sup.Harmonics {
		add(h.Order, float64(h.Voltage), float64(h.Phase)*math.Pi/180)
	}
	return w
}

func (w *waveform) at(t float64) float64 {
	e := w.dc
	for h, n := range w.order {
		s, c := math.Sincos(float64(n) * w.omega * t)
		e += w.sin[h]*s + w.cos[h]*c
	}
	return e
}

// rate returns de/dt at t.
func (w *waveform) rate(t float64) float64 {
	e := 0.0
	for h, n := range w.order {
		r := float64(n) * w.omega
		s, c := math.Sincos(r * t)
		e += r * (w.sin[h]*c - w.cos[h]*s)
	}
	return e
}

// Segment is the exact solution between two switchings within a half-cycle.
// It is a sum of the network's modes, sinusoids and a constant.
type Segment struct {
	c    *combination
	net  *netlist
	src  *waveform
	Half int64 // index of the half-cycle
	// T0 and T1 bound the segment, in seconds from the start of the
	// half-cycle.
	T0, T1 float64
	xi     []float64 // modal amplitudes at T0
	ps, pc []float64 // forced response of the states: sine and cosine parts, n per harmonic
	p0     []float64 // and its constant part
}

// size is the number of basis functions: modes, sine and cosine per harmonic,
// one.
func (s *Segment) size() int { return s.c.n + 2*len(s.src.order) + 1 }

// begin sets up the solution from the full state x at T0.
func (s *Segment) begin(x []float64) {
	c, n := s.c, s.c.n
	h := len(s.src.order)
	s.xi, s.ps, s.pc, s.p0 = resize(s.xi, n), resize(s.ps, n*h), resize(s.pc, n*h), resize(s.p0, n)
	for i := range n {
		s.p0[i] = c.constant[i] + s.src.dc*c.unitDC[i]
	}
	for k, order := range s.src.order {
		resp := c.response(order, float64(order)*s.src.omega)
		us, uc := s.src.sin[k], s.src.cos[k]
		// The phasor us + j·uc stands for us·sin + uc·cos.
		for i, r := range resp {
			re, im := real(r), imag(r)
			s.ps[k*n+i] = us*re - uc*im
			s.pc[k*n+i] = us*im + uc*re
		}
	}
	var diff [16]float64
	d := diff[:0]
	if n > len(diff) {
		d = make([]float64, 0, n)
	}
	for i := range n {
		d = append(d, x[c.active[i]]-s.forced(i, s.T0))
	}
	for k := range n {
		v := 0.0
		for i, y := range d {
			v += c.vInv[k*n+i] * y
		}
		s.xi[k] = v
	}
}

func (s *Segment) forced(i int, t float64) float64 {
	n := s.c.n
	v := s.p0[i]
	for k, order := range s.src.order {
		sn, cs := math.Sincos(float64(order) * s.src.omega * t)
		v += s.ps[k*n+i]*sn + s.pc[k*n+i]*cs
	}
	return v
}

// state writes the full state at t into x; inactive states become zero.
func (s *Segment) state(t float64, x []float64) {
	c, n := s.c, s.c.n
	clear(x)
	var buf [16]float64
	amp := s.amplitudes(t, buf[:0])
	for i := range n {
		v := s.forced(i, t)
		for k, a := range amp {
			v += c.v[i*n+k] * a
		}
		x[c.active[i]] = v
	}
}

// amplitudes appends the modal amplitudes at t to buf.
func (s *Segment) amplitudes(t float64, buf []float64) []float64 {
	tau := t - s.T0
	for k := 0; k < s.c.n; k++ {
		l := s.c.lambda[k]
		g := decay(real(l) * tau)
		if !s.c.pair[k] {
			buf = append(buf, s.xi[k]*g)
			continue
		}
		sn, cs := math.Sincos(imag(l) * tau)
		p, q := s.xi[k], s.xi[k+1]
		buf = append(buf, g*(p*cs+q*sn), g*(q*cs-p*sn))
		k++
	}
	return buf
}

// decay is exp(x) for x ≤ 0, and zero where it is below 1e-21: far below the
// last digit of any sum that it enters.
func decay(x float64) float64 {
	if x < -48 {
		return 0
	}
	return math.Exp(x)
}

// basis writes the values of the basis functions at t.
func (s *Segment) basis(t float64, phi []float64) {
	tau := t - s.T0
	n := s.c.n
	for k := 0; k < n; k++ {
		l := s.c.lambda[k]
		g := decay(real(l) * tau)
		if !s.c.pair[k] {
			phi[k] = g
			continue
		}
		sn, cs := math.Sincos(imag(l) * tau)
		phi[k], phi[k+1] = g*cs, g*sn
		k++
	}
	j := n
	for _, order := range s.src.order {
		phi[j], phi[j+1] = math.Sincos(float64(order) * s.src.omega * t)
		j += 2
	}
	phi[j] = 1
}

// weights writes the coefficients on the basis of the signal with
// coefficients row on (x, e, 1).
func (s *Segment) weights(row, w []float64) {
	c, n := s.c, s.c.n
	for k := range n {
		v := 0.0
		for i := range n {
			v += row[i] * c.v[i*n+k]
		}
		w[k] = v
	}
	for k := 0; k < n; k++ {
		if !c.pair[k] {
			w[k] *= s.xi[k]
			continue
		}
		cp, cq, p, q := w[k], w[k+1], s.xi[k], s.xi[k+1]
		w[k], w[k+1] = cp*p+cq*q, cp*q-cq*p
		k++
	}
	j := n
	for h := range s.src.order {
		vs, vc := row[n]*s.src.sin[h], row[n]*s.src.cos[h]
		for i := range n {
			vs += row[i] * s.ps[h*n+i]
			vc += row[i] * s.pc[h*n+i]
		}
		w[j], w[j+1] = vs, vc
		j += 2
	}
	v := row[n]*s.src.dc + row[n+1]
	for i := range n {
		v += row[i] * s.p0[i]
	}
	w[j] = v
}

// signal writes the coefficients on the basis of a signal of the segment's own
// combination.
func (s *Segment) signal(sig int, w []float64) {
	p, c, n := s.c.project(sig, s.src), s.c, s.c.n
	for k := 0; k < n; k++ {
		if !c.pair[k] {
			w[k] = p.modes[k] * s.xi[k]
			continue
		}
		cp, cq, x, y := p.modes[k], p.modes[k+1], s.xi[k], s.xi[k+1]
		w[k], w[k+1] = cp*x+cq*y, cp*y-cq*x
		k++
	}
	j := n
	for h := range s.src.order {
		us, uc := s.src.sin[h], s.src.cos[h]
		w[j], w[j+1] = us*p.re[h]-uc*p.im[h], us*p.im[h]+uc*p.re[h]
		j += 2
	}
	w[j] = s.src.dc*p.dc + p.rest
}

// derive turns the weights w of a signal into those of its rate of change.
func (s *Segment) derive(w, out []float64) {
	n := s.c.n
	for k := 0; k < n; k++ {
		l := s.c.lambda[k]
		if !s.c.pair[k] {
			out[k] = real(l) * w[k]
			continue
		}
		a, b := w[k], w[k+1]
		out[k], out[k+1] = real(l)*a+imag(l)*b, real(l)*b-imag(l)*a
		k++
	}
	j := n
	for _, order := range s.src.order {
		r := float64(order) * s.src.omega
		out[j], out[j+1] = -r*w[j+1], r*w[j]
		j += 2
	}
	out[j] = 0
}

// jump is the rate of decay in 1/s above which a mode is a jump to a triac:
// its voltage is over before a gate of charge could build up, which takes a
// microsecond or so. Rates of rise are those of the solution without such
// modes.
const jump = 1e7

// deriveSmooth is derive without the modes that are jumps.
func (s *Segment) deriveSmooth(w, out []float64) {
	s.derive(w, out)
	for k, l := range s.c.lambda {
		if -real(l) > jump {
			out[k] = 0
		}
	}
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// rate returns the rate of change of a signal at t.
func (s *Segment) rate(sig int, t float64) float64 {
	nb := s.size()
	w, d, phi := make([]float64, nb), make([]float64, nb), make([]float64, nb)
	s.signal(sig, w)
	s.derive(w, d)
	s.basis(t, phi)
	return dot(d, phi)
}

// clone returns a copy that stays valid when the solver goes on.
func (s *Segment) clone() Segment {
	c := *s
	c.xi = append([]float64(nil), s.xi...)
	c.ps = append([]float64(nil), s.ps...)
	c.pc = append([]float64(nil), s.pc...)
	c.p0 = append([]float64(nil), s.p0...)
	return c
}
