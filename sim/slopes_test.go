package sim

import (
	"math"
	"testing"

	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// The slopes taken from one combination's response against those measured by
// solving half-cycles at another resistance.
func TestSlopesAgainstMeasured(t *testing.T) {
	for _, name := range []string{"dye-bench-230", "dye-bench-120", "open-vat-230", "neutral-side-230"} {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		b := f.Board
		n := len(b.Channels)
		engine := func(measure bool) *reuse {
			sol, err := circuit.New(b)
			if err != nil {
				t.Fatal(err)
			}
			r := newReuse(b, sol, new(memory))
			r.measure = measure
			temps := circuit.Uniform(n, 60)
			for k := range n {
				temps.Element[k] = 80
			}
			r.class(temps)
			return r
		}
		derived, measured := engine(false), engine(true)
		worst := 0.0
		a, c := block{account: newAccount(n)}, block{account: newAccount(n)}
		follows := func(b *block, j int) bool { return b.slope[j].channel(j)[tElement] != 0 }
		for drives := range uint32(1 << n) {
			for range 2 { // the second as it goes on
				if err := derived.advance(input{drives, 1}, 2, &a); err != nil {
					t.Fatal(err)
				}
				if err := measured.advance(input{drives, 1}, 2, &c); err != nil {
					t.Fatal(err)
				}
				for j := range n {
					if follows(&a, j) != follows(&c, j) {
						t.Fatalf("%s, drives %03b: found slopes on channel %d: %t, expected %t", name, drives, j+1, follows(&a, j), follows(&c, j))
					}
					if !follows(&a, j) {
						continue
					}
					for g := range a.slope[j] {
						// A slope counts by the energy that it moves.
						x, y := derived.slopeOf(&a, j, g), measured.slopeOf(&c, j, g)
						d := math.Abs(x-y) * math.Abs(a.energy[g]) / a.energy[tSource]
						switch g {
						case tSquare, tVolts: // no energies; only readings follow them
							d = math.Abs(x-y) / 5
						case tEarth, tCharge, tSource: // the source's follows all others'
							d = 0
						}
						worst = math.Max(worst, d)
						if d > 2e-4 {
							t.Errorf("%s, drives %03b: group %d: found a slope of %.6g on channel %d, measured %.6g", name, drives, g, x, j+1, y)
						}
					}
				}
			}
		}
		t.Logf("%s: slopes differ by at most %.2g of the source's energy; %d and %d half-cycles solved", name, worst, derived.Solved, measured.Solved)
	}
}
