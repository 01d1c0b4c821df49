package disturbance

import (
	"fmt"
	"math"
	"math/cmplx"

	"boilwright/sim/circuit"
)

// Orders is the highest harmonic order considered.
const Orders = 40

// Spectrum is the harmonic content of a periodic signal, in its unit.
type Spectrum struct {
	DC    float64
	RMS   [Orders + 1]float64 // by order; [0] is |DC|
	Total float64             // rms of all, above order 40 too
}

// Harmonics returns the spectrum of a signal over a recording, which must
// last whole cycles. The integrals are exact; a signal that repeats each cycle
// loses nothing, of others see [Windows]. An error says what the recording
// lacks.
func Harmonics(r *circuit.Recording, sig circuit.Signal) (*Spectrum, error) {
	if _, err := wholeCycles(r); err != nil {
		return nil, err
	}
	s := &Spectrum{DC: real(r.Fourier(sig, 0)), Total: math.Sqrt(r.Moments(sig).MeanSquare)}
	s.RMS[0] = math.Abs(s.DC)
	for n := 1; n <= Orders; n++ {
		s.RMS[n] = cmplx.Abs(r.Fourier(sig, float64(n)))
	}
	return s, nil
}

// wholeCycles returns the number of cycles of a recording.
func wholeCycles(r *circuit.Recording) (int, error) {
	n := r.HalfCycles()
	if n == 0 || n%2 != 0 {
		return 0, fmt.Errorf("recording: found %d half-cycles, expected an even number of at least 2", n)
	}
	return n / 2, nil
}

// THD is the total harmonic distortion, the rms value of orders 2 to 40 over
// that of the fundamental; NaN where there is no fundamental.
func (s *Spectrum) THD() float64 { return distortion(&s.RMS) }

// Harmonic returns the rms value of orders 2 to 40 together.
func (s *Spectrum) Harmonic() float64 { return together(&s.RMS) }

func distortion(rms *[Orders + 1]float64) float64 { return together(rms) / rms[1] }

func together(rms *[Orders + 1]float64) float64 {
	sum := 0.0
	for _, x := range rms[2:] {
		sum += x * x
	}
	return math.Sqrt(sum)
}

// Even returns the rms value of all even orders together: what a load adds
// whose two half-cycles differ.
func (s *Spectrum) Even() float64 {
	sum := 0.0
	for n := 2; n <= Orders; n += 2 {
		sum += s.RMS[n] * s.RMS[n]
	}
	return math.Sqrt(sum)
}
