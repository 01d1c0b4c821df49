package command

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// mostValues bounds how many values one file of traces has.
const mostValues = 20_000_000

// traceOptions are the flags for the circuit's waveforms.
type traceOptions struct {
	file     string
	state    string
	cycles   int
	rate     quantityValue[q.Hertz]
	samples  int
	instants bool
	voltages []string
	currents []string
}

var liveStates = []string{readings.Standby.String(), readings.Heating.String(), readings.Holding.String()}

func (o *traceOptions) add(cmd *cobra.Command) {
	f := cmd.Flags()
	o.rate = quantityValue[q.Hertz]{min: 1, max: 1e9, typ: "FREQUENCY"}
	f.StringVar(&o.file, "traces", "", "write the circuit's waveforms, as the run left the board, to `FILE`; - is standard output")
	f.StringVar(&o.state, "traces-state", readings.Heating.String(), "with --traces: what the board is doing then, `STATE` "+list(liveStates, ""))
	f.IntVar(&o.cycles, "cycles", 2, "with --traces: `NUMBER` of supply cycles")
	f.Var(&o.rate, "rate", "with --traces: sample at this `FREQUENCY`")
	f.IntVar(&o.samples, "samples", 400, "with --traces: `NUMBER` of samples a cycle")
	f.BoolVar(&o.instants, "instants", false, "with --traces: the solver's own instants, each switching twice, instead of samples")
	f.StringArrayVar(&o.voltages, "voltage", nil, "with --traces: a voltage, `NODE[/NODE]` or a test point; repeatable [every node's]")
	f.StringArrayVar(&o.currents, "current", nil, "with --traces: the current of a `BRANCH`; repeatable [every branch's]")
	f.Lookup("rate").DefValue = ""
	cmd.MarkFlagsMutuallyExclusive("rate", "samples", "instants")
	complete(cmd, "traces-state", completeWords(liveStates...))
	complete(cmd, "voltage", completeNode)
	complete(cmd, "current", completeBranch)
}

func (o *traceOptions) validate() error {
	switch {
	case o.cycles < 1 || o.cycles > 1000:
		return misuse("--cycles: found %d, expected 1 to 1000", o.cycles)
	case o.samples < 2 || o.samples > 1_000_000:
		return misuse("--samples: found %d, expected 2 to 1000000", o.samples)
	case o.file == "" && len(o.voltages)+len(o.currents) > 0:
		return misuse("found --voltage or --current without --traces, expected the file that they go to")
	}
	return nil
}

// check tells before a run whether the board has what is asked for.
func (o *traceOptions) check(b *models.Board) error {
	if o.file == "" {
		return nil
	}
	flags := conditionFlags{state: o.state}
	if _, err := flags.conditions(b, liveStates...); err != nil {
		return err
	}
	s, err := circuit.New(b)
	if err != nil {
		return err
	}
	if _, err := o.signals(b, s); err != nil {
		return misused(err)
	}
	return nil
}

// namedSignal is a column of the traces.
type namedSignal struct {
	heading string
	signal  circuit.Signal
}

// signals are the columns asked for, or everything.
func (o *traceOptions) signals(b *models.Board, s *circuit.Solver) ([]namedSignal, error) {
	var out []namedSignal
	voltages, currents := o.voltages, o.currents
	if len(voltages)+len(currents) == 0 {
		for _, n := range s.Nodes() {
			if n.Place != models.SupplyNeutral {
				voltages = append(voltages, n.String())
			}
		}
		currents = s.Branches()
	}
	for _, text := range voltages {
		plus, minus, err := nodePair(b, text)
		if err != nil {
			return nil, err
		}
		sig, err := s.Voltage(plus, minus)
		if err != nil {
			return nil, err
		}
		out = append(out, namedSignal{"voltage " + text + " (V)", sig})
	}
	for _, text := range currents {
		sig, err := s.Current(text)
		if err != nil {
			return nil, err
		}
		out = append(out, namedSignal{"current " + text + " (A)", sig})
	}
	return out, nil
}

// nodePair reads a node, which counts from the neutral at the supply end, two
// nodes, or a test point.
func nodePair(b *models.Board, text string) (plus, minus models.Node, err error) {
	if strings.Contains(text, ":") {
		p, err := readings.FindPoint(b, text)
		if err == nil && p.Control {
			err = misuse("found test point %s of the control side, expected one of the mains side", text)
		}
		return p.Plus, p.Minus, err
	}
	first, second, two := strings.Cut(text, "/")
	if plus, err = models.ParseNode(first, len(b.Channels)); err != nil || !two {
		return plus, models.At(models.SupplyNeutral, 0), err
	}
	minus, err = models.ParseNode(second, len(b.Channels))
	return plus, minus, err
}

// write records the board as a run left it and writes its waveforms.
func (o *traceOptions) write(out io.Writer, r *sim.Result, b *models.Board) error {
	state, err := readings.ParseState(o.state)
	if err != nil {
		return err
	}
	if len(r.Samples) == 0 { // interrupted before anything was done
		return nil
	}
	last := r.Samples[len(r.Samples)-1]
	temps := circuit.Temperatures{Board: last.Pocket}
	for _, c := range last.Channels {
		temps.Element, temps.Junction = append(temps.Element, c.Element), append(temps.Junction, c.Junction)
	}
	w, err := readings.Record(b, readings.Conditions{State: state, Temps: temps}, o.cycles)
	if err != nil {
		return err
	}
	signals, err := o.signals(b, w.Solver)
	if err != nil {
		return err
	}
	times, columns, err := o.columns(w, signals)
	if err != nil {
		return err
	}
	return writeFile(o.file, out, func(f io.Writer) error { return writeTraces(f, times, signals, columns) })
}

// columns samples the signals; times count from a zero of the supply.
func (o *traceOptions) columns(w *readings.Waveform, signals []namedSignal) (times []float64, columns [][]float64, err error) {
	rec := w.Recording
	columns = make([][]float64, len(signals))
	if o.instants {
		for i, s := range signals {
			times, columns[i] = rec.Instants(s.signal)
		}
		return times, columns, nil
	}
	n := o.cycles*o.samples + 1
	step := rec.Duration() / float64(n-1)
	if o.rate.value > 0 {
		step = 1 / float64(o.rate.value)
		n = 1 + int(math.Floor(rec.Duration()/step+1e-9))
	}
	if n*max(1, len(signals)) > mostValues {
		return nil, nil, misuse("found %d samples of %d signals, expected at most %d values", n, len(signals), mostValues)
	}
	times = make([]float64, n)
	for i := range times {
		times[i] = float64(i) * step
	}
	for i, s := range signals {
		columns[i] = rec.At(s.signal, times)
	}
	return times, columns, nil
}

// writeTraces writes a heading row, then a row for each instant.
func writeTraces(w io.Writer, times []float64, signals []namedSignal, columns [][]float64) error {
	out := csv.NewWriter(w)
	row := []string{"time (s)"}
	for _, s := range signals {
		row = append(row, s.heading)
	}
	if err := out.Write(row); err != nil {
		return err
	}
	for i, t := range times {
		row[0] = strconv.FormatFloat(t, 'g', 15, 64) // switchings can lie 0.1 ns apart
		for j := range columns {
			row[j+1] = figures(columns[j][i])
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
