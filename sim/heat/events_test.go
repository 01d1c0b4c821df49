package heat

import (
	"math"
	"slices"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/models/water"

	q "boilwright/models/quantity"
)

// A link of 5 J/K and 0.25 W/K on a shell that stays at 20 °C, heated by 50 W
// in itself, reaches 112 °C at t = −C/G ln(1 − G ΔT/P); closed form.
func TestLinkIsLocated(t *testing.T) {
	b := lumped()
	b.Channels[0].Boiler.ShellCapacity = 1e13
	b.Channels[0].Link = models.ThermalLink{Functions: 112, Capacity: 5, ToShell: 0.25}
	want := -20 * math.Log(1-0.25*92/50)
	on := Powers{Link: []float64{50}}
	for _, dt := range []float64{1, 0.37, 100} { // windows that don't divide it
		m := mustNew(t, b)
		at := 0.0
		for ; ; at += dt {
			r, err := m.Window(at, dt, constant(dt, on))
			if err != nil {
				t.Fatal(err)
			}
			if r.Early {
				if len(r.Events) != 1 || r.Events[0].Kind != LinkReached || r.Events[0].Channel != 0 {
					t.Fatalf("found %v, expected %v", r.Events, LinkReached)
				}
				near(t, "time of the link", r.Events[0].Time, want, 1e-9)
				near(t, "advance", at+r.Advanced, want, 1e-9)
				near(t, "link", m.State().Link[0], 112, 1e-9)
				at += r.Advanced
				break
			}
		}
		// Left closed, it isn't told again; as a new part it is.
		if r, err := m.Window(at, 1, constant(1, on)); err != nil || r.Early || len(r.Events) > 0 {
			t.Errorf("found %+v, %v after the link was told, expected nothing more", r, err)
		}
		b2 := b.Clone()
		b2.Channels[0].Link.Functions = 150
		if err := m.Rebuild(b2); err != nil {
			t.Fatal(err)
		}
		if r, err := m.Window(at+1, 100, constant(100, on)); err != nil || !r.Early {
			t.Errorf("found %+v, %v for a link of 150 °C, expected it to be told", r, err)
		}
	}
}

// The link on a shell that overshoots after the power is cut comes within
// 0.1 mK of its peak for less than a second: both crossings lie inside one
// piece, and inside one step of the series.
func TestTwoCrossingsInOnePiece(t *testing.T) {
	b := lumped()
	ch := &b.Channels[0]
	ch.Element.Capacity = 150
	ch.Boiler.ShellCapacity = 2500
	ch.Boiler.ElementToShell = 12
	ch.Boiler.ShellToAir = 0.5
	ch.Link = models.ThermalLink{Functions: q.Celsius(math.Inf(1)), Capacity: 5, ToShell: 0.25}
	heat := func() *Machine {
		m := mustNew(t, b)
		advance(t, m, 0, 187, Powers{Element: []float64{1200}})
		return m
	}
	m := heat()
	peak, when := 0.0, 0.0
	for k := range 2000 {
		if _, err := m.Window(187+0.1*float64(k), 0.1, constant(0.1, Powers{})); err != nil {
			t.Fatal(err)
		}
		if v := m.State().Link[0]; v > peak {
			peak, when = v, 187+0.1*float64(k+1)
		}
	}
	ch.Link.Functions = q.Celsius(peak - 1e-5)
	m = heat()
	if step := m.net.longest(); step < 5 {
		t.Fatalf("found a step of %g s, expected one longer than both crossings", step)
	}
	r, err := m.Window(187, 200, constant(200, Powers{}))
	if err != nil {
		t.Fatal(err)
	}
	if !r.Early {
		t.Fatalf("found no event, expected one near %g s", when)
	}
	if d := when - r.Events[0].Time; d < 0 || d > 2 {
		t.Errorf("found %v, expected it just before the peak at %g s", r.Events[0], when)
	}
	near(t, "link", m.State().Link[0], peak-1e-5, 1e-10)
}

