package circuit

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"

	"boilwright/models"
)

// The tests of this file take textbook waveforms from the circuit's solution:
// an ideal source, a triac without drop, currents of gate, latching and
// holding far below 1 µA, and a random-phase opto that is driven with a delay.

// delayed drives the triac of a one-channel board delay degrees after the
// zero in the half-cycles that want says, in one pulse.
func delayed(b *models.Board, delay func(half int64) (float64, bool)) func(int64) Input {
	T := b.Supply.HalfCycle()
	return func(half int64) Input {
		in := Input{Factor: 1, Drive: []float64{0}}
		a, ok := delay(half)
		if !ok || a >= 180 {
			return in
		}
		at := a / 180 * T
		if at == 0 {
			in.Drive[0] = 12
		} else {
			in.Changes = append(in.Changes, DriveChange{After: at, Channel: 0, Volts: 12})
		}
		in.Changes = append(in.Changes, DriveChange{After: (at + T) / 2, Channel: 0, Volts: 0})
		return in
	}
}

func bothHalves(a float64) func(int64) (float64, bool) {
	return func(int64) (float64, bool) { return a, true }
}

// loadVoltage records one cycle and returns the recording and the load's
// voltage.
func loadVoltage(t *testing.T, b *models.Board, halves int, delay func(int64) (float64, bool)) (*Recording, Signal) {
	t.Helper()
	s := mustNew(t, b)
	r := mustRecord(t, s, halves, delayed(b, delay))
	return r, voltOf(t, s, models.At(models.Output, 0), models.Node{})
}

// phaseTable is the full-wave alternating-voltage controller with a resistive
// load: delay in degrees; rms and rectified mean of the load's voltage over
// the rms of the supply; power over full power. Closed forms of e.g. Rashid,
// Power Electronics, chapter on AC voltage controllers:
//
//	V/Vs = √(1 − α/π + sin 2α/(2π)), mean|v|/Vs = (√2/π)(1 + cos α)
var phaseTable = []struct{ delay, rms, power, mean float64 }{
	{0, 1, 1, 0.900316316157},
	{10, 0.999439163177, 0.998878640892, 0.893477402236},
	{20, 0.995586115978, 0.991191714329, 0.873168457412},
	{30, 0.985477324543, 0.971165557189, 0.840006558695},
	{40, 0.966703056613, 0.934514799665, 0.794999313599},
	{50, 0.937528263099, 0.878959244109, 0.739514244491},
	{60, 0.896938621379, 0.804498890522, 0.675237237118},
	{70, 0.844638346602, 0.713413936551, 0.604121315824},
	{80, 0.781018406955, 0.609989752003, 0.528327301891},
	{90, 0.707106781187, 0.5, 0.450158158079},
	{100, 0.62450800475, 0.390010247997, 0.371989014266},
	{110, 0.535337336125, 0.286586063449, 0.296195000333},
	{120, 0.442155074016, 0.195501109478, 0.225079079039},
	{130, 0.34790912016, 0.121040755891, 0.160802071666},
	{140, 0.25590076267, 0.0654852003351, 0.105317002558},
	{150, 0.169807075268, 0.0288344428112, 0.0603097574617},
	{160, 0.0938524675822, 0.00880828567127, 0.0271478587456},
	{170, 0.0334867004686, 0.00112135910828, 0.0068389139211},
	{180, 0, 0, 0},
}

// TestPhaseControl compares the whole table, by the means of the waveform and
// by the energies.
func TestPhaseControl(t *testing.T) {
	const volts, load = 240.0, 48.0
	for _, row := range phaseTable {
		b := idealBoard(volts, 50, load)
		r, v := loadVoltage(t, b, 2, bothHalves(row.delay))
		m := r.Moments(v)
		name := fmt.Sprintf("delay %g°: ", row.delay)
		near(t, name+"rms", math.Sqrt(m.MeanSquare)/volts, row.rms, max(row.rms, 1e-3), 1e-9)
		near(t, name+"mean magnitude", m.MeanAbs/volts, row.mean, max(row.mean, 1e-3), 1e-9)
		near(t, name+"mean", m.Mean/volts, 0, 1, 1e-9)
		s := mustNew(t, b)
		in := delayed(b, bothHalves(row.delay))
		for range 2 {
			rec, err := s.HalfCycle(in(s.Half()))
			if err != nil {
				t.Fatal(err)
			}
			near(t, name+"power", rec.Element[0]/rec.Duration/1200, row.power, max(row.power, 1e-3), 1e-9)
		}
	}
}

// TestPowerFractions takes the delays for given fractions of full power, the
// inverse of the same closed form (root-find).
func TestPowerFractions(t *testing.T) {
	for _, row := range []struct{ power, delay float64 }{
		{0.9, 46.603050495}, {0.75, 66.173229417}, {0.5, 90}, {0.25, 113.82677058}, {0.1, 133.3969495},
	} {
		r, v := loadVoltage(t, idealBoard(230, 60, 40), 2, bothHalves(row.delay))
		near(t, fmt.Sprintf("power at %g°", row.delay), r.Moments(v).MeanSquare/(230*230), row.power, 1, 1e-9)
	}
}

