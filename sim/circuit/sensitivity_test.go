package circuit

import (
	"math"
	"testing"

	"boilwright/models"
)

// The slopes of loads behind an impedance against those of solutions with resistances
// that differ by a part in 10⁴, on boards of one to three channels.
func TestDividerAgainstDifferences(t *testing.T) {
	for _, c := range []struct {
		name  string
		edit  func(b *models.Board)
		plain uint32 // channels that may carry
	}{
		{"as it is", func(*models.Board) {}, 7},
		{"exchanged", func(b *models.Board) { b.Supply.Exchanged = true }, 7},
		{"no inductance", func(b *models.Board) { b.Supply.LineInductance = 0 }, 7},
		{"stiff supply", func(b *models.Board) { b.Supply.LineInductance, b.Supply.LineResistance = 0, 1e-9 }, 7},
		{"neutral side", func(b *models.Board) {
			for k := range b.Channels {
				b.Channels[k].Side = models.NeutralSide
			}
		}, 7},
		{"upstream link", func(b *models.Board) { b.Upstream = &models.ThermalLink{Resistance: 0.1, Stray: 5e-12} }, 7},
		{"insulation leaks", func(b *models.Board) { b.Channels[0].Element.Insulation, b.Earth.Resistance = 1e3, 0.5 }, 6},
		{"capacitor across", func(b *models.Board) { b.Supply.AcrossCapacitance = 1e-6 }, 0},
	} {
		b := healthyBoard(26, 19, 33)
		c.edit(b)
		s, err := New(b)
		if err != nil {
			t.Fatal(err)
		}
		n := len(b.Channels)
		drive := make([]float64, n)
		for carrying := uint32(1); carrying < 1<<n; carrying++ {
			for k := range drive {
				drive[k] = 0
				if carrying>>k&1 == 1 {
					drive[k] = 12
				}
			}
			for range 3 {
				if _, err := s.HalfCycle(Input{Factor: 1, Drive: drive}); err != nil {
					t.Fatal(err)
				}
			}
			base, err := s.par.combination(s.dominant().key)
			if err != nil {
				t.Fatal(err)
			}
			got, want := newSensitivity(n), newSensitivity(n)
			found, expected := loadsAlone(b) && s.divider(base, carrying, got), carrying&^c.plain == 0
			if found != expected {
				t.Errorf("%s, channels %03b: found loads alone: %t, expected %t", c.name, carrying, found, expected)
			}
			if !expected {
				continue
			}
			if err := s.differences(base, carrying, want); err != nil {
				t.Fatal(err)
			}
			check := func(what string, k, j int, x, y float64) {
				if !(math.Abs(x-y) <= 2e-4*max(math.Abs(y), 1e-3)) {
					t.Errorf("%s, channels %03b: %s %d by the resistance of %d: found %.9g, expected %.9g", c.name, carrying, what, k+1, j+1, x, y)
				}
			}
			for j := range n {
				for k := range n {
					check("element", k, j, got.Element[k][j], want.Element[k][j])
				}
				check("supply", 0, j, got.Supply[j], want.Supply[j])
				check("voltage", 0, j, got.Voltage[j], want.Voltage[j])
			}
		}
	}
}
