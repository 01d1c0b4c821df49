package command

import (
	"boilwright/models"
	"boilwright/plots"
	"boilwright/sim"
	"boilwright/sim/readings"
)

// provenance goes before a board's note.
const provenance = "Simulated; a real board can differ. The board: "

// heading is a figure's heading: which board, with which faults, under which
// conditions.
func heading(t *target, conditions string) plots.Heading {
	h := plots.Heading{Title: t.title(), Subtitle: conditions}
	if note := t.file.Board.Note; note != "" {
		h.Source = provenance + note + "."
	}
	return h
}

// waveformSheet records a board under the given conditions and draws it.
func waveformSheet(b *models.Board, c readings.Conditions, cycles int, o plots.RecordingOptions) (*plots.Sheet, error) {
	w, err := readings.Record(b, c, cycles)
	if err != nil {
		return nil, err
	}
	o.First = w.First
	in, err := plots.FromRecording(b, w.Solver, w.Recording, o)
	if err != nil {
		return nil, err
	}
	return plots.Waveforms(in)
}

// temperatureSheet draws a run.
func temperatureSheet(t *target, r *sim.Result) (*plots.Sheet, error) {
	return temperatureSheetUnder(r, heading(t, clock(r.Duration)+" of operation, "+r.Status.String()))
}

// temperatureSheetUnder draws a run under a heading.
func temperatureSheetUnder(r *sim.Result, h plots.Heading) (*plots.Sheet, error) {
	in := plots.FromResult(r)
	in.Heading = h
	return plots.Temperatures(in)
}
