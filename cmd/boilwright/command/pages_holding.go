package command

import (
	"context"
	"fmt"
	"reflect"
	"slices"

	"boilwright/models"
	"boilwright/plots/pages"
	"boilwright/sim/readings"
)

// group finds the boards that are the same circuit.
func (w *referenceWork) group() {
	circuits := make([]*models.Board, len(w.boards)+1)
	w.like = make([]int, len(circuits))
	for i := range circuits {
		w.like[i] = i
		if _, b := w.of(i); b != nil {
			circuits[i] = electrical(b)
		}
		for j := range i {
			if circuits[i] != nil && circuits[j] != nil && reflect.DeepEqual(circuits[i], circuits[j]) {
				w.like[i] = j
				break
			}
		}
	}
}

// electrical is a board without what no reading at given temperatures depends
// on: water, boilers, probes, controllers of temperature and what the links
// function at.
func electrical(b *models.Board) *models.Board {
	b = b.Clone()
	b.Lid, b.Pocket, b.Couplings = models.Lid{}, models.Pocket{}, nil
	for k := range b.Channels {
		c := &b.Channels[k]
		c.Boiler, c.Probe, c.Control = models.Boiler{}, models.Probe{}, models.Control{}
		c.Link.Functions, c.Link.Capacity, c.Link.ToShell, c.Element.Capacity = 0, 0, 0, 0
	}
	return b
}

// share gives the studies of boards that are the same circuit the readings of
// the one that was measured.
func (w *referenceWork) share() {
	for i, j := range w.like {
		s, _ := w.of(i)
		if from, _ := w.of(j); i != j {
			s.Standby, s.Heating, s.Holding, s.Dead, s.Plug, s.Failed = from.Standby, from.Heating, from.Holding, from.Dead, from.Plug, from.Failed
		}
	}
}

// of returns the study and the board of the healthy one, 0, or of a fault of
// the catalogue, from 1.
func (w *referenceWork) of(i int) (*pages.Study, *models.Board) {
	if i == 0 {
		return w.Healthy, w.Board
	}
	return w.Faults[i-1], w.boards[i-1]
}

// hold takes the readings in holding of those boards that nothing else tells
// apart: at the channel, which alone is driven, for half of each window, so that
// drives and loads that belong to another channel show. Of meters with the same
// input one is enough.
func (w *referenceWork) hold(ctx context.Context) error {
	var doubtful []int
	for i := range len(w.Faults) + 1 {
		a, _ := w.of(i)
		if w.like[i] != i {
			continue
		}
		for j := range len(w.Faults) + 1 {
			if b, _ := w.of(j); w.like[j] != i && pages.Alike(a, b) && w.First(a, b) == pages.Inseparable {
				doubtful = append(doubtful, i)
				break
			}
		}
	}
	c := readings.Conditions{State: readings.Holding, Temps: w.temps, Duty: make([]float64, len(w.Board.Channels))}
	c.Duty[w.Channel] = 0.5
	at := slices.DeleteFunc(slices.Clone(w.Points), func(p readings.Point) bool { return p.Channel != w.Channel })
	var meters []models.Meter
	for _, m := range w.Meters {
		same := func(x models.Meter) bool { return x.Resistance == m.Resistance && x.Input == m.Input }
		if !slices.ContainsFunc(meters, same) {
			meters = append(meters, m)
		}
	}
	type cell struct {
		row []readings.Value
		err error
	}
	points := len(at)
	cells := make([]cell, len(doubtful)*points)
	err := parallel(len(cells), func(n int) error {
		_, b := w.of(doubtful[n/points])
		cells[n].row, cells[n].err = readings.At(b, at[n%points], meters, c)
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	for i, d := range doubtful {
		s, _ := w.of(d)
		for _, x := range cells[i*points : (i+1)*points] {
			if x.err != nil { // of one board: its page tells
				s.Holding, s.Failed = nil, fmt.Sprintf("in holding: %v", x.err)
				break
			}
			s.Holding = append(s.Holding, x.row)
		}
	}
	return nil
}
