package circuit

import (
	"math"
	"slices"
	"testing"
)

// TestBase: combinations put together from bases that others have used before, at
// other temperatures too, are to the last bit what they are from none; and bases
// serve no trunk of other values.
func TestBase(t *testing.T) {
	b := refBoard()
	s := mustNew(t, b)
	n := s.net
	keys := []key{s.key}
	for v, i := range n.valves {
		for _, k := range slices.Clone(keys[:min(len(keys), 4)]) {
			keys = append(keys, k.with(v, positive))
			if n.branches[i].kind != linkPath {
				keys = append(keys, k.with(v, negative))
			}
		}
	}
	first := s.par.bases
	for _, celsius := range []float64{25, 80} {
		s.SetTemperatures(Uniform(len(b.Channels), celsius))
		if s.par.bases != first {
			t.Errorf("at %v °C: found other bases, expected those of a trunk of the same values", celsius)
		}
		for _, k := range keys {
			got, err := s.par.assemble(k)
			if err != nil {
				t.Fatal(err)
			}
			alone := *s.par
			alone.bases = nil
			want, err := alone.assemble(k)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(got.active, want.active) || got.apart != want.apart {
				t.Errorf("%s: found states %v, expected %v", s.par.describe(k), got.active, want.active)
			}
			for _, x := range [][2][]float64{{got.rows, want.rows}, {got.a, want.a}, {got.be, want.be}, {got.kc, want.kc}} {
				if !slices.EqualFunc(x[0], x[1], func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }) {
					t.Errorf("%s: found %v, expected %v", s.par.describe(k), x[0], x[1])
				}
			}
		}
	}
	if links := len(first.list); links < 2 || links > len(keys)/2 {
		t.Errorf("found %d bases for %d combinations", links, len(keys))
	}
	for _, at := range n.trunk {
		other := *s.par
		other.ohms = slices.Clone(s.par.ohms)
		other.ohms[at]++
		if first.serve(&other) {
			t.Errorf("bases serve another resistance of %s", n.branches[at].name)
		}
	}
}
