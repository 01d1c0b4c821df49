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
	rates []float64 // nₕω
	sin   []float64
	cos   []float64
	dc    float64
	level []float64 // amplitude of each harmonic
}

func newWaveform(sup *models.Supply, factor float64, odd bool) *waveform {
	w := &waveform{omega: 2 * math.Pi * float64(sup.Frequency), dc: float64(sup.DC)}
	n := 1 + len(sup.Harmonics)
	all := make([]float64, 4*n)
	w.order, w.rates, w.sin, w.cos, w.level = make([]int, 0, n), all[:0:n], all[n:n:2*n], all[2*n:2*n:3*n], all[3*n:3*n]
	add := func(order int, volts, phase float64) {
		a := math.Sqrt2 * volts * factor
		if odd && order&1 == 1 {
			a = -a
		}
		sn, cs := math.Sincos(phase)
		w.order = append(w.order, order)
		w.rates = append(w.rates, float64(order)*w.omega)
		w.sin = append(w.sin, a*cs)
		w.cos = append(w.cos, a*sn)
		w.level = append(w.level, math.Abs(a))
	}
	add(1, float64(sup.Voltage), 0)
	for _, h := range sup.Harmonics {
		add(h.Order, float64(h.Voltage), float64(h.Phase)*math.Pi/180)
	}
	return w
}

func (w *waveform) at(t float64) float64 {
	e := w.dc
	for h, r := range w.rates {
		s, c := math.Sincos(r * t)
		e += w.sin[h]*s + w.cos[h]*c
	}
	return e
}

// turn writes sine and cosine of every harmonic at t, which atTurn and others
// take.
func (w *waveform) turn(t float64, out []float64) {
	for h, r := range w.rates {
		out[2*h], out[2*h+1] = math.Sincos(r * t)
	}
}

// advance moves the harmonics of turn by a time d, as Segment.advance does.
func (w *waveform) advance(turn []float64, d float64) {
	for h, r := range w.rates {
		sn, cs := sincosBrief(r * d)
		x, y := turn[2*h], turn[2*h+1]
		turn[2*h], turn[2*h+1] = x*cs+y*sn, y*cs-x*sn
	}
}

// fastest is the angular frequency of the highest harmonic.
func (w *waveform) fastest() float64 {
	most := 0
	for _, n := range w.order {
		most = max(most, n)
	}
	return float64(most) * w.omega
}

