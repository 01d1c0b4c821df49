package models_test

import (
	"fmt"
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"

	"pgregory.net/rapid"
)

// warmTriac has the values that part of the trade calls typical at 25 °C.
func warmTriac() models.Triac {
	return models.Triac{
		Off:     5e-8,
		Trigger: [4]q.Ampere{0.025, 0.026, 0.027, 0.050}, Latching: 0.040, Holding: 0.030,
		StaticRate: 200e6, CommutatingRate: 5e6, CommutatingFall: 5e3, TurnOffTime: 50e-6,
		TriggerScale: 110, LatchingScale: 150, HoldingScale: 150, RateScale: 60,
	}
}

func TestQuadrantOf(t *testing.T) {
	for _, c := range []struct {
		v, iG float64
		want  models.Quadrant
	}{
		{1, 1, models.QuadrantI}, {1, -1, models.QuadrantII}, {-1, -1, models.QuadrantIII}, {-1, 1, models.QuadrantIV},
		{1e-300, 1e-300, models.QuadrantI}, {-1e-300, -1e-300, models.QuadrantIII},
		// Without a sign of its own a zero counts as positive.
		{0, 0, models.QuadrantI}, {0, -1, models.QuadrantII}, {-1, 0, models.QuadrantIV},
	} {
		if got := models.QuadrantOf(c.v, c.iG); got != c.want {
			t.Errorf("v %g, iG %g: quadrant %d, want %d", c.v, c.iG, got+1, c.want+1)
		}
	}
}

// TestTriacTemperatureLaws: at 25 °C each value is the one given; currents and
// rates fall by the factor e over their scale, so that two equal steps of
// temperature give two equal factors.
func TestTriacTemperatureLaws(t *testing.T) {
	tr := warmTriac()
	for _, law := range []struct {
		name          string
		at            func(tj float64) float64
		at25, overOne float64
	}{
		{"I_GT I", func(tj float64) float64 { return tr.TriggerAt(models.QuadrantI, tj) }, 0.025, 110},
		{"I_GT II", func(tj float64) float64 { return tr.TriggerAt(models.QuadrantII, tj) }, 0.026, 110},
		{"I_GT III", func(tj float64) float64 { return tr.TriggerAt(models.QuadrantIII, tj) }, 0.027, 110},
		{"I_GT IV", func(tj float64) float64 { return tr.TriggerAt(models.QuadrantIV, tj) }, 0.050, 110},
		{"I_L", tr.LatchingAt, 0.040, 150},
		{"I_H", tr.HoldingAt, 0.030, 150},
		{"static dv/dt", tr.StaticRateAt, 200e6, 60},
	} {
		near(t, law.name+" at 25 °C", law.at(25), law.at25, law.at25, 0)
		near(t, law.name+" a scale above", law.at(25+law.overOne), law.at25/math.E, law.at25, 1e-15)
		near(t, law.name+" two scales above", law.at(25+2*law.overOne), law.at25/(math.E*math.E), law.at25, 1e-15)
		near(t, law.name+" a scale below", law.at(25-law.overOne), law.at25*math.E, law.at25, 1e-14)
		near(t, law.name+" by slope", (law.at(60.001)-law.at(59.999))/0.002, -law.at(60)/law.overOne, law.at25/law.overOne, 1e-8)
	}
	near(t, "I_GT without a scale", (&models.Triac{Trigger: [4]q.Ampere{1}, TriggerScale: q.Kelvin(math.Inf(1))}).TriggerAt(models.QuadrantI, 125), 1, 1, 0)

	// Handbooks, from memory, so as a range only: I_GT is 1.5 to 2 times as
	// much at −40 °C and 0.3 to 0.5 times at 125 °C.
	if r := tr.TriggerAt(models.QuadrantI, -40) / 0.025; r < 1.5 || r > 2 {
		t.Errorf("I_GT is %.2f times as much at -40 °C, expected 1.5 to 2", r)
	}
	if r := tr.TriggerAt(models.QuadrantI, 125) / 0.025; r < 0.3 || r > 0.5 {
		t.Errorf("I_GT is %.2f times as much at 125 °C, expected 0.3 to 0.5", r)
	}
}

// TestLeakageDoubles: leakage doubles every 10 K (handbooks, from memory); 32
// and 1024 are arithmetic.
func TestLeakageDoubles(t *testing.T) {
	tr := warmTriac()
	near(t, "g_off at 25 °C", tr.OffAt(25), 5e-8, 5e-8, 0)
	for _, c := range []struct{ kelvin, factor float64 }{{10, 2}, {20, 4}, {50, 32}, {100, 1024}, {-10, 0.5}} {
		near(t, fmt.Sprintf("g_off %g K above 25 °C", c.kelvin), tr.OffAt(25+c.kelvin), 5e-8*c.factor, 5e-8*c.factor, 1e-15)
	}
	near(t, "from 65 °C to 75 °C", tr.OffAt(75)/tr.OffAt(65), 2, 2, 1e-15)
}

