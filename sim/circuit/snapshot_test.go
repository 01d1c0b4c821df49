package circuit

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"boilwright/models"
)

// TestRestore: a solver put back into a state, and another one that takes the
// state over, go on as the first did, to the last bit.
func TestRestore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDraw(t)
		b := drawBoard(d, boardKind{})
		in := drawDrive(d, b, 4)
		s, _, _ := calm(t, b, 2, in)
		s.OnSegment(nil)
		var sn Snapshot
		s.Snapshot(&sn)
		kept := sn.Clone()
		adopted, err := New(b)
		if err != nil {
			t.Fatal(err)
		}
		adopted.Adopt(s)
		run := func(s *Solver) (recs []Record) {
			for half := int64(2); half < 4; half++ {
				r, err := s.HalfCycle(in(half))
				if err != nil {
					t.Skip(err)
				}
				recs = append(recs, cloneRecord(r))
			}
			return recs
		}
		first := run(s)
		s.Restore(&kept)
		again := run(s)
		taken := run(adopted)
		for i := range first {
			again[i].Half, taken[i].Half = first[i].Half, first[i].Half
			for _, other := range []*Record{&again[i], &taken[i]} {
				// Equal but for where the search for roots began: by
				// rounding of an instant, some 1e-13 s of full power.
				close := func(x, y float64) bool {
					return math.Abs(x-y) <= 1e-11*math.Abs(first[i].Source)+1e-12*math.Abs(x)+1e-15
				}
				if !close(first[i].Stored, other.Stored) || first[i].Switchings != other.Switchings {
					t.Fatalf("half-cycle %d: stored %v J in %d switchings, then %v J in %d", first[i].Half, first[i].Stored, first[i].Switchings, other.Stored, other.Switchings)
				}
				for k := range first[i].Element {
					if !close(first[i].Element[k], other.Element[k]) || !close(first[i].Triac[k], other.Triac[k]) || !close(first[i].Gate[k], other.Gate[k]) {
						t.Fatalf("half-cycle %d: channel %d: %v J and %v J", first[i].Half, k+1, first[i].Element[k], other.Element[k])
					}
				}
			}
		}
	})
}

// TestNear: states a tolerance apart are the same, a little more and they are
// not; another discrete state never is.
func TestNear(t *testing.T) {
	s := mustNew(t, refBoard())
	mustSkip(t, s, 4, drives(12, 0, 12))
	var a, b Snapshot
	s.Snapshot(&a)
	s.Snapshot(&b)
	if !s.Near(&a, &b, 0, 0) {
		t.Error("a state is not near itself")
	}
	i := s.net.branches[s.net.part("snubber-capacitor2")].state
	b.x[i] = a.x[i] + 1e-3
	if !s.Near(&a, &b, 1.001e-3, 0) || s.Near(&a, &b, 0.999e-3, 0) {
		t.Error("capacitor voltages 1 mV apart: expected near within 1.001 mV and not within 0.999 mV")
	}
	b.x[i] = a.x[i]
	i = s.net.branches[s.net.part("line inductance")].state
	b.x[i] = a.x[i] + 1e-6
	if !s.Near(&a, &b, 0, 1.001e-6) || s.Near(&a, &b, 1, 0.999e-6) {
		t.Error("inductor currents 1 µA apart: expected near within 1.001 µA and not within 0.999 µA")
	}
	b.x[i] = a.x[i]
	b.odd = !b.odd
	if s.Near(&a, &b, 1, 1) {
		t.Error("states before the two half-waves are near each other")
	}
	b.odd = !b.odd
	b.key = b.key.with(s.net.branches[s.net.channels[1].main].valve, positive)
	if s.Near(&a, &b, 1, 1) {
		t.Error("states with different triacs conducting are near each other")
	}
}

