package faults

import (
	"math"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// distorted applies faults to a board and returns its supply, in which no
// order stands twice.
func distorted(t *testing.T, b *models.Board, texts ...string) models.Supply {
	t.Helper()
	set, err := ParseSet(texts, []string{"soak", "dye", "steam"})
	if err != nil {
		t.Fatal(err)
	}
	got, err := set.Applied(b)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[int]bool{}
	for _, h := range got.Supply.Harmonics {
		if seen[h.Order] || !(h.Voltage > 0) {
			t.Errorf("%v: found %+v, expected one of each order", texts, got.Supply.Harmonics)
		}
		seen[h.Order] = true
	}
	return got.Supply
}

// TestHarmonicsAddAsPhasors: whatever the supply carries already, the fault
// adds the same wave to it, √2·Σ Vₙ·sin(nθ + φₙ); sines of one frequency add
// as phasors (circuit texts): 3 V and 4 V a quarter period apart make 5 V.
func TestHarmonicsAddAsPhasors(t *testing.T) {
	wave := func(b *models.Board, texts ...string) []float64 {
		s := distorted(t, b, texts...)
		var out []float64
		for i := range 400 {
			out = append(out, s.EMF(2*math.Pi*float64(i)/400))
		}
		return out
	}
	const fault = "board:supply-distorted"
	clean := healthyBoard(models.LineSide, models.MT1Supply)
	clean.Supply.Harmonics = nil
	none, full := wave(clean), wave(clean, fault)
	for _, x := range []struct {
		name      string
		harmonics []models.Harmonic
		texts     []string
		times     float64
	}{
		{"another order", []models.Harmonic{{Order: 11, Voltage: 4, Phase: 20}}, []string{fault}, 1},
		{"in phase", []models.Harmonic{{Order: 3, Voltage: 2}}, []string{fault}, 1},
		{"a quarter period apart", []models.Harmonic{{Order: 5, Voltage: 9, Phase: 90}, {Order: 7, Voltage: 1, Phase: -90}}, []string{fault}, 1},
		{"any phase", []models.Harmonic{{Order: 7, Voltage: 3, Phase: 123}, {Order: 2, Voltage: 1}, {Order: 5, Voltage: 3, Phase: -170}}, []string{fault}, 1},
		{"cancelled", []models.Harmonic{{Order: 3, Voltage: 0.05 * 230, Phase: 180}}, []string{fault}, 1},
		{"twice", nil, []string{fault, fault}, 2},
	} {
		b := clean.Clone()
		b.Supply.Harmonics = x.harmonics
		before, after := wave(b), wave(b, x.texts...)
		for i := range none {
			want := before[i] + x.times*(full[i]-none[i])
			if !(math.Abs(after[i]-want) <= 1e-9) {
				t.Errorf("%s: found %.12g V at %d of 400, expected %.12g V", x.name, after[i], i, want)
				break
			}
		}
	}
	b := clean.Clone()
	b.Supply.Voltage, b.Supply.Harmonics = 100, []models.Harmonic{{Order: 3, Voltage: 3, Phase: 90}}
	s := distorted(t, b, fault+",third=0.04,fifth=0,seventh=0")
	if h := s.Harmonics; len(h) != 1 || math.Abs(float64(h[0].Voltage)-5) > 1e-12 || math.Abs(float64(h[0].Phase)-180/math.Pi*math.Atan2(3, 4)) > 1e-9 {
		t.Errorf("found %+v, expected 5 V at 36.87°", h)
	}
	b.Supply.Harmonics = []models.Harmonic{{Order: 3, Voltage: 4, Phase: 180}}
	if s := distorted(t, b, fault+",third=0.04,fifth=0,seventh=0"); len(s.Harmonics) != 0 {
		t.Errorf("found %+v, expected them to cancel", s.Harmonics)
	}
	if h := b.Supply.Harmonics; len(h) != 1 || h[0].Voltage != q.Volt(4) {
		t.Errorf("found the given board changed to %+v", h)
	}
}
