package faults_test

import (
	"context"
	"reflect"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/boardfile"
)

// bench is the embedded board with channels that can be told apart.
func bench(t *testing.T) *models.Board {
	t.Helper()
	f, err := boardfile.Embedded("dye-bench-230")
	if err != nil {
		t.Fatal(err)
	}
	for k := range f.Board.Channels {
		c := &f.Board.Channels[k]
		for range k {
			c.GateResistance, c.GateShunt = c.GateResistance*1.1, c.GateShunt*1.2
			c.Snubber.Capacitance *= 1.3
			c.Triac.Latching *= 1.1
			c.Opto.Trigger *= 1.05
			c.Drive.On *= 1.02
		}
	}
	f.Board.Channels[1].MT1 = models.MT1Load
	return f.Board
}

func crossed(t *testing.T, b *models.Board, texts ...string) *models.Board {
	t.Helper()
	set, err := faults.ParseSet(texts, nil)
	if err != nil {
		t.Fatal(err)
	}
	out, err := set.Applied(b)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// On the drawing of the exchanged wires, each boiler's loop has its own link,
// element, probe and control, and the other's triac with all that lies around
// it; each controller drives the parts that it drove before.
func TestLoadCrossed(t *testing.T) {
	b := bench(t)
	got := crossed(t, b, "1:load-crossed")
	for k, other := range []int{1, 0, 2} {
		want := b.Channels[other] // the electronics
		load := b.Channels[k]
		want.Name, want.Wire, want.Thermostat, want.Link, want.Element = load.Name, load.Wire, load.Thermostat, load.Link, load.Element
		want.Boiler, want.Probe, want.Control = load.Boiler, load.Probe, load.Control
		if !reflect.DeepEqual(got.Channels[k], want) {
			t.Errorf("channel %d: found %+v, expected %+v", k+1, got.Channels[k], want)
		}
		if s := got.DriveSource(k); s != other {
			t.Errorf("channel %d: found it driven by controller %d, expected %d", k+1, s+1, other+1)
		}
	}
	// The last channel's neighbour is the first.
	if s := crossed(t, b, "3:load-crossed").DriveSource(2); s != 0 {
		t.Errorf("found channel 3 driven by controller %d, expected 1", s+1)
	}
}

// What lies on a part goes with it, what lies on the load stays.
func TestLoadCrossedTakesPathsAlong(t *testing.T) {
	b := bench(t)
	for _, c := range []struct{ text, from, to string }{
		{"1:opto-shorted", "out2", "opto2"},
		{"1:film-earth", "out2", "PE"},
		{"1:gate-leak", "gate2", "rail"},
		{"1:snubber-capacitor-shorted", "snubber2", "rail"},
		{"3:film-earth", "out3", "PE"},
	} {
		got := crossed(t, b, c.text, "1:load-crossed").Bridges
		if len(got) != 1 {
			t.Fatalf("%s: found %d paths", c.text, len(got))
		}
		from, to := got[0].From.String(), got[0].To.String()
		if from != c.from || to != c.to {
			t.Errorf("%s: found %s to %s, expected %s to %s", c.text, from, to, c.from, c.to)
		}
	}
	b.Bridges = []models.Bridge{{Name: "film", From: models.At(models.Load, 0), To: models.Node{Place: models.ProtectiveEarth}, Resistance: 1e4}}
	if got := crossed(t, b, "1:load-crossed").Bridges[0]; got != b.Bridges[0] {
		t.Errorf("found %+v, expected the path at the load where it was", got)
	}
}

// Exchanging the wires a second time undoes it, and so far as the signals go
// exchanged plugs undo exchanged wires, in either order.
func TestExchangesUndoEachOther(t *testing.T) {
	b := bench(t)
	twice := crossed(t, b, "2:load-crossed", "2:load-crossed")
	twice.Crossings = nil
	if !reflect.DeepEqual(twice.Channels, b.Channels) {
		t.Error("found other channels after two exchanges, expected the healthy ones")
	}
	for _, texts := range [][]string{
		{"2:load-crossed", "2:load-crossed"}, {"2:load-crossed", "2:drive-crossed"}, {"2:drive-crossed", "2:load-crossed"},
		{"3:load-crossed", "3:drive-crossed"}, {"3:drive-crossed", "3:load-crossed"},
		{"1:drive-crossed", "1:load-crossed", "1:drive-crossed"}, // the same plugs are exchanged once
	} {
		got := crossed(t, b, texts...)
		for k := range got.Channels {
			if s := got.DriveSource(k); s != k {
				t.Errorf("%v: found channel %d driven by controller %d, expected its own", texts, k+1, s+1)
			}
		}
	}
	one := bench(t)
	one.Channels = one.Channels[:1]
	one.Couplings = nil
	for _, name := range []string{"load-crossed", "drive-crossed"} {
		if _, err := (faults.Set{faults.New(name, 0)}).Applied(one); err == nil {
			t.Errorf("%s: found it taken on a board of one channel", name)
		}
	}
}

// One controller asks for heat: the other boiler warms.
func TestLoadCrossedHeatsTheOther(t *testing.T) {
	b := bench(t)
	for k := range b.Channels {
		b.Channels[k].Control.Enabled = k == 1
	}
	set, err := faults.ParseSet([]string{"1:load-crossed"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	run, err := set.Start(1)
	if err != nil {
		t.Fatal(err)
	}
	r, err := sim.Run(context.Background(), b, sim.Options{Duration: 20 * time.Second, Edits: run})
	if err != nil {
		t.Fatal(err)
	}
	last := r.Samples[len(r.Samples)-1].Channels
	// The element's rating at the supply's voltage, less what the path drops.
	v := float64(b.Supply.Voltage)
	rated := v * v / float64(b.Channels[0].Element.Resistance)
	if p := last[0].Power; p < 0.95*rated || p > rated {
		t.Errorf("found %.1f W in the first boiler, expected a little below %.1f W", p, rated)
	}
	if p := last[1].Power + last[2].Power; p > 0.01 {
		t.Errorf("found %.3g W in the boilers whose triacs are off", p)
	}
}
