package readings_test

import (
	"math"
	"strings"
	"testing"

	"boilwright/models"
	"boilwright/sim/readings"
)

// TestRecord: a recording holds the waveform that a meter without a load
// would see, begins at the rise of the supply and, in bursts, with a control
// window.
func TestRecord(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	p := point(t, b, "soak:output")
	for _, state := range []readings.State{readings.Standby, readings.Heating} {
		w, err := readings.Record(b, conditions(b, state), 2)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "duration", w.Recording.Duration(), 0.04, 0.04, 1e-12)
		if w.First%2 != 0 {
			t.Errorf("%v: begins at half-cycle %d, expected an even one", state, w.First)
		}
		sig, err := w.Solver.Voltage(p.Plus, p.Minus)
		if err != nil {
			t.Fatal(err)
		}
		rms := models.RMSDirect.Indicated(w.Recording.Moments(sig))
		near(t, state.String(), rms, look(t, b, p, "rms", conditions(b, state)).Indicated, 230, 1e-5)
		source, err := w.Solver.Voltage(models.At(models.Source, 0), models.Node{})
		if err != nil {
			t.Fatal(err)
		}
		_, v := w.Recording.Sample(source, 0.001, 0.001, 1)
		near(t, "source 1 ms after the start", v[0], math.Sqrt2*230*math.Sin(0.1*math.Pi), 325, 1e-9)
	}

	b, c := bursts(t, 0.4)
	w, err := readings.Record(b, c, 10)
	if err != nil {
		t.Fatal(err)
	}
	if n := int64(b.Controller.Window); w.First != n {
		t.Errorf("begins at half-cycle %d, expected the start of the second window, %d", w.First, n)
	}
	sig, err := w.Solver.Voltage(p.Plus, p.Minus)
	if err != nil {
		t.Fatal(err)
	}
	rms := models.RMSDirect.Indicated(w.Recording.Moments(sig))
	near(t, "a window of bursts", rms, look(t, b, p, "rms", c).Indicated, 240, 1e-4)
	_, on := w.Recording.Sample(sig, 0.005+3*0.02, 0.005+3*0.02, 1)
	_, off := w.Recording.Sample(sig, 0.005+4*0.02, 0.005+4*0.02, 1)
	if !(on[0] > 300 && math.Abs(off[0]) < 1) {
		t.Errorf("at the peak of the fourth cycle %.1f V and of the fifth %.1f V, expected the last on and the first off", on[0], off[0])
	}
}

func TestRecordErrors(t *testing.T) {
	b := single(t, "dye-bench-230")
	for _, x := range []struct {
		state  readings.State
		cycles int
		wants  string
	}{{readings.UnpluggedState, 1, "found state unplugged"}, {readings.Standby, 0, "found 0 cycles"}, {readings.Heating, -3, "found -3 cycles"}} {
		if w, err := readings.Record(b, conditions(b, x.state), x.cycles); err == nil || !strings.Contains(err.Error(), x.wants) {
			t.Errorf("%d cycles in %v: %v, error %v", x.cycles, x.state, w, err)
		}
	}
	b.Bridges = []models.Bridge{{Name: "nowhere", From: models.At(models.Output, 3), To: neutral, Resistance: 1}}
	if _, err := readings.Record(b, conditions(b, readings.Standby), 1); err == nil || !strings.Contains(err.Error(), "nowhere") {
		t.Errorf("a bridge to nowhere: error %v", err)
	}
}
