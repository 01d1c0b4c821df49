package command

import (
	"context"
	"errors"

	"boilwright/faults"
	"boilwright/sim"
	"boilwright/sim/readings"
)

// document is the story for machines, as far as it has come, with the error
// that ended it.
func (w *demoWork) document(o *demoOptions) (*demoDocument, error) {
	d := &demoDocument{
		Schema: schemaName("demo"), Notice: notice, Caution: faults.Caution, Status: sim.Completed.String(), Board: w.healthy.document(),
		Runs: []demoRunDocument{}, Readings: []demoTableDocument{}, Files: []string{},
		Reading: comparisonDocument{Point: demoPoint, State: readings.Standby.String(), Meter: demoMeter,
			Fits: []candidateDocument{}, Excluded: []candidateDocument{}, Next: []nextDocument{}},
	}
	err := errors.Join(w.runDocuments(d), w.tableDocuments(d), w.comparisonDocument(d))
	if err == nil {
		d.Files, err = w.write(o.out)
	}
	if errors.Is(err, errInterrupted) || errors.Is(err, context.Canceled) {
		d.Status, d.Files = sim.Interrupted.String(), []string{}
	}
	return d, err
}

func (w *demoWork) runDocuments(d *demoDocument) error {
	for i, l := range w.runs {
		r, err := l.wait()
		if err != nil {
			return err
		}
		x := demoRunDocument{
			Status: r.result.Status.String(), Duration: number(r.result.Duration.Seconds()),
			Plug: number(r.result.Supply.Plug), Outcomes: outcomeDocuments(r.result),
		}
		if i > 0 {
			x.Fault = w.targets[i-1].texts()[0]
		}
		d.Runs = append(d.Runs, x)
		if r.result.Status == sim.Interrupted {
			return errInterrupted
		}
	}
	return nil
}

func (w *demoWork) tableDocuments(d *demoDocument) error {
	for i := range demoFaults {
		for s, state := range demoStates {
			healthy, err := w.tables[s][0].wait()
			if err != nil {
				return err
			}
			faulty, err := w.tables[s][1+i].wait()
			if err != nil {
				return err
			}
			rows := differing(healthy, faulty)
			x := demoTableDocument{Fault: w.targets[i].texts()[0], State: state.String(), Same: len(faulty) - len(rows), Rows: []demoRowDocument{}}
			for _, r := range rows {
				for j, f := range faulty[r] {
					x.Rows = append(x.Rows, demoRowDocument{f.Point.Name, f.Meter, number(healthy[r][j].Shown), number(f.Shown), number(f.Uncertainty)})
				}
			}
			d.Readings = append(d.Readings, x)
		}
	}
	return nil
}

func (w *demoWork) comparisonDocument(d *demoDocument) error {
	c, err := w.comparison.wait()
	if err != nil {
		return err
	}
	d.Reading.Shown, d.Reading.Uncertainty = number(c.given.Shown), number(c.given.Uncertainty)
	for _, x := range c.fits {
		d.Reading.Fits = append(d.Reading.Fits, candidateDocument{x.name, number(x.value.Shown)})
	}
	for _, x := range c.excluded {
		d.Reading.Excluded = append(d.Reading.Excluded, candidateDocument{x.name, number(x.value.Shown)})
	}
	for _, n := range c.next {
		d.Reading.Next = append(d.Reading.Next, nextDocument{n.name, optional(n.forward.Volts), optional(n.reverse.Volts)})
	}
	return nil
}
