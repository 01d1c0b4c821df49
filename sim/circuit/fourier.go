package circuit

import (
	"math"
	"math/cmplx"
)

// Fourier returns the component of a signal at order times the supply's
// frequency over the whole recording, of duration T, as a phasor of rms
// value:
//
//	c = (√2/T)·∫ y(t)·exp(−j·order·ωt) dt,  ω = 2πf
//
// so that the component is √2·Re(c·exp(j·order·ωt)), with t from the start of
// the recording. Order 0 gives the mean instead. The integral is closed, mode
// by mode; no samples are taken.
//
// Components are orthogonal if the recording spans whole cycles and order is a
// multiple of one over their number: 2 in one cycle, 2.1 in ten. Their rms
// values then add up to that of the signal by Parseval's theorem.
func (r *Recording) Fourier(sig Signal, order float64) complex128 {
	total := r.Duration()
	if total == 0 {
		return 0
	}
	var row, w []float64
	var sum complex128
	nu := order * math.Pi / r.half // order·ω: a half-cycle is π/ω
	for i := range r.segments {
		s := &r.segments[i]
		row, w = resize(row, s.c.width), resize(w, s.size())
		s.signalRow(sig, row)
		s.weights(row, w)
		// Counted in half-cycles, the turn up to a late half-cycle keeps its
		// last digits.
		halfTurns := math.Mod(order*float64(s.Half-r.first), 2)
		turn := cexp(complex(0, -1), math.Pi*halfTurns+nu*s.T0)
		sum += turn * s.transform(w, nu)
	}
	if order == 0 {
		return complex(real(sum)/total, 0)
	}
	return sum * complex(math.Sqrt2/total, 0)
}

// transform returns ∫ w·φ·exp(−jν(t − T0)) dt over the segment.
func (s *Segment) transform(w []float64, nu float64) complex128 {
	T := s.T1 - s.T0
	shift := cexp(complex(0, -nu), T)
	// part is ∫ exp((l − jν)τ) dτ.
	part := func(l complex128) complex128 {
		if -real(l)*T > 48 {
			return integral(l-complex(0, nu), 0, T)
		}
		return integral(l-complex(0, nu), cexp(l, T)*shift, T)
	}
	var sum complex128
	for k := 0; k < s.c.n; k++ {
		l := s.c.lambda[k]
		if !s.c.pair[k] {
			sum += complex(w[k], 0) * part(complex(real(l), 0))
			continue
		}
		// w[k]·Re e^{lτ} + w[k+1]·Im e^{lτ}
		a := complex(w[k]/2, -w[k+1]/2)
		sum += a*part(l) + cmplx.Conj(a)*part(cmplx.Conj(l))
		k++
	}
	j := s.c.n
	for _, order := range s.src.order {
		r := complex(0, float64(order)*s.src.omega)
		// sin and cos of the source's harmonic, whose time is that of the
		// half-cycle.
		a := complex(w[j+1]/2, -w[j]/2) * cexp(r, s.T0)
		sum += a*part(r) + cmplx.Conj(a)*part(-r)
		j += 2
	}
	return sum + complex(w[j], 0)*part(0)
}

// HalfCycles returns the number of half-cycles of the recording.
func (r *Recording) HalfCycles() int {
	if len(r.segments) == 0 {
		return 0
	}
	return int(r.segments[len(r.segments)-1].Half-r.first) + 1
}
