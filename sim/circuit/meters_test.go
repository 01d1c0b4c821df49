package circuit

import (
	"fmt"
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// meterTable is what ideal detectors read, as a fraction of the rms of the
// full sine: A average full-wave, B the same capacitor-coupled, C true rms
// capacitor-coupled, D true rms, E mean. Closed forms (form and crest factor
// in circuit and measurement texts), e.g. for the half-wave
// B = √(1 − 1/π²) − 1/2 + asin(1/π)/π and C = √(1/2 − 2/π²). "asym 90" has
// one half-cycle full and the positive one delayed by 90°.
var meterTable = []struct {
	name          string
	a, b, c, d, e float64
	delay         func(half int64) (float64, bool)
}{
	{"sine", 1, 1, 1, 1, 0, bothHalves(0)},
	{"half-wave", 0.5, 0.551101965822, 0.545305082239, 0.707106781187, 0.450158158079, onePolarity(0)},
	{"full-wave rectified", 1, 0.421027324706, 0.435236178254, 1, 0.900316316157, nil},
	{"symmetric cut 30", 0.933012701892, 0.933012701892, 0.985477324543, 0.985477324543, 0, bothHalves(30)},
	{"symmetric cut 60", 0.75, 0.75, 0.896938621379, 0.896938621379, 0, bothHalves(60)},
	{"symmetric cut 90", 0.5, 0.5, 0.707106781187, 0.707106781187, 0, bothHalves(90)},
	{"symmetric cut 120", 0.25, 0.25, 0.442155074016, 0.442155074016, 0, bothHalves(120)},
	{"symmetric cut 150", 0.0669872981078, 0.0669872981078, 0.169807075268, 0.169807075268, 0, bothHalves(150)},
	{"half-wave cut 30", 0.466506350946, 0.566474292276, 0.556039588457, 0.69683769889, 0.420003279348, onePolarity(30)},
	{"half-wave cut 60", 0.375, 0.514317150145, 0.536901400318, 0.634231381486, 0.337618618559, onePolarity(60)},
	{"half-wave cut 90", 0.25, 0.381346043885, 0.44647442052, 0.5, 0.225079079039, onePolarity(90)},
	{"half-wave cut 120", 0.125, 0.209917313867, 0.291694029393, 0.312650851173, 0.11253953952, onePolarity(120)},
	{"half-wave cut 150", 0.0334936490539, 0.0615186921615, 0.116223511797, 0.120071734416, 0.0301548787309, onePolarity(150)},
	{"asym 90", 0.75, 0.76269208777, 0.83626515423, 0.866025403784, -0.225079079039, func(half int64) (float64, bool) {
		return 90 * float64(1-half%2), true
	}},
}

func onePolarity(a float64) func(int64) (float64, bool) {
	return func(half int64) (float64, bool) { return a, half%2 == 0 }
}

// rectifierBoard makes a bridge rectifier of four one-way paths between the
// terminals of two channels whose triacs and loads are disconnected.
func rectifierBoard(volts, hertz float64) (b *models.Board, plus, minus models.Node) {
	b = idealBoard(volts, hertz, 48)
	b.Channels = append(b.Channels, idealChannel(48))
	for k := range b.Channels {
		c := &b.Channels[k]
		c.Triac.Open, c.Triac.GateOpen, c.GateResistance, c.Wire = true, true, q.Ohm(inf), q.Ohm(inf)
		c.Opto.Off = 0
	}
	l, n := models.At(models.Line, 0), models.At(models.Neutral, 0)
	plus, minus = models.At(models.Output, 0), models.At(models.Output, 1)
	path := func(name string, a, z models.Node) {
		b.Bridges = append(b.Bridges, models.Bridge{Name: name, From: a, To: z, Resistance: 1e-9, OneWay: true})
	}
	path("1", l, plus)
	path("2", n, plus)
	path("3", minus, l)
	path("4", minus, n)
	b.Bridges = append(b.Bridges, models.Bridge{Name: "load", From: plus, To: minus, Resistance: 48})
	return b, plus, minus
}

func TestMeterTable(t *testing.T) {
	for _, volts := range []float64{240, 120} {
		for _, row := range meterTable {
			var m models.Moments
			if row.delay == nil {
				b, plus, minus := rectifierBoard(volts, 60)
				s := mustNew(t, b)
				m = mustRecord(t, s, 2, drives(0, 0)).Moments(voltOf(t, s, plus, minus))
			} else {
				r, v := loadVoltage(t, idealBoard(volts, 50, 48), 2, row.delay)
				m = r.Moments(v)
			}
			for _, x := range []struct {
				d    models.Detector
				want float64
			}{
				{models.AverageFullWave, row.a}, {models.AverageFullWaveCoupled, row.b}, {models.RMSCoupled, row.c},
				{models.RMSDirect, row.d}, {models.Direct, row.e},
				// A single diode sees the positive part only.
				{models.AverageHalfWave, row.a + math.Pi/(2*math.Sqrt2)*row.e},
			} {
				near(t, fmt.Sprintf("%s, %v", row.name, x.d), x.d.Indicated(m)/volts, x.want, 1, 1e-9)
			}
		}
	}
}

// TestHalfWaveByMeter: the half-wave normalised to its true rms (derived from
// the table above), and the half-wave detector that reads all or nothing,
// depending on which way round its leads are.
func TestHalfWaveByMeter(t *testing.T) {
	r, v := loadVoltage(t, idealBoard(240, 50, 48), 2, onePolarity(0))
	m := r.Moments(v)
	rms := models.RMSDirect.Indicated(m)
	near(t, "average, coupled", models.AverageFullWaveCoupled.Indicated(m)/rms, 0.779375874316, 1, 1e-9)
	near(t, "rms, coupled", models.RMSCoupled.Indicated(m)/rms, 0.771177842933, 1, 1e-9)
	near(t, "mean", models.Direct.Indicated(m)/rms, 0.636619772368, 1, 1e-9)
	near(t, "half-wave detector", models.AverageHalfWave.Indicated(m)/240, 1, 1, 1e-9)
	s := mustNew(t, idealBoard(240, 50, 48))
	r = mustRecord(t, s, 2, delayed(s.board, onePolarity(0)))
	m = r.Moments(voltOf(t, s, models.Node{}, models.At(models.Output, 0)))
	near(t, "half-wave detector, leads exchanged", models.AverageHalfWave.Indicated(m)/240, 0, 1, 1e-9)

	b, plus, minus := rectifierBoard(240, 50)
	s = mustNew(t, b)
	r = mustRecord(t, s, 2, drives(0, 0))
	near(t, "half-wave detector, full wave", models.AverageHalfWave.Indicated(r.Moments(voltOf(t, s, plus, minus)))/240, 2, 1, 1e-9)
	near(t, "exchanged", models.AverageHalfWave.Indicated(r.Moments(voltOf(t, s, minus, plus)))/240, 0, 1, 1e-9)
}

// ghostBoard has a snubber of 100 Ω and 10 nF across a blocking triac without
// leakage, and a meter from OUT to N.
func ghostBoard(meter float64) *models.Board {
	b := idealBoard(240, 50, 48)
	c := &b.Channels[0]
	c.Opto.Off = 0
	c.Snubber = models.Snubber{Resistance: 100, Capacitance: 1e-8}
	b.Bridges = []models.Bridge{{Name: "meter", From: models.At(models.Output, 0), To: models.At(models.Neutral, 0), Resistance: q.Ohm(meter)}}
	return b
}

func rmsOf(t *testing.T, b *models.Board, volts float64, sig func(*Solver) Signal) float64 {
	t.Helper()
	s := mustNew(t, b)
	d := make([]float64, len(b.Channels))
	for k := range d {
		d[k] = volts
	}
	mustSkip(t, s, 2, drives(d...))
	r := mustRecord(t, s, 2, drives(d...))
	return math.Sqrt(r.Moments(sig(s)).MeanSquare)
}

// TestGhostVoltage compares what meters read through a snubber with the
// complex divider: off triac, open load; the same with the load connected.
func TestGhostVoltage(t *testing.T) {
	out := func(s *Solver) Signal {
		return voltOf(t, s, models.At(models.Output, 0), models.At(models.Neutral, 0))
	}
	for _, row := range []struct{ meter, want float64 }{{1e7, 239.876111}, {1e6, 228.672960}, {3000, 2.2618394}} {
		b := ghostBoard(row.meter)
		b.Channels[0].Element.Open = true
		got := rmsOf(t, b, 0, out)
		near(t, fmt.Sprintf("%g Ω meter", row.meter), got, row.want, row.want, 3e-8)
		x := 1 / (100 * math.Pi * 1e-8)
		near(t, "divider", got, 240*row.meter/math.Hypot(row.meter+100, x), row.want, 1e-10)
	}
	b := ghostBoard(inf)
	near(t, "with 48 Ω load", rmsOf(t, b, 0, out), 0.03619114346, 0.036, 1e-9)
	// The printed current is that of capacitor, 100 Ω and 48 Ω in series.
	near(t, "snubber current", rmsOf(t, b, 0, func(s *Solver) Signal { return ampOf(t, s, "snubber-resistor1") }), 0.7539821554e-3, 7.5e-4, 1e-9)
	b.Channels[0].Element.Resistance = 1e-6
	near(t, "snubber current, 100 Ω in series", rmsOf(t, b, 0, func(s *Solver) Signal { return ampOf(t, s, "snubber-resistor1") }), 0.7539821997e-3, 7.5e-4, 1e-9)
	b.Channels[0].Snubber.Resistance = 1e-6
	near(t, "ωCV", rmsOf(t, b, 0, func(s *Solver) Signal { return ampOf(t, s, "snubber-resistor1") }), 0.753982236862e-3, 7.5e-4, 1e-9)
}

// TestOpenElement measures across the break of an element: a divider of the
// meter with what is left of the element.
func TestOpenElement(t *testing.T) {
	b := idealBoard(240, 50, 96) // the near half, 48 Ω, is left
	b.Channels[0].Element.Open = true
	mid, n := models.At(models.Midpoint, 0), models.At(models.Neutral, 0)
	b.Bridges = []models.Bridge{{Name: "meter", From: mid, To: n, Resistance: 1e7}}
	got := rmsOf(t, b, 12, func(s *Solver) Signal { return voltOf(t, s, mid, n) })
	near(t, "across the break", got, 239.998848006, 240, 1e-9)
}