// atTurn is at for harmonics known already.
func (w *waveform) atTurn(turn []float64) float64 {
	e := w.dc
	for h, s := range w.sin {
		e += s*turn[2*h] + w.cos[h]*turn[2*h+1]
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
}

// size is the number of basis functions: modes, sine and cosine per harmonic,
// one.
func (s *Segment) size() int { return s.c.n + 2*len(s.src.order) + 1 }

// begin sets up the solution from the full state x at T0.
func (s *Segment) begin(x []float64) {
	var buf [16]float64
	turn := room(buf[:], 2*len(s.src.order))
	s.src.turn(s.T0, turn)
	s.beginAt(x, turn)
}

// beginAt is begin with the harmonics at T0 known already.
func (s *Segment) beginAt(x, turn []float64) {
	c, n := s.c, s.c.n
	s.xi = resize(s.xi, n)
	var buf [16]float64
	from := room(buf[:], s.size())
	for i, st := range c.active {
		from[i] = x[st]
	}
	s.src.parts(turn, from[n:])
	_, amplitudes := c.transforms(s.src)
	dots(s.xi, amplitudes, from)
}

// room returns n numbers, those of buf if they are enough.
func room(buf []float64, n int) []float64 {
	if n > len(buf) {
		return make([]float64, n)
	}
	return buf[:n]
}

// parts writes what the solution consists of where the basis functions are phi:
// the amplitudes of modes; for each harmonic its part of e(t), and the same a
// quarter of a period ahead; and 1.
func (s *Segment) parts(phi, out []float64) {
	c, n := s.c, s.c.n
	free, amp := phi[:n], out[:n]
	for k, x := range s.xi[:n] {
		amp[k] = x * free[k]
	}
	if c.paired {
		for k, pair := range c.pair[:n-1] {
			if pair {
				p, q := s.xi[k], s.xi[k+1]
				amp[k], amp[k+1] = p*free[k]+q*free[k+1], q*free[k]-p*free[k+1]
			}
		}
	}
	s.src.parts(phi[n:], out[n:])
}

// parts is Segment.parts from the harmonics on.
func (w *waveform) parts(turn, out []float64) {
	cos := w.cos[:len(w.sin)]
	for h, us := range w.sin {
		// The phasor us + j·uc stands for us·sin + uc·cos.
		uc, at, to := cos[h], (*[2]float64)(turn[2*h:]), (*[2]float64)(out[2*h:])
		to[0], to[1] = us*at[0]+uc*at[1], us*at[1]-uc*at[0]
	}
	out[2*len(cos)] = 1
}

// state writes the full state at t into x; inactive states become zero.
func (s *Segment) state(t float64, x []float64) {
	var buf [40]float64
	nb := s.size()
	work := room(buf[:], 2*nb)
	phi, parts := work[:nb], work[nb:]
	s.basis(t, phi)
	s.parts(phi, parts)
	s.stateOf(parts, x)
}

// stateOf is state with the parts of the solution known already.
func (s *Segment) stateOf(parts, x []float64) {
	var buf [16]float64
	active := room(buf[:], s.c.n)
	states, _ := s.c.transforms(s.src)
	dots(active, states, parts)
	clear(x)
	for i, st := range s.c.active {
		x[st] = active[i]
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
	for _, r := range s.src.rates {
		phi[j], phi[j+1] = math.Sincos(r * t)
		j += 2
	}
	phi[j] = 1
}

// advance moves basis functions by a time d, so short that |d| times the fastest
// rate is at most brief.
func (s *Segment) advance(phi []float64, d float64) {
	c, n := s.c, s.c.n
	for k := 0; k < n; k++ {
		g := expBrief(real(c.lambda[k]) * d)
		if !c.pair[k] {
			phi[k] *= g
			continue
		}
		sn, cs := sincosBrief(imag(c.lambda[k]) * d)
		x, y := phi[k], phi[k+1]
		phi[k], phi[k+1] = g*(x*cs-y*sn), g*(y*cs+x*sn)
		k++
	}
	s.src.advance(phi[n:], d)
}

// fastest bounds the rates of modes and harmonics, in 1/s.
func (s *Segment) fastest() float64 { return max(s.c.fastest, s.src.fastest()) }

// weights writes the coefficients on the basis of the signal with
// coefficients row on (x, e, 1).
func (s *Segment) weights(row, w []float64) {
	n := s.c.n
	s.c.project(row, w)
	s.scale(w)
	c, j := s.c, n
	for h, resp := range c.responses(s.src) {
		re, im := row[n], 0.0
		for i, r := range resp {
			re += row[i] * real(r)
			im += row[i] * imag(r)
		}
		us, uc := s.src.sin[h], s.src.cos[h]
		w[j], w[j+1] = us*re-uc*im, us*im+uc*re
		j += 2
	}
	w[j] = row[n+1] + dot(row[:n], c.constant)
	if dc := s.src.dc; dc != 0 {
		w[j] += dc * (row[n] + dot(row[:n], c.unitDC))
	}
}

// scale applies the modes' amplitudes to the first numbers of w: to a
// projection, which makes it weights, or to basis functions, which makes them
// the amplitudes at their time.
func (s *Segment) scale(w []float64) {
	c := s.c
	if !c.paired {
		w = w[:len(s.xi)]
		for k, x := range s.xi {
			w[k] *= x
		}
		return
	}
	for k := 0; k < c.n; k++ {
		if !c.pair[k] {
			w[k] *= s.xi[k]
			continue
		}
		cp, cq, p, q := w[k], w[k+1], s.xi[k], s.xi[k+1]
		w[k], w[k+1] = cp*p+cq*q, cp*q-cq*p
		k++
	}
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
	for _, r := range s.src.rates {
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

// rate returns the rate of change of a signal at t.
func (s *Segment) rate(sig int, t float64) float64 {
	nb := s.size()
	work := make([]float64, 3*nb)
	w, d, phi := work[:nb], work[nb:2*nb], work[2*nb:]
	s.weights(s.c.row(sig), w)
	s.derive(w, d)
	s.basis(t, phi)
	return dot(d, phi)
}

// probeRate is rate for a probe of the segment's combination, where the basis
// functions are phi.
func (s *Segment) probeRate(probe int, phi []float64) float64 {
	c, n, nb := s.c, s.c.n, s.size()
	row := s.view(c, 1<<probe).rows[probe*nb : (probe+1)*nb]
	sum := 0.0
	for k := 0; k < n; k++ {
		l := c.lambda[k]
		if !c.pair[k] {
			sum += row[k] * real(l) * s.xi[k] * phi[k]
			continue
		}
		p, q := s.xi[k], s.xi[k+1]
		x, y := p*phi[k]+q*phi[k+1], q*phi[k]-p*phi[k+1]
		sum += row[k]*(real(l)*x+imag(l)*y) + row[k+1]*(real(l)*y-imag(l)*x)
		k++
	}
	j := n
	for h, r := range s.src.rates {
		us, uc := s.src.sin[h], s.src.cos[h]
		sin, cos := us*row[j]-uc*row[j+1], us*row[j+1]+uc*row[j]
		sum += r * (sin*phi[j+1] - cos*phi[j])
		j += 2
	}
	return sum
}

// clone returns a copy that stays valid when the solver goes on.
func (s *Segment) clone() Segment {
	c := *s
	c.xi = append([]float64(nil), s.xi...)
	return c
}
