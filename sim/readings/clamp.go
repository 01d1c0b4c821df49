package readings

import (
	"fmt"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// Lead is a conductor round which a clamp ammeter goes.
type Lead struct {
	Name    string // as written at the command line
	Title   string
	Channel int // −1 for the supply's
}

// point is the lead as the test point of a reading.
func (l Lead) point() Point {
	return Point{Name: l.Name, Title: l.Title, Channel: l.Channel, Live: true}
}

// ClampCaution belongs beside every test with a clamp ammeter, beside
// LiveCaution.
const ClampCaution = "a clamp goes round one conductor; both conductors of a load in it cancel to nothing, and nothing in it does not prove dead"

// Leads lists where a clamp goes: round the line conductor of the supply lead,
// then round the lead from each triac's output to its element.
func Leads(b *models.Board) []Lead {
	leads := []Lead{{"supply-lead", "line conductor of the supply lead", -1}}
	for k := range b.Channels {
		leads = append(leads, Lead{b.Channels[k].Name + ":element-lead", "lead to the element", k})
	}
	return leads
}

// FindLead returns the lead of a name.
func FindLead(b *models.Board, name string) (Lead, error) {
	var names []string
	for _, l := range Leads(b) {
		if l.Name == name {
			return l, nil
		}
		names = append(names, l.Name)
	}
	return Lead{}, fmt.Errorf("found lead %q, expected one of %v", name, names)
}

// Around returns what the given clamp ammeters show round a lead, one value a
// clamp, in order. A clamp does not load the circuit. Currents count
// toward the board and from the triac's output toward the element; the other
// way round a clamp shows the same unless its detector tells polarities apart.
func Around(b *models.Board, l Lead, clamps []models.Clamp, c Conditions) ([]Value, error) {
	x, err := NewBench(b, c)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", l.Name, err)
	}
	return x.Around(l, clamps)
}

// Around returns what the given clamp ammeters show round a lead, one value a
// clamp, in order.
func (x *Bench) Around(l Lead, clamps []models.Clamp) ([]Value, error) {
	out := make([]Value, len(clamps))
	done := map[int]measured{} // by cycles
	for i := range clamps {
		m := &clamps[i]
		w, ok := done[m.Cycles]
		if !ok {
			var err error
			if w, err = x.clamp(l, m.Cycles); err != nil {
				return nil, fmt.Errorf("%s: %w", l.Name, err)
			}
			done[m.Cycles] = w
		}
		v := &out[i]
		v.Point, v.Meter, v.State = l.point(), m.Name, x.cond.State
		w.show(v, m.Detector, m.Display)
	}
	return out, nil
}

func (x *Bench) clamp(l Lead, cycles int) (measured, error) {
	b, c := x.board, x.cond
	if l.Channel >= len(b.Channels) {
		return measured{}, fmt.Errorf("found a lead of channel %d, expected one of channel 1 to %d", l.Channel+1, len(b.Channels))
	}
	branch, sign := "source", -1.0 // the source delivers what flows to the board
	if l.Channel >= 0 {
		branch, sign = fmt.Sprintf("wire%d", l.Channel+1), 1
	}
	if x.quiet != nil {
		if peak, ok := x.quiet.Flowing(branch); ok {
			return measured{steady: sine(peak)}, nil
		}
	}
	s, err := circuit.New(b)
	if err != nil {
		return measured{}, err
	}
	if _, _, err := s.Ends(branch); err != nil { // a wire that is broken
		return measured{}, nil
	}
	sig, err := s.Current(branch)
	if err != nil {
		return measured{}, err
	}
	s.SetTemperatures(c.Temps)
	w, err := observe(s, sig, b, cycles, c, true)
	if err != nil {
		return measured{}, err
	}
	w.steady.Mean *= sign
	for i := range w.bursts {
		w.bursts[i].Mean *= sign
	}
	return w, nil
}
