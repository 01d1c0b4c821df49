package sim_test

import (
	"context"
	"math"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/boardfile"
)

// board returns a fresh copy of an embedded board.
func board(t testing.TB, name string) *models.Board {
	t.Helper()
	f, err := boardfile.Embedded(name)
	if err != nil {
		t.Fatal(err)
	}
	return f.Board
}

// simulate runs a board with faults written as at the command line.
func simulate(t testing.TB, b *models.Board, o sim.Options, texts ...string) *sim.Result {
	t.Helper()
	if len(texts) > 0 {
		var names []string
		for _, c := range b.Channels {
			names = append(names, c.Name)
		}
		set, err := faults.ParseSet(texts, names)
		if err != nil {
			t.Fatal(err)
		}
		run, err := set.Start(1)
		if err != nil {
			t.Fatal(err)
		}
		o.Edits = run
	}
	r, err := sim.Run(context.Background(), b, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range r.Samples {
		for _, c := range s.Channels {
			if math.IsNaN(c.Water) || math.IsNaN(c.Element) || math.IsNaN(c.Power) {
				t.Fatalf("found NaN at %v: %+v", s.Time, c)
			}
		}
	}
	return r
}

// The facts in this file are common practice, no source; each must come out
// of the run.

func TestHealthyBoardReachesAndHolds(t *testing.T) {
	for _, name := range []string{"dye-bench-230", "dye-bench-240", "dye-bench-120", "neutral-side-230"} {
		t.Run(name, func(t *testing.T) {
			r := simulate(t, board(t, name), sim.Options{Duration: time.Hour})
			for _, o := range r.Outcomes {
				if o.Verdict != sim.Reaches || o.Reached < 0 || o.Reached > 15*time.Minute {
					t.Errorf("%s: found %q, reached at %v, expected to reach within 15 min", o.Channel, o.Verdict, o.Reached)
				}
				if o.Drifts != 0 {
					t.Errorf("%s: found %d drifts out of band, expected none on a healthy board", o.Channel, o.Drifts)
				}
				t.Logf("%+v", o)
			}
			if a, b := r.Supply.Source, r.Supply.Plug+r.Supply.Wiring; math.Abs(a-b) > 1e-9*a {
				t.Errorf("found %g J out of the source, expected %g J", a, b)
			}
		})
	}
}

// A stuck-on channel carries its closed boiler above the set point until its
// link opens, after which it never reaches temperature.
func TestShortedTriacOpensTheLink(t *testing.T) {
	b := board(t, "dye-bench-230")
	r := simulate(t, b, sim.Options{Duration: 2 * time.Hour}, "dye:triac-shorted")
	o := r.Outcomes[1]
	if o.LinkOpened < 0 {
		t.Fatalf("found no opened link, peak %.1f °C", o.Peak)
	}
	if o.Peak < float64(b.Channels[1].Link.Functions) {
		t.Errorf("found a peak of %.1f °C, expected above the link's %v °C", o.Peak, b.Channels[1].Link.Functions)
	}
	for _, s := range r.Samples {
		if s.Time > o.LinkOpened+time.Minute && s.Channels[1].Power > 1 {
			t.Fatalf("at %v: found %.1f W in the element after its link opened", s.Time, s.Channels[1].Power)
		}
	}
	if o.Verdict != sim.LinkEnded {
		t.Errorf("found verdict %q", o.Verdict)
	}
	if o.Final >= o.Peak {
		t.Errorf("found %.1f °C at the end, expected it to have cooled from %.1f °C", o.Final, o.Peak)
	}
}

// An open vat with a stuck-on channel boils and then runs dry.
func TestShortedTriacOnAnOpenVatBoilsDry(t *testing.T) {
	b := board(t, "open-vat-230")
	r := simulate(t, b, sim.Options{Duration: 3 * time.Hour, Every: time.Minute}, "dye:triac-shorted")
	o := r.Outcomes[1]
	if o.Boiled < 0 || (o.Dry < 0 && o.LinkOpened < 0) {
		t.Fatalf("found %+v, expected to boil and then to run dry or open its link", o)
	}
	if o.Dry >= 0 && o.Dry <= o.Boiled {
		t.Errorf("found dry at %v before boiling at %v", o.Dry, o.Boiled)
	}
	if o.Peak > 101 && o.Dry < 0 {
		t.Errorf("found water at %.2f °C in an open vat, expected at most its boiling point", o.Peak)
	}
}

// At half power a boiler gets there later, or settles below; the run says
// which.
func TestHalfPowerIsLate(t *testing.T) {
	b := board(t, "dye-bench-230")
	healthy := simulate(t, b, sim.Options{Duration: time.Hour})
	half := simulate(t, b, sim.Options{Duration: time.Hour}, "dye:opto-half-wave")
	h, f := healthy.Outcomes[1], half.Outcomes[1]
	switch f.Verdict {
	case sim.Reaches:
		if f.Reached < h.Reached*3/2 {
			t.Errorf("found %v at half power against %v, expected much later", f.Reached, h.Reached)
		}
	case sim.Settles, sim.StillUp:
	default:
		t.Errorf("found verdict %q", f.Verdict)
	}
	// A boiler with little to spare settles below its set point instead.
	leaky := b.Clone()
	leaky.Channels[1].Boiler.ShellToAir = 16
	leaky.Channels[1].Boiler.Draws = nil
	if o := simulate(t, leaky, sim.Options{Duration: 3 * time.Hour, Every: time.Minute}).Outcomes[1]; o.Verdict != sim.Reaches {
		t.Fatalf("leaky but healthy: found verdict %q, expected it to reach", o.Verdict)
	}
	if o := simulate(t, leaky, sim.Options{Duration: 3 * time.Hour, Every: time.Minute}, "dye:opto-half-wave").Outcomes[1]; o.Verdict != sim.Settles {
		t.Errorf("leaky at half power: found verdict %q at %.1f °C, slope %.3f K/min, expected it to settle", o.Verdict, o.Final, o.Slope)
	}
}

// One dead channel of three makes warm-up slow and another drift out of band
// when it is refilled from the cold one.
func TestDeadChannelDisturbsItsNeighbour(t *testing.T) {
	b := board(t, "dye-bench-230")
	r := simulate(t, b, sim.Options{Duration: 90 * time.Minute}, "soak:opto-dead")
	soak, dye := r.Outcomes[0], r.Outcomes[1]
	if soak.Reached >= 0 || soak.Verdict == sim.Reaches {
		t.Errorf("dead channel: found verdict %q", soak.Verdict)
	}
	if dye.Drifts == 0 {
		t.Errorf("dye, refilled from cold soak: found no drift out of band")
	}
}

// A shared limit passes a dead channel's place on to nobody: with the limit of
// two, the dead channel's cycles are refused to the lowest in priority.
func TestSharedLimitSlowsTheOthers(t *testing.T) {
	b := board(t, "dye-bench-230")
	b.Controller.Together = 2
	for k := range b.Channels {
		b.Channels[k].Control.Priority = k
	}
	free := simulate(t, board(t, "dye-bench-230"), sim.Options{Duration: time.Hour})
	healthy := simulate(t, b, sim.Options{Duration: time.Hour})
	dead := simulate(t, b, sim.Options{Duration: time.Hour}, "soak:opto-dead")
	last := 2
	if healthy.Outcomes[last].Reached <= free.Outcomes[last].Reached {
		t.Errorf("with the limit: found %v, expected later than %v without", healthy.Outcomes[last].Reached, free.Outcomes[last].Reached)
	}
	if d := dead.Outcomes[last]; d.Reached >= 0 && d.Reached <= healthy.Outcomes[last].Reached {
		t.Errorf("with a dead channel ahead of it: found %v, expected later than %v", d.Reached, healthy.Outcomes[last].Reached)
	}
}

// The lid stays warm long after switch-off with a stuck channel.
func TestLidStaysWarmWithAStuckChannel(t *testing.T) {
	b := board(t, "dye-bench-230")
	b.Controller.Schedule = []models.OnPeriod{{From: 0, To: time.Hour}}
	lid := func(r *sim.Result) float64 { return r.Samples[len(r.Samples)-1].Lid - float64(b.Ambient) }
	o := sim.Options{Duration: 5 * time.Hour, Every: time.Minute}
	healthy := simulate(t, b, o)
	stuck := simulate(t, b, o, "soak:opto-one-way,from=30 min")
	if lid(stuck) < 3*lid(healthy) {
		t.Errorf("four hours after switch-off: found the lid %.1f K above the room with a stuck channel and %.1f K without, expected a clear difference", lid(stuck), lid(healthy))
	}
}

// In standby a channel stuck on in one polarity draws half its power.
func TestStandbyPowerOfHalfWave(t *testing.T) {
	b := board(t, "dye-bench-230")
	b.Controller.Schedule = []models.OnPeriod{{From: 10 * time.Hour, To: 11 * time.Hour}}
	r := simulate(t, b, sim.Options{Duration: 5 * time.Minute}, "dye:opto-one-way")
	p := r.Samples[len(r.Samples)-1].Channels[1].Power
	full := 230 * 230 / float64(b.Channels[1].Element.Resistance)
	if p < 0.47*full || p > 0.50*full {
		t.Errorf("found %.0f W, expected a little below half of %.0f W", p, full)
	}
}
