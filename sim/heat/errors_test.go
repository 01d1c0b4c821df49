package heat

import (
	"math"
	"strings"
	"testing"

	"boilwright/models"

	q "boilwright/models/quantity"
)

func TestBadBoards(t *testing.T) {
	for _, c := range []struct {
		name string
		edit func(b *models.Board)
		want string
	}{
		{"no channels", func(b *models.Board) { b.Channels = nil }, "found no channels"},
		{"no element", func(b *models.Board) { b.Channels[0].Element.Capacity = 0 }, `channel "only": element capacity: found 0 J/K`},
		{"not a number", func(b *models.Board) { b.Channels[0].Boiler.WaterToShell = -1 }, "water to shell: found -1 W/K, expected a finite value of 0 or more"},
		{"infinite", func(b *models.Board) { b.Lid.ToAir = q.WattPerKelvin(math.Inf(1)) }, "lid: to air: found +Inf W/K"},
		{"scale", func(b *models.Board) { b.Channels[0].Boiler.Scale = 0 }, "scale: found 0"},
		{"floor", func(b *models.Board) { b.Channels[0].Boiler.Floor = 0 }, "floor: found 0 kg"},
		{"start", func(b *models.Board) { b.Channels[0].Boiler.Start = 105 }, "expected at most the boiling point 99.97 °C"},
		{"vacuum", func(b *models.Board) { b.AmbientPressure = 100 }, "ambient pressure: found 100 Pa"},
		{"reseat", func(b *models.Board) {
			bo := &b.Channels[0].Boiler
			bo.Open, bo.Relief, bo.Reseat = false, 2e5, 2.1e5
		}, "reseat: found 210000 Pa, expected 612 Pa to the relief pressure 200000 Pa"},
		{"inlet", func(b *models.Board) { b.Channels[0].Boiler.Inlet = 100 }, "inlet: found 100 °C"},
		{"refill", func(b *models.Board) { b.Channels[0].Boiler.Draws = []models.Draw{{Refill: 0}} }, "draw 1: refill: found channel 1"},
		{"coupling", func(b *models.Board) { b.Couplings = []models.Coupling{{A: 0, B: 3, Conductance: 1}} }, "coupling 1: channels: found 1 and 4"},
		{"too fast", func(b *models.Board) { b.Channels[0].Boiler.ElementToWater = 1e7 }, "shortest time constant"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := lumped()
			c.edit(b)
			_, err := New(b)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("found %v, expected %q in it", err, c.want)
			}
			if c.name == "start" {
				return // an edit can't change it
			}
			m := mustNew(t, lumped())
			before := m.State().x[0]
			if err := m.Rebuild(b); err == nil || m.State().x[0] != before {
				t.Errorf("found %v from an edit, expected an error", err)
			}
		})
	}
	b := lumped()
	b.Channels[0].Boiler.Scale, b.Channels[0].Boiler.Floor = -1, -1
	if _, err := New(b); err == nil || strings.Count(err.Error(), "found") != 2 {
		t.Errorf("found %v, expected both faults", err)
	}
}

func TestBadWindows(t *testing.T) {
	b := lumped()
	m := mustNew(t, b)
	one := func(w float64) []float64 { return []float64{w} }
	for _, c := range []struct {
		name   string
		t0, dt float64
		pieces []Piece
		want   string
	}{
		{"no time", 0, 0, []Piece{{Duration: 0}}, "found 0 s from 0 s"},
		{"not a number", math.NaN(), 1, []Piece{{Duration: 1}}, "from NaN s"},
		{"no pieces", 0, 1, nil, "found 0 pieces"},
		{"too short", 0, 1, []Piece{{Duration: 0.5}}, "last 0.5 s, expected 1 s"},
		{"backward", 0, 1, []Piece{{Duration: 1.5}, {Duration: -0.5}}, "piece 2: found a duration of -0.5 s"},
		{"power", 3, 1, []Piece{{1, Powers{Element: one(math.NaN())}}}, "window at 3 s: piece 1: found a power that isn't finite"},
		{"channels", 0, 1, []Piece{{1, Powers{Element: []float64{1, 2}}}}, "powers of 2 elements"},
		{"upstream", 0, 1, []Piece{{1, Powers{Upstream: 1}}}, "the board has none"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := m.Window(c.t0, c.dt, func(*Outlook) []Piece { return c.pieces })
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("found %v, expected %q in it", err, c.want)
			}
		})
	}
	if _, err := m.Coast(0, 10, Powers{Pocket: math.Inf(1)}); err == nil {
		t.Error("found no error from coasting at infinite power")
	}
	if m.Balance() != (Balance{}) {
		t.Errorf("found %+v after refused windows, expected nothing", m.Balance())
	}
}

// What a plan is told: the start first, then the middle of the window and the
// mean of each piece.
func TestOutlook(t *testing.T) {
	b := lumped()
	m := mustNew(t, b)
	pieces := []Piece{{Duration: 0.5, Powers: Powers{Element: []float64{100}}}, {Duration: 1.5}}
	pass := 0
	_, err := m.Window(0, 2, func(o *Outlook) []Piece {
		if o.Pass != pass {
			t.Errorf("found pass %d, expected %d", o.Pass, pass)
		}
		if pass == 0 {
			near(t, "element in the first pass", o.Element[0], 20, 0)
			near(t, "mean in the first pass", o.ElementMean(0, 0), 20, 0)
		} else { // 100 W for 0.5 s into 100 J/K: 20 to 20.5 °C
			near(t, "element in the middle", o.Element[0], 20.5, 1e-12)
			near(t, "mean of the first piece", o.ElementMean(0, 0), 20.25, 1e-12)
			near(t, "mean of the second piece", o.ElementMean(1, 0), 20.5, 1e-12)
			near(t, "mean of a piece that there isn't", o.ElementMean(2, 0), 20.5, 1e-12)
		}
		pass++
		return pieces
	})
	if err != nil {
		t.Fatal(err)
	}
	if pass != 2 {
		t.Errorf("found %d calls, expected 2", pass)
	}
}

// A balance that doesn't close is told.
func TestBalanceCheck(t *testing.T) {
	good := Balance{In: 1e6, Stored: 6e5, Enthalpy: 6e5, Ambient: 3e5, Carried: 1e5}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	bad := good
	bad.Stored += 2e-9 * bad.In
	if err := bad.Check(); err == nil {
		t.Error("found no error for a residual of 2e-9")
	}
	bad = good
	bad.Enthalpy += 2e-5 * bad.In
	if err := bad.Check(); err == nil {
		t.Error("found no error for a residual of 2e-5 with m H(T)")
	}
	bad.Enthalpy = math.NaN()
	if err := bad.Check(); err == nil {
		t.Error("found no error for NaN")
	}
}
