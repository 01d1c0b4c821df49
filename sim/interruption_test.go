package sim_test

import (
	"math"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim"

	q "boilwright/models/quantity"
)

// A link opens at the zero of its current that follows the instant at which it
// reaches its temperature, once, and for good, whatever becomes of its board
// or its temperature.
func TestLinkOpensOnce(t *testing.T) {
	for _, full := range []bool{false, true} {
		b := alone(t, "dye-bench-230")
		b.Channels[1].Link.Functions = 82.02
		// It cools below 82 °C, and hot water warms it again from 3 s on.
		b.Channels[1].Boiler.Draws = []models.Draw{
			{From: 1500 * time.Millisecond, To: 2500 * time.Millisecond, Flow: 0.2, Refill: -1},
			{From: 3 * time.Second, To: 10 * time.Second, Flow: 0.3, Refill: 2},
		}
		b.Channels[2].Boiler.Water = 50
		b.Channels[1].Link.Capacity, b.Channels[1].Link.ToShell = 1, 2
		e := &switched{edit: func(b *models.Board, v uint64) error { b.Channels[0].Boiler.Scale = q.Ratio(1 + v); return nil }}
		for i := range 30 {
			e.at = append(e.at, time.Duration(i+1)*230*time.Millisecond)
			e.version = append(e.version, uint64(i%3))
		}
		r, all := everyHalf(t, b, sim.Options{Duration: 10 * time.Second, Every: 500 * time.Millisecond, Full: full, Edits: e})
		var opened []time.Duration
		for _, x := range r.Events {
			if x.Kind == sim.LinkOpened {
				opened = append(opened, x.Time)
			}
		}
		if len(opened) != 1 {
			t.Errorf("full %t: found the link opened at %v, expected once", full, opened)
		}
		if len(opened) == 0 {
			continue
		}
		cool, hot := math.Inf(1), 0.0
		for _, s := range r.Samples {
			if c := s.Channels[1]; s.Time > opened[0] {
				cool, hot = min(cool, c.Link), max(hot, c.Link)
				if !c.LinkOpen {
					t.Errorf("full %t, at %v: found the link closed", full, s.Time)
				}
			}
		}
		if cool > 81.5 || hot < 85 {
			t.Errorf("full %t: found the link between %g °C and %g °C afterwards, expected it to cool and warm", full, cool, hot)
		}
		last := int(opened[0] / (10 * time.Millisecond))
		for i, h := range all {
			if flows := h.Current > 1; flows != (i <= last) {
				t.Errorf("full %t: half-cycle %d: found %g A, expected it to flow to the end of half-cycle %d, in which the link reached its temperature", full, i, h.Current, last)
				break
			}
			if open := h.Open>>1&1 == 1; open != (i > last) {
				t.Errorf("full %t: half-cycle %d: found the link told open: %t", full, i, open)
				break
			}
		}
	}
}

// The link ahead of all channels ends them all.
func TestUpstreamLinkEndsAllChannels(t *testing.T) {
	for _, full := range []bool{false, true} {
		b := alone(t, "dye-bench-230")
		for k := range b.Channels {
			b.Channels[k].Control.Enabled = true
		}
		b.Upstream = &models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 83.9, Capacity: 1, ToShell: 0.25}
		e := &switched{at: []time.Duration{3 * time.Second, 4 * time.Second}, version: []uint64{1, 0},
			edit: func(b *models.Board, _ uint64) error { b.Channels[0].Boiler.Scale = 2; return nil }}
		r, all := everyHalf(t, b, sim.Options{Duration: 6 * time.Second, Every: 500 * time.Millisecond, Full: full, Edits: e})
		var opened []sim.Event
		for _, x := range r.Events {
			if x.Kind == sim.LinkOpened {
				opened = append(opened, x)
			}
		}
		if len(opened) != 1 || opened[0].Channel != -1 || opened[0].Time == 0 || opened[0].Time > 3*time.Second {
			t.Fatalf("full %t: found %v, expected the upstream link to open once, within 3 s", full, opened)
		}
		last := int(opened[0].Time / (10 * time.Millisecond))
		for i, h := range all {
			if flows := h.Current > 1; flows != (i <= last) || h.Upstream != (i > last) {
				t.Fatalf("full %t: half-cycle %d: found %g A and the link open: %t, expected it to open after half-cycle %d", full, i, h.Current, h.Upstream, last)
			}
		}
		for _, o := range r.Outcomes {
			if o.Verdict == sim.Reaches || o.Verdict == sim.StillUp {
				t.Errorf("full %t, %s: found verdict %q without a supply", full, o.Channel, o.Verdict)
			}
		}
	}
}

// Sags, swells and interruptions change the supply from zero to zero, and
// nothing after them.
func TestSupplyEvents(t *testing.T) {
	for _, full := range []bool{false, true} {
		b := alone(t, "dye-bench-230")
		b.Supply.Events = []models.SupplyEvent{
			{From: 1004 * time.Millisecond, To: 1300 * time.Millisecond, Factor: 0.7},
			{From: 1200 * time.Millisecond, To: 1250 * time.Millisecond, Factor: 0.5},
			{From: 1700 * time.Millisecond, To: 1721 * time.Millisecond, Factor: 0},
			{From: 2500 * time.Millisecond, To: 2600 * time.Millisecond, Factor: 1.1},
		}
		r, all := everyHalf(t, b, sim.Options{Duration: 4 * time.Second, Every: 500 * time.Millisecond, Full: full})
		plain := b.Clone()
		plain.Supply.Events = nil
		_, healthy := everyHalf(t, plain, sim.Options{Duration: 4 * time.Second, Full: full})
		for i, h := range all {
			want := 1.0
			switch {
			case i >= 120 && i < 125:
				want = 0.35
			case i >= 101 && i < 130:
				want = 0.7
			case i >= 170 && i < 173:
				want = 0
			case i >= 250 && i < 260:
				want = 1.1
			}
			// Firing and the threshold of the triac are not in proportion, and
			// the element's temperature is another afterwards.
			if found := h.Current / healthy[i].Current; math.Abs(found-want) > 0.01*want+1e-3 {
				t.Errorf("full %t: half-cycle %d: found %.4f of the current, expected %.4g", full, i, found, want)
			}
			if found := h.Voltage / healthy[i].Voltage; math.Abs(found-want) > 0.01*want+1e-3 {
				t.Errorf("full %t: half-cycle %d: found %.4f of the voltage, expected %.4g", full, i, found, want)
			}
		}
		if a, z := r.Samples[2].Channels[1].Power, r.Samples[8].Channels[1].Power; math.Abs(z/a-1) > 0.01 {
			t.Errorf("full %t: found %g W before and %g W after, expected the same", full, a, z)
		}
	}
}
