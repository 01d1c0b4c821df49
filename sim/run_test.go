package sim_test

import (
	"context"
	"encoding/json"
	"fmt"
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

// Conservation of energy through the whole of a run: what comes out of the
// source is lost in the wiring or put into the machine. What else takes part
// is left out or known: insulation of 1 GΩ takes 0.05 mW a channel, the
// channels' own wires have no resistance here, and what coils and capacitors
// hold comes back within a cycle.
func TestEnergyOutOfTheSourceIsPutSomewhere(t *testing.T) {
	for _, c := range []struct {
		fault    string
		relative float64
	}{
		{"", 1e-6}, {"dye:opto-one-way", 1e-6}, {"dye:triac-leaky", 1e-6}, {"dye:film-triac", 1e-6}, {"dye:element-part-shorted", 1e-6},
		{"soak:triac-open", 1e-6},
		// Channels that share 10 Ω feel each other's resistance: products of
		// powers follow that less well.
		{"board:loose-neutral", 1e-5},
	} {
		fault := c.fault
		b := warm(board(t, "dye-bench-230"))
		for k := range b.Channels {
			b.Channels[k].Wire = 0
		}
		var texts []string
		if fault != "" {
			texts = append(texts, fault)
		}
		r := simulate(t, b, sim.Options{Duration: time.Minute}, texts...)
		if d := r.Supply.Plug - r.Heat.In; math.Abs(d) > c.relative*r.Supply.Source {
			t.Errorf("%q: found %.8g J through the plug and %.8g J put into the machine, expected the same within %g", fault, r.Supply.Plug, r.Heat.In, c.relative)
		}
		if r.Supply.Wiring <= 0 || r.Supply.Source != r.Supply.Plug+r.Supply.Wiring {
			t.Errorf("%q: found %+v, expected losses of wiring and Source = Plug + Wiring", fault, r.Supply)
		}
		var elements float64
		for i, s := range r.Samples[1:] {
			for _, c := range s.Channels {
				elements += c.Power * (s.Time - r.Samples[i].Time).Seconds()
			}
		}
		if elements > r.Heat.In || elements < 0.9*r.Heat.In {
			t.Errorf("%q: found %.6g J in the elements of %.6g J put into the machine, expected most of it", fault, elements, r.Heat.In)
		}
		if err := r.Heat.Check(); err != nil {
			t.Errorf("%q: %v", fault, err)
		}
	}
}

func TestScheduleAndStandby(t *testing.T) {
	b := warm(board(t, "dye-bench-230"))
	b.Controller.Schedule = []models.OnPeriod{{From: 10 * time.Second, To: 20 * time.Second}, {From: 25 * time.Second, To: 30 * time.Second}}
	r := simulate(t, b, sim.Options{Duration: 40 * time.Second, Every: 500 * time.Millisecond})
	for i, s := range r.Samples {
		if i == 0 {
			continue
		}
		from := r.Samples[i-1].Time // the sample covers the window from there
		on := b.Controller.On(from)
		heated := false
		for k, c := range s.Channels {
			heated = heated || c.Drive > 0
			if !on && (c.Drive != 0 || c.Indicator != sim.IndicatorOff || c.Power > 0.1) {
				t.Errorf("at %v, channel %d: found %+v with the controls off", s.Time, k+1, c)
			}
			if on && c.Indicator == sim.IndicatorOff {
				t.Errorf("at %v, channel %d: found the indicator off with the controls on", s.Time, k+1)
			}
		}
		if s.Controls != on {
			t.Errorf("at %v: found controls on %t, expected %t", s.Time, s.Controls, on)
		}
		// Standby means supply connected: three snubbers of 10 nF and 100 Ω
		// take (2π·50·10 nF·230 V)²·100 Ω each, 52 µW.
		if !on && (s.Power <= 0 || s.Power > 0.1) {
			t.Errorf("at %v: found %g W in standby, expected a trace", s.Time, s.Power)
		}
		if on && !heated {
			t.Errorf("at %v: found no channel driven, expected some heat after a start from cold", s.Time)
		}
	}
}

// Drawn water is replaced with what the plumbing says, and the balance has it.
func TestDraws(t *testing.T) {
	still := warm(board(t, "dye-bench-230"))
	for k := range still.Channels {
		still.Channels[k].Control.Enabled = false
	}
	o := sim.Options{Duration: 20 * time.Second, Every: time.Second}
	before := simulate(t, still, o)
	last := func(r *sim.Result, k int) sim.ChannelSample { return r.Samples[len(r.Samples)-1].Channels[k] }

	water := still.Clone()
	water.Channels[1].Boiler.Draws = []models.Draw{{From: 5 * time.Second, To: 15 * time.Second, Flow: 0.02, Refill: 0}}
	r := simulate(t, water, o)
	for k, colder := range []bool{true, true, false} {
		d := last(r, k).Water - last(before, k).Water
		if colder && d > -1 || !colder && math.Abs(d) > 0.1 {
			t.Errorf("channel %d: found the water %.3g K warmer by the draw, expected colder: %t", k+1, d, colder)
		}
		if last(r, k).Mass != last(before, k).Mass {
			t.Errorf("channel %d: found %g kg, expected the mass to stay", k+1, last(r, k).Mass)
		}
	}
	// 0.2 kg leave at some 80 °C and come at 15 °C: c_p 4.19 kJ/(kg K) of
	// water (IAPWS R7-97(2012), rounded).
	if want := 0.2 * 4190 * 65; math.Abs(r.Heat.Carried-want) > 0.05*want {
		t.Errorf("found %.4g J carried out by water, expected about %.4g J", r.Heat.Carried, want)
	}

	steam := still.Clone()
	steam.Channels[2].Boiler.Feed = false
	steam.Channels[2].Boiler.Draws = []models.Draw{{From: 5 * time.Second, To: 15 * time.Second, Flow: 2e-4, Steam: true}}
	r = simulate(t, steam, o)
	if d := last(before, 2).Mass - last(r, 2).Mass; math.Abs(d-2e-3) > 1e-9 {
		t.Errorf("found %g kg of steam gone, expected 0.002 kg", d)
	}
	// h of saturated steam at 117 °C is 2702 kJ/kg (IAPWS R7-97(2012),
	// rounded).
	if want := 2e-3 * 2.702e6; math.Abs(r.Heat.Carried-want) > 0.01*want {
		t.Errorf("found %.5g J carried out by steam, expected about %.5g J", r.Heat.Carried, want)
	}
	var begun []string
	for _, e := range r.Events {
		if e.Channel == 2 && strings.Contains(string(e.Kind), "draw") {
			begun = append(begun, fmt.Sprintf("%v %v", e.Time, e.Kind))
		}
	}
	if want := "[5s draw begins 15s draw ends]"; fmt.Sprint(begun) != want {
		t.Errorf("found %v, expected %v", begun, want)
	}
}
