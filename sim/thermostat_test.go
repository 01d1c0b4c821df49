package sim_test

import (
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim"
)

// thermostat fits the dye boiler with a thermostat and shorts its triac.
func thermostat(t *testing.T, stuck models.Stuck) *sim.Result {
	b := board(t, "dye-bench-230")
	b.Channels[1].Thermostat = models.Thermostat{Fitted: true, Opens: 105, Closes: 95, Resistance: 0.01, Stray: 5e-12, Stuck: stuck}
	b.Channels[1].Boiler.Draws = nil
	return simulate(t, b, sim.Options{Duration: 4 * time.Hour, Every: 30 * time.Second}, "dye:triac-shorted")
}

// With its triac shorted a boiler that has a thermostat swings between the
// thermostat's two temperatures and its link stays whole; with the contact
// welded it goes on to the link; with the contact stuck open it stays cold.
// Common practice, no source.
func TestThermostat(t *testing.T) {
	r := thermostat(t, models.Free)
	var opens, closes []time.Duration
	for _, e := range r.Events {
		switch e.Kind {
		case "thermostat opens":
			opens = append(opens, e.Time)
		case "thermostat closes":
			closes = append(closes, e.Time)
		}
	}
	if len(opens) < 2 || len(closes) < 1 || len(opens)-len(closes) > 1 {
		t.Fatalf("found it opening at %v and closing at %v, expected it to go on opening and closing", opens, closes)
	}
	if o := r.Outcomes[1]; o.LinkOpened >= 0 || o.Peak > 120 {
		t.Errorf("found the link opened at %v, peak %.1f °C, expected the thermostat to hold it", o.LinkOpened, o.Peak)
	}
	for _, s := range r.Samples {
		c := s.Channels[1]
		if s.Time > opens[0] && (c.Shell > 115 || c.Shell < 94) {
			t.Fatalf("at %v: found the shell at %.1f °C, expected between the thermostat's temperatures and its overshoot", s.Time, c.Shell)
		}
	}
	if o := thermostat(t, models.Welded).Outcomes[1]; o.LinkOpened < 0 {
		t.Errorf("welded: found the link whole, peak %.1f °C", o.Peak)
	}
	if o := thermostat(t, models.StayOpen).Outcomes[1]; o.Peak > 40 || o.Verdict != sim.Unheated {
		t.Errorf("stuck open: found %.1f °C and %q, expected it cold", o.Peak, o.Verdict)
	}
}
