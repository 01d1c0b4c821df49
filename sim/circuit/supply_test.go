package circuit

import (
	"fmt"
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// TestReferenceImpedance drops the voltage of resistive loads across the
// reference impedance of IEC 60725 (0.4 + j0.25 Ω; IEC 61000-3-3 Figure 1),
// line and neutral 0.24 + j0.15 and 0.16 + j0.10 Ω, on 230 V, 50 Hz. The
// percentages are exact series-impedance division.
func TestReferenceImpedance(t *testing.T) {
	w := 100 * math.Pi
	for _, row := range []struct{ watts, percent float64 }{
		{1000, 0.751560777}, {1500, 1.12392423}, {2000, 1.49402778}, {3000, 2.22750954},
	} {
		b := idealBoard(230, 50, 48)
		b.Supply.LineResistance, b.Supply.LineInductance = 0.4, q.Henry(0.25/w)
		b.Channels[0].Opto.Off = 0
		l, n := models.At(models.Line, 0), models.At(models.Neutral, 0)
		b.Channels[0].Opto.Off = 0
		b.Bridges = []models.Bridge{{Name: "load", From: l, To: n, Resistance: q.Ohm(230 * 230 / row.watts)}}
		v := rmsOf(t, b, 0, func(s *Solver) Signal { return voltOf(t, s, l, n) })
		near(t, fmt.Sprintf("drop of %g W", row.watts), (1-v/230)*100, row.percent, row.percent, 5e-9)

		// The same seen from the loop: |Z| = 0.471699056603 Ω.
		i := rmsOf(t, b, 0, func(s *Solver) Signal { return ampOf(t, s, "bridge load") })
		z := rmsOf(t, b, 0, func(s *Solver) Signal { return ampOf(t, s, "source") })
		near(t, "loop current", z, i, i, 1e-9)
		lost := rmsOf(t, b, 0, func(s *Solver) Signal { return voltOf(t, s, models.At(models.Source, 0), l) })
		near(t, "loop impedance", lost/i, 0.471699056603, 1, 1e-9)

		// The same split between line and neutral, each damped by 1 MΩ.
		s := &b.Supply
		s.LineResistance, s.LineInductance = 0.24, q.Henry(0.15/w)
		s.NeutralResistance, s.NeutralInductance = 0.16, q.Henry(0.10/w)
		s.Damping = 1e6
		v = rmsOf(t, b, 0, func(s *Solver) Signal { return voltOf(t, s, l, n) })
		near(t, fmt.Sprintf("drop of %g W, split", row.watts), (1-v/230)*100, row.percent, row.percent, 2e-7)
	}
}

// TestPeakAndSlope: peak and slope of the supply, fall of the current before a
// triac turns off (closed form √2·V·ω).
func TestPeakAndSlope(t *testing.T) {
	for _, row := range []struct{ volts, hertz, slope float64 }{{240, 50, 0.1066291905e6}, {120, 60, 0.06397751431e6}} {
		b := idealBoard(row.volts, row.hertz, 48)
		s := mustNew(t, b)
		v := voltOf(t, s, models.At(models.Line, 0), models.Node{})
		r := mustRecord(t, s, 1, drives(0))
		_, peak := r.Sample(v, r.half/2, r.half/2, 1)
		near(t, "peak", peak[0], row.volts*math.Sqrt2, row.volts, 1e-12)
		near(t, "slope at zero", r.segments[0].rate(s.net.sigVolt(s.net.part("triac1")), 0), -row.slope, row.slope, 1e-9)
	}
	near(t, "peak of 240 V", math.Sqrt2*240, 339.411255, 340, 2e-9)
	s := mustNew(t, idealBoard(240, 50, 48))
	mustSkip(t, s, 2, func(h int64) Input { return Input{Factor: 1, Drive: []float64{12 * float64(1-h)}} })
	near(t, "di/dt of 5 A at turn-off", s.chans[0].offSlope, 2221.441469, 2221, 1e-9)
}

// TestRatedPower: 1200 W, 1500 W, 1000 W at 240 V are 48, 38.4, 57.6 Ω, and
// take 0.918402777778 of that at 230 V (Ohm).
func TestRatedPower(t *testing.T) {
	for _, row := range []struct{ watts, ohms float64 }{{1200, 48}, {1500, 38.4}, {1000, 57.6}} {
		for _, volts := range []float64{240, 230} {
			s := mustNew(t, idealBoard(volts, 50, row.ohms))
			rec, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
			if err != nil {
				t.Fatal(err)
			}
			want := row.watts
			if volts == 230 {
				want *= 0.918402777778
			}
			near(t, fmt.Sprintf("power of %g Ω at %g V", row.ohms, volts), rec.Element[0]/rec.Duration, want, want, 1e-9)
		}
	}
}

// TestConductionLoss is P = V_T0·I_avg + r·I_rms² of a full sine, with
// I_avg = 2√2/π·I_rms (power-semiconductor texts), V_T0 = 1 V, r = 25 mΩ. The
// source is so high that the triac's drop does not bend the sine.
func TestConductionLoss(t *testing.T) {
	for _, row := range []struct{ amps, watts float64 }{{2, 1.900632632}, {5, 5.126581581}, {10, 11.50316316}} {
		const volts = 2.4e8
		b := idealBoard(volts, 50, volts/row.amps)
		b.Channels[0].Triac.Threshold, b.Channels[0].Triac.Slope = 1, 0.025
		b.Channels[0].Opto.Threshold = 2 // so that the gate path is off with the triac on
		s := mustNew(t, b)
		rec, err := s.HalfCycle(Input{Factor: 1, Drive: []float64{12}})
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("loss at %g A", row.amps), rec.Triac[0]/rec.Duration, row.watts, row.watts, 2e-8)
	}
}

