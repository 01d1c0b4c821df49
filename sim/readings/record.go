package readings

import (
	"fmt"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// Waveform is the exact solution of a board over some cycles, with the solver
// from which its signals are got.
type Waveform struct {
	Solver    *circuit.Solver
	Recording *circuit.Recording
	First     int64 // the half-cycle at which the recording begins; even
}

// Record returns the waveforms of a board under the conditions c over whole
// cycles of the supply, with no meter on it: once they have become periodic,
// or after settleCycles where they don't; in Holding from the start of a
// control window, the second. Errors name the state and what was expected.
func Record(b *models.Board, c Conditions, cycles int) (*Waveform, error) {
	if c.State == UnpluggedState {
		return nil, fmt.Errorf("found state unplugged, expected a state with the supply on")
	}
	if cycles < 1 {
		return nil, fmt.Errorf("found %d cycles, expected at least 1", cycles)
	}
	s, err := circuit.New(b)
	if err != nil {
		return nil, err
	}
	s.SetTemperatures(c.Temps)
	drive := driver(b, c)
	in := circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
	input := func(h int64) circuit.Input {
		drive(h, in.Drive)
		return in
	}
	if c.State == Holding {
		for range b.Controller.Window { // one window to come into the rhythm
			if _, err := s.HalfCycle(input(s.Half())); err != nil {
				return nil, err
			}
		}
	} else if _, err := s.Settle(settleCycles, input); err != nil {
		return nil, err
	}
	w := &Waveform{Solver: s, First: s.Half()}
	w.Recording, err = s.Record(2*cycles, input)
	return w, err
}
