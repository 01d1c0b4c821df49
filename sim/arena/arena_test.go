package arena

import (
	"math/rand/v2"
	"testing"
)

// An arena hands out zeros that do not overlap, also when its pieces serve again
// and beyond those it keeps.
func TestTake(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var a Of[float64]
	for range 20 {
		var all [][]float64
		for i := range 200 {
			x := a.Take(rng.IntN(40), 50)
			if len(x) > 0 && rng.IntN(30) == 0 {
				x = a.Take(120, 50)
			}
			if cap(x) != len(x) {
				t.Fatalf("found room for %d behind %d numbers", cap(x), len(x))
			}
			for j := range x {
				if x[j] != 0 {
					t.Fatalf("found %g, expected 0", x[j])
				}
				x[j] = float64(i + 1)
			}
			all = append(all, x)
		}
		for i, x := range all {
			for _, y := range x {
				if y != float64(i+1) {
					t.Fatalf("found %g in slice %d", y, i)
				}
			}
		}
		if len(a.pieces) > maxPieces {
			t.Fatalf("found %d pieces kept, expected at most %d", len(a.pieces), maxPieces)
		}
		a.Empty()
	}
}

// TestEmpty: what an arena hands out is zero and shares nothing, again after it
// has been emptied.
func TestEmpty(t *testing.T) {
	var a Of[int]
	for round := range 4 {
		var all [][]int
		for i := range 200 {
			x := a.Take(1+i%13, 16)
			for _, v := range x {
				if v != 0 {
					t.Fatalf("round %d: found %d, expected zero", round, v)
				}
			}
			for j := range x {
				x[j] = 1000*round + i + 1
			}
			all = append(all, x)
		}
		for i, x := range all {
			for _, v := range x {
				if v != 1000*round+i+1 {
					t.Fatalf("round %d: found %d, expected %d", round, v, 1000*round+i+1)
				}
			}
		}
		a.Empty()
	}
	if len(a.pieces) == 0 || len(a.pieces) > maxPieces {
		t.Errorf("found %d pieces kept", len(a.pieces))
	}
}
