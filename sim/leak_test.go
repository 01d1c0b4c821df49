package sim

import (
	"math"
	"testing"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// What energies gain by leaks throughout a class, against half-cycles solved at those
// temperatures. Where leaks take a part of an element's power they hang on each other,
// which is not followed.
func TestLeaksAgainstSolved(t *testing.T) {
	for _, c := range []struct {
		name string
		edit func(b *models.Board)
	}{
		{"healthy", func(*models.Board) {}},
		{"open triac", func(b *models.Board) { b.Channels[1].Triac.Open = true }},
		{"open gate", func(b *models.Board) { b.Channels[1].Triac.GateOpen = true }},
		{"shorted snubber capacitor", func(b *models.Board) {
			b.Bridges = append(b.Bridges, models.Bridge{Name: "short", From: models.At(models.SnubberTap, 1), To: models.At(models.Rail, 1), Resistance: 1, Part: models.SnubberPart, Channel: 1})
		}},
	} {
		b := boardfile.Default()
		c.edit(b)
		n := len(b.Channels)
		sol, err := circuit.New(b)
		if err != nil {
			t.Fatal(err)
		}
		other, err := circuit.New(b)
		if err != nil {
			t.Fatal(err)
		}
		r := newReuse(b, sol, new(memory))
		temps := circuit.Uniform(n, 60)
		found := block{account: newAccount(n)}
		ohms := make([]float64, n)
		for k := range ohms {
			temps.Element[k] = classTemperature(&b.Channels[k].Element, 0, wideResistance)
			ohms[k] = b.Channels[k].Element.ResistanceAt(temps.Element[k])
		}
		worst, widest := 0.0, 0.0
		for _, junction := range []float64{102, 112, 121, 127, 138, 148, 156, 171, 186, 196} {
			for drives := range uint32(1 << n) {
				for k := range n {
					temps.Junction[k] = junction - 3*float64(k)
				}
				in := input{drives, 1}
				r.class(temps)
				for r.narrowed = true; r.narrowed; {
					r.class(temps)
					if err := r.advance(in, 4, &found); err != nil {
						t.Fatal(err)
					}
				}
				widest = max(widest, r.widths[1].leakage)
				if err := r.advance(in, 2, &found); err != nil {
					t.Fatal(err)
				}
				got := make(tally, tallySize(n))
				r.sum(&found, ohms, got)
				other.SetTemperatures(temps)
				want, one := make(tally, len(got)), make(tally, len(got))
				drive := make([]float64, n)
				for k := range drive {
					drive[k] = r.levels[drives>>k&1][k]
				}
				for half := range 6 {
					rec, err := other.HalfCycle(circuit.Input{Factor: 1, Drive: drive})
					if err != nil {
						t.Fatal(err)
					}
					one.from(rec, b)
					for g := range want {
						if half >= 4 {
							want[g] += one[g]
						}
					}
				}
				leaks := 0.0 // of an element's power
				for k := range n {
					if drives>>k&1 == 0 {
						leaks = max(leaks, want.channel(k)[tTriac]/r.rated[k]/2)
					}
				}
				bound := 1.2e-5 + 3e-4*leaks
				if drives != 0 { // who conducts is in wide classes too
					bound += 1e-5
				}
				for g := range want {
					switch g {
					case tEarth, tCharge, tVolts, tSquare: // no energies
						continue
					}
					d := math.Abs(got[g]-want[g]) / r.rated[1] / 2
					worst = max(worst, d)
					if d > bound {
						t.Errorf("%s, junctions at %g °C, width %g %g %g, drives %03b: group %d: found %.9g J, solved anew %.9g J (%.2g, at most %.2g)", c.name, junction, r.widths[0].leakage, r.widths[1].leakage, r.widths[2].leakage, drives, g, got[g], want[g], d, bound)
					}
				}
			}
		}
		t.Logf("%s: energies differ by at most %.2g of an element's, classes up to %g K; %d half-cycles solved", c.name, worst, widest, r.Solved)
	}
}