// TestHalfWave lets one polarity through, whole and with delay: rms over
// supply rms 1/√2 of the full-wave value, mean √2(1 + cos α)/(2π) (circuit
// texts).
func TestHalfWave(t *testing.T) {
	even := func(a float64) func(int64) (float64, bool) {
		return func(half int64) (float64, bool) { return a, half%2 == 0 }
	}
	r, v := loadVoltage(t, idealBoard(240, 50, 48), 2, even(0))
	m := r.Moments(v)
	near(t, "rms", math.Sqrt(m.MeanSquare), 169.7056275, 240, 1e-9)
	near(t, "mean", m.Mean, 108.0379579, 240, 1e-9)
	for _, row := range phaseTable[:18] {
		r, v := loadVoltage(t, idealBoard(1, 50, 48), 2, even(row.delay))
		m := r.Moments(v)
		name := fmt.Sprintf("delay %g°: ", row.delay)
		near(t, name+"rms", math.Sqrt(m.MeanSquare), row.rms/math.Sqrt2, row.rms, 1e-9)
		near(t, name+"mean", m.Mean, math.Sqrt2*(1+math.Cos(row.delay*math.Pi/180))/(2*math.Pi), row.mean, 1e-9)
	}
	r, v = loadVoltage(t, idealBoard(1, 50, 48), 2, even(90))
	m = r.Moments(v)
	near(t, "rms at 90°", math.Sqrt(m.MeanSquare), 0.5, 1, 1e-9)
	near(t, "mean at 90°", m.Mean, 0.225079079039, 1, 1e-9)
}

// TestOptoFiresOneWay has the half-wave come from an opto that fires in one
// polarity only, driven throughout.
func TestOptoFiresOneWay(t *testing.T) {
	for _, fires := range []int{1, -1} {
		for _, mt1 := range []models.MT1Side{models.MT1Supply, models.MT1Load} {
			b := idealBoard(240, 50, 48)
			b.Channels[0].Opto.Fires, b.Channels[0].MT1 = fires, mt1
			s := mustNew(t, b)
			r := mustRecord(t, s, 2, drives(12))
			m := r.Moments(voltOf(t, s, models.At(models.Output, 0), models.Node{}))
			// MT2 is OUT, and negative against MT1 while the supply is
			// positive, unless MT1 points to the load.
			sign := -float64(fires)
			if mt1 == models.MT1Load {
				sign = float64(fires)
			}
			near(t, fmt.Sprintf("mean with polarity %+d, MT1 toward %v", fires, mt1), m.Mean, sign*108.0379579, 240, 1e-9)
		}
	}
}

// TestBurst drives whole cycles, n of N: Vs·√(n/N) (Rashid, on-off control).
func TestBurst(t *testing.T) {
	for _, row := range []struct {
		n, of int
		ratio float64
	}{
		{1, 3, 0.57735026919}, {2, 5, 0.632455532034}, {3, 5, 0.774596669241}, {7, 10, 0.836660026534}, {9, 10, 0.948683298051},
	} {
		r, v := loadVoltage(t, idealBoard(230, 50, 40), 2*row.of, func(half int64) (float64, bool) {
			return 0, half/2 < int64(row.n)
		})
		m := r.Moments(v)
		near(t, fmt.Sprintf("%d of %d cycles", row.n, row.of), math.Sqrt(m.MeanSquare)/230, row.ratio, 1, 1e-9)
		near(t, "mean", m.Mean/230, 0, 1, 1e-9)
	}
}

// TestBurstExample and TestPhaseExample are two worked examples of Rashid,
// Power Electronics (attribution from memory): 120 V, 10 Ω.
func TestBurstExample(t *testing.T) {
	r, v := loadVoltage(t, idealBoard(120, 60, 10), 200, func(half int64) (float64, bool) { return 0, half < 50 })
	m := r.Moments(v)
	rms := math.Sqrt(m.MeanSquare)
	near(t, "Vo", rms, 60, 60, 1e-9)
	near(t, "Io", rms/10, 6, 6, 1e-9)
	near(t, "P", m.MeanSquare/10, 360, 360, 1e-9)
	near(t, "power factor", m.MeanSquare/10/(120*rms/10), 0.5, 0.5, 1e-9)
	// One of two antiparallel thyristors carries one polarity.
	near(t, "thyristor mean", m.MeanAbs/10/2, 1.35047447, 1.35, 5e-9)
	near(t, "thyristor rms", rms/10/math.Sqrt2, 4.24264069, 4.24, 5e-9)
}

