package circuit

import (
	"math"

	"boilwright/models"
)

// Moments returns the time means of a signal over the whole recording.
func (r *Recording) Moments(sig Signal) models.Moments { return r.moments(sig, new(integrator), true) }

// moments is Moments, with magnitudes left at zero unless abs asks for them.
func (r *Recording) moments(sig Signal, in *integrator, abs bool) models.Moments {
	m := r.direct(sig, in, abs)
	if abs {
		m.MeanAbsCoupled = r.meanAbs(sig, m.Mean, in)
	}
	return m
}

// direct returns the moments of a signal but for what a coupling capacitor
// makes of it, and without the mean magnitude unless abs asks for it.
func (r *Recording) direct(sig Signal, in *integrator, abs bool) models.Moments {
	var m models.Moments
	total := r.Duration()
	if total == 0 {
		return m
	}
	for i := range r.segments {
		s := &r.segments[i]
		in.load(s, sig)
		mean := s.integrate(in.w, s.T0, s.T1)
		m.Mean += mean
		m.MeanSquare += in.square(s)
		if abs {
			m.MeanAbs += in.abs(s, mean)
		}
	}
	m.Mean /= total
	m.MeanSquare /= total
	m.MeanAbs /= total
	return m
}

// MeanAbs returns the time mean of |y − level| of a signal y over the whole
// recording.
func (r *Recording) MeanAbs(sig Signal, level float64) float64 {
	return r.meanAbs(sig, level, new(integrator))
}

func (r *Recording) meanAbs(sig Signal, level float64, in *integrator) float64 {
	sum := 0.0
	for i := range r.segments {
		s := &r.segments[i]
		in.load(s, sig)
		in.w[len(in.w)-1] -= level
		sum += in.abs(s, s.integrate(in.w, s.T0, s.T1))
	}
	if t := r.Duration(); t > 0 {
		return sum / t
	}
	return 0
}

// integrator integrates a signal's magnitude and square over segments.
type integrator struct {
	find finder
	row  []float64
	w    []float64 // the signal on the segment's basis
	tone []tone
}

// load sets the integrator to a signal of a segment. On the basis a small
// signal has small weights, while as a difference of large states its square
// would be lost in their rounding.
func (in *integrator) load(s *Segment, sig Signal) {
	in.row, in.w = resize(in.row, s.c.width), resize(in.w, s.size())
	s.signalRow(sig, in.row)
	s.weights(in.row, in.w)
}

// abs integrates |y| over a segment, split at the zeros of y; whole is the
// integral of y.
func (in *integrator) abs(s *Segment, whole float64) float64 {
	total := 0.0
	t := s.T0
	in.find.reset(s)
	begin := in.find.at(0)
	in.find.put(begin, t)
	sign := math.Copysign(1, dot(in.w, begin.phi))
	for t < s.T1 {
		a := in.find.next()
		for i, x := range in.w {
			a.w[i] = -sign * x
		}
		end := s.T1
		if in.find.never(a) {
			in.find.used--
		} else if x, ok := in.find.from(t, s.T1, 0); ok {
			end = x
		}
		if t == s.T0 && end == s.T1 {
			return sign * whole
		}
		total += sign * s.integrate(in.w, t, end)
		t = end
		sign = -sign
		in.find.reset(s)
	}
	return total
}

// tone is the real part of amp·exp(rate·τ), τ being the time since the segment
// began; end is the exponential where it ends.
type tone struct{ amp, rate, end complex128 }

// square integrates y² over a segment: as a sum of tones,
// y² = ½·Re Σ (zᵢ·zⱼ·exp((sᵢ+sⱼ)τ) + zᵢ·zⱼ*·exp((sᵢ+sⱼ*)τ)).
func (in *integrator) square(s *Segment) float64 {
	c, w, T := s.c, in.w, s.T1-s.T0
	in.tone = in.tone[:0]
	add := func(amp, rate complex128) {
		e := tone{amp, rate, complex(decay(real(rate)*T), 0)}
		if imag(rate) != 0 {
			e.end = cexp(rate, T)
		}
		in.tone = append(in.tone, e)
	}
	for k := 0; k < c.n; k++ {
		if !c.pair[k] {
			add(complex(w[k], 0), complex(real(c.lambda[k]), 0))
			continue
		}
		add(complex(w[k], -w[k+1]), c.lambda[k])
		k++
	}
	j := c.n
	for _, order := range s.src.order {
		rate := float64(order) * s.src.omega
		sn, cs := math.Sincos(rate * s.T0)
		add(complex(w[j+1], -w[j])*complex(cs, sn), complex(0, rate))
		j += 2
	}
	add(complex(w[j], 0), 0)
	sum := 0.0
	for i, x := range in.tone {
		for j, y := range in.tone[:i+1] {
			if imag(x.rate) == 0 && imag(y.rate) == 0 { // so are their amplitudes
				v := real(x.amp) * real(y.amp) * realIntegral(real(x.rate)+real(y.rate), real(x.end)*real(y.end), T)
				if j < i {
					v *= 2
				}
				sum += v
				continue
			}
			v := real(x.amp * y.amp * integral(x.rate+y.rate, x.end*y.end, T))
			if imag(x.rate) == 0 || imag(y.rate) == 0 {
				v *= 2 // the other term is the same
			} else {
				v += real(x.amp * conj(y.amp) * integral(x.rate+conj(y.rate), x.end*conj(y.end), T))
			}
			if j < i {
				v *= 2
			}
			sum += v / 2
		}
	}
	return sum
}

// integrate returns ∫ w·φ dt over [a, b].
func (s *Segment) integrate(w []float64, a, b float64) float64 {
	T := b - a
	sum := 0.0
	tau := a - s.T0
	for k := 0; k < s.c.n; k++ {
		l := s.c.lambda[k]
		if !s.c.pair[k] {
			sum += w[k] * decay(real(l)*tau) * realIntegral(real(l), decay(real(l)*T), T)
			continue
		}
		// w_k·Re + w_{k+1}·Im of exp(λτ)
		z := cexp(l, tau) * integral(l, cexp(l, T), T)
		sum += w[k]*real(z) + w[k+1]*imag(z)
		k++
	}
	j := s.c.n
	for _, order := range s.src.order {
		r := float64(order) * s.src.omega
		z := cexp(complex(0, r), a) * integral(complex(0, r), cexp(complex(0, r), T), T)
		sum += w[j]*imag(z) + w[j+1]*real(z)
		j += 2
	}
	return sum + w[j]*T
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

// realIntegral is integral for real numbers.
func realIntegral(s, end, T float64) float64 {
	if x := s * T; math.Abs(x) < 1e-3 {
		return T * (1 + x/2*(1+x/3*(1+x/4*(1+x/5))))
	}
	return (end - 1) / s
}

func cexp(l complex128, t float64) complex128 {
	g := math.Exp(real(l) * t)
	sn, cs := math.Sincos(imag(l) * t)
	return complex(g*cs, g*sn)
}
