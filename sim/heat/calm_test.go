package heat_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/heat"
)

// pace is the same course of powers for both ways of taking a machine through
// a run: window by window with its events looked for, and by Calm.
type pace struct {
	b      *models.Board
	cycles int
}

// on is how many cycles of window k channel ch heats: all of them while the
// water is cold, then a number that never rests.
func (p *pace) on(k, ch int) int {
	if k < 200 {
		return p.cycles
	}
	return (7*k + 13*ch*k + k*k/11) % (p.cycles + 1) / 5
}

// pieces cuts window k at the cycles at which channels stop.
func (p *pace) pieces(k int, power func(piece, ch int) float64) []heat.Piece {
	n := len(p.b.Channels)
	half := p.b.Supply.HalfCycle()
	var out []heat.Piece
	for at := 0; at < p.cycles; {
		next := p.cycles
		for ch := range n {
			if c := p.on(k, ch); c > at {
				next = min(next, c)
			}
		}
		w := heat.Piece{Duration: float64(next-at) * 2 * half}
		w.Element, w.Link = make([]float64, n), make([]float64, n)
		for ch := range n {
			w.Element[ch] = 2e-3 // leakage
			if p.on(k, ch) > at {
				w.Element[ch] = power(len(out), ch)
				w.Link[ch], w.Pocket = 0.2, w.Pocket+6
			}
		}
		out = append(out, w)
		at = next
	}
	return out
}

func TestCalmAgreesWithWindows(t *testing.T) {
	for _, name := range []string{"dye-bench-230", "dye-bench-120"} {
		t.Run(name, func(t *testing.T) { compareCalm(t, embedded(t, name), 4000, 3995, 1e-3, 5e-3) })
	}
}

// Steam that leaks and is not fed again takes water with it: windows of Calm follow
// the mass, down to the mark at which the level is told to be low.
func TestCalmAgreesWithWindowsThatLeak(t *testing.T) {
	for _, c := range []struct {
		name           string
		flow           q.KilogramPerSecond
		spare          q.Kilogram // above the mark at the start, or 0 for the board's water
		until          time.Duration
		windows, least int
	}{
		{"a little", 5e-6, 0, 24 * time.Hour, 3600, 3590},
		{"more", 2e-5, 0, 24 * time.Hour, 3600, 3590},
		{"much", 5e-5, 0, 24 * time.Hour, 3600, 3580},
		{"for a while", 5e-5, 0, 10 * time.Minute, 900, 890},
		{"to the mark", 5e-5, 0.005, 24 * time.Hour, 120, 90}, // after 100 s
	} {
		t.Run(c.name, func(t *testing.T) {
			b := embedded(t, "dye-bench-230")
			b.Couplings = nil
			for ch := range b.Channels {
				bo := &b.Channels[ch].Boiler
				bo.Feed, bo.Draws = false, nil
				if ch > 0 {
					bo.Draws = []models.Draw{{To: c.until, Flow: c.flow, Steam: true, Refill: -1}}
				}
				if c.spare > 0 {
					bo.Water = bo.Wetted + c.spare
				}
			}
			events := compareCalm(t, b, c.windows, c.least, 1e-4, 1e-4)
			if low := func(e heat.Event) bool { return e.Kind == heat.LowLevel }; c.spare > 0 && !slices.ContainsFunc(events, low) {
				t.Errorf("found events %v, expected a low level", events)
			}
		})
	}
}

// paces is the same as Calm takes it.
func (p *pace) paces(k int, power func(piece, ch int) float64) []heat.Pace {
	var out []heat.Pace
	for _, w := range p.pieces(k, power) {
		x := heat.Pace{Pocket: w.Pocket, Beats: int(math.Round(w.Duration / (2 * p.b.Supply.HalfCycle())))}
		copy(x.Element[:], w.Element)
		copy(x.Link[:], w.Link)
		out = append(out, x)
	}
	return out
}

func embedded(t *testing.T, name string) *models.Board {
	t.Helper()
	f, err := boardfile.Embedded(name)
	if err != nil {
		t.Fatal(err)
	}
	return f.Board
}

