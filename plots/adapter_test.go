package plots_test

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// recorded runs two cycles of an embedded board with its drives on and makes
// the figure's input of the next n half-cycles.
func recorded(t *testing.T, board string, n int, change func(*models.Board)) (*models.Board, plots.WaveformInput) {
	t.Helper()
	f, err := boardfile.Embedded(board)
	if err != nil {
		t.Fatal(err)
	}
	b := f.Board
	if change != nil {
		change(b)
	}
	s, err := circuit.New(b)
	if err != nil {
		t.Fatal(err)
	}
	in := func(int64) circuit.Input {
		x := circuit.Input{Factor: 1}
		for range b.Channels {
			x.Drive = append(x.Drive, float64(b.Channels[0].Drive.On))
		}
		return x
	}
	for range 4 {
		if _, err := s.HalfCycle(in(s.Half())); err != nil {
			t.Fatal(err)
		}
	}
	first := s.Half()
	r, err := s.Record(n, in)
	if err != nil {
		t.Fatal(err)
	}
	w, err := plots.FromRecording(b, s, r, plots.RecordingOptions{First: first, Notes: []string{"driven"}})
	if err != nil {
		t.Fatal(err)
	}
	return b, w
}

func TestFromRecording(t *testing.T) {
	for _, board := range []string{"dye-bench-230", "neutral-side-230", "dye-bench-120"} {
		t.Run(board, func(t *testing.T) {
			b, w := recorded(t, board, 4, nil)
			if len(w.Channels) != len(b.Channels) || w.Channels[0].Note != "driven" || w.Channels[1].Note != "" {
				t.Fatalf("found %d channels", len(w.Channels))
			}
			if end := w.Supply.Time[len(w.Supply.Time)-1]; math.Abs(end*w.Frequency-2) > 1e-9 {
				t.Errorf("found %g cycles, want 2", end*w.Frequency)
			}
			for k, c := range w.Channels {
				// Current and voltage of a resistance are in phase, and in
				// phase with the supply, and obey Ohm's law within a tenth:
				// the element is warm or cold, the wiring small.
				dot, v2, i2, vs := 0.0, 0.0, 0.0, 0.0
				for i, v := range c.Voltage.Value {
					dot += v * c.Current.Value[i]
					v2 += v * v
					i2 += c.Current.Value[i] * c.Current.Value[i]
					vs += v * w.Supply.Value[i]
				}
				if dot/math.Sqrt(v2*i2) < 0.999 || vs <= 0 {
					t.Errorf("channel %d: found a phase factor of %.4f between voltage and current, want 1; with the supply %g, want more than 0", k, dot/math.Sqrt(v2*i2), vs)
				}
				if r, want := math.Sqrt(v2/i2), float64(b.Channels[k].Element.Resistance); math.Abs(r/want-1) > 0.1 {
					t.Errorf("channel %d: found %.2f Ω from the traces, want about %.2f", k, r, want)
				}
				// A zero-cross optotriac fires near every zero (common
				// practice, no source).
				fired := 0
				for _, m := range c.Marks {
					if m.Kind == plots.Firing {
						fired++
						if m.Degrees < 0 || m.Degrees > 20 {
							t.Errorf("channel %d: found a firing at %.1f°, want near the zero", k, m.Degrees)
						}
					}
					if got := m.Time * 2 * w.Frequency * 180; math.Abs(math.Remainder(got-m.Degrees, 180)) > 1e-3 {
						t.Errorf("channel %d: found a mark at %.3f° in time and %.3f° by its angle", k, got, m.Degrees)
					}
				}
				if fired != 4 {
					t.Errorf("channel %d: found %d firings in 4 half-cycles, want 4", k, fired)
				}
			}
			s, err := plots.Waveforms(w)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(s.Alt(), "fires 4 times") || !strings.Contains(s.Title(), b.Name) {
				t.Errorf("found title %q, text alternative %q", s.Title(), s.Alt())
			}
		})
	}
}

// TestFromRecordingOpen has a path that is not there at all.
func TestFromRecordingOpen(t *testing.T) {
	_, w := recorded(t, "dye-bench-230", 2, func(b *models.Board) {
		b.Channels[1].Element.Open = true
		b.Channels[2].Triac.GateOpen = true
	})
	for _, v := range w.Channels[1].Current.Value {
		if math.Abs(v) > 0.01 {
			t.Fatalf("found %g A through an open element, want leakage at most", v)
		}
	}
	for _, v := range w.Channels[2].Gate.Value {
		if v != 0 {
			t.Fatalf("found gate current %g A without a gate, want 0", v)
		}
	}
	if _, err := plots.Waveforms(w); err != nil {
		t.Error(err)
	}
}

