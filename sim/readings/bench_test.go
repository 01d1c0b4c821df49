package readings

import (
	"math"
	"testing"

	"boilwright/faults"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// BenchmarkStandby measures one board in standby at every test point on every
// meter, with nothing kept from one board to the next.
func BenchmarkStandby(b *testing.B) {
	board := boardfile.Default()
	points := Points(board)
	c := Conditions{State: Standby, Temps: circuit.Uniform(len(board.Channels), 25)}
	b.ReportAllocs()
	for b.Loop() {
		x, err := NewBench(board, c)
		if err != nil {
			b.Fatal(err)
		}
		for _, p := range points {
			if _, err := x.At(p, board.Meters); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// The solution by phasors shows what the solver of switching circuits shows,
// on every fault at every point, and is left where something switches.
func TestQuiescentAgainstSolver(t *testing.T) {
	healthy := boardfile.Default()
	quiet, other := 0, 0
	for _, f := range append([]faults.Fault{{}}, faults.Catalogue()...) {
		b := healthy.Clone()
		if f.Name != "" {
			channel := 1
			if f.Scope == faults.PerBoard {
				channel = faults.WholeBoard
			}
			set := faults.Set{faults.New(f.Name, channel)}
			if set.Check(b) != nil {
				continue // needs a part that the board has not
			}
			var err error
			if b, err = set.Applied(b); err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
		}
		c := Conditions{State: Standby, Temps: circuit.Uniform(len(b.Channels), 25)}
		x, err := NewBench(b, c)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if x.quiet == nil {
			other++
			continue
		}
		quiet++
		slow := &Bench{board: b, cond: c, metered: x.metered}
		for i, p := range Points(b) {
			if testing.Short() && i%5 != quiet%5 {
				continue
			}
			got, err := x.At(p, b.Meters)
			if err != nil {
				continue
			}
			want, err := slow.At(p, b.Meters)
			if err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
			for k := range got {
				// The solver counts as periodic at 1e-7 of the peak from cycle to
				// cycle, so that slow modes are not quite gone.
				if d := math.Abs(got[k].Indicated - want[k].Indicated); d > 2e-4+1e-8*math.Abs(want[k].Indicated) {
					t.Errorf("%s: %s on %s: found %.12g, expected %.12g", f.Name, p.Name, got[k].Meter, got[k].Indicated, want[k].Indicated)
				}
			}
		}
	}
	t.Logf("%d faults leave the board quiescent in standby, %d do not", quiet, other)
	if quiet < 30 || other < 3 {
		t.Errorf("found %d quiescent and %d other, expected most quiescent and some not", quiet, other)
	}
}
