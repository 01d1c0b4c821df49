package faults

import "boilwright/models"

// pair returns the edit's channel and the one that it is exchanged with: the
// next, or the first after the last.
func (e edit) pair(b *models.Board) (k, next int, err error) {
	n := len(b.Channels)
	if n < 2 {
		return 0, 0, &FieldError{"board", "one channel", "another to exchange with"}
	}
	return e.channel, (e.channel + 1) % n, nil
}

// loadCrossed exchanges the wires of two elements at the board's terminals.
//
// A channel of a [models.Board] is named by its boiler: its link, element,
// boiler, probe and control belong together, and so do its outcomes. Wires
// that are exchanged at the terminals leave every boiler with its probe and
// its controller, and give it the other channel's triac. So it is the
// electronic parts that change places here: with them go the paths that lie on
// them, node by node, and the signals of their controllers, which stay plugged
// where they were and are now those of the other channel's drive. Each loop of
// the circuit then has the same parts in the same order as with exchanged
// wires, and each drive the same controller; only the numbers that name the
// nodes differ, on which no result depends.
//
// It is work on an unplugged board, so it is meant from the start of a run:
// one that sets in later leaves the temperature of each junction where it was.
// A fault that comes later in the set finds a part by the boiler that it now
// feeds; one that comes earlier goes with its part.
func loadCrossed(b *models.Board, e edit) error {
	k, next, err := e.pair(b)
	if err != nil {
		return err
	}
	x, y := &b.Channels[k], &b.Channels[next]
	x.Side, y.Side = y.Side, x.Side
	x.MT1, y.MT1 = y.MT1, x.MT1
	x.Drive, y.Drive = y.Drive, x.Drive
	x.Opto, y.Opto = y.Opto, x.Opto
	x.GateResistance, y.GateResistance = y.GateResistance, x.GateResistance
	x.GateShunt, y.GateShunt = y.GateShunt, x.GateShunt
	x.Triac, y.Triac = y.Triac, x.Triac
	x.Snubber, y.Snubber = y.Snubber, x.Snubber
	other := func(ch int) int {
		switch ch {
		case k:
			return next
		case next:
			return k
		}
		return ch
	}
	for i := range b.Bridges {
		p := &b.Bridges[i]
		for _, n := range []*models.Node{&p.From, &p.To} {
			if onBoard(n.Place) {
				n.Channel = other(n.Channel)
			}
		}
		switch p.Part {
		case models.TriacPart, models.GatePart, models.SnubberPart:
			p.Channel = other(p.Channel)
		}
	}
	// The higher channel first, which tells it from exchanged plugs; two of
	// one pair undo each other.
	b.Crossings = append(b.Crossings, models.Crossing{A: max(k, next), B: min(k, next)})
	return nil
}

// onBoard reports whether a place of a channel lies on the circuit board, on
// the triac's side of the terminals of the element's wires.
func onBoard(p models.Place) bool {
	switch p {
	case models.Output, models.Gate, models.OptoOutput, models.SnubberTap:
		return true
	}
	return false
}