// TestSettle: a healthy board ends its cycles as they began soon; with a
// meter of much capacitance on an open load it takes as long as that needs.
func TestSettle(t *testing.T) {
	s := mustNew(t, refBoard())
	ok, err := s.Settle(20, drives(12, 12, 12))
	if err != nil || !ok {
		t.Fatalf("healthy board: settled %v, %v", ok, err)
	}
	a := mustRecord(t, s, 2, drives(12, 12, 12))
	b := mustRecord(t, s, 2, drives(12, 12, 12))
	out := voltOf(t, s, models.At(models.Output, 1), models.At(models.Neutral, 0))
	near(t, "rms of two cycles", a.Moments(out).MeanSquare, b.Moments(out).MeanSquare, 230*230, 1e-9)

	// Slow: 1 µF and 10 MΩ behind a leaking triac, charged by a first cycle
	// that fires one half-wave only.
	m := healthyBoard(44)
	m.Supply.Damping = 50
	m.Channels[0].Element.Open, m.Channels[0].Snubber = true, models.Snubber{}
	m.Bridges = []models.Bridge{{Name: "meter", From: models.At(models.Output, 0), To: models.At(models.Neutral, 0), Resistance: 1e7, Capacitance: 1e-6}}
	s = mustNew(t, m)
	i := s.net.branches[s.net.part("bridge meter capacitance")].state
	s.x[i] = 100
	if ok, err := s.Settle(3, drives(0)); err != nil || ok {
		t.Errorf("a voltage that decays in seconds: settled %v within 3 cycles, %v", ok, err)
	}
}

// TestStranded: what is left in a channel that its open link cuts off changes
// nothing that others do, so that states that differ in it are alike; with a path
// that goes round the link they are not.
func TestStranded(t *testing.T) {
	for _, c := range []struct {
		name  string
		from  models.Node
		to    models.Node
		alike bool
	}{
		{"no bridge", models.Node{}, models.Node{}, true},
		{"across the triac", models.At(models.Output, 1), models.At(models.Line, 0), true},
		{"across the opto", models.At(models.Output, 1), models.At(models.OptoOutput, 1), true},
		{"elsewhere", models.At(models.Output, 0), models.At(models.Line, 0), true},
		{"round the link", models.At(models.Wire, 1), models.At(models.Midpoint, 1), false},
		{"to another channel", models.At(models.OptoOutput, 1), models.At(models.Output, 2), false},
	} {
		b := refBoard()
		if c.from != c.to {
			b.Bridges = []models.Bridge{{Name: "path", From: c.from, To: c.to, Resistance: 1e5}}
		}
		b.Channels[1].Link = models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 150, Capacity: 5, ToShell: 0.25}
		s := mustNew(t, b)
		s.OpenLink(1)
		mustSkip(t, s, 6, drives(12, 0, 12))
		if !s.LinkOpen(1) {
			t.Fatalf("%s: the link did not open", c.name)
		}
		var x, y Snapshot
		s.Snapshot(&x)
		s.Snapshot(&y)
		for _, part := range []string{"snubber-capacitor2", "link2"} {
			y.x[s.net.branches[s.net.part(part)].state] += 3
		}
		if s.Near(&x, &y, 1e-3, 1e-6) {
			t.Errorf("%s: states 3 V apart are near within 1 mV", c.name)
		}
		if got := s.Alike(&x, &y, 1e-3, 1e-6, 3.25); got != c.alike {
			t.Errorf("%s: found alike %t, expected %t", c.name, got, c.alike)
		}
		if !c.alike {
			continue
		}
		s.Restore(&x)
		first, err := s.HalfCycle(drives(12, 12, 12)(0))
		if err != nil {
			t.Fatal(err)
		}
		want := *first
		want.Element, want.Triac, want.Events = slices.Clone(first.Element), slices.Clone(first.Triac), slices.Clone(first.Events)
		s.Restore(&y)
		got, err := s.HalfCycle(drives(12, 12, 12)(0))
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.name+": energy of the source", got.Source, want.Source, want.Source, 1e-6)
		for k := range want.Element {
			near(t, c.name+": energy of an element", got.Element[k], want.Element[k], want.Source, 1e-6)
			near(t, c.name+": energy of a triac", got.Triac[k], want.Triac[k], want.Source, 1e-6)
		}
		fired := func(events []Event) (out []float64) {
			for _, e := range events {
				if e.Kind == Fired {
					out = append(out, e.Degrees)
				}
			}
			return out
		}
		a, d := fired(got.Events), fired(want.Events)
		if len(a) != len(d) || len(a) == 0 {
			t.Fatalf("%s: found firings at %v, expected %v", c.name, a, d)
		}
		for i := range a {
			near(t, c.name+": firing", a[i], d[i], 180, 1e-6)
		}
	}
}
