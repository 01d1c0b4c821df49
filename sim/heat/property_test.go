package heat

import (
	"math"
	"slices"
	"testing"

	"boilwright/models"

	"pgregory.net/rapid"
)

func newOrFatal(t *rapid.T, b *models.Board) *Machine {
	m, err := New(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// run takes m through windows of one second of the same pieces.
func run(t *rapid.T, m *Machine, from, to int, pieces []Piece) []Event {
	var events []Event
	for k := from; k < to; k++ {
		r, err := m.Window(float64(k), 1, func(*Outlook) []Piece { return pieces })
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, r.Events...)
	}
	return events
}

// Whatever happens - boiling, draws, relief, running dry - energy is
// conserved, nothing is NaN, masses stay between floor and start, water that
// isn't dry stays at or below its boiling point, and events come in order.
func TestConservation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		m := newOrFatal(t, b)
		var last float64
		for k := range 8 {
			pieces := drawPieces(t, b)
			for j := range 25 {
				at := float64(25*k + j)
				r, err := m.Window(at, 1, func(*Outlook) []Piece { return pieces })
				if err != nil {
					t.Fatal(err)
				}
				for _, e := range r.Events {
					if e.Time < last || e.Time < at || e.Time > at+1 {
						t.Fatalf("found %v after %g s in the window from %g s", e, last, at)
					}
					last = e.Time
				}
				if f, _ := r.Energy.Residuals(); math.Abs(f) > 1e-9 {
					t.Fatalf("window at %g s: found a residual of %g", at, f)
				}
			}
			s := m.State()
			for i, v := range s.x {
				if math.IsNaN(v) || v < -30 || v > 3000 {
					t.Fatalf("node %d: found %g °C", i, v)
				}
			}
			for i := range b.Channels {
				bo := &b.Channels[i].Boiler
				if s.Mass[i] > float64(bo.Water) || s.Mass[i] < float64(bo.Floor) {
					t.Fatalf("channel %d: found %g kg, expected %g to %g", i, s.Mass[i], bo.Floor, bo.Water)
				}
				if bo.Feed && s.Mass[i] != float64(bo.Water) {
					t.Fatalf("channel %d with a feed: found %g kg, expected %g", i, s.Mass[i], bo.Water)
				}
				if !s.Dry[i] && s.Water[i] > s.vessels[i].boiling {
					t.Fatalf("channel %d: found %g °C above boiling %g", i, s.Water[i], s.vessels[i].boiling)
				}
			}
		}
		if err := m.Check(); err != nil {
			t.Fatal(err)
		}
	})
}

// The machine against the classical Runge-Kutta method in steps of 1/40 s on
// the equations as written, without any freezing, where nothing boils.
func TestAgainstRungeKutta(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		for i := range b.Channels {
			bo := &b.Channels[i].Boiler
			bo.Start = min(bo.Start, 60)
			for k := range bo.Draws { // change on the grid of the steps
				d := &bo.Draws[k]
				d.From, d.To = d.From.Round(5e8), d.To.Round(5e8)+5e8
				if d.Every > 0 {
					d.Every = d.Every.Round(5e8) + 1e9
				}
			}
		}
		m := newOrFatal(t, b)
		p := Powers{Element: make([]float64, 3), Link: []float64{0.1, 0.2, 0.3}, Pocket: 10}
		for i := range p.Element {
			p.Element[i] = rapid.Float64Range(0, 500).Draw(t, "power")
		}
		if b.Upstream != nil {
			p.Upstream = 0.3
		}
		y := append(slices.Clone(m.State().x), m.State().Mass...)
		for k := range 40 {
			r, err := m.Window(float64(k), 1, constant(1, p))
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range r.Events {
				if e.Kind == BoilStart || e.Kind == ReliefOpen || e.Kind == RanDry {
					return
				}
			}
			for j := range 40 {
				rungeKutta(b, float64(k)+float64(j)/40, 1.0/40, y, &p)
			}
		}
		s := m.State()
		for i, v := range s.x {
			if math.Abs(v-y[i]) > 2e-3 { // K; what coefficients frozen for a second leave at most, where little water warms fast
				t.Errorf("node %d: found %.9g, expected %.9g", i, v, y[i])
			}
		}
		for i, v := range s.Mass {
			if w := y[len(s.x)+i]; math.Abs(v-w) > 1e-9 {
				t.Errorf("mass of channel %d: found %.12g, expected %.12g", i, v, w)
			}
		}
	})
}

// More power never makes any node cooler, where nothing boils.
func TestMonotoneInPower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		for i := range b.Channels {
			bo := &b.Channels[i].Boiler
			bo.Start, bo.Draws = 20, nil
		}
		low := drawPieces(t, b)
		high := make([]Piece, len(low))
		more := rapid.Float64Range(0, 500).Draw(t, "more")
		for k := range low {
			high[k] = low[k]
			high[k].Element = slices.Clone(low[k].Element)
			high[k].Element[1] += more
		}
		a, c := newOrFatal(t, b), newOrFatal(t, b)
		run(t, a, 0, 20, low)
		run(t, c, 0, 20, high)
		for i, v := range a.State().x {
			if c.State().x[i] < v-1e-9 {
				t.Errorf("node %d: found %.12g with more power, expected at least %.12g", i, c.State().x[i], v)
			}
		}
	})
}

