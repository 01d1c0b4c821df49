package models

import q "boilwright/models/quantity"

// Clamp is a clamp ammeter: a detector of current, ranges and an accuracy. It
// goes round one conductor and does not load the circuit.
//
// A current transformer passes no direct component, so that the detector of
// such a clamp is AverageFullWaveCoupled or RMSCoupled; one with a Hall sensor
// passes it and takes any detector (common practice, no source). That a direct
// component also magnetises a transformer and distorts what it does pass is
// left out.
type Clamp struct {
	Name     string
	Detector Detector
	Cycles   int        // whole cycles over which it measures
	Counts   int        // of the display, e.g. 6000
	Ranges   []q.Ampere // full scales, rising; the lowest that fits is used
	// Accuracy is the percentage of reading plus counts of the display.
	Accuracy       q.Ratio
	AccuracyCounts float64
}

// Display returns the current a in amperes as displayed, in the same way as
// [Meter.Display].
func (m *Clamp) Display(a float64) (shown, resolution, uncertainty float64, over bool) {
	return display(a, m.Counts, m.Ranges, float64(m.Accuracy), m.AccuracyCounts)
}
