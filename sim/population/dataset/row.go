package dataset

import (
	"context"
	"fmt"
	"strings"

	"boilwright/faults"
	"boilwright/sim/circuit"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// Row is what a data set has of one board.
type Row struct {
	Index   uint64
	Problem string // why nothing was observed; empty where something was
	Faults  []Fault
	// Observed are the values of the columns of evidence; none where there is
	// a problem. Drawn are those of the parameters, in SI units.
	Observed, Drawn []float64
	// Waves are by state; none where there is a problem.
	Waves []Wave
}

// Fault is one fault that a board has.
type Fault struct {
	Fault    string
	Channel  int // from 0; faults.WholeBoard for the board
	Severity float64
	Keys     []Key  // that are not at their defaults
	Text     string // as --fault takes it
}

// Key is a key of a fault, with its value as it is written.
type Key struct {
	Name  string `json:"name" doc:"of the key"`
	Value string `json:"value" doc:"as it is written"`
}

// samples is how many instants of a cycle a waveform has.
const samples = 200

// Wave is one cycle of the supply in one state.
type Wave struct {
	Period float64 // s
	Supply []float32
	// Voltage and Current are by channel.
	Voltage, Current [][]float32
}

// Row works out row index. It depends on nothing but the definition and the
// index. A board without a solution is no error; cancelling ctx is.
func (d *Definition) Row(ctx context.Context, index uint64) (Row, error) {
	m, err := d.Population.Member(index)
	if err != nil {
		return Row{}, err
	}
	r := Row{Index: index}
	for _, j := range m.Faults {
		r.Faults = append(r.Faults, fault(j, d.names))
	}
	if d.Parameters {
		r.Drawn = m.Values
	}
	if len(d.Observables) > 0 {
		seen, err := d.observe(ctx, m)
		if err != nil {
			return Row{}, fmt.Errorf("board %d: %w", index, err)
		}
		if r.Problem = seen.Problem; r.Problem == "" {
			r.Observed = seen.Values
		}
	}
	if r.Problem == "" && len(d.Waveforms) > 0 {
		if err := d.waves(&r, m); err != nil {
			r.Problem, r.Observed, r.Waves = err.Error(), nil, nil
		}
	}
	return r, ctx.Err()
}

// fault writes an injection.
func fault(j faults.Injection, names []string) Fault {
	f := Fault{Fault: j.Fault, Channel: j.Channel, Severity: j.Severity, Text: j.Text(names)}
	j.Severity = 1
	for i, pair := range strings.Split(j.Text(names), ",") {
		if name, value, ok := strings.Cut(pair, "="); ok && i > 0 {
			f.Keys = append(f.Keys, Key{name, value})
		}
	}
	return f
}

// waves takes the waveforms of a member with its faults, at room temperature.
func (d *Definition) waves(r *Row, m population.Member) error {
	b, err := m.Faulty()
	if err != nil {
		return err
	}
	supply, err := readings.FindPoint(b, "supply")
	if err != nil {
		return err
	}
	for _, state := range d.Waveforms {
		w, err := readings.Record(b, readings.Conditions{State: state, Temps: circuit.Uniform(len(b.Channels), float64(b.Ambient))}, 1)
		if err != nil {
			return fmt.Errorf("%v: %w", state, err)
		}
		x := Wave{Period: w.Recording.Duration()}
		times := make([]float64, samples)
		for i := range times {
			times[i] = x.time(i)
		}
		at := func(sig circuit.Signal, err error) ([]float32, error) {
			if err != nil {
				return nil, err
			}
			out := make([]float32, samples)
			for i, v := range w.Recording.At(sig, times) {
				out[i] = float32(v)
			}
			return out, nil
		}
		if x.Supply, err = at(w.Solver.Voltage(supply.Plus, supply.Minus)); err != nil {
			return err
		}
		for k, name := range d.names {
			p, err := readings.FindPoint(b, name+":output")
			if err != nil {
				return err
			}
			voltage, err := at(w.Solver.Voltage(p.Plus, p.Minus))
			if err != nil {
				return err
			}
			current, err := at(w.Solver.Current(fmt.Sprintf("wire%d", k+1)))
			if err != nil {
				return err
			}
			x.Voltage, x.Current = append(x.Voltage, voltage), append(x.Current, current)
		}
		r.Waves = append(r.Waves, x)
	}
	return nil
}

// time is instant i in seconds.
func (w *Wave) time(i int) float64 { return w.Period * float64(i) / samples }

// Rows works out every row and gives it to yield, in the order of the boards,
// with nothing kept: after an interruption it begins anew.
func (d *Definition) Rows(ctx context.Context, workers int, yield func(*Row) error) error {
	return population.Each(ctx, 0, d.Boards, population.Workers{Count: workers}, d.Row, func(_ uint64, r Row) error { return yield(&r) })
}