// Equal channels stay equal, to the last bit.
func TestEqualChannels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 1)
		for k := range b.Channels[0].Boiler.Draws {
			b.Channels[0].Boiler.Draws[k].Refill = -1
		}
		b.Channels = append(b.Channels, b.Channels[0], b.Channels[0])
		one := drawPieces(t, &models.Board{Channels: b.Channels[:1], Upstream: b.Upstream})
		for k := range one {
			e, l := one[k].Element[0], one[k].Link[0]
			one[k].Element, one[k].Link = []float64{e, e, e}, []float64{l, l, l}
		}
		m := newOrFatal(t, b)
		run(t, m, 0, 200, one)
		s := m.State()
		for _, x := range [][]float64{s.Element, s.Water, s.Shell, s.Probe, s.Link, s.Mass, s.Steam} {
			if x[0] != x[1] || x[1] != x[2] {
				t.Errorf("found %v, expected all the same", x)
			}
		}
	})
}

// Without power everything comes to the room's temperature.
func TestRelaxation(t *testing.T) {
	boards := rapid.Custom(func(t *rapid.T) *models.Board { return drawBoard(t, 3) })
	for seed := range 12 {
		b := boards.Example(seed)
		b.Lid.ToAir, b.Pocket.ToAir = max(b.Lid.ToAir, 1), max(b.Pocket.ToAir, 0.5)
		for i := range b.Channels { // time constants below an hour
			bo := &b.Channels[i].Boiler
			bo.Draws, bo.ShellToAir = nil, 2
			bo.Water, bo.Floor = min(bo.Water, 0.6), min(bo.Floor, 0.1)
		}
		m := mustNew(t, b)
		r, err := m.Coast(0, 86400, Powers{})
		if err != nil {
			t.Fatal(err)
		}
		if r.Advanced != 86400 || r.Early {
			t.Fatalf("board %d: found an advance of %g s", seed, r.Advanced)
		}
		for i, v := range m.State().x {
			if i == len(m.State().x)-1 && b.Upstream == nil {
				continue
			}
			if math.Abs(v-float64(b.Ambient)) > 1e-6 {
				t.Errorf("board %d, node %d: found %.9g °C, expected %.9g", seed, i, v, float64(b.Ambient))
			}
		}
		if err := m.Check(); err != nil {
			t.Error(err)
		}
	}
}

// Splitting a piece in two changes nothing.
func TestSplitPiece(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		whole := drawPieces(t, b)
		at := rapid.IntRange(0, len(whole)-1).Draw(t, "piece")
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		var split []Piece
		for k, p := range whole {
			if k == at {
				first := p
				first.Duration *= share
				p.Duration -= first.Duration
				split = append(split, first)
			}
			split = append(split, p)
		}
		a, c := newOrFatal(t, b), newOrFatal(t, b)
		ea := run(t, a, 0, 30, whole)
		ec := run(t, c, 0, 30, split)
		if len(ea) != len(ec) {
			t.Fatalf("found %v, expected %v", ec, ea)
		}
		for i := range ea {
			if ea[i].Kind != ec[i].Kind || math.Abs(ea[i].Time-ec[i].Time) > 1e-8 {
				t.Errorf("found %v, expected %v", ec[i], ea[i])
			}
		}
		for i, v := range a.State().x {
			if w := c.State().x[i]; math.Abs(v-w) > 1e-12*math.Max(1, math.Abs(v)) {
				t.Errorf("node %d: found %.16g, expected %.16g", i, w, v)
			}
		}
	})
}

// Coasting is the same as windows of a second, but for the freezing.
func TestCoastAgainstWindows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		a, c := newOrFatal(t, b), newOrFatal(t, b)
		var p Powers
		p.Pocket = rapid.Float64Range(0, 3).Draw(t, "pocket")
		if rapid.Bool().Draw(t, "one stuck on") {
			p.Element = []float64{0, 900, 0}
		}
		ra, err := a.Coast(0, 600, p)
		if err != nil {
			t.Fatal(err)
		}
		told := slices.Clone(ra.Events)
		events := run(t, c, 0, 600, []Piece{{1, p}})
		for i, v := range a.State().x {
			// An element that boils dry lags behind its wet fraction by half
			// a window, and what it heats by a little of that.
			if w := c.State().x[i]; math.Abs(v-w) > 5e-3 && (i > 2 || math.Abs(v-w) > 0.1) {
				t.Errorf("node %d: found %.9g, expected %.9g", i, v, w)
			}
		}
		for i, v := range a.State().Mass {
			if w := c.State().Mass[i]; math.Abs(v-w) > 1e-5 {
				t.Errorf("mass of channel %d: found %.9g, expected %.9g", i, v, w)
			}
		}
		if err := a.Check(); err != nil {
			t.Error(err)
		}
		if len(told) == len(events) {
			for i := range told {
				if told[i].Kind != events[i].Kind || math.Abs(told[i].Time-events[i].Time) > 0.5 {
					t.Errorf("found %v, expected %v", told[i], events[i])
				}
			}
		}
	})
}
