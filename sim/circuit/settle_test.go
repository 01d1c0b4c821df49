package circuit_test

import (
	"math"
	"testing"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// The cycle that a settling keeps is the one that would be recorded after it,
// and a solver that leaves energies out finds the same signals.
func TestSettleRecord(t *testing.T) {
	b := boardfile.Default()
	in := circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
	in.Drive[1] = float64(b.Channels[1].Drive.On)
	input := func(int64) circuit.Input { return in }
	recorded := func(record func(s *circuit.Solver) (*circuit.Recording, error)) models.Moments {
		s, err := circuit.New(b)
		if err != nil {
			t.Fatal(err)
		}
		r, err := record(s)
		if err != nil || r == nil {
			t.Fatalf("found %v and the error %v, expected a recording", r, err)
		}
		sig, err := s.Voltage(models.At(models.Output, 1), models.At(models.Neutral, 0))
		if err != nil {
			t.Fatal(err)
		}
		if d := r.Duration(); math.Abs(d-2*b.Supply.HalfCycle()) > 1e-12 {
			t.Errorf("found a recording of %v s, expected one cycle", d)
		}
		return r.Moments(sig)
	}
	after := recorded(func(s *circuit.Solver) (*circuit.Recording, error) {
		if ok, err := s.Settle(25, input); !ok {
			t.Fatalf("the board does not settle: %v", err)
		}
		return s.Record(2, input)
	})
	for name, record := range map[string]func(s *circuit.Solver) (*circuit.Recording, error){
		"kept": func(s *circuit.Solver) (*circuit.Recording, error) { return s.SettleRecord(25, input) },
		"without energies": func(s *circuit.Solver) (*circuit.Recording, error) {
			s.OmitEnergies()
			r, err := s.SettleRecord(25, input)
			if rec, e := s.HalfCycle(in); e != nil || rec.Source != 0 || rec.Element[1] != 0 {
				t.Errorf("found %v J from the source and the error %v, expected none told", rec.Source, e)
			}
			return r, err
		},
	} {
		got := recorded(record)
		within := 1e-6 * after.MeanSquare
		if d := math.Abs(got.MeanSquare - after.MeanSquare); !(after.MeanSquare > 1e4) || d > within {
			t.Errorf("%s: found a mean square of %v V², expected %v V²", name, got.MeanSquare, after.MeanSquare)
		}
		if d := math.Abs(got.MeanAbs - after.MeanAbs); d > 1e-6*after.MeanAbs {
			t.Errorf("%s: found a rectified mean of %v V, expected %v V", name, got.MeanAbs, after.MeanAbs)
		}
	}
	// A board that needs longer than it is given has none.
	s, err := circuit.New(b)
	if err != nil {
		t.Fatal(err)
	}
	if r, err := s.SettleRecord(0, input); r != nil || err != nil {
		t.Errorf("found %v and the error %v, expected nothing in no cycle", r, err)
	}
}