func TestPhaseExample(t *testing.T) {
	r, v := loadVoltage(t, idealBoard(120, 60, 10), 2, bothHalves(90))
	m := r.Moments(v)
	rms := math.Sqrt(m.MeanSquare)
	near(t, "Vo", rms, 84.8528137, 84.85, 1e-9)
	near(t, "Io", rms/10, 8.48528137, 8.485, 1e-9)
	near(t, "P", m.MeanSquare/10, 720, 720, 1e-9)
	near(t, "power factor", m.MeanSquare/10/(120*rms/10), 0.7071, 0.7071, 2e-5)
	near(t, "thyristor mean", m.MeanAbs/10/2, 2.70094895, 2.7, 5e-9)
	near(t, "thyristor rms", rms/10/math.Sqrt2, 6, 6, 1e-9)
}

// harmonic returns the amplitude of the n-th harmonic of a signal over the
// recording, and the parts in phase with the sine and the cosine, by Gauss'
// quadrature of each smooth piece.
func harmonic(r *Recording, sig Signal, n int, omega float64) (amp, sin, cos float64) {
	total := r.Duration()
	for i := range r.segments {
		s := &r.segments[i]
		start := r.start(s)
		part := func(f func(float64) float64) float64 {
			return quad.Fixed(func(x float64) float64 {
				return s.Value(sig, x) * f(float64(n)*omega*(x+start))
			}, s.T0, s.T1, 60, quad.Legendre{}, 0)
		}
		sin += 2 / total * part(math.Sin)
		cos += 2 / total * part(math.Cos)
	}
	return math.Hypot(sin, cos), sin, cos
}

// TestHarmonics compares the spectrum of the phase-cut current with its closed
// form (third harmonic confirmed by numerical Fourier integrals):
//
//	a1 = (cos 2α − 1)/(2π), b1 = (2(π − α) + sin 2α)/(2π)
//
// amplitudes over that of the uncut sine, total distortion, displacement
// factor.
func TestHarmonics(t *testing.T) {
	for _, row := range []struct {
		delay, c1, h3, h5, h7, h9, thd, displacement float64
	}{
		{30, 0.974420398723, 0.07957747155, 0.07018073322, 0.05781169278, 0.04430686102, 0.1510732371, 0.9966597153},
		{60, 0.839173182752, 0.2387324146, 0.1378322239, 0.06891611193, 0.0631626599, 0.377373401, 0.9586804095},
		{90, 0.592723530529, 0.3183098862, 0.1061032954, 0.1061032954, 0.06366197724, 0.6505375636, 0.8435636081},
		{120, 0.30856741501, 0.2387324146, 0.1378322239, 0.06891611193, 0.0631626599, 1.026296435, 0.6335766512},
		{150, 0.0846404103835, 0.07957747155, 0.07018073322, 0.05781169278, 0.04430686102, 1.739226491, 0.3406699315},
	} {
		b := idealBoard(230, 50, 44)
		s := mustNew(t, b)
		r := mustRecord(t, s, 2, delayed(b, bothHalves(row.delay)))
		i := ampOf(t, s, "wire1")
		full := math.Sqrt2 * 230 / 44
		omega := 2 * math.Pi * 50.0
		name := func(s string) string { return fmt.Sprintf("delay %g°: %s", row.delay, s) }
		c1, sin, _ := harmonic(r, i, 1, omega)
		near(t, name("fundamental"), c1/full, row.c1, 1, 1e-9)
		near(t, name("displacement factor"), sin/c1, row.displacement, 1, 1e-9)
		for _, h := range []struct {
			n    int
			want float64
		}{{3, row.h3}, {5, row.h5}, {7, row.h7}, {9, row.h9}, {2, 0}, {4, 0}} {
			amp, _, _ := harmonic(r, i, h.n, omega)
			near(t, name(fmt.Sprintf("harmonic %d", h.n)), amp/full, h.want, 1, 1e-9)
		}
		thd := math.Sqrt(2*r.Moments(i).MeanSquare/(c1*c1) - 1)
		near(t, name("total harmonic distortion"), thd, row.thd, row.thd, 1e-8)
	}
}

// TestHarmonicCurrentLimit: 2000 W at 230 V and 90° draw a third harmonic of
// 2.768 A, more than the 2.30 A of IEC 61000-3-2 Table 1, which 1661.9 W just
// meet.
func TestHarmonicCurrentLimit(t *testing.T) {
	third := func(watts float64) float64 {
		b := idealBoard(230, 50, 230*230/watts)
		s := mustNew(t, b)
		r := mustRecord(t, s, 2, delayed(b, bothHalves(90)))
		amp, _, _ := harmonic(r, ampOf(t, s, "wire1"), 3, 2*math.Pi*50)
		return amp / math.Sqrt2
	}
	near(t, "third harmonic of 2000 W", third(2000), 2.76791205377, 2.77, 1e-9)
	near(t, "third harmonic of 1661.9 W", third(1661.90251375), 2.30, 2.3, 1e-9)
}