func TestUpstreamLink(t *testing.T) {
	b := lumped()
	b.Channels = append(b.Channels, b.Channels[0])
	b.Channels[1].Boiler.Start = 60
	b.Upstream = &models.ThermalLink{Functions: 100, Capacity: 5, ToShell: 0.25}
	for i := range b.Channels {
		b.Channels[i].Boiler.ShellCapacity = 1e13
	}
	// It starts at the mean of the shells, 40 °C, and sees them together by
	// 0.25 W/K.
	m := mustNew(t, b)
	near(t, "start", m.State().Upstream, 40, 0)
	r, err := m.Window(0, 100, constant(100, Powers{Upstream: 50}))
	if err != nil {
		t.Fatal(err)
	}
	if !r.Early || r.Events[0].Channel != AllChannels || r.Events[0].Kind != LinkReached {
		t.Fatalf("found %+v, expected the upstream link", r)
	}
	near(t, "time of the link", r.Events[0].Time, -20*math.Log(1-0.25*60/50), 1e-8)
	b.Upstream = nil
	if err := m.Rebuild(b); err == nil {
		t.Error("found no error for taking the upstream link away")
	}
}

// Boiling without losses takes P/h_fg off the mass, so the level and the
// floor are reached when they must be; then the rest heats up.
func TestBoilingDry(t *testing.T) {
	b := kettle(0.5, 95, 99)
	bo := &b.Channels[0].Boiler
	bo.Wetted, bo.Floor = 0.3, 0.25
	b.Channels[0].Element.Capacity = 1
	m := mustNew(t, b)
	on := Powers{Element: []float64{1000}}
	events := advance(t, m, 0, 700, on)
	var kinds []Kind
	for _, e := range events {
		kinds = append(kinds, e.Kind)
	}
	if want := []Kind{BoilStart, LowLevel, RanDry}; !slices.Equal(kinds, want) {
		t.Fatalf("found %v, expected %v", events, want)
	}
	rate := 1000 / water.Hfg(99)
	// The element is 100 K above the water when it boils, 120 K when dry.
	start := (0.5*(water.H(99)-water.H(95)) + 1*(99+100-95)) / 1000
	near(t, "start of boiling", events[0].Time, start, 0.01)
	near(t, "low level", events[1].Time-events[0].Time, 0.2/rate, 1e-3)
	near(t, "dry", events[2].Time-events[1].Time, 0.05/rate+0.02, 0.01)
	s := m.State()
	if !s.Dry[0] || s.Holding[0] || s.Mass[0] != 0.25 {
		t.Errorf("found dry %t, holding %t, %g kg", s.Dry[0], s.Holding[0], s.Mass[0])
	}
	near(t, "steam", s.Steam[0], 0.25, 1e-10)
	// The element's 1 J/K, a thousandth of the water's, warms along.
	near(t, "water after running dry", s.Water[0], water.TemperatureOfH(water.H(99)+1000*(700-events[2].Time)/0.25), 0.15)
	if err := m.Check(); err != nil {
		t.Error(err)
	}
	// With a feed the mass stays and it boils for ever.
	bo.Feed = true
	m = mustNew(t, b)
	if events := advance(t, m, 0, 700, on); len(events) != 1 || m.State().Mass[0] != 0.5 {
		t.Errorf("with a feed: found %v and %g kg, expected boiling at 0.5 kg", events, m.State().Mass[0])
	}
}

// closed is a closed boiler that cools.
func closed() *models.Board {
	b := kettle(0.5, 100, 99)
	bo := &b.Channels[0].Boiler
	bo.Open, bo.Relief, bo.Reseat = false, 3e5, 2.7e5
	bo.WaterToShell, bo.ShellToAir = 60, 3
	return b
}

