package circuit

import (
	"testing"

	"boilwright/models"
)

// TestMirrors: half-cycles of one polarity stand for all unless something tells
// polarities apart. Triggering currents of quadrants II and IV do where a path
// from elsewhere could feed the gate against the triac's own voltage.
func TestMirrors(t *testing.T) {
	at := models.At
	bridge := func(from, to models.Node) func(*models.Board) {
		return func(b *models.Board) {
			b.Bridges = append(b.Bridges, models.Bridge{Name: "meter", From: from, To: to, Resistance: 3000})
		}
	}
	for _, x := range []struct {
		name string
		edit func(b *models.Board)
		want bool
	}{
		{"healthy", func(*models.Board) {}, true},
		{"across an opto", bridge(at(models.Output, 1), at(models.OptoOutput, 1)), true},
		{"across a gate", bridge(at(models.Gate, 1), at(models.Line, 0)), true},
		{"from gate to neutral", bridge(at(models.Gate, 1), at(models.Neutral, 0)), false},
		{"from gate to gate", bridge(at(models.Gate, 1), at(models.Gate, 2)), false},
		{"a capacitor at the gate", func(b *models.Board) {
			b.Bridges = append(b.Bridges, models.Bridge{Name: "meter", From: at(models.Gate, 0), To: at(models.Line, 0), Resistance: 1e6, Capacitance: 1e-10})
		}, false},
		{"unlike quadrants I and III", func(b *models.Board) { b.Channels[2].Triac.Trigger[models.QuadrantI] *= 1.01 }, false},
		{"one way", func(b *models.Board) { b.Channels[0].Opto.Fires = 1 }, false},
		{"direct voltage", func(b *models.Board) { b.Supply.DC = 1 }, false},
		{"even harmonic", func(b *models.Board) { b.Supply.Harmonics = []models.Harmonic{{Order: 2, Voltage: 1}} }, false},
		{"odd harmonic", func(b *models.Board) { b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 1}} }, true},
		{"a diode", func(b *models.Board) {
			b.Bridges = []models.Bridge{{Name: "film", From: at(models.Output, 0), To: at(models.Neutral, 0), Resistance: 1e4, OneWay: true}}
		}, false},
	} {
		b := refBoard()
		for k := range b.Channels {
			trigger := &b.Channels[k].Triac.Trigger
			trigger[models.QuadrantIV] = 2 * trigger[models.QuadrantII]
		}
		x.edit(b)
		if got := mustNew(t, b).mirrors(); got != x.want {
			t.Errorf("%s: found that polarities are alike: %v, expected %v", x.name, got, x.want)
		}
	}
}
