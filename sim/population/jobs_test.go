package population_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// texts works on members from … to and writes what each comes to.
func texts(t *testing.T, workers int, from, to uint64, work func(ctx context.Context, i uint64) (string, error)) []string {
	t.Helper()
	var out []string
	err := population.Each(t.Context(), from, to, population.Workers{Count: workers}, work, func(_ uint64, s string) error {
		out = append(out, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// The same bytes for any number of workers, and for any parts that the range
// is computed in.
func TestWorkersDoNotShow(t *testing.T) {
	p := drawn(t, 4)
	plan, err := p.Readings(population.ReadingsJob{States: []readings.State{readings.Standby, readings.Heating}, Points: []string{"dye:output", "steam:triac"}, Meters: []string{"rms", "direct"}})
	if err != nil {
		t.Fatal(err)
	}
	for name, work := range map[string]func(ctx context.Context, i uint64) (string, error){
		"readings": func(_ context.Context, i uint64) (string, error) {
			m, err := p.Member(i)
			x := plan.Measure(m)
			return fmt.Sprint(i, x.Member.Faults, x.Values, x.Problem), err
		},
		"runs": func(ctx context.Context, i uint64) (string, error) {
			m, err := p.Member(i)
			if err != nil {
				return "", err
			}
			x, err := population.RunJob{Duration: 2 * time.Minute}.Run(ctx, m)
			return fmt.Sprint(i, x.Channels, x.Supply, x.Events, x.Lid, x.Pocket, x.Problem), err
		},
	} {
		want := texts(t, 1, 0, 12, work)
		for _, workers := range []int{2, 7} {
			if got := texts(t, workers, 0, 12, work); !slices.Equal(got, want) {
				t.Errorf("%s: %d workers give other results than one", name, workers)
			}
		}
		parts := slices.Concat(texts(t, 2, 0, 5, work), texts(t, 1, 5, 6, work), texts(t, 3, 6, 12, work))
		if !slices.Equal(parts, want) {
			t.Errorf("%s: parts of the range give other results than the whole", name)
		}
	}
}

// Readings are those of the member's board with its faults, as its own meters
// show them.
func TestMeasure(t *testing.T) {
	p := drawn(t, 4)
	m, err := p.Given(3, population.Place{Fault: "triac-shorted", Channel: 1})
	if err != nil {
		t.Fatal(err)
	}
	m.Faults[0].Severity = 1
	for _, exact := range []bool{true, false} {
		plan, err := p.Readings(population.ReadingsJob{States: []readings.State{readings.Heating, readings.Standby}, Exact: exact})
		if err != nil {
			t.Fatal(err)
		}
		x := plan.Measure(m)
		if x.Problem != "" || len(x.Values) != 2*len(plan.Points)*len(plan.Meters) {
			t.Fatalf("%d values, %s", len(x.Values), x.Problem)
		}
		for s, state := range plan.States {
			for k, at := range plan.Points {
				for j := range plan.Meters {
					v := x.Values[plan.Index(s, k, j)]
					if v.Point.Name != at.Name || v.Meter != plan.Meters[j].Name || v.State != state {
						t.Fatalf("found %s, %s, %v at the place of %s, %s, %v", v.Point.Name, v.Meter, v.State, at.Name, plan.Meters[j].Name, state)
					}
					// What the meter states bounds what it shows: of the reading
					// and of the display's steps, which it then rounds to.
					if d := math.Abs(v.Shown - v.Indicated); d > v.Uncertainty*1.03+0.5001*v.Resolution && !v.Over {
						t.Errorf("%s, %s: shows %g of %g V, more than ± %g off", at.Name, v.Meter, v.Shown, v.Indicated, v.Uncertainty)
					}
				}
			}
		}
		// The element has the supply on it in standby, less what the triac
		// and the supply's impedances take: below 2 %.
		at := func(name string) float64 {
			k := slices.IndexFunc(plan.Points, func(p readings.Point) bool { return p.Name == name })
			j := slices.IndexFunc(plan.Meters, func(m models.Meter) bool { return m.Name == "rms" })
			return x.Values[plan.Index(1, k, j)].Shown
		}
		if r := at("dye:output") / at("supply"); !(r > 0.98 && r < 1.001) {
			t.Errorf("output at %.4f of the supply, expected nearly all of it", r)
		}
		if r := at("soak:output") / at("supply"); r > 0.01 {
			t.Errorf("healthy output at %.4f of the supply, expected nearly none", r)
		}
	}
}

// A meter's error, by hand: 1 % of 230 V, and 3 steps of 0.1 V.
func TestCalibration(t *testing.T) {
	m := models.Meter{Name: "m", Detector: models.RMSDirect, Counts: 6000, Ranges: nil}
	for _, full := range []float64{6, 60, 600} {
		m.Ranges = append(m.Ranges, q.Volt(full))
	}
	for _, x := range []struct {
		c                 population.Calibration
		v, shown, stepped float64
		over              bool
	}{
		{population.Calibration{}, 230.04, 230.0, 0.1, false},
		{population.Calibration{Gain: 0.01, Counts: 3}, 230, 232.6, 0.1, false},
		{population.Calibration{Gain: -0.01, Counts: -3}, 230, 227.4, 0.1, false},
		{population.Calibration{Counts: -3}, 0.0001, 0, 0.001, false}, // never below zero
		{population.Calibration{Gain: 0.01}, 59.9, 60.5, 0.1, false},  // into the next range
		{population.Calibration{Gain: 0.01}, 598, 604, 0.1, true},
	} {
		shown, step, over := x.c.Show(&m, x.v)
		if over != x.over || !over && (math.Abs(shown-x.shown) > 1e-9 || math.Abs(step-x.stepped) > 1e-12) {
			t.Errorf("%+v at %g V: shows %g in steps of %g, over %v; expected %+v", x.c, x.v, shown, step, over, x)
		}
	}
	m.Detector = models.Direct
	if shown, _, _ := (population.Calibration{Counts: -3}).Show(&m, 0); shown != -0.003 {
		t.Errorf("a meter with a sign shows %g V, expected -0.003", shown)
	}
	ideal := readings.Value{Indicated: 230, Shown: 230, Low: 228, High: 231, Varies: true}
	m.Detector = models.RMSDirect
	if v := (population.Calibration{Counts: 3}).Apply(&m, ideal); math.Abs(v.Low-228.3) > 1e-9 || math.Abs(v.High-231.3) > 1e-9 {
		t.Errorf("bounds %g to %g V, expected 228.3 to 231.3", v.Low, v.High)
	}
}

// A run of a member is the simulation of its board with its faults, and keeps
// what it comes to.
func TestRun(t *testing.T) {
	p := drawn(t, 4)
	healthy, err := p.Given(0)
	if err != nil {
		t.Fatal(err)
	}
	job := population.RunJob{Duration: 25 * time.Minute}
	o, err := job.Run(t.Context(), healthy)
	if err != nil || o.Problem != "" {
		t.Fatal(err, o.Problem)
	}
	r, err := sim.Run(t.Context(), healthy.Board, sim.Options{Duration: job.Duration})
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(o.Channels, o.Supply, o.Events) != fmt.Sprint(r.Outcomes, r.Supply, r.Events) || o.Duration != r.Duration || o.Lid == 0 {
		t.Errorf("found %v, expected %v", o.Channels, r.Outcomes)
	}
	if o.Samples != nil {
		t.Errorf("found %d samples, expected none without asking", len(o.Samples))
	}
	job.Samples = true
	if kept, err := job.Run(t.Context(), healthy); err != nil || fmt.Sprint(kept.Samples) != fmt.Sprint(r.Samples) {
		t.Errorf("found %d samples and the error %v, expected the %d of the simulation", len(kept.Samples), err, len(r.Samples))
	}
	for k, c := range o.Channels {
		if c.Verdict != sim.Reaches {
			t.Errorf("healthy %s: %s", c.Channel, c.Verdict)
		}
		// To warm the water alone takes m·c·ΔT (c = 4.18 kJ/(kg K)) at the
		// element's power on this supply; the rest of the boiler adds to it.
		b := &healthy.Board.Channels[k]
		v := float64(healthy.Board.Supply.Voltage)
		least := float64(b.Boiler.Water) * 4180 * (float64(b.Control.SetPoint) - float64(b.Control.InBand) - float64(b.Boiler.Start)) / (v * v / float64(b.Element.Resistance))
		if s := c.Reached.Seconds(); s < 0.95*least || s > 1.4*least {
			t.Errorf("healthy %s: in band after %.0f s, expected a little more than %.0f s", c.Channel, s, least)
		}
	}
	stuck, err := p.Given(0, population.Place{Fault: "drive-stuck-on", Channel: 0})
	if err != nil {
		t.Fatal(err)
	}
	if o, err = job.Run(t.Context(), stuck); err != nil || o.Channels[0].Verdict != sim.LinkEnded || o.Channels[1].Verdict != sim.Reaches {
		t.Errorf("drive stuck on: %v, %+v", err, o.Channels)
	}
	// The link opens within the tolerance that was drawn for it.
	i := slices.IndexFunc(p.Columns(), func(c population.Column) bool { return c.Name == "soak:link.functions" })
	if f := stuck.Values[i]; f < 102 || f > 112 {
		t.Errorf("link functions at %g °C, expected 102 °C to 112 °C", f)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := job.Run(ctx, healthy); err != context.Canceled {
		t.Errorf("cancelled: %v", err)
	}
}

// A board that cannot be solved is a problem of that board and of no other.
func TestProblem(t *testing.T) {
	b := boardfile.Default()
	for k := range b.Channels {
		b.Channels[k].Snubber.Capacitance = 0
	}
	p, err := population.New(b, population.Spec{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	m, err := p.Member(0)
	if err != nil {
		t.Fatal(err)
	}
	m.Board.Supply.Damping = q.Ohm(math.Inf(1)) // the current of an inductance has no path
	plan, err := p.Readings(population.ReadingsJob{Points: []string{"supply"}})
	if err != nil {
		t.Fatal(err)
	}
	if x := plan.Measure(m); x.Values != nil || !strings.Contains(x.Problem, "expected a damping resistance") {
		t.Errorf("readings: found %q with %d values", x.Problem, len(x.Values))
	}
	if o, err := (population.RunJob{}).Run(t.Context(), m); err != nil || !strings.Contains(o.Problem, "expected a damping resistance") {
		t.Errorf("run: %v, found %q", err, o.Problem)
	}
	m.Faults = faults.Set{faults.New("upstream-link-open", faults.WholeBoard)} // which it has not
	if x := plan.Measure(m); x.Problem == "" {
		t.Error("a fault that the board cannot have: found no problem")
	}
}

// Everything wrong with a spec or a job is told.
func TestWrongSpecs(t *testing.T) {
	b := boardfile.Default()
	at := population.Place{Fault: "triac-open", Channel: 0}
	for want, change := range map[string]func(s *population.Spec){
		"tolerances: supply.voltage: found bounds 1.1 to 0.9":  func(s *population.Spec) { s.Tolerances.Supply.Voltage.Low, s.Tolerances.Supply.Voltage.High = 1.1, 0.9 },
		"tolerances: gate.resistance: found bound -1":          func(s *population.Spec) { s.Tolerances.Gate.Resistance.Low = -1 },
		"tolerances: meter.gain: found bound 2":                func(s *population.Spec) { s.Tolerances.Meters.Gain.High = 2 },
		"tolerances: triac.slope: found law 9":                 func(s *population.Spec) { s.Tolerances.Triac.Slope.Law = 9 },
		"tolerances: probe.offset: found bound -1 of a lognor": func(s *population.Spec) { s.Tolerances.Probe.Offset.Law = population.LogNormal },
		"rates.healthy: found 2":                               func(s *population.Spec) { s.Rates.Healthy = 2 },
		"rates.more: found 1":                                  func(s *population.Spec) { s.Rates.More = 1 },
		"rates.onset: found 2s to 1s":                          func(s *population.Spec) { s.Rates.OnsetFrom, s.Rates.OnsetTo = 2e9, 1e9 },
		"expected it once": func(s *population.Spec) {
			s.Rates.Faults = []population.Rate{{Place: at, Weight: 1}, {Place: at, Weight: 1}}
		},
		"found weight -1": func(s *population.Spec) { s.Rates.Faults = []population.Rate{{Place: at, Weight: -1}} },
		"sum to 0":        func(s *population.Spec) { s.Rates.Faults = []population.Rate{{Place: at}} },
		"severity: found bound 1.2": func(s *population.Spec) {
			s.Rates.Faults = []population.Rate{{Place: at, Weight: 1, Severity: population.Spread{Law: population.Uniform, Low: 0.5, High: 1.2}}}
		},
		"rates.faults[1]: 1:nonsense": func(s *population.Spec) {
			s.Rates.Faults = []population.Rate{{Place: population.Place{Fault: "nonsense"}, Weight: 1}}
		},
	} {
		s := population.DefaultSpec(b)
		change(&s)
		if _, err := population.New(b, s, 1); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("found %v, expected %q in it", err, want)
		}
	}
	if _, err := population.New(&models.Board{}, population.Spec{}, 1); err == nil {
		t.Error("a board without channels: expected an error")
	}
	p := drawn(t, 1)
	for _, j := range []population.ReadingsJob{{Points: []string{"nowhere"}}, {Meters: []string{"none"}}, {States: []readings.State{readings.UnpluggedState}}} {
		if _, err := p.Readings(j); err == nil {
			t.Errorf("%+v: expected an error", j)
		}
	}
	for _, text := range []string{"", "normal", "fixed 1 to 2", "normal 1 2 3", "normal a to 2", "odd 1 to 2", "normal 2 to 1"} {
		if s, err := population.ParseSpread(text); err == nil {
			t.Errorf("%q: found %v, expected an error", text, s)
		}
	}
	for _, x := range population.Parameters() {
		if s, err := population.ParseSpread(x.Default.String()); err != nil || s.Law != x.Default.Law || math.Abs(s.Low-x.Default.Low) > 1e-3 {
			t.Errorf("%v: read back as %v, %v", x.Default, s, err)
		}
	}
}

// Onsets lie between their bounds and readings do not wait for them.
func TestOnsets(t *testing.T) {
	b := boardfile.Default()
	s := population.Spec{Rates: population.Rates{OnsetFrom: time.Minute, OnsetTo: 3 * time.Minute,
		Faults: []population.Rate{{Place: population.Place{Fault: "drive-stuck-off", Channel: 1}, Weight: 1}}}}
	p, err := population.New(b, s, 1)
	if err != nil {
		t.Fatal(err)
	}
	m, err := p.Member(0)
	if err != nil {
		t.Fatal(err)
	}
	from := m.Faults[0].Onset.From
	if from < time.Minute || from > 3*time.Minute {
		t.Errorf("onset at %v, expected 1 min to 3 min", from)
	}
	o, err := population.RunJob{Duration: 5 * time.Minute}.Run(t.Context(), m)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(o.Events, func(e sim.Event) bool { return e.Kind == sim.Edited })
	if i < 0 || o.Events[i].Time < from || o.Events[i].Time > from+time.Second {
		t.Errorf("events %v, expected the board to change at %v", o.Events, from)
	}
}

// The energy monitor and the clamps see what flows: of a heating board the
// power of its elements (P = V²/R at the elements, with the supply's impedance
// and the triacs' on-state voltage taking at most 4 %), of one in standby next to
// none, and the current of a pure resistance is P/V.
func TestMonitorAndClamps(t *testing.T) {
	p := drawn(t, 9)
	b := p.Board()
	plan, err := p.Readings(population.ReadingsJob{States: []readings.State{readings.Standby, readings.Heating}, Points: []string{"supply"},
		Leads: []string{"supply-lead", "dye:element-lead"}, Monitor: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Clamps) != len(b.Clamps) || len(b.Clamps) == 0 {
		t.Fatalf("found %d clamps, expected the board's %d", len(plan.Clamps), len(b.Clamps))
	}
	m, err := p.Given(0)
	if err != nil {
		t.Fatal(err)
	}
	x := plan.Measure(m)
	if x.Problem != "" || len(x.Monitor) != 2 || len(x.Currents) != 2*2*len(plan.Clamps) {
		t.Fatalf("%s: %d of the monitor, %d currents", x.Problem, len(x.Monitor), len(x.Currents))
	}
	v, rated, dye := float64(m.Board.Supply.Voltage), 0.0, 0.0
	for k := range m.Board.Channels {
		e := &m.Board.Channels[k].Element
		watts := v * v / e.ResistanceAt(float64(m.Board.Ambient))
		rated += watts
		if m.Board.Channels[k].Name == "dye" {
			dye = watts / v
		}
	}
	on := x.Monitor[1]
	if r := on.Power / rated; !(r > 0.90 && r < 1) {
		t.Errorf("heating: %.0f W, expected a little below %.0f W", on.Power, rated)
	}
	if r := on.Power / (on.Current * v); !(r > 0.90 && r < 1.001) {
		t.Errorf("heating: %.0f W with %.2f A at %.0f V", on.Power, on.Current, v)
	}
	if want := on.Power * (1 + m.MonitorGain); math.Abs(on.ShownPower-want) > 0.051 {
		t.Errorf("heating: shows %g W, expected %g W in steps of 0.1 W", on.ShownPower, want)
	}
	if off := x.Monitor[0]; off.Power > 1 || off.ShownPower != 0 || off.ShownCurrent != 0 {
		t.Errorf("standby: %+v, expected next to nothing, shown as zero", off)
	}
	for j := range plan.Clamps {
		a := x.Currents[plan.CurrentIndex(1, 1, j)]
		if plan.Clamps[j].Detector == models.Direct {
			continue
		}
		if r := a.Shown / dye; !(r > 0.9 && r < 1.04) {
			t.Errorf("%s round the lead to dye: %g A, expected about %.2f A", a.Meter, a.Shown, dye)
		}
		if d := math.Abs(a.Shown - a.Indicated); d > 1.05*a.Uncertainty+a.Resolution {
			t.Errorf("%s: shows %g A of %g A, more than ± %g A off", a.Meter, a.Shown, a.Indicated, a.Uncertainty)
		}
	}
	for _, j := range []population.ReadingsJob{{Leads: []string{"nowhere"}}, {Clamps: []string{"none"}}, {Monitor: true, States: []readings.State{readings.Holding}}} {
		if _, err := p.Readings(j); err == nil {
			t.Errorf("%+v: expected an error", j)
		}
	}
}
