package readings_test

import (
	"math"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/readings"
)

// around returns what a clamp of a detector shows round a lead.
func around(t testing.TB, b *models.Board, lead string, d models.Detector, s readings.State) readings.Value {
	t.Helper()
	l, err := readings.FindLead(b, lead)
	if err != nil {
		t.Fatal(err)
	}
	m := models.Clamp{Name: "clamp", Detector: d, Cycles: 10, Counts: 6000, Ranges: []q.Ampere{60, 600}, Accuracy: 0.02, AccuracyCounts: 5}
	v, err := readings.Around(b, l, []models.Clamp{m}, conditions(b, s))
	if err != nil {
		t.Fatal(err)
	}
	return v[0]
}

// TestClampSine: an element of 48 Ω behind a conducting triac takes 5 A less
// what the triac's drop of 0.9 V and 20 mΩ takes (Ohm's law), by every
// detector that is calibrated on a sine.
func TestClampSine(t *testing.T) {
	b := textbook(t, 240)
	for _, d := range []models.Detector{models.AverageFullWave, models.AverageFullWaveCoupled, models.RMSCoupled, models.RMSDirect} {
		for _, lead := range []string{"supply-lead", "soak:element-lead"} {
			v := around(t, b, lead, d, readings.Heating)
			if v.Shown < 4.94 || v.Shown > 5 || v.Varies || v.Over || v.Resolution != 0.01 {
				t.Errorf("%s, %v: %+v, expected just below 5 A", lead, d, v)
			}
			near(t, "uncertainty", v.Uncertainty, 0.02*v.Indicated+0.05, 1, 1e-12)
			if !v.Point.Live || v.Point.Name != lead || v.Meter != "clamp" {
				t.Errorf("%+v, expected a live reading at %s", v, lead)
			}
		}
	}
	if v := around(t, b, "soak:element-lead", models.RMSDirect, readings.Standby); v.Shown != 0 {
		t.Errorf("in standby %g A, expected none", v.Shown)
	}
}

// TestClampHalfWave: an opto that fires in one polarity only. Against the full
// wave, a half-wave has 1/√2 of the rms and half the rectified mean (closed
// forms); behind a current transformer 0.5453 and 0.5511 of them are left, as
// of a coupled voltmeter.
func TestClampHalfWave(t *testing.T) {
	full, half := textbook(t, 240), textbook(t, 240)
	half.Channels[0].Opto.Fires = 1
	for _, x := range []struct {
		d     models.Detector
		ratio float64
	}{{models.RMSDirect, math.Sqrt2 / 2}, {models.AverageFullWave, 0.5}, {models.RMSCoupled, 0.545305}, {models.AverageFullWaveCoupled, 0.551102}} {
		a, h := around(t, full, "soak:element-lead", x.d, readings.Heating), around(t, half, "soak:element-lead", x.d, readings.Heating)
		near(t, x.d.String(), h.Indicated/a.Indicated, x.ratio, 1, 2e-3)
	}
	// Its direct component: √2/π of the rms of the full sine. Of opposite
	// polarity it has the opposite sign.
	one := around(t, half, "soak:element-lead", models.Direct, readings.Heating)
	half.Channels[0].Opto.Fires = -1
	other := around(t, half, "soak:element-lead", models.Direct, readings.Heating)
	near(t, "direct component", math.Abs(one.Indicated), 5*math.Sqrt2/math.Pi, 5, 1e-2)
	near(t, "of the other polarity", other.Indicated, -one.Indicated, 5, 1e-4)
}

// TestClampTwoHalfWaves: half-waves of opposite polarity in two channels leave
// the supply lead without a direct component, which each element lead has
// (Kirchhoff's current law).
func TestClampTwoHalfWaves(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	for k := range b.Channels {
		b.Channels[k].Element.Resistance = 48
		b.Channels[k].Opto.Fires = 1 - 2*(k%2)
	}
	b.Channels[2].Element.Open = true
	sum := 0.0
	for k := range b.Channels {
		v := around(t, b, b.Channels[k].Name+":element-lead", models.Direct, readings.Heating)
		if k < 2 && math.Abs(v.Indicated) < 2 || k == 2 && v.Shown != 0 {
			t.Errorf("channel %d: direct component %g A", k+1, v.Indicated)
		}
		sum += v.Indicated
	}
	near(t, "supply lead", around(t, b, "supply-lead", models.Direct, readings.Heating).Indicated, sum, 5, 1e-6)
	near(t, "no direct component", sum, 0, 5, 1e-3)
}

// TestClampRating: each lead of a demonstration board carries the current of
// its element (Ohm's law), less a few percent that the supply's impedance
// takes, and the supply lead the sum of all; a channel that is shorted carries
// its current in standby.
func TestClampRating(t *testing.T) {
	for _, name := range []string{"dye-bench-230", "neutral-side-230", "dye-bench-240"} {
		b := embedded(t, name)
		sum := 0.0
		for k := range b.Channels {
			c := &b.Channels[k]
			v := around(t, b, c.Name+":element-lead", models.RMSDirect, readings.Heating)
			near(t, name+" "+c.Name, v.Indicated, float64(b.Supply.Voltage)/float64(c.Element.Resistance), v.Indicated, 0.04)
			sum += v.Indicated
		}
		near(t, name, around(t, b, "supply-lead", models.RMSDirect, readings.Heating).Indicated, sum, sum, 1e-3)
	}
	b := embedded(t, "dye-bench-230")
	shortTriac(b, 1)
	if v := around(t, b, "dye:element-lead", models.RMSCoupled, readings.Standby); v.Shown < 6 {
		t.Errorf("a shorted channel in standby takes %g A, expected its rated current", v.Shown)
	}
	if v := around(t, b, "soak:element-lead", models.RMSCoupled, readings.Standby); v.Shown != 0 {
		t.Errorf("its neighbour takes %g A", v.Shown)
	}
}

func TestClampHoldingAndBreaks(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	v := around(t, b, "dye:element-lead", models.RMSDirect, readings.Holding)
	if !v.Varies || v.Low != 0 || v.High < 6 {
		t.Errorf("in bursts %+v, expected nothing to the rated current", v)
	}
	b.Channels[1].Wire = q.Ohm(math.Inf(1))
	if v := around(t, b, "dye:element-lead", models.RMSDirect, readings.Heating); v.Shown != 0 {
		t.Errorf("a broken wire carries %g A", v.Shown)
	}
	if _, err := readings.FindLead(b, "dye:output"); err == nil || !strings.Contains(err.Error(), `"dye:output"`) || !strings.Contains(err.Error(), "supply-lead") {
		t.Errorf("an unknown lead: error %v", err)
	}
	c := conditions(b, readings.UnpluggedState)
	if _, err := readings.Around(b, readings.Leads(b)[0], b.Clamps, c); err == nil || !strings.Contains(err.Error(), "supply-lead") {
		t.Errorf("unplugged: error %v", err)
	}
	if _, err := readings.Around(b, readings.Lead{Name: "x", Channel: 7}, b.Clamps, conditions(b, readings.Heating)); err == nil {
		t.Error("a lead of an eighth channel: no error")
	}
	for _, words := range []string{"one conductor", "does not prove dead"} {
		if !strings.Contains(readings.ClampCaution, words) {
			t.Errorf("the caution of a clamp lacks %q", words)
		}
	}
}
