package models_test

import (
	"fmt"
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// TestClampDisplay: 6000 counts on ranges of 60 A and 600 A show steps of
// 0.01 A and 0.1 A, with 2 % of the reading and 5 counts of uncertainty
// (common practice, no source).
func TestClampDisplay(t *testing.T) {
	m := models.Clamp{Counts: 6000, Ranges: []q.Ampere{60, 600}, Accuracy: 0.02, AccuracyCounts: 5}
	for _, x := range []struct {
		a, shown, resolution float64
		over                 bool
	}{
		{0, 0, 0.01, false}, {6.5249, 6.52, 0.01, false}, {-6.5251, -6.53, 0.01, false}, {0.0049, 0, 0.01, false},
		{60, 60, 0.01, false}, {math.Nextafter(60, 61), 60, 0.1, false}, {600.01, 600, 0.1, true},
	} {
		shown, resolution, uncertainty, over := m.Display(x.a)
		if shown != x.shown || resolution != x.resolution || over != x.over {
			t.Errorf("%v A: shown %v in steps of %v, over %v; want %v in steps of %v, over %v", x.a, shown, resolution, over, x.shown, x.resolution, x.over)
		}
		near(t, fmt.Sprintf("uncertainty of %v A", x.a), uncertainty, 0.02*math.Abs(x.a)+5*x.resolution, uncertainty, 1e-15)
	}
}

// A half-wave of 6.5 A, as a full wave of the same peak, round a current
// transformer and round a Hall sensor: the transformer loses the direct
// component.
func ExampleClamp_Display() {
	mean := math.Sqrt2 / math.Pi * 6.5
	m := models.Moments{Mean: mean, MeanSquare: 6.5 * 6.5 / 2, MeanAbs: mean}
	for _, d := range []models.Detector{models.RMSCoupled, models.RMSDirect} {
		c := models.Clamp{Counts: 6000, Ranges: []q.Ampere{60, 600}}
		shown, _, _, _ := c.Display(d.Indicated(m))
		fmt.Printf("%-12s %.2f A\n", d, shown)
	}
	// Output:
	// rms-coupled  3.54 A
	// rms          4.60 A
}
