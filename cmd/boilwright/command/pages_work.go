package command

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/plots"
	"boilwright/plots/pages"
	"boilwright/sim"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// referenceWork is the work behind the pages of reference.
type referenceWork struct {
	pages.Reference
	target   *target // healthy
	flags    conditionFlags
	duration time.Duration
	tests    []readings.Point     // the points of the unplugged board
	targets  map[string]*target   // by the name of the fault
	boards   []*models.Board      // in the order of the catalogue; nil for one that lacks the part
	like     []int                // the first that is the same circuit: 0 the healthy board, from 1 the catalogue
	temps    circuit.Temperatures // of readings
}

// drawing is a figure ready to be written.
type drawing struct {
	name string
	svg  []byte
}

func newReferenceWork(t *target, channel int, duration time.Duration) *referenceWork {
	b := t.file.Board
	w := &referenceWork{target: t, flags: newConditions(readings.Standby.String()), duration: duration, targets: map[string]*target{}}
	w.Board, w.Channel, w.Notice = b, channel, notice
	w.Conditions = "readings and waveforms at " + w.flags.temperature.String()
	w.temps = circuit.Uniform(len(b.Channels), float64(w.flags.temperature.value))
	elsewhere := func(p readings.Point) bool { return p.Channel != channel && p.Channel >= 0 }
	w.Points = slices.DeleteFunc(readings.Points(b), elsewhere)
	w.tests = slices.DeleteFunc(readings.UnpluggedPoints(b), elsewhere)
	return w
}

// study works out what meters show on the healthy board and with every fault
// of the catalogue.
func (w *referenceWork) study(ctx context.Context, p *progress) error {
	catalogue := faults.Catalogue()
	w.Healthy = &pages.Study{}
	w.Faults = make([]*pages.Study, len(catalogue))
	w.boards = make([]*models.Board, len(catalogue))
	for i := range catalogue {
		f := &catalogue[i]
		j := faults.New(f.Name, w.Channel)
		if f.Scope == faults.PerBoard {
			j.Channel = faults.WholeBoard
		}
		s := &pages.Study{Fault: f, Text: j.Text(w.target.names)}
		w.Faults[i] = s
		if err := j.Check(w.Board); err != nil {
			s.Lacking = err.Error()
			continue
		}
		t := &target{file: w.target.file, set: faults.Set{j}, names: w.target.names}
		b, err := t.applied()
		if err != nil {
			return err
		}
		w.targets[f.Name], w.boards[i] = t, b
	}
	w.group()
	var lock sync.Mutex
	done := 0
	err := parallel(len(catalogue)+1, func(i int) error {
		s, b := w.of(i)
		if b == nil || w.like[i] != i {
			return nil
		}
		switch err := w.measure(ctx, s, b); {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && i == 0:
			return err
		case err != nil:
			s.Standby, s.Heating, s.Dead, s.Failed = nil, nil, nil, err.Error()
		}
		lock.Lock()
		defer lock.Unlock()
		done++
		p.show(time.Duration(done), time.Duration(len(catalogue)+len(w.Pages)))
		return nil
	})
	if err != nil {
		return err
	}
	w.share()
	if err := w.hold(ctx); err != nil {
		return err
	}
	w.share()
	return nil
}

// measure takes all readings of one board.
func (w *referenceWork) measure(ctx context.Context, s *pages.Study, b *models.Board) error {
	for i, table := range []*[][]readings.Value{&s.Standby, &s.Heating} {
		c := readings.Conditions{State: demoStates[i], Temps: w.temps}
		for _, p := range w.Points {
			if err := ctx.Err(); err != nil {
				return err
			}
			row, err := readings.At(b, p, w.Meters, c)
			if err != nil {
				return err
			}
			*table = append(*table, row)
		}
		var err error
		if s.Plug[i], err = plugIn(b, c); err != nil {
			return err
		}
	}
	tests := []readings.Test{readings.Ohmmeter, readings.DiodeTest, readings.Continuity, readings.Insulation}
	found, err := (&readingsOptions{}).carryOut(ctx, b, w.temps, w.tests, tests)
	for _, x := range found {
		s.Dead = append(s.Dead, pages.Dead{Point: x.point, Reversed: x.reversed, Dead: x.Dead})
	}
	return err
}

// plugCycles is the time over which the energy monitor averages.
const plugCycles = 10

