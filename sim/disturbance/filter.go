package disturbance

import (
	"math"
	"math/cmplx"
)

// filter is a strictly proper transfer function by its poles,
//
//	H(s) = Σ r/(s − p)
//
// with one of each pair of complex poles, whose residue is doubled: the
// output is the real part.
type filter struct {
	pole, residue []complex128
}

// weighting is everything between the square of the adapted voltage and the
// square of what the eye perceives: the high-pass of first order, the
// low-pass, a Butterworth filter of sixth order, and lamp, eye and brain.
func (s System) weighting() filter {
	const hz = 2 * math.Pi
	c := responses[s.Lamp]
	wc := hz * s.lowPass()
	l, w1 := hz*c.lambda, hz*c.f1
	poles := []complex128{complex(-hz*highPass, 0), complex(-hz*c.f3, 0), complex(-hz*c.f4, 0), complex(-l, math.Sqrt(w1*w1-l*l))}
	gain := c.k * w1 * (hz * c.f3) * (hz * c.f4)
	for k := range 3 {
		poles = append(poles, cmplx.Rect(wc, math.Pi/2+math.Pi*float64(2*k+1)/12))
		gain *= wc * wc
	}
	f := filter{pole: poles, residue: make([]complex128, len(poles))}
	for i, p := range poles {
		r := complex(gain, 0) * p * p * (1 + p/complex(hz*c.f2, 0))
		for j, x := range poles {
			if j != i {
				r /= p - x
			}
			if imag(x) != 0 {
				r /= p - cmplx.Conj(x)
			}
		}
		if imag(p) != 0 {
			r *= 2
		}
		f.residue[i] = r
	}
	return f
}

// gain returns |H(jω)|.
func (f filter) gain(omega float64) float64 {
	s := complex(0, omega)
	var h complex128
	for i, p := range f.pole {
		r := f.residue[i]
		if imag(p) == 0 {
			h += r / (s - p)
		} else {
			h += r/2/(s-p) + cmplx.Conj(r)/2/(s-cmplx.Conj(p))
		}
	}
	return cmplx.Abs(h)
}

// stepper advances a filter in steps of equal length.
type stepper struct {
	modes []stepMode
	sines []complex128 // by step of the half-cycle, then by mode; see halfCycle
}

// stepMode is one mode: z ← d·z + a·u(0) + b·u(T) for an input that is linear
// in the step.
type stepMode struct {
	z, d, a, b, r complex128
}

// stepper returns the filter at rest, to go in steps of t seconds.
func (f filter) stepper(t float64) stepper {
	s := stepper{modes: make([]stepMode, len(f.pole))}
	for i, p := range f.pole {
		one, two := phi(p * complex(t, 0))
		T := complex(t, 0)
		s.modes[i] = stepMode{d: cmplx.Exp(p * T), a: T * (one - two), b: T * two, r: f.residue[i]}
	}
	return s
}

// halfCycles prepares a stepper for inputs u·(1 − cos 2ωt) − 1, with u
// constant in each half-cycle of n steps of t seconds and 2ω·n·t = 2π, and
// puts it into the periodic state of u = 1.
func (s *stepper) halfCycles(f filter, n int, t float64) {
	w := 2 * math.Pi / (float64(n) * t)
	// ∫ exp(p(t − τ))·exp(±jw(t₀ + τ)) dτ over a step from t₀ is
	// exp(±jw·t₀)·(exp(±jwt) − exp(pt))/(±jw − p).
	for j := range n {
		for i, p := range f.pole {
			m := &s.modes[i]
			up, down := complex(0, w), complex(0, -w)
			turn := cmplx.Rect(1, w*t*float64(j))
			one := turn * (cmplx.Rect(1, w*t) - m.d) / (up - p)
			two := cmplx.Conj(turn) * (cmplx.Rect(1, -w*t) - m.d) / (down - p)
			s.sines = append(s.sines, m.a+m.b-(one+two)/2)
			m.z = -(1/(up-p) + 1/(down-p)) / 2
		}
	}
}

// halfCycle advances by step j of a half-cycle of input u·(1 − cos 2ωt) − 1,
// and returns the output at its end.
func (s *stepper) halfCycle(j int, u float64) float64 {
	y := 0.0
	sines := s.sines[j*len(s.modes):][:len(s.modes)]
	for i := range s.modes {
		m := &s.modes[i]
		c := sines[i]
		m.z = m.d*m.z + complex(u*real(c)-real(m.a)-real(m.b), u*imag(c)-imag(m.a)-imag(m.b))
		y += real(m.r)*real(m.z) - imag(m.r)*imag(m.z)
	}
	return y
}

// phi returns (eˣ − 1)/x and (eˣ − 1 − x)/x².
func phi(x complex128) (one, two complex128) {
	if cmplx.Abs(x) > 0.5 {
		two = (cmplx.Exp(x) - 1 - x) / (x * x)
	} else {
		two = 1
		for n := 14; n >= 1; n-- { // Σ xⁿ/(n+2)!, the rest below 1e-18
			two = 1 + two*x/complex(float64(n+2), 0)
		}
		two /= 2
	}
	return 1 + x*two, two
}

// step advances by one step in which the input goes linearly from u to v, and returns
// the output at its end.
func (s *stepper) step(u, v float64) float64 {
	y := 0.0
	for i := range s.modes {
		m := &s.modes[i]
		m.z = m.d*m.z + complex(u*real(m.a)+v*real(m.b), u*imag(m.a)+v*imag(m.b))
		y += real(m.r)*real(m.z) - imag(m.r)*imag(m.z)
	}
	return y
}