// TestCommutatingRate: the limit is a hyperbola in di/dt through the rated
// point, cut off at the static limit, for either sign of the current.
func TestCommutatingRate(t *testing.T) {
	tr := warmTriac()
	near(t, "at the rated fall", tr.CommutatingRateAt(5e3, 25), 5e6, 5e6, 1e-15)
	near(t, "at twice the rated fall", tr.CommutatingRateAt(1e4, 25), 2.5e6, 5e6, 1e-15)
	near(t, "at the rated fall, rising", tr.CommutatingRateAt(-5e3, 25), 5e6, 5e6, 1e-15)
	near(t, "a scale warmer", tr.CommutatingRateAt(5e3, 85), 5e6/math.E, 5e6, 1e-15)
	for _, didt := range []float64{0, 1e-300, 1, 124.9} {
		near(t, fmt.Sprintf("at %g A/s", didt), tr.CommutatingRateAt(didt, 25), 200e6, 200e6, 0)
	}
	// 5 V/µs · 5 A/ms = 200 V/µs · 0.125 A/ms.
	near(t, "where the two limits meet", tr.CommutatingRateAt(125.1, 25), 200e6/1.0008, 200e6, 1e-12)

	rapid.Check(t, func(t *rapid.T) {
		tr := warmTriac()
		tr.CommutatingRate = q.VoltPerSecond(rapid.Float64Range(1, 1e9).Draw(t, "commutating"))
		tr.StaticRate = q.VoltPerSecond(rapid.Float64Range(1, 1e9).Draw(t, "static"))
		tj := rapid.Float64Range(-40, 150).Draw(t, "tj")
		a, b := rapid.Float64Range(0, 1e6).Draw(t, "a"), rapid.Float64Range(0, 1e6).Draw(t, "b")
		ra, rb := tr.CommutatingRateAt(a, tj), tr.CommutatingRateAt(b, tj)
		if limit := tr.StaticRateAt(tj); ra > limit || rb > limit || !(ra > 0) {
			t.Fatalf("%v and %v V/s, expected more than 0 and at most the static %v", ra, rb, limit)
		}
		if a < b && ra < rb {
			t.Fatalf("%v V/s at %v A/s and %v V/s at %v A/s, expected no more for a faster fall", ra, a, rb, b)
		}
	})
}

// TestFosterTable: Z_th(t) = Σ R·(1 − exp(−t/τ)), JESD51-14 and texts on power
// semiconductors; values in closed form.
func TestFosterTable(t *testing.T) {
	tr := models.Triac{Foster: []models.FosterStage{{Resistance: 0.2, Time: 0.001}, {Resistance: 0.6, Time: 0.05}, {Resistance: 0.7, Time: 1.5}}}
	for _, row := range []struct {
		seconds float64
		want    string
	}{{0.001, "0.1387714189"}, {0.01, "0.3134036138"}, {0.1, "0.7639439405"}, {1, "1.140608015"}, {10, "1.499109156"}} {
		stages := make([]float64, 3)
		printed(t, fmt.Sprintf("Z after %g s", row.seconds), tr.FosterStep(stages, 1, row.seconds), row.want)

		// The same time in a hundred steps, at 20 W.
		stages = make([]float64, 3)
		var sum float64
		for range 100 {
			sum = tr.FosterStep(stages, 20, row.seconds/100)
		}
		printed(t, fmt.Sprintf("a hundred steps to %g s", row.seconds), sum/20, row.want)
		near(t, "sum of the stages", sum, stages[0]+stages[1]+stages[2], sum, 1e-15)
	}
	stages := make([]float64, 3)
	near(t, "steady rise at 10 W", tr.FosterStep(stages, 10, 1e4), 15, 15, 1e-15)
	// Without power a stage falls to 1/e over its time constant.
	tr.FosterStep(stages, 0, 1.5)
	near(t, "the slow stage after its time constant", stages[2], 7/math.E, 7, 1e-15)
	if got := (&models.Triac{}).FosterStep(nil, 10, 1); got != 0 {
		t.Errorf("a junction without stages rises by %g K, want 0", got)
	}
}

// TestElementRatio: hot resistance over cold, 1 + a·(T − 20 °C); coefficients
// of resistance alloys, handbooks and a general-physics table.
func TestElementRatio(t *testing.T) {
	for _, row := range []struct {
		coefficient q.PerKelvin
		celsius     float64
		want        string
	}{{1.7e-4, 200, "1.0306"}, {1.7e-4, 600, "1.0986"}, {4e-4, 200, "1.072"}, {4e-4, 600, "1.232"}, {1.7e-4, 20, "1.0000"}} {
		e := models.Element{Resistance: 48, Coefficient: row.coefficient}
		near(t, fmt.Sprintf("%g at %g °C", float64(row.coefficient), row.celsius), e.ResistanceAt(row.celsius)/48, e.ResistanceAt(row.celsius)/e.ResistanceAt(20), 1, 1e-15)
		printed(t, fmt.Sprintf("%g at %g °C", float64(row.coefficient), row.celsius), e.ResistanceAt(row.celsius)/48, row.want)
	}
}

func TestSnubberFitted(t *testing.T) {
	inf := q.Ohm(math.Inf(1))
	for _, c := range []struct {
		s    models.Snubber
		want bool
	}{{models.Snubber{Resistance: 100, Capacitance: 1e-8}, true}, {models.Snubber{Capacitance: 1e-8}, true},
		{models.Snubber{Resistance: 100}, false}, {models.Snubber{Resistance: inf, Capacitance: 1e-8}, false}, {models.Snubber{}, false}} {
		if got := c.s.Fitted(); got != c.want {
			t.Errorf("%+v: fitted %v, want %v", c.s, got, c.want)
		}
	}
}
