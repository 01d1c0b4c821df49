package command

import (
	"context"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// comparison is one given reading beside the simulated readings of every
// fault. It weighs nothing: how often faults come about does not enter.
type comparison struct {
	given    readings.Value
	fits     []candidate
	excluded []candidate
	lacking  []string // faults of parts that the board does not have
	next     []nextTest
}

// candidate is a fault at its full severity and what it shows; an empty name
// is the healthy board.
type candidate struct {
	name  string
	board *models.Board
	value readings.Value
}

// nextTest is the diode test across the triac on the unplugged board.
type nextTest struct {
	name             string
	forward, reverse readings.Dead
}

// compare takes the reading of the story from a faulty board and compares it
// with what the healthy board and every fault, on the same channel or of the
// whole board, show on the same meter.
func compare(ctx context.Context, healthy *target, faulty *models.Board) (*comparison, error) {
	meters, err := chosenMeters(faulty, []string{demoMeter})
	if err != nil {
		return nil, err
	}
	p, err := readings.FindPoint(faulty, demoPoint)
	if err != nil {
		return nil, err
	}
	c := readings.Conditions{State: readings.Standby, Temps: circuit.Uniform(len(faulty.Channels), 25)}
	at := func(b *models.Board) (readings.Value, error) {
		v, err := readings.At(b, p, meters, c)
		if err != nil {
			return readings.Value{}, err
		}
		return v[0], nil
	}
	out := &comparison{}
	if out.given, err = at(faulty); err != nil {
		return nil, err
	}
	candidates := []candidate{{board: healthy.file.Board}}
	for _, f := range faults.Catalogue() {
		channel := p.Channel
		if f.Scope == faults.PerBoard {
			channel = faults.WholeBoard
		}
		b, err := faults.Set{faults.New(f.Name, channel)}.Applied(healthy.file.Board)
		if err != nil {
			out.lacking = append(out.lacking, f.Name)
			continue
		}
		candidates = append(candidates, candidate{name: f.Name, board: b})
	}
	for _, x := range candidates {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if x.value, err = at(x.board); err != nil {
			return nil, err
		}
		d := x.value.Shown - out.given.Shown
		if max(d, -d) <= out.given.Uncertainty {
			out.fits = append(out.fits, x)
		} else {
			out.excluded = append(out.excluded, x)
		}
	}
	return out, out.test(c.Temps)
}

// test carries out the next test on the boards that fit.
func (c *comparison) test(t circuit.Temperatures) error {
	for _, x := range c.fits {
		p, err := readings.FindPoint(x.board, demoTriac)
		if err != nil {
			return err
		}
		n := nextTest{name: x.name}
		if n.forward, err = readings.Unplugged(x.board, t, readings.DiodeTest, p.Plus, p.Minus); err != nil {
			return err
		}
		if n.reverse, err = readings.Unplugged(x.board, t, readings.DiodeTest, p.Minus, p.Plus); err != nil {
			return err
		}
		c.next = append(c.next, n)
	}
	return nil
}