// TestSupplyWaveform compares the source of the solution with the supply's
// own formula over both half-cycles, and its rms with the root of the sum of
// squares.
func TestSupplyWaveform(t *testing.T) {
	b := idealBoard(230, 60, 48)
	b.Supply.DC = 1.5
	b.Supply.Harmonics = []models.Harmonic{{Order: 2, Voltage: 3, Phase: 30}, {Order: 3, Voltage: 11.5, Phase: 0}, {Order: 5, Voltage: 13.8, Phase: 180}, {Order: 40, Voltage: 1, Phase: -77}}
	s := mustNew(t, b)
	e := voltOf(t, s, models.At(models.Source, 0), models.Node{})
	r := mustRecord(t, s, 4, drives(0))
	times, v := r.Sample(e, 0, r.Duration(), 997)
	for i, x := range times {
		near(t, fmt.Sprintf("e(%.4g ms)", x*1e3), v[i], b.Supply.EMF(2*math.Pi*60*x), 325, 1e-12)
	}
	sum := 230*230 + 1.5*1.5 + 3*3 + 11.5*11.5 + 13.8*13.8 + 1*1
	m := r.Moments(e)
	near(t, "rms", math.Sqrt(m.MeanSquare), math.Sqrt(sum), 230, 1e-12)
	near(t, "mean", m.Mean, 1.5, 230, 1e-12)
}

// TestSupplyFactor: a sag to 70 % takes effect at the zero and scales the
// fundamental and its harmonics.
func TestSupplyFactor(t *testing.T) {
	b := idealBoard(230, 50, 40)
	b.Supply.Harmonics = []models.Harmonic{{Order: 5, Voltage: 10, Phase: 20}}
	s := mustNew(t, b)
	var got []float64
	for _, f := range []float64{1, 0.7, 0, 1} {
		rec, err := s.HalfCycle(Input{Factor: f, Drive: []float64{12}})
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, rec.Element[0]/rec.Duration)
	}
	full := (230*230 + 10*10) / 40.0
	for i, want := range []float64{1, 0.49, 0, 1} {
		near(t, fmt.Sprintf("half-cycle %d", i), got[i], want*full, full, 1e-9)
	}
}