// compareCalm takes both through windows, and checks that at least so many are taken
// by Calm, how many kelvins apart they come at most, elements and all else, and
// that the same happens, which it returns.
func compareCalm(t *testing.T, b *models.Board, windows, least int, most, mostElement float64) []heat.Event {
	p := &pace{b, b.Controller.Window / 2}
	dt := float64(b.Controller.Window) * b.Supply.HalfCycle()
	want, got := machine(t, b), machine(t, b)
	calm := got.Calm(dt, p.cycles)
	if calm == nil {
		t.Fatal("found no calm solution of the demonstration board, expected one")
	}
	volts := float64(b.Supply.Voltage)
	r20 := func(ch int) float64 { return float64(b.Channels[ch].Element.Resistance) }
	at := func(ch int, te float64) float64 { return volts * volts / b.Channels[ch].Element.ResistanceAt(te) }
	used, worst, worstElement := 0, 0.0, 0.0
	n := len(b.Channels)
	element, link := heat.Lanes{1, 1, 1, 1}, heat.Lanes{1, 1, 1, 1}
	var events, found []heat.Event
	for k := range windows {
		t0 := float64(k) * dt
		plan := func(o *heat.Outlook) []heat.Piece {
			return p.pieces(k, func(i, ch int) float64 { return at(ch, o.ElementMean(i, ch)) })
		}
		report, err := want.Window(t0, dt, plan)
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, report.Events...)
		r := calm.Rhythm(p.paces(k, func(_, ch int) float64 { return volts * volts / r20(ch) }))
		if !calm.Begin(t0, r, 1) {
			report, err := got.Window(t0, dt, plan)
			if err != nil {
				t.Fatal(err)
			}
			found = append(found, report.Events...)
		} else {
			means := calm.Means(r, &element)
			for ch, te := range means[:n] {
				element[ch] = r20(ch) / b.Channels[ch].Element.ResistanceAt(te)
			}
			calm.Advance(r, &element, &link, 1)
			found = append(found, calm.Turn()...)
			used++
		}
		a, c := want.State(), got.State()
		for ch := range n {
			worstElement = math.Max(worstElement, math.Abs(a.Element[ch]-c.Element[ch]))
			for _, d := range []float64{a.Water[ch] - c.Water[ch], a.Shell[ch] - c.Shell[ch], a.Probe[ch] - c.Probe[ch], a.Link[ch] - c.Link[ch]} {
				worst = math.Max(worst, math.Abs(d))
			}
			if d := math.Abs(a.Mass[ch] - c.Mass[ch]); d > 1e-9 {
				t.Fatalf("window %d, channel %d: found masses %g kg apart, expected the same", k, ch+1, d)
			}
		}
		worst = math.Max(worst, math.Max(math.Abs(a.Lid-c.Lid), math.Abs(a.Pocket-c.Pocket)))
	}
	t.Logf("%d of %d windows calm; furthest apart: elements %.3g K, all else %.3g K", used, windows, worstElement, worst)
	if used < least {
		t.Errorf("found %d of %d windows calm, expected at least %d", used, windows, least)
	}
	if !slices.EqualFunc(found, events, func(a, b heat.Event) bool {
		return a.Channel == b.Channel && a.Kind == b.Kind && math.Abs(a.Time-b.Time) < 1e-3
	}) {
		t.Errorf("found events %v, expected %v", found, events)
	}
	if worst > most || worstElement > mostElement {
		t.Errorf("found elements %g K apart and all else %g K, expected at most %g K and %g K", worstElement, worst, mostElement, most)
	}
	for _, m := range []*heat.Machine{want, got} {
		if err := m.Check(); err != nil {
			t.Error(err)
		}
	}
	x, y := want.Balance(), got.Balance()
	for _, d := range [][2]float64{{x.In, y.In}, {x.Ambient, y.Ambient}, {x.Carried, y.Carried}, {x.Enthalpy, y.Enthalpy}} {
		if math.Abs(d[0]-d[1]) > 1e-6*x.In {
			t.Errorf("found a balance of %+v, expected %+v", y, x)
		}
	}
	return events
}

func machine(t testing.TB, b *models.Board) *heat.Machine {
	t.Helper()
	m, err := heat.New(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
