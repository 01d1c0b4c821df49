package circuit

import (
	"fmt"
	"math"

	"boilwright/models"
)

// checkBoard rejects a board without a channel or a frequency.
func checkBoard(b *models.Board) error {
	if len(b.Channels) == 0 {
		return fmt.Errorf("found no channel, expected at least one")
	}
	if f := float64(b.Supply.Frequency); !(f > 0) || math.IsInf(f, 0) {
		return fmt.Errorf("supply frequency: found %v Hz, expected more than 0", f)
	}
	return nil
}

// checkValues rejects part values with which a network makes no sense; what
// is infinite has been left out of it before. It looks at the branches from one on.
func (n *netlist) checkValues(from int) error {
	for i := from; i < len(n.branches); i++ {
		b := &n.branches[i]
		if b.ohms >= 0 && b.siemens >= 0 && b.volts >= 0 && b.store >= 0 && b.ohms+b.siemens+b.volts+b.store <= math.MaxFloat64 {
			continue
		}
		for _, x := range []struct {
			what  string
			value float64
		}{
			{"a resistance", b.ohms}, {"a conductance", b.siemens}, {"a threshold voltage", b.volts}, {"a capacitance or inductance", b.store},
		} {
			if !(x.value >= 0) || math.IsInf(x.value, 1) {
				return fmt.Errorf("%s: found %s of %v, expected a finite one that is not negative", b.name, x.what, x.value)
			}
		}
	}
	return nil
}

// checkOwner rejects a bridge whose losses belong to no part of the board.
func checkOwner(b *models.Board, br *models.Bridge) error {
	switch {
	case br.Part < models.NoPart || br.Part > models.WiringPart:
		return fmt.Errorf("bridge %q: found part %d, expected %d to %d", br.Name, int(br.Part), int(models.NoPart), int(models.WiringPart))
	case br.Part == models.NoPart || br.Part == models.WiringPart:
		return nil
	case br.Channel < 0 || br.Channel >= len(b.Channels):
		return fmt.Errorf("bridge %q: found channel index %d, expected 0 to %d", br.Name, br.Channel, len(b.Channels)-1)
	}
	return nil
}

// checkInput rejects an input that does not belong to the board.
func (s *Solver) checkInput(in *Input) error {
	if len(in.Drive) != len(s.ch) {
		return fmt.Errorf("found %d drive voltages, expected %d", len(in.Drive), len(s.ch))
	}
	last, T := 0.0, s.board.Supply.HalfCycle()
	for _, c := range in.Changes {
		if c.Channel < 0 || c.Channel >= len(s.ch) {
			return fmt.Errorf("drive change: found channel index %d, expected 0 to %d", c.Channel, len(s.ch)-1)
		}
		if !(c.After >= last && c.After < T) {
			return fmt.Errorf("drive change: found it %v s after the start of the half-cycle, expected rising times from 0 to below %v s", c.After, T)
		}
		last = c.After
	}
	return nil
}