// plugIn is what the energy monitor shows, once the network has come into its
// rhythm.
func plugIn(b *models.Board, c readings.Conditions) (pages.Plug, error) {
	w, err := readings.Record(b, c, 1)
	if err != nil {
		return pages.Plug{}, err
	}
	in := circuit.Input{Factor: 1}
	for k := range b.Channels {
		d := &b.Channels[k].Drive
		volts := float64(d.Off)
		if c.State == readings.Heating {
			volts = float64(d.On)
		}
		in.Drive = append(in.Drive, volts)
	}
	var energy, square, seconds float64
	for range 2 * plugCycles {
		h, err := w.Solver.HalfCycle(in)
		if err != nil {
			return pages.Plug{}, err
		}
		energy += h.Source - h.Wiring
		square += h.CurrentSquared
		seconds += h.Duration
	}
	watts, m := energy/seconds, &b.Monitor
	return pages.Plug{Watts: m.ShowPower(watts), Amperes: m.ShowCurrent(math.Sqrt(square/seconds), watts)}, nil
}

// find returns the study of a fault of the catalogue.
func (w *referenceWork) find(name string) *pages.Study {
	for _, s := range w.Faults {
		if s.Fault.Name == name {
			return s
		}
	}
	return nil
}

// finish works out the rest of a fault's page: the waveforms and the hour. A
// simulation that fails is told on the page.
func (w *referenceWork) finish(ctx context.Context, s *pages.Study) ([]drawing, error) {
	t := w.targets[s.Fault.Name]
	if t == nil || s.Failed != "" {
		return nil, ctx.Err()
	}
	d, err := w.waveforms(s, t)
	var out []drawing
	if err == nil {
		out, err = w.hour(ctx, s, t)
		out = append(out, d)
	}
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case err != nil:
		s.Failed = err.Error()
	}
	return out, nil
}

// failures are the simulations that failed among those of the named faults,
// whose pages are done.
func (w *referenceWork) failures(names []string) error {
	var errs []error
	for _, n := range names {
		if s := w.find(n); s.Failed != "" {
			errs = append(errs, fmt.Errorf("%s: %s", s.Text, s.Failed))
		}
	}
	return errors.Join(errs...)
}

// hour runs a board and draws its temperatures.
func (w *referenceWork) hour(ctx context.Context, s *pages.Study, t *target) ([]drawing, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r, _, err := simulate(ctx, t, 1, sim.Options{Duration: w.duration})
	if err != nil {
		return nil, err
	}
	if r.Status == sim.Interrupted {
		return nil, context.Canceled
	}
	s.Hour = &pages.Hour{Duration: r.Duration, Outcomes: r.Outcomes, Plug: r.Supply.Plug}
	sheet, err := temperatureSheet(t, r)
	if err != nil {
		return nil, err
	}
	stem := "healthy"
	if s.Fault != nil {
		stem = s.Fault.Name
	}
	d, f, err := vector(stem+"-temperatures.svg", sheet)
	s.Temperatures = f
	return []drawing{d}, err
}

// waveforms draws the channel of the faulty board under that of the healthy
// one, in the state in which their readings lie furthest apart.
func (w *referenceWork) waveforms(s *pages.Study, t *target) (drawing, error) {
	faulty, err := t.applied()
	if err != nil {
		return drawing{}, err
	}
	c := readings.Conditions{State: w.ShowsBest(s), Temps: w.temps}
	o := plots.RecordingOptions{Heading: heading(t, w.flags.describe(c, w.Board)), Channels: []int{w.Channel}, Points: 1000}
	input := func(b *models.Board) (plots.WaveformInput, error) {
		rec, err := readings.Record(b, c, 2)
		if err != nil {
			return plots.WaveformInput{}, err
		}
		o.First = rec.First
		return plots.FromRecording(b, rec.Solver, rec.Recording, o)
	}
	in, err := input(faulty)
	if err != nil {
		return drawing{}, err
	}
	healthy, err := input(w.Board)
	if err != nil {
		return drawing{}, err
	}
	in.Title = s.Fault.Title + ", in " + c.State.String()
	in.Supply.Name += ", with the fault"
	name := w.target.names[w.Channel]
	healthy.Channels[0].Name, in.Channels[0].Name = name+", healthy", name+", "+s.Fault.Name
	in.Channels = append(healthy.Channels, in.Channels...)
	sheet, err := plots.Waveforms(in)
	if err != nil {
		return drawing{}, err
	}
	d, f, err := vector(s.Fault.Name+"-waveforms.svg", sheet)
	s.Waveforms = f
	return d, err
}

// vector draws a sheet as SVG.
func vector(name string, s *plots.Sheet) (drawing, pages.Figure, error) {
	var b bytes.Buffer
	if err := s.Encode(&b, "svg", plots.Size{}); err != nil {
		return drawing{}, pages.Figure{}, err
	}
	return drawing{name, b.Bytes()}, pages.Figure{File: name, Title: s.Title(), Alt: s.Alt()}, nil
}
