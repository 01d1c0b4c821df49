package heat

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	q "boilwright/models/quantity"
)

// A machine's life on odd boards - parts without a connection, floors next to
// nothing, valves that reseat where they open, a room hotter than boiling,
// links that open within windows and change the board - conserves energy
// and stays finite.
func TestLife(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBoard(t, 3)
		cut := func(g q.WattPerKelvin) q.WattPerKelvin {
			if rapid.IntRange(0, 3).Draw(t, "cut") == 0 {
				return 0
			}
			return g
		}
		for i := range b.Channels {
			bo, l := &b.Channels[i].Boiler, &b.Channels[i].Link
			bo.ElementToWater, bo.WaterToShell = cut(bo.ElementToWater), cut(bo.WaterToShell)
			bo.ShellToLid, bo.ShellToAir = cut(bo.ShellToLid), cut(bo.ShellToAir)
			l.ToShell = cut(l.ToShell)
			l.Functions = q.Celsius(rapid.Float64Range(30, 160).Draw(t, "functions"))
			if rapid.Bool().Draw(t, "low floor") {
				bo.Floor = 0.005
			}
			if rapid.Bool().Draw(t, "reseats where it opens") {
				bo.Reseat = bo.Relief
			}
			if rapid.Bool().Draw(t, "always wet") {
				bo.Wetted = 0
			}
		}
		if rapid.Bool().Draw(t, "hot room") {
			b.Ambient = 120
		}
		b.Lid.ToAir, b.Pocket.ToAir = cut(b.Lid.ToAir), cut(b.Pocket.ToAir)
		m := newOrFatal(t, b)
		opened := 0
		for k := range 12 {
			pieces := drawPieces(t, b)
			for j := range 20 {
				start := float64(20*k + j)
				for at := start; at < start+1; {
					rest := after(pieces, at-start)
					r, err := m.Window(at, start+1-at, func(*Outlook) []Piece { return rest })
					if err != nil {
						t.Fatal(err)
					}
					if at += r.Advanced; !r.Early {
						break
					}
					for _, e := range r.Events {
						if e.Kind == LinkReached && e.Channel != AllChannels {
							b.Channels[e.Channel].Link.Open = true
							opened++
						}
					}
					if err := m.Rebuild(b); err != nil {
						t.Fatal(err)
					}
				}
			}
		}
		if opened > 3 {
			t.Errorf("found %d links opened, expected 3 at most", opened)
		}
		for i, v := range m.State().x {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("node %d: found %g °C", i, v)
			}
		}
		if err := m.Check(); err != nil {
			t.Fatal(err)
		}
	})
}
