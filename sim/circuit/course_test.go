package circuit

import (
	"fmt"
	"testing"

	"boilwright/models"
)

// TestCourse: what a solver remembers of earlier half-cycles only helps it to
// find the same switchings sooner. Another one forgets before each half-cycle and
// searches to the end every time; drives, the supply and temperatures change.
func TestCourse(t *testing.T) {
	for name, board := range map[string]func() *Solver{
		"three channels": func() *Solver { return mustNew(t, refBoard()) },
		"equal channels": func() *Solver {
			b := healthyBoard(44, 44, 44)
			for k := range b.Channels {
				b.Channels[k] = b.Channels[0]
			}
			return mustNew(t, b)
		},
		"limited rates": func() *Solver {
			b := refBoard()
			for k := range b.Channels {
				tr := &b.Channels[k].Triac
				tr.StaticRate, tr.Breakover, tr.TurnOffTime = 2e8, 700, 40e-6
				tr.CommutatingRate, tr.CommutatingFall = 2e7, 2e4
			}
			return mustNew(t, b)
		},
		"harmonics": func() *Solver {
			b := refBoard()
			b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 8, Phase: 180}, {Order: 11, Voltage: 5, Phase: 20}}
			b.Supply.DC = 0.5
			return mustNew(t, b)
		},
	} {
		keeps, forgets := board(), board()
		for half := range 60 {
			in := Input{Factor: 1, Drive: []float64{12, 12, 12}}
			if half >= 20 {
				in.Factor = 1 + 0.01*float64(half%3)
			}
			if half%17 > 12 {
				in.Drive[half%3] = 0
			}
			if half >= 40 {
				celsius := Uniform(3, 25+float64(half/5))
				keeps.SetTemperatures(celsius)
				forgets.SetTemperatures(celsius)
			}
			forgets.course = course{}
			for _, c := range forgets.par.combos {
				c.lasted = 0
			}
			a, err := keeps.HalfCycle(in)
			if err != nil {
				t.Fatal(err)
			}
			b, err := forgets.HalfCycle(in)
			if err != nil {
				t.Fatal(err)
			}
			if len(a.Events) != len(b.Events) || a.Switchings != b.Switchings {
				t.Fatalf("%s, half-cycle %d: found %d events in %d switchings, expected %d in %d", name, half, len(a.Events), a.Switchings, len(b.Events), b.Switchings)
			}
			for i := range a.Events {
				x, y := a.Events[i], b.Events[i]
				if x.Kind != y.Kind || x.Channel != y.Channel {
					t.Fatalf("%s, half-cycle %d: found %v, expected %v", name, half, x, y)
				}
				near(t, fmt.Sprintf("%s, half-cycle %d: %s of channel %d", name, half, x.Kind, x.Channel), x.Degrees, y.Degrees, 180, 1e-10)
			}
			near(t, fmt.Sprintf("%s, half-cycle %d: energy", name, half), a.Source, b.Source, b.Source+1, 1e-10)
		}
	}
}
