package disturbance

import (
	"fmt"
	"math"
	"math/cmplx"

	"boilwright/sim/circuit"
)

// WindowCycles is the number of cycles N of an analysis window at a supply
// frequency in hertz: 10 at 50 Hz, 12 at 60 Hz, about 200 ms
// (IEC 61000-4-7, IEC 61000-4-30).
func WindowCycles(hertz float64) int {
	if hertz < 55 {
		return 10
	}
	return 12
}

// Grouped is the harmonic content of a signal that does not repeat each
// cycle, as a burst. Per analysis window of N cycles the spectral lines lie f/N
// apart; those about a harmonic form its group,
//
//	G_n² = ½·C²(nN − N/2) + Σ C²(nN + k) + ½·C²(nN + N/2),  |k| < N/2
//
// (IEC 61000-4-7, from memory), so that the sidebands that a burst puts beside
// a harmonic count with it. Windows follow each other without gap.
type Grouped struct {
	Windows int
	// Mean and Max are, by order, the arithmetic mean and the maximum of the
	// groups over the windows.
	Mean, Max [Orders + 1]float64
	// DC is the mean over all windows.
	DC float64
}

// THD is the distortion of the mean groups, see [Spectrum.THD].
func (g *Grouped) THD() float64 { return distortion(&g.Mean) }

// Windows adds up the groups of analysis windows of a signal. Add one
// recording a window.
type Windows struct {
	cycles int
	sum    Grouped
}

// NewWindows analyses windows of n cycles; see [WindowCycles]. An odd or
// smaller number than 2 is an error.
func NewWindows(n int) (*Windows, error) {
	if n < 2 || n%2 != 0 {
		return nil, fmt.Errorf("analysis window: found %d cycles, expected an even number of at least 2", n)
	}
	return &Windows{cycles: n}, nil
}

// Add takes the next window. A recording of another length is an error.
func (w *Windows) Add(r *circuit.Recording, sig circuit.Signal) error {
	n, err := wholeCycles(r)
	if err != nil {
		return err
	}
	if n != w.cycles {
		return fmt.Errorf("analysis window: found %d cycles, expected %d", n, w.cycles)
	}
	lines := make([]float64, Orders*n+n/2+1)
	for k := n / 2; k < len(lines); k++ {
		c := cmplx.Abs(r.Fourier(sig, float64(k)/float64(n)))
		lines[k] = c * c
	}
	g := &w.sum
	g.Windows++
	g.DC += real(r.Fourier(sig, 0))
	for order := 1; order <= Orders; order++ {
		mid := order * n
		sum := (lines[mid-n/2] + lines[mid+n/2]) / 2
		for _, x := range lines[mid-n/2+1 : mid+n/2] {
			sum += x
		}
		x := math.Sqrt(sum)
		g.Mean[order] += x
		g.Max[order] = math.Max(g.Max[order], x)
	}
	return nil
}

// Result returns what the windows so far came to.
func (w *Windows) Result() Grouped {
	g := w.sum
	if g.Windows == 0 {
		return g
	}
	g.DC /= float64(g.Windows)
	for n := range g.Mean {
		g.Mean[n] /= float64(g.Windows)
	}
	return g
}
