package readings_test

import (
	"fmt"
	"math"
	"testing"

	"boilwright/models"
	"boilwright/sim/readings"
)

// bursts is a board with a control window of ten cycles, of which its first
// channel alone takes a part.
func bursts(t *testing.T, duty float64) (*models.Board, readings.Conditions) {
	b := embedded(t, "dye-bench-240")
	b.Controller.Window = 20
	c := conditions(b, readings.Holding)
	c.Duty, c.Off = []float64{duty, 0, 0}, []bool{false, true, true}
	return b, c
}

// TestBurstFiring: over whole control windows a true-rms meter reads √(n/N) of
// the supply with n of N cycles on (texts on power electronics, e.g. Rashid,
// on-off control), whenever it is read.
func TestBurstFiring(t *testing.T) {
	b, c := bursts(t, 0)
	p := point(t, b, "soak:output")
	c.State = readings.Heating
	full := look(t, b, p, "rms", c).Indicated
	for _, x := range []struct{ duty, want float64 }{
		{0.4, 0.632455532034}, {0.6, 0.774596669241}, {0.7, 0.836660026534}, {0.9, 0.948683298051},
		{0.44, 0.632455532034}, {0.45, math.Sqrt(0.5)}, {1, 1}, // nearest whole cycles, halves up
	} {
		b, c := bursts(t, x.duty)
		v := look(t, b, p, "rms", c) // over ten cycles
		near(t, fmt.Sprintf("duty %g", x.duty), v.Indicated/full, x.want, 1, 1e-4)
		if v.Varies || v.High-v.Low > v.Resolution*1.01 {
			t.Errorf("duty %g: from %v V to %v V, expected the same at any time", x.duty, v.Low, v.High)
		}
	}
}

// TestBurstsVary: a meter that averages over less than the control window
// shows what falls into its time: from as many cycles as it can catch on down
// to as many as it must.
func TestBurstsVary(t *testing.T) {
	b, c := bursts(t, 0.4)
	p := point(t, b, "soak:output")
	driven := c
	driven.State = readings.Heating
	full := look(t, b, p, "rms", driven).Indicated
	table := []struct{ cycles, least, most int }{{1, 0, 1}, {2, 0, 2}, {4, 0, 4}, {5, 0, 4}, {7, 1, 4}, {9, 3, 4}, {10, 4, 4}, {11, 4, 5}, {20, 8, 8}}
	var meters []models.Meter // alike but for their time
	for _, x := range table {
		m := meter(t, b, "rms")
		m.Cycles = x.cycles
		meters = append(meters, m)
	}
	at, err := readings.At(b, p, meters, c)
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range table {
		v := at[i]
		what := fmt.Sprintf("over %d cycles", x.cycles)
		near(t, what+", highest", v.High, full*math.Sqrt(float64(x.most)/float64(x.cycles)), full, 1e-3)
		near(t, what+", lowest", v.Low, full*math.Sqrt(float64(x.least)/float64(x.cycles)), full, 1e-3)
		if v.Varies != (x.most != x.least) || v.Shown < v.Low || v.Shown > v.High {
			t.Errorf("%s: shown %v V from %v V to %v V, varies %v", what, v.Shown, v.Low, v.High, v.Varies)
		}
		// The first position is the start of a burst, which catches the most.
		near(t, what+", at the start of a burst", v.Indicated, v.High, full, 1e-3)
	}
}

// TestDefaultDuty: a quarter where none is given; and no duty is standby.
func TestDefaultDuty(t *testing.T) {
	b, c := bursts(t, 0.25)
	b.Controller.Window = 40 // a quarter of 20 cycles
	p := point(t, b, "soak:output")
	c.Off = nil
	c.Duty = []float64{0.25, 0.25, 0.25}
	given := look(t, b, p, "rms", c)
	c.Duty = nil
	if got := look(t, b, p, "rms", c); got != given {
		t.Errorf("without a duty: %+v, want that of a quarter, %+v", got, given)
	}
	c.Duty = []float64{0, 0, 0}
	v := look(t, b, p, "rms", c)
	c.State = readings.Standby
	near(t, "no duty", v.Indicated, look(t, b, p, "rms", c).Indicated, 1, 1e-6)
	if v.Varies {
		t.Errorf("no duty varies from %v V to %v V", v.Low, v.High)
	}
}

// TestHoldingDetectors: with half of the cycles on, a full-wave average over a
// whole window reads half of the supply and a true-rms meter √½ of it, as
// for a half-wave; but there is no direct voltage. Form factors, texts.
func TestHoldingDetectors(t *testing.T) {
	b, c := bursts(t, 0.5)
	p := point(t, b, "soak:output")
	driven := c
	driven.State = readings.Heating
	full := look(t, b, p, "rms", driven).Indicated
	for _, x := range []struct {
		meter string
		want  float64
	}{{"average", 0.5}, {"average-coupled", 0.5}, {"one-diode", 0.5}, {"rms", math.Sqrt2 / 2}, {"rms-coupled", math.Sqrt2 / 2}, {"direct", 0}} {
		near(t, x.meter, look(t, b, p, x.meter, c).Indicated/full, x.want, 1, 2e-3)
	}
}

// TestBurstsCoupled: bursts of whole sine cycles have no direct component, so
// that a meter behind a coupling capacitor shows what the same meter without
// one shows, whatever part of the bursts falls into its time.
func TestBurstsCoupled(t *testing.T) {
	b, c := bursts(t, 0.4)
	p := point(t, b, "soak:output")
	for _, cycles := range []int{1, 2, 4, 7, 10} {
		direct, coupled := meter(t, b, "average"), meter(t, b, "average-coupled")
		direct.Cycles, coupled.Cycles = cycles, cycles
		v, err := readings.At(b, p, []models.Meter{direct, coupled}, c)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range []struct{ got, want float64 }{{v[1].Low, v[0].Low}, {v[1].High, v[0].High}, {v[1].Indicated, v[0].Indicated}} {
			near(t, fmt.Sprintf("%d cycles, value %d", cycles, i), x.got, x.want, 240, 1e-3)
		}
	}
}