func TestFromRecordingErrors(t *testing.T) {
	b := boardfile.Default()
	s, err := circuit.New(b)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := plots.FromRecording(b, s, &circuit.Recording{}, plots.RecordingOptions{}); err == nil || !strings.Contains(err.Error(), "found an empty recording") {
		t.Errorf("found error %v, want that of an empty recording", err)
	}
	r, err := s.Record(1, func(int64) circuit.Input { return circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))} })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := plots.FromRecording(b, s, r, plots.RecordingOptions{Channels: []int{3}}); err == nil || err.Error() != "found channel index 3, expected 0 to 2" {
		t.Errorf("found error %v, want that of a channel", err)
	}
	w, err := plots.FromRecording(b, s, r, plots.RecordingOptions{Channels: []int{2}})
	if err != nil || len(w.Channels) != 1 || w.Channels[0].Name != b.Channels[2].Name {
		t.Errorf("found channels %v, error %v, want the third alone", w.Channels, err)
	}
}

func TestFromResult(t *testing.T) {
	b := boardfile.Default()
	r, err := sim.Run(context.Background(), b, sim.Options{Duration: 12 * time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	in := plots.FromResult(r)
	if len(in.Time) != len(r.Samples) || len(in.Channels) != len(b.Channels) {
		t.Fatalf("found %d times and %d channels", len(in.Time), len(in.Channels))
	}
	for k, c := range in.Channels {
		set := float64(b.Channels[k].Control.SetPoint)
		if c.Levels[0].Value != set || c.Name != b.Channels[k].Name {
			t.Errorf("channel %d: found %q with %v, want a set point of %g °C", k, c.Name, c.Levels, set)
		}
		var told []string
		for _, x := range c.Indicator {
			told = append(told, x.Indicator.String())
		}
		if s := strings.Join(told, " "); !strings.HasSuffix(s, "in band") || !strings.Contains(s, "heating") {
			t.Errorf("channel %d: found indicator %s, want heating and then in band", k, s)
		}
	}
	s, err := plots.Temperatures(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []string{"in band from", "set 85 °C", b.Channels[1].Name + ": water from 20.0 °C"} {
		if !strings.Contains(s.Alt(), x) {
			t.Errorf("found no %q in %s", x, s.Alt())
		}
	}
}

// TestFromResultEvents has every kind of event and of indicator.
func TestFromResultEvents(t *testing.T) {
	b := boardfile.Default()
	r := &sim.Result{Board: b}
	for i := range 3 {
		r.Samples = append(r.Samples, sim.Sample{Time: time.Duration(i) * time.Minute, Channels: make([]sim.ChannelSample, len(b.Channels))})
	}
	for i := sim.IndicatorOff; i <= sim.OverTemp; i++ {
		r.Events = append(r.Events, sim.Event{Time: time.Duration(i) * time.Second, Kind: sim.Shows, Detail: i.String()})
	}
	r.Events = append(r.Events,
		sim.Event{Time: time.Second, Channel: 1, Kind: sim.LinkOpened},
		sim.Event{Time: 2 * time.Second, Channel: -1, Kind: sim.Edited},
		sim.Event{Time: 3 * time.Second, Channel: 2, Kind: "something new", Detail: "to tell"})
	in := plots.FromResult(r)
	want := []plots.Event{{Time: 1, Channel: 1, Text: "link opened"}, {Time: 2, Channel: -1, Text: "board changed"}, {Time: 3, Channel: 2, Text: "something new to tell"}}
	if len(in.Events) != len(want) {
		t.Fatalf("found events %v, want %v", in.Events, want)
	}
	for i := range want {
		if in.Events[i] != want[i] {
			t.Errorf("found event %v, want %v", in.Events[i], want[i])
		}
	}
	// The words of the two packages for one indicator are the same.
	for i, c := range in.Channels[0].Indicator[1:] {
		if c.Indicator.String() != sim.Indicator(i).String() {
			t.Errorf("found indicator %q, want %q", c.Indicator, sim.Indicator(i))
		}
	}
	if n := len(in.Channels[0].Indicator); n != 6 {
		t.Errorf("found %d indicator states, want the first and 5 changes", n)
	}
}