func TestReliefValve(t *testing.T) {
	b := closed()
	m := mustNew(t, b)
	on, off := Powers{Element: []float64{1200}}, Powers{}
	hot, err := water.SaturationTemperature(3e5)
	if err != nil {
		t.Fatal(err)
	}
	events := advance(t, m, 0, 150, on)
	if len(events) != 1 || events[0].Kind != ReliefOpen {
		t.Fatalf("found %v, expected the valve to open", events)
	}
	s := m.State()
	if s.Water[0] != hot || !s.Holding[0] || !s.Venting[0] || s.Pressure(0) != 3e5 {
		t.Errorf("found %g °C, %g Pa, holding %t, venting %t", s.Water[0], s.Pressure(0), s.Holding[0], s.Venting[0])
	}
	// Cut for a little while it stops letting out steam but stays open, and
	// opens no second time.
	if events = advance(t, m, 150, 160, off); len(events) > 0 || s.Holding[0] || !s.Venting[0] {
		t.Errorf("found %v, holding %t, venting %t after the power is cut", events, s.Holding[0], s.Venting[0])
	}
	mass := s.Mass[0]
	if events = advance(t, m, 160, 162, on); s.Mass[0] != mass {
		t.Errorf("found %g kg below the relief pressure, expected %g", s.Mass[0], mass)
	}
	if events = append(events, advance(t, m, 162, 200, on)...); len(events) > 0 || !s.Holding[0] {
		t.Errorf("found %v, holding %t, expected no second opening", events, s.Holding[0])
	}
	// Then it cools to the reseating pressure.
	at := 200.0
	for {
		r, err := m.Window(at, 1, constant(1, off))
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Events) > 0 {
			if r.Events[0].Kind != ReliefReseat {
				t.Fatalf("found %v, expected the valve to reseat", r.Events)
			}
			at = r.Events[0].Time
			break
		}
		at++
	}
	c := mustNew(t, b)
	advance(t, c, 0, 150, on)
	advance(t, c, 150, 160, off)
	advance(t, c, 160, 200, on)
	whole := math.Floor(at)
	advance(t, c, 200, whole, off)
	if _, err := c.Window(whole, at-whole, constant(at-whole, off)); err != nil {
		t.Fatal(err)
	}
	near(t, "pressure on reseating", c.State().Pressure(0), 2.7e5, 0.1)
}

// Draws begin and end at their nanosecond, also inside a window, and an edit
// that leaves one alone doesn't start it again.
func TestDraws(t *testing.T) {
	b := kettle(1, 80, 99)
	bo := &b.Channels[0].Boiler
	draw := models.Draw{From: 1500 * time.Millisecond, To: 2250*time.Millisecond + 7, Every: 5 * time.Second, Flow: 0.01, Refill: -1}
	bo.Draws = []models.Draw{draw}
	m := mustNew(t, b)
	events := advance(t, m, 0, 7, Powers{})
	want := []Event{{1.5, 0, DrawStart}, {2.250000007, 0, DrawStop}, {6.5, 0, DrawStart}}
	if len(events) != 3 {
		t.Fatalf("found %v, expected %v", events, want)
	}
	for i, e := range events {
		near(t, e.String(), e.Time, want[i].Time, 1e-12)
	}
	bo.Draws = []models.Draw{{From: 100 * time.Second, To: 200 * time.Second, Steam: true, Flow: 1e-4}, draw}
	if err := m.Rebuild(b); err != nil {
		t.Fatal(err)
	}
	if events = advance(t, m, 7, 8, Powers{}); len(events) != 1 || events[0].Kind != DrawStop {
		t.Errorf("found %v after an edit, expected the end of the draw alone", events)
	}
	// 0.01 kg/s for 1.5 s in all, out of 1 kg of 80 °C, for 20 °C.
	// What is above the cold supply decays as exp(−f t/m).
	near(t, "carried out", m.Balance().Carried, -math.Expm1(-0.015)*(water.H(80)-water.H(20)), 0.05)
	if err := m.Check(); err != nil {
		t.Error(err)
	}
}

// Coasting stops at a link, as at the end of a cascade: a stuck channel.
func TestCoastStopsAtALink(t *testing.T) {
	r := readFixedDuty(t)
	b := r.board()
	m := mustNew(t, b)
	rep, err := m.Coast(0, 7200, Powers{Element: []float64{0, 0, 900}})
	if err != nil {
		t.Fatal(err)
	}
	if !rep.Early || rep.Events[len(rep.Events)-1].Kind != LinkReached {
		t.Fatalf("found %+v, expected the link of channel 3", rep)
	}
	near(t, "link", m.State().Link[2], 122, 1e-9)
	near(t, "advance", rep.Advanced, rep.Events[len(rep.Events)-1].Time, 1e-9)
	near(t, "energy in", rep.Energy.In, 900*rep.Advanced, 1e-6*rep.Energy.In)
}
