package sim_test

import (
	"testing"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
)

// event returns the time of the first event of a kind, or −1.
func event(r *sim.Result, kind sim.EventKind) time.Duration {
	for _, e := range r.Events {
		if e.Kind == kind {
			return e.Time
		}
	}
	return -1
}

// leak adds a path of the given resistance from the output of channel 2 to
// protective earth; one-way with a threshold of 1 V.
func leak(b *models.Board, ohms q.Ohm, oneWay bool) {
	br := models.Bridge{Name: "leak", From: models.At(models.Output, 1), To: models.At(models.ProtectiveEarth, 0), Resistance: ohms, OneWay: oneWay}
	if oneWay {
		br.Threshold = 1
	}
	b.Bridges = append(b.Bridges, br)
}

// Break times of a residual-current device, general type: IEC 61008-1 Table 1
// (rated 0.3 s, five times 0.04 s; twice 0.15 s from memory). A 30 mA device
// at 230 V reaches its rated current at 7.7 kΩ.
func TestResidualDeviceTrips(t *testing.T) {
	for _, c := range []struct {
		ohms q.Ohm
		want time.Duration // 0: not at all
	}{
		{20e3, 0},                       // 11 mA, below half the rated current
		{7.6e3, 300 * time.Millisecond}, // rated
		{3.5e3, 150 * time.Millisecond}, // above twice
		{1.2e3, 40 * time.Millisecond},  // above five times
	} {
		b := board(t, "dye-bench-230")
		leak(b, c.ohms, false)
		r := simulate(t, b, sim.Options{Duration: 10 * time.Second, Every: time.Second})
		got := event(r, sim.ResidualTrip)
		if c.want == 0 {
			if got >= 0 {
				t.Errorf("%v: found a trip at %v, expected none", c.ohms, got)
			}
			continue
		}
		if got < c.want || got > c.want+30*time.Millisecond {
			t.Errorf("%v: found a trip at %v, expected %v after one or two cycles", c.ohms, got, c.want)
		}
		if p := r.Samples[len(r.Samples)-1].Power; p != 0 {
			t.Errorf("%v: found %g W after the trip", c.ohms, p)
		}
	}
}

// A device of type AC need not trip on a half-wave residual current, one of
// type A does (IEC 61008-1, from memory).
func TestResidualDeviceOnHalfWave(t *testing.T) {
	for _, typeAC := range []bool{true, false} {
		b := board(t, "dye-bench-230")
		b.Protection.Residual.TypeAC = typeAC
		leak(b, 2e3, true)
		r := simulate(t, b, sim.Options{Duration: 5 * time.Second, Every: time.Second})
		trip, unsure := event(r, sim.ResidualTrip), event(r, sim.ResidualUnsure)
		if typeAC && (trip >= 0 || unsure < 0) {
			t.Errorf("type AC: found trip at %v, told at %v, expected it only told", trip, unsure)
		}
		if !typeAC && trip < 0 {
			t.Error("type A: found no trip")
		}
	}
}

// A short from line to neutral melts the fuse within the half-cycle or two in
// which ∫i² reaches its melting integral; its rated current never does.
func TestFuse(t *testing.T) {
	b := board(t, "dye-bench-230")
	b.Bridges = append(b.Bridges, models.Bridge{Name: "short", From: models.At(models.Line, 0), To: models.At(models.Neutral, 0), Resistance: 0.05})
	r := simulate(t, b, sim.Options{Duration: 2 * time.Second, Every: time.Second})
	// i = 230 V / |0.45 + j0.25| Ω = 447 A, so i²t = 1000 A²s takes 5 ms.
	if got := event(r, sim.FuseMelted); got < 0 || got > 20*time.Millisecond {
		t.Errorf("short: found the fuse melted at %v, expected within a cycle", got)
	}
	b = board(t, "dye-bench-230")
	b.Protection.Fuse.Rated = 15
	r = simulate(t, b, sim.Options{Duration: 2 * time.Minute, Every: time.Second})
	if got := event(r, sim.FuseMelted); got >= 0 {
		t.Errorf("at its rated current: found the fuse melted at %v", got)
	}
	b.Protection.Fuse.Rated = 8
	b.Protection.Fuse.Melt = 5000
	r = simulate(t, b, sim.Options{Duration: 5 * time.Minute, Every: time.Second})
	if got := event(r, sim.FuseMelted); got < 0 {
		t.Error("at twice its rated current: found the fuse whole")
	}
}
