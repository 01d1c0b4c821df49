package heat_test

import (
	"math"
	"slices"
	"testing"

	"boilwright/models"
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
		t.Run(name, func(t *testing.T) { compareCalm(t, name) })
	}
}

func compareCalm(t *testing.T, name string) {
	f, err := boardfile.Embedded(name)
	if err != nil {
		t.Fatal(err)
	}
	b := f.Board
	p := &pace{b, b.Controller.Window / 2}
	dt := float64(b.Controller.Window) * b.Supply.HalfCycle()
	want, got := machine(t, b), machine(t, b)
	calm := got.Calm(dt)
	if calm == nil {
		t.Fatal("found no calm solution of the demonstration board, expected one")
	}
	volts := float64(b.Supply.Voltage)
	r20 := func(ch int) float64 { return float64(b.Channels[ch].Element.Resistance) }
	at := func(ch int, te float64) float64 { return volts * volts / b.Channels[ch].Element.ResistanceAt(te) }
	used, worst, worstElement := 0, 0.0, 0.0
	n := len(b.Channels)
	element, link := make([]float64, n), make([]float64, n)
	for ch := range element {
		element[ch], link[ch] = 1, 1
	}
	var told, heard []heat.Event
	const windows = 4000
	for k := range windows {
		t0 := float64(k) * dt
		plan := func(o *heat.Outlook) []heat.Piece {
			return p.pieces(k, func(i, ch int) float64 { return at(ch, o.ElementMean(i, ch)) })
		}
		rep, err := want.Window(t0, dt, plan)
		if err != nil {
			t.Fatal(err)
		}
		told = append(told, rep.Events...)
		r := calm.Rhythm(p.pieces(k, func(_, ch int) float64 { return volts * volts / r20(ch) }))
		if !calm.Begin(t0, r, 1) {
			rep, err := got.Window(t0, dt, plan)
			if err != nil {
				t.Fatal(err)
			}
			heard = append(heard, rep.Events...)
		} else {
			for ch := range n {
				te := calm.Mean(r, ch, element[ch])
				element[ch] = r20(ch) / b.Channels[ch].Element.ResistanceAt(te)
			}
			calm.Advance(r, element, link, 1)
			heard = append(heard, calm.Turn()...)
			used++
		}
		a, c := want.State(), got.State()
		for ch := range n {
			worstElement = math.Max(worstElement, math.Abs(a.Element[ch]-c.Element[ch]))
			for _, d := range []float64{a.Water[ch] - c.Water[ch], a.Shell[ch] - c.Shell[ch], a.Probe[ch] - c.Probe[ch], a.Link[ch] - c.Link[ch]} {
				worst = math.Max(worst, math.Abs(d))
			}
		}
		worst = math.Max(worst, math.Max(math.Abs(a.Lid-c.Lid), math.Abs(a.Pocket-c.Pocket)))
	}
	t.Logf("%d of %d windows calm; furthest apart: elements %.3g K, all else %.3g K", used, windows, worstElement, worst)
	if used < windows*9/10 {
		t.Errorf("found %d of %d windows calm, expected most", used, windows)
	}
	same := func(a, b heat.Event) bool {
		return a.Kind == b.Kind && a.Channel == b.Channel && math.Abs(a.Time-b.Time) < 1e-10
	}
	if len(told) == 0 || !slices.EqualFunc(told, heard, same) {
		t.Errorf("found events %v, expected some, and %v", heard, told)
	}
	if worst > 1e-3 || worstElement > 5e-3 {
		t.Errorf("found elements %g K apart and all else %g K, expected at most 5 mK and 1 mK", worstElement, worst)
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
}

func machine(t testing.TB, b *models.Board) *heat.Machine {
	t.Helper()
	m, err := heat.New(b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
