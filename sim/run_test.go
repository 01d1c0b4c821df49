package sim_test

import (
	"context"
	"encoding/json"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim"

	q "boilwright/models/quantity"
)

// text is a result as JSON; equal texts are equal results to the last bit.
func text(t testing.TB, r *sim.Result) string {
	t.Helper()
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func TestRunIsDeterministic(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, full := range []bool{false, true} {
		o := sim.Options{Duration: 5 * time.Minute, Every: time.Second, Full: full}
		if full {
			o.Duration = 2 * time.Second
		}
		var first string
		for i, procs := range []int{1, 2, 2} {
			runtime.GOMAXPROCS(procs)
			found := text(t, simulate(t, warm(board(t, "dye-bench-230")), o, "dye:opto-one-way,on=0.7 s,off=1.1 s", "soak:film-gate,growing=4 min"))
			if i == 0 {
				first = found
			} else if found != first {
				t.Errorf("full %t: found another result with GOMAXPROCS %d, expected the same bytes", full, procs)
			}
		}
	}
}

func TestRunIsCancelled(t *testing.T) {
	b := board(t, "dye-bench-230")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	r, err := sim.Run(ctx, b, sim.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != sim.Interrupted || r.Duration != 0 || r.Stats.HalfCycles != 0 || len(r.Outcomes) != len(b.Channels) {
		t.Errorf("cancelled before it began: found %v after %v, expected interrupted after 0 s", r.Status, r.Duration)
	}

	ctx, cancel = context.WithCancel(context.Background())
	defer cancel()
	cut := 0 * time.Second
	r, err = sim.Run(ctx, b, sim.Options{Every: time.Second, Progress: func(done, _ time.Duration) {
		if done > 2*time.Minute && cut == 0 {
			cut = done
			cancel()
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != sim.Interrupted || r.Duration != cut {
		t.Fatalf("found %v after %v, expected interrupted after %v", r.Status, r.Duration, cut)
	}
	whole := simulate(t, b, sim.Options{Every: time.Second, Duration: cut})
	if whole.Status != sim.Completed {
		t.Errorf("found %v, expected completed", whole.Status)
	}
	r.Status = whole.Status
	if text(t, r) != text(t, whole) {
		t.Errorf("found another result, expected what a run of %v gives", cut)
	}
}

func TestProgress(t *testing.T) {
	for _, d := range []time.Duration{300 * time.Millisecond, 10 * time.Second, 5*time.Minute + 300*time.Millisecond} {
		last, calls := time.Duration(0), 0
		simulate(t, board(t, "dye-bench-230"), sim.Options{Duration: d, Progress: func(done, total time.Duration) {
			if done <= last && calls > 0 || done > total || total != d {
				t.Errorf("found %v of %v after %v, expected it to rise to at most %v", done, total, last, d)
			}
			last = done
			calls++
		}})
		if last != d || calls == 0 {
			t.Errorf("found %v at last in %d calls, expected %v", last, calls, d)
		}
	}
}

// A run takes whole control windows, and samples are as far apart as whole
// windows allow.
func TestDurationsAndSamples(t *testing.T) {
	ms := time.Millisecond
	window60 := 833333333 * time.Nanosecond // 100 half-cycles of 60 Hz
	for _, c := range []struct {
		board           string
		window          int
		duration, every time.Duration
		lasts, apart    time.Duration
		samples         int
	}{
		{"dye-bench-230", 100, 10 * time.Second, time.Second, 10 * time.Second, time.Second, 11},
		{"dye-bench-230", 100, 10300 * ms, time.Second, 11 * time.Second, time.Second, 12},
		{"dye-bench-230", 100, ms, time.Second, time.Second, time.Second, 2},
		{"dye-bench-230", 100, 10 * time.Second, 1500 * ms, 10 * time.Second, 2 * time.Second, 6},
		{"dye-bench-230", 100, 10 * time.Second, 1, 10 * time.Second, time.Second, 11},
		{"dye-bench-230", 100, 10 * time.Second, time.Minute, 10 * time.Second, 10 * time.Second, 2},
		{"dye-bench-230", 50, 10 * time.Second, time.Second, 10 * time.Second, time.Second, 11},
		{"dye-bench-230", 34, 10 * time.Second, time.Second, 10200 * ms, 1020 * ms, 11},
		{"dye-bench-230", 100, 7 * time.Second, 3 * time.Second, 7 * time.Second, 3 * time.Second, 4}, // 0, 3, 6, 7 s
		{"dye-bench-120", 100, 10 * time.Second, time.Second, 10 * time.Second, 2*window60 + 1, 7},
		{"dye-bench-120", 100, 5 * time.Second, window60, 5 * time.Second, window60, 7},
	} {
		b := board(t, c.board)
		b.Controller.Window = c.window
		r := simulate(t, b, sim.Options{Duration: c.duration, Every: c.every})
		if r.Duration != c.lasts {
			t.Errorf("%+v: found that it lasts %v, expected %v", c, r.Duration, c.lasts)
		}
		if n := len(r.Samples); n != c.samples {
			t.Errorf("%+v: found %d samples, expected %d", c, n, c.samples)
			continue
		}
		if d := r.Samples[1].Time - r.Samples[0].Time; d != c.apart {
			t.Errorf("%+v: found samples %v apart, expected %v", c, d, c.apart)
		}
		if last := r.Samples[len(r.Samples)-1].Time; last != r.Duration {
			t.Errorf("%+v: found the last sample at %v, expected it at the end", c, last)
		}
		if want := int64(math.Round(r.Duration.Seconds() / b.Supply.HalfCycle())); r.Stats.HalfCycles != want {
			t.Errorf("%+v: found %d half-cycles, expected %d", c, r.Stats.HalfCycles, want)
		}
	}
	if r := simulate(t, board(t, "dye-bench-230"), sim.Options{}); r.Duration != time.Hour || len(r.Samples) != 361 {
		t.Errorf("without options: found %v with %d samples, expected an hour with one every 10 s", r.Duration, len(r.Samples))
	}
}

func TestRunExplainsWhatItCannotDo(t *testing.T) {
	for _, c := range []struct {
		name string
		set  func(b *models.Board, o *sim.Options)
		want []string
	}{
		{"negative duration", func(_ *models.Board, o *sim.Options) { o.Duration = -time.Second }, []string{"-1s", "more than 0"}},
		{"negative interval", func(_ *models.Board, o *sim.Options) { o.Every = -time.Second }, []string{"-1s", "more than 0"}},
		{"odd window", func(b *models.Board, _ *sim.Options) { b.Controller.Window = 99 }, []string{"control window", "99", "even"}},
		{"no window", func(b *models.Board, _ *sim.Options) { b.Controller.Window = 0 }, []string{"control window", "0", "at least 2"}},
		{"no channels", func(b *models.Board, _ *sim.Options) { b.Channels = nil }, []string{"channel"}},
		{"no mass", func(b *models.Board, _ *sim.Options) { b.Channels[1].Boiler.Water = 0 }, []string{"dye", "water"}},
		{"start above boiling", func(b *models.Board, _ *sim.Options) { b.Channels[1].Boiler.Start = 190 }, []string{"dye", "start", "190"}},
	} {
		b, o := board(t, "dye-bench-230"), sim.Options{Duration: time.Second}
		c.set(b, &o)
		r, err := sim.Run(context.Background(), b, o)
		if err == nil || r != nil {
			t.Errorf("%s: found no error, expected one", c.name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: found %q, expected it to tell of %q", c.name, err, w)
			}
		}
	}
}

// Severity 0 is the healthy board: the result is the same to the last bit.
func TestSeverityZeroIsHealthy(t *testing.T) {
	b := warm(board(t, "dye-bench-230"))
	b.Upstream = &models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 150, Capacity: 5, ToShell: 0.25}
	b.Channels[1].Thermostat = models.Thermostat{Fitted: true, Opens: 200, Closes: 190, Resistance: 10e-3, Stray: 5e-12}
	o := sim.Options{Duration: 2 * time.Second, Every: time.Second}
	want := text(t, simulate(t, b, o))
	for _, f := range faults.Catalogue() {
		fault := "dye:" + f.Name
		if f.Scope == faults.PerBoard {
			fault = "board:" + f.Name
		}
		if found := text(t, simulate(t, b, o, fault+",severity=0")); found != want {
			t.Errorf("%s: found another result than without it, expected the same bytes", fault)
		}
	}
}

// permuted returns b with its channels in another order: channel k of b is
// channel place[k] of the copy.
func permuted(b *models.Board, place []int) *models.Board {
	c := b.Clone()
	for k := range b.Channels {
		ch := &c.Channels[place[k]]
		*ch = b.Clone().Channels[k]
		for i := range ch.Boiler.Draws {
			if d := &ch.Boiler.Draws[i]; d.Refill >= 0 {
				d.Refill = place[d.Refill]
			}
		}
	}
	for i := range c.Couplings {
		c.Couplings[i].A, c.Couplings[i].B = place[b.Couplings[i].A], place[b.Couplings[i].B]
	}
	return c
}

// Nothing but their numbers tells channels apart.
func TestOrderOfChannelsDoesNotMatter(t *testing.T) {
	b := warm(board(t, "dye-bench-230"))
	b.Channels[1].Boiler.Draws = []models.Draw{{From: 10 * time.Second, To: 15 * time.Second, Flow: 5e-3, Refill: 0}}
	b.Controller.Together = 2
	for k := range b.Channels {
		b.Channels[k].Control.Priority = []int{2, 0, 1}[k]
	}
	o := sim.Options{Duration: time.Minute, Every: time.Second}
	want := simulate(t, b, o, "dye:opto-half-wave,from=20 s")
	for _, place := range [][]int{{1, 2, 0}, {2, 1, 0}, {0, 2, 1}} {
		p := permuted(b, place)
		got := simulate(t, p, o, "dye:opto-half-wave,from=20 s")
		for i := range want.Samples {
			for k := range b.Channels {
				x, y := &got.Samples[i].Channels[place[k]], &want.Samples[i].Channels[k]
				for _, v := range [][2]float64{{x.Element, y.Element}, {x.Water, y.Water}, {x.Shell, y.Shell}, {x.Probe, y.Probe}, {x.Junction, y.Junction}, {x.Power, y.Power}, {x.Mass, y.Mass}} {
					if math.Abs(v[0]-v[1]) > 1e-5*math.Max(1, math.Abs(v[1])/100) {
						t.Fatalf("order %v, at %v, channel %s: found %+v, expected %+v", place, want.Samples[i].Time, b.Channels[k].Name, *x, *y)
					}
				}
			}
		}
		if d := got.Supply.Source/want.Supply.Source - 1; math.Abs(d) > 1e-8 {
			t.Errorf("order %v: found %.2g more energy out of the source, expected the same", place, d)
		}
	}
}

// With less voltage every channel gets there later.
func TestLowerSupplyIsLater(t *testing.T) {
	var before []time.Duration
	for _, volts := range []float64{250, 240, 230, 220, 210, 200} {
		b := board(t, "dye-bench-230")
		b.Supply.Voltage = q.Volt(volts)
		r := simulate(t, b, sim.Options{Duration: 20 * time.Minute, Every: time.Minute})
		for k, o := range r.Outcomes {
			if o.Reached < 0 {
				t.Fatalf("%g V, %s: found that it never reaches", volts, o.Channel)
			}
			if before != nil && o.Reached <= before[k] {
				t.Errorf("%g V, %s: found it reached after %v, expected later than the %v of 10 V more", volts, o.Channel, o.Reached, before[k])
			}
		}
		before = nil
		for _, o := range r.Outcomes {
			before = append(before, o.Reached)
		}
	}
}
