package population

import (
	"math"

	"boilwright/models"
	"boilwright/sim/readings"
)

// Calibration is the error of one meter, constant over all of its readings.
type Calibration struct {
	Gain   float64 // part of the reading
	Counts float64 // of the display
}

// Show returns what a meter with this error displays where its detector
// indicates v volts, and whether that is beyond every range.
//
//	shown = display(v·(1 + Gain) + Counts·resolution)
//
// A meter that shows no sign stops at zero. The resolution is that of the
// range in which the reading without the counts lies.
func (c Calibration) Show(m *models.Meter, v float64) (shown, resolution float64, over bool) {
	return c.show(m.Display, m.Detector, v)
}

// ShowClamp is Show for a clamp ammeter, in amperes.
func (c Calibration) ShowClamp(m *models.Clamp, a float64) (shown, resolution float64, over bool) {
	return c.show(m.Display, m.Detector, a)
}

func (c Calibration) show(display func(float64) (shown, resolution, uncertainty float64, over bool), d models.Detector, v float64) (float64, float64, bool) {
	x := v * (1 + c.Gain)
	_, step, _, _ := display(x)
	x += c.Counts * step
	if d != models.Direct {
		x = math.Max(0, x)
	}
	shown, resolution, _, over := display(x)
	return shown, resolution, over
}

// Apply returns a reading of an ideal meter as this one shows it. Where it
// depends on when it is taken, its bounds move by as much.
func (c Calibration) Apply(m *models.Meter, v readings.Value) readings.Value {
	return c.apply(m.Display, m.Detector, v)
}

// ApplyClamp is Apply for a clamp ammeter.
func (c Calibration) ApplyClamp(m *models.Clamp, v readings.Value) readings.Value {
	return c.apply(m.Display, m.Detector, v)
}

func (c Calibration) apply(display func(float64) (shown, resolution, uncertainty float64, over bool), d models.Detector, v readings.Value) readings.Value {
	ideal := v.Shown
	v.Shown, v.Resolution, v.Over = c.show(display, d, v.Indicated)
	v.Low, v.High = v.Low+(v.Shown-ideal), v.High+(v.Shown-ideal)
	if !v.Varies {
		v.Low, v.High = v.Shown, v.Shown
	}
	return v
}
