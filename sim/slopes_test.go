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
			r := newReuse(b, sol)
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
		for drives := range uint32(1 << n) {
			for range 2 { // the second as it goes on
				a, err := derived.advance(input{drives, 1}, 2)
				if err != nil {
					t.Fatal(err)
				}
				c, err := measured.advance(input{drives, 1}, 2)
				if err != nil {
					t.Fatal(err)
				}
				for j := range n {
					if (a.slope[j] == nil) != (c.slope[j] == nil) {
						t.Fatalf("%s, drives %03b: found slopes on channel %d: %t, expected %t", name, drives, j+1, a.slope[j] != nil, c.slope[j] != nil)
					}
					if a.slope[j] == nil {
						continue
					}
					for g := range a.slope[j] {
						// A slope counts by the energy that it moves.
						d := math.Abs(a.slope[j][g]-c.slope[j][g]) * math.Abs(a.energy[g]) / a.energy[tSource]
						switch g {
						case tSquare, tVolts: // no energies; only readings follow them
							d = math.Abs(a.slope[j][g]-c.slope[j][g]) / 5
						case tEarth, tCharge, tSource: // the source's follows all others'
							d = 0
						}
						worst = math.Max(worst, d)
						if d > 2e-4 {
							t.Errorf("%s, drives %03b: group %d: found a slope of %.6g on channel %d, measured %.6g", name, drives, g, a.slope[j][g], j+1, c.slope[j][g])
						}
					}
				}
			}
		}
		t.Logf("%s: slopes differ by at most %.2g of the source's energy; %d and %d half-cycles solved", name, worst, derived.Solved, measured.Solved)
	}
}
