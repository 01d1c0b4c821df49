package circuit_test

import (
	"math"
	"testing"

	"boilwright/models"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
)

// The means that a settling returns are those of the cycle that would be
// recorded after it, whether or not polarities are alike, and a solver that
// leaves energies out finds the same signals.
func TestSettleMoments(t *testing.T) {
	unlike := boardfile.Default()
	unlike.Channels[1].Triac.Trigger[models.QuadrantIII] *= 3
	for name, b := range map[string]*models.Board{"alike": boardfile.Default(), "unlike": unlike} {
		// A meter across the opto's output, whose 3 kΩ make the triac fire.
		meter := models.Bridge{Name: "meter", From: models.At(models.Output, 1), To: models.At(models.OptoOutput, 1), Resistance: 3000}
		b.Bridges = append(b.Bridges, meter)
		for _, on := range []bool{false, true} {
			in := circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
			if on {
				in.Drive[1] = float64(b.Channels[1].Drive.On)
			}
			s, sig := outputOf(t, b)
			if ok, err := s.Settle(25, func(int64) circuit.Input { return in }); !ok {
				t.Fatalf("the board does not settle: %v", err)
			}
			r, err := s.Record(2, func(int64) circuit.Input { return in })
			if err != nil {
				t.Fatal(err)
			}
			want := r.Moments(sig)
			if (math.Abs(want.Mean) > 0.1) != (name == "unlike") {
				t.Errorf("%s, driven %v: found a mean of %v V", name, on, want.Mean)
			}
			s, sig = outputOf(t, b)
			s.OmitEnergies()
			got, ok, err := s.SettleMoments(25, in, sig, true)
			if err != nil || !ok {
				t.Fatalf("found %v and the error %v, expected a cycle that ends as it began", ok, err)
			}
			if d := math.Abs(got.MeanSquare - want.MeanSquare); !(want.MeanSquare > 1e4) || d > 1e-7*want.MeanSquare {
				t.Errorf("%s, driven %v: found a mean square of %v V², expected %v V²", name, on, got.MeanSquare, want.MeanSquare)
			}
			for _, x := range [][2]float64{{got.Mean, want.Mean}, {got.MeanAbs, want.MeanAbs}, {got.MeanAbsCoupled, want.MeanAbsCoupled}} {
				if d := math.Abs(x[0] - x[1]); d > 1e-7*want.MeanAbs {
					t.Errorf("%s, driven %v: found a mean of %v V, expected %v V", name, on, x[0], x[1])
				}
			}
			// Who wants no magnitudes gets the same but for these.
			s, sig = outputOf(t, b)
			s.OmitEnergies()
			plain, ok, err := s.SettleMoments(25, in, sig, false)
			if err != nil || !ok {
				t.Fatalf("found %v and the error %v, expected a cycle that ends as it began", ok, err)
			}
			if plain.Mean != got.Mean || plain.MeanSquare != got.MeanSquare || plain.MeanAbs != 0 || plain.MeanAbsCoupled != 0 {
				t.Errorf("%s, driven %v: found %v without magnitudes, with them %v", name, on, plain, got)
			}
			// The solver goes on from where it settled.
			next, err := s.Record(2, func(int64) circuit.Input { return in })
			if err != nil {
				t.Fatal(err)
			}
			if d := math.Abs(next.Moments(sig).MeanSquare - want.MeanSquare); d > 1e-9*want.MeanSquare {
				t.Errorf("%s, driven %v: found a mean square %v V² off in the cycle after, expected none", name, on, d)
			}
			if rec, err := s.HalfCycle(in); err != nil || rec.Source != 0 || rec.Element[1] != 0 {
				t.Errorf("found %v J from the source and the error %v, expected none told", rec.Source, err)
			}
		}
		// A board that needs longer than it is given has none.
		s, sig := outputOf(t, b)
		if m, ok, err := s.SettleMoments(0, circuit.Input{}, sig, true); ok || err != nil {
			t.Errorf("found %v and the error %v, expected nothing in no cycle", m, err)
		}
	}
}

func outputOf(t *testing.T, b *models.Board) (*circuit.Solver, circuit.Signal) {
	t.Helper()
	s, err := circuit.New(b)
	if err != nil {
		t.Fatal(err)
	}
	sig, err := s.Voltage(models.At(models.Output, 1), models.At(models.Neutral, 0))
	if err != nil {
		t.Fatal(err)
	}
	return s, sig
}
