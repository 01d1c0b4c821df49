package heat

import (
	"math"
	"slices"
	"testing"

	"boilwright/models/water"

	"pgregory.net/rapid"

	q "boilwright/models/quantity"
)

// A valve that an edit lets open earlier: m H(T) = m' H(T_b) + Δm H_g.
func TestFlash(t *testing.T) {
	b := closed()
	b.Channels[0].Boiler.Start = 120
	m := mustNew(t, b)
	b.Channels[0].Boiler.Relief, b.Channels[0].Boiler.Reseat = 1.5e5, 1.4e5
	if err := m.Rebuild(b); err != nil {
		t.Fatal(err)
	}
	cool, err := water.SaturationTemperature(1.5e5)
	if err != nil {
		t.Fatal(err)
	}
	s := m.State()
	if s.Water[0] != cool || !s.Venting[0] {
		t.Errorf("found %g °C, venting %t, expected %g and a flash", s.Water[0], s.Venting[0], cool)
	}
	steam := 0.5 - s.Mass[0]
	near(t, "energy", 0.5*water.H(120), s.Mass[0]*water.H(cool)+steam*(water.H(cool)+water.Hfg(cool)), 1e-6)
	near(t, "carried out", m.Balance().Carried, steam*(water.H(cool)+water.Hfg(cool)), 1e-6)
	r, err := m.Window(5, 1, constant(1, Powers{}))
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Events) != 1 || r.Events[0] != (Event{5, 0, ReliefOpen}) {
		t.Errorf("found %v, expected the valve to open at 5 s", r.Events)
	}
	if err := m.Check(); err != nil {
		t.Error(err)
	}

	// So little water that the floor ends it: the rest stays above boiling.
	b = closed()
	bo := &b.Channels[0].Boiler
	bo.Start, bo.Water, bo.Floor = 130, 0.1, 0.0999
	m = mustNew(t, b)
	bo.Relief, bo.Reseat = 1.1e5, 1.05e5
	if err := m.Rebuild(b); err != nil {
		t.Fatal(err)
	}
	if s := m.State(); !s.Dry[0] || s.Mass[0] != 0.0999 || s.Water[0] < 125 {
		t.Errorf("found dry %t, %g kg, %g °C", s.Dry[0], s.Mass[0], s.Water[0])
	}
	if r, err = m.Window(0, 1, constant(1, Powers{})); err != nil || len(r.Events) != 1 || r.Events[0].Kind != RanDry {
		t.Errorf("found %v, %v, expected that it ran dry", r.Events, err)
	}
	if err := m.Check(); err != nil {
		t.Error(err)
	}
}

// An edit that changes nothing changes nothing, to the last bit.
func TestRebuildAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		pieces := drawPieces(t, b)
		a, c := newOrFatal(t, b), newOrFatal(t, b)
		ea := run(t, a, 0, 10, pieces)
		ec := run(t, c, 0, 5, pieces)
		if err := c.Rebuild(b); err != nil {
			t.Fatal(err)
		}
		ec = append(ec, run(t, c, 5, 10, pieces)...)
		if !slices.Equal(ea, ec) {
			t.Errorf("found %v, expected %v", ec, ea)
		}
		if !slices.Equal(a.State().x, c.State().x) || a.Balance() != c.Balance() {
			t.Errorf("found another state after an edit of nothing")
		}
	})
}

// Any edit keeps the account: only what flashes off is carried out.
func TestRebuildKeepsTheAccount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		pieces := drawPieces(t, b)
		m := newOrFatal(t, b)
		run(t, m, 0, 60, pieces)
		e := drawBoard(t, 3)
		e.Upstream = b.Upstream
		for i := range e.Channels {
			e.Channels[i].Boiler.Inlet = min(e.Channels[i].Boiler.Inlet, q.Celsius(20))
		}
		before := m.Balance()
		if err := m.Rebuild(e); err != nil {
			t.Fatal(err)
		}
		if after := m.Balance(); math.Abs((after.Enthalpy-before.Enthalpy)+(after.Carried-before.Carried)) > 1e-3 {
			t.Fatalf("found %+v after the edit, expected the sum of %+v", after, before)
		}
		run(t, m, 60, 120, pieces)
		if err := m.Check(); err != nil {
			t.Fatal(err)
		}
	})
}
