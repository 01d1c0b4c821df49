package sim

import (
	"math"
	"testing"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/heat"
)

// What energies follow the temperatures by inside a class, against half-cycles
// solved at those temperatures: at both ends of a class of resistance and some
// tens of kelvins off the middle of one of junction temperature.
func TestFollowAgainstSolved(t *testing.T) {
	for _, c := range []struct {
		board, fault string
		edit         func(b *models.Board)
		bound        float64 // of the source's energy
	}{
		{"dye-bench-230", "", nil, 1e-5}, {"dye-bench-120", "", nil, 1e-5}, {"open-vat-230", "", nil, 1e-5}, {"neutral-side-230", "", nil, 1e-5},
		{"dye-bench-230", "open triac", func(b *models.Board) { b.Channels[1].Triac.Open = true }, 1e-5},
		{"dye-bench-230", "path beside a triac", func(b *models.Board) {
			line, err := models.ParseNode("L", 3)
			if err != nil {
				t.Fatal(err)
			}
			b.Bridges = append(b.Bridges, models.Bridge{Name: "path", From: line, To: models.At(models.Output, 1), Resistance: 100, Part: models.SnubberPart, Channel: 1})
		}, 1e-5},
		// It fires its channel at some 50°, driven or not. What it does without
		// drive is what a warmer junction moves, by 0.6 % a kelvin.
		{"dye-bench-230", "leak across an opto", func(b *models.Board) {
			b.Bridges = append(b.Bridges, models.Bridge{Name: "film", From: models.At(models.Output, 1), To: models.At(models.OptoOutput, 1), Resistance: 3500, Part: models.GatePart, Channel: 1})
		}, 4e-4},
		{"dye-bench-230", "one polarity", func(b *models.Board) { b.Channels[1].Opto.Fires = 1 }, 1e-5},
	} {
		f, err := boardfile.Embedded(c.board)
		if err != nil {
			t.Fatal(err)
		}
		b := f.Board
		n := len(b.Channels)
		if c.edit != nil {
			c.edit(b)
		}
		sol, err := circuit.New(b)
		if err != nil {
			t.Fatal(err)
		}
		follows := newReuse(b, sol, new(memory))
		temps := circuit.Uniform(n, 60)
		worst, where := 0.0, 0
		found := block{account: newAccount(n)}
		for _, apart := range []float64{-0.05, 0, 0.06} { // of ln R from the middle of the class
			for k := range n {
				e := &b.Channels[k].Element
				middle := classTemperature(e, 0, wideResistance)
				ratio := e.ResistanceAt(middle) / float64(e.Resistance) * math.Exp(apart*(1-0.3*float64(k)))
				temps.Element[k] = 20 + (ratio-1)/float64(e.Coefficient)
				temps.Junction[k] = 35 + 20*float64(k)
			}
			follows.class(temps)
			other, err := circuit.New(b)
			if err != nil {
				t.Fatal(err)
			}
			for drives := uint32(1); drives < 1<<n; drives++ {
				in := input{drives, 1}
				for range 2 { // the second as it goes on
					if err := follows.advance(in, 2, &found); err != nil {
						t.Fatal(err)
					}
				}
				ohms := make([]float64, n)
				for k := range ohms {
					ohms[k] = b.Channels[k].Element.ResistanceAt(temps.Element[k])
				}
				got := make(tally, tallySize(n))
				follows.sum(&found, ohms, got)

				other.SetTemperatures(temps)
				want, one := make(tally, len(got)), make(tally, len(got))
				drive := make([]float64, n)
				for k := range drive {
					drive[k] = follows.levels[drives>>k&1][k]
				}
				for half := range 4 {
					rec, err := other.HalfCycle(circuit.Input{Factor: 1, Drive: drive})
					if err != nil {
						t.Fatal(err)
					}
					one.from(rec, b)
					for g := range want {
						if half >= 2 {
							want[g] += one[g]
						}
					}
				}
				for g := range want {
					switch g {
					case tEarth, tCharge, tVolts, tSquare: // no energies
						continue
					}
					if d := math.Abs(got[g]-want[g]) / want[tSource]; d > worst {
						worst, where = d, g
					}
				}
			}
		}
		t.Logf("%s %s: energies differ by at most %.2g of the source's, in group %d; %d half-cycles solved", c.board, c.fault, worst, where, follows.Solved)
		if !(worst <= c.bound) {
			t.Errorf("%s %s: found a deviation of %.2g, expected at most %.2g", c.board, c.fault, worst, c.bound)
		}
	}
}

// A leakage grows by nothing at the temperature of its class, wherever a run begins.
func TestLeakageOfItsClass(t *testing.T) {
	for _, l := range leakages(9) {
		for k := range heat.Wide {
			if more := l.grown(k, 0); more != 0 {
				t.Errorf("found it to grow by %g, expected nothing", more)
			}
		}
	}
}
