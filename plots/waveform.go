package plots

import (
	"fmt"
	"math"
)

// Trace is a quantity over time. A jump is two values at one time.
type Trace struct {
	Name  string // "voltage across the element"
	Unit  string // of the values, without prefix: "V", "A"
	Time  []float64
	Value []float64
}

// given reports whether there is a trace at all.
func (t *Trace) given() bool { return len(t.Time)+len(t.Value) > 0 }

func (t *Trace) check(where string) error {
	if t.Name != "" {
		where += ": " + t.Name
	}
	if err := checkTimes(where, t.Time, mostWave); err != nil {
		return err
	}
	if err := checkUnit(where, t.Unit); err != nil {
		return err
	}
	return checkSeries(where, t.Time, t.Value, mostOf(t.Unit))
}

// MarkKind is what an angle mark stands for.
type MarkKind int

// The kinds of mark.
const (
	Firing     MarkKind = iota // a triac begins to conduct
	Extinction                 // it stops
)

// Mark is an instant marked with its electrical angle.
type Mark struct {
	Kind    MarkKind
	Time    float64 // s
	Degrees float64 // from the zero that starts the half-cycle of the firing
}

// WaveformChannel is one channel of a waveform sheet. Traces without values
// are left out.
type WaveformChannel struct {
	Name    string
	Note    string // state, in a few words: "driven"
	Voltage Trace  // across the element, V
	Current Trace  // of the element, A
	Gate    Trace  // gate current, A
	Marks   []Mark
}

// WaveformInput is what a waveform sheet shows: at most three cycles. Times
// are in seconds; time 0 is a zero of the fundamental.
type WaveformInput struct {
	Heading
	Frequency float64 // Hz of the supply
	Supply    Trace
	Channels  []WaveformChannel
	// OwnScales gives every channel scales of its own; otherwise all
	// voltages, all currents and all gate currents share theirs.
	OwnScales bool
}

// Waveforms builds a sheet of stacked panels over one time axis: the supply
// voltage, then for every channel voltage and current of the element on two
// scales with a common zero, and the gate current; firings and extinctions
// are marked with their angles. An error names the trace and what was
// expected.
func Waveforms(in WaveformInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	w := &waveforms{WaveformInput: in}
	w.prepare()
	s := in.Heading.sheet(in.Language.T("Waveforms"), w.aid())
	s.alt = w.alternative(s)
	s.data = w.tables()
	s.body = w.draw
	return s, nil
}

// maxCycles bounds the time shown, with room for rounding.
const maxCycles = 3.001

func (in *WaveformInput) check() error {
	if err := checkFrequency(in.Frequency); err != nil {
		return err
	}
	if len(in.Channels) > maxChannels {
		return fmt.Errorf("found %d channels, expected at most %d in one figure", len(in.Channels), maxChannels)
	}
	n := 0
	for _, p := range in.traces() {
		if !p.trace.given() {
			continue
		}
		n++
		if err := p.trace.check(p.where); err != nil {
			return err
		}
	}
	if n == 0 {
		return fmt.Errorf("found no trace, expected a supply voltage or a channel's")
	}
	for k := range in.Channels {
		c := &in.Channels[k]
		for i, m := range c.Marks {
			where := fmt.Sprintf("%s: mark %d", named(k, c.Name), i)
			if err := checkValues(where+": time", []float64{m.Time}, mostWave); err != nil {
				return err
			}
			if err := checkValues(where+": angle", []float64{m.Degrees}, mostAngle); err != nil {
				return err
			}
			if m.Kind != Firing && m.Kind != Extinction {
				return fmt.Errorf("%s: found kind %d, expected a firing or an extinction", where, m.Kind)
			}
		}
	}
	lo, hi := in.span()
	if c := (hi - lo) * in.Frequency; c > maxCycles {
		return fmt.Errorf("found %.3g cycles, expected at most 3 in one figure", c)
	}
	return nil
}

// placed is a trace with the words for where it stands.
type placed struct {
	trace *Trace
	where string
}

func (in *WaveformInput) traces() []placed {
	out := []placed{{&in.Supply, "supply"}}
	for k := range in.Channels {
		c := &in.Channels[k]
		where := named(k, c.Name)
		out = append(out, placed{&c.Voltage, where}, placed{&c.Current, where}, placed{&c.Gate, where})
	}
	return out
}

// span is the time that the traces cover.
func (in *WaveformInput) span() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range in.traces() {
		if p.trace.given() {
			lo = math.Min(lo, p.trace.Time[0])
			hi = math.Max(hi, p.trace.Time[len(p.trace.Time)-1])
		}
	}
	return lo, hi
}

// waveforms is a sheet being built.
type waveforms struct {
	WaveformInput
	from, to float64
	volts    []float64 // greatest magnitudes by channel
	amps     []float64
	gates    []float64
	voltage  float64 // greatest voltage of all
}

// least magnitudes to which the scales reach, so that a dead signal is a flat
// line and not its own noise.
const (
	leastVolts = 1
	leastAmps  = 0.01
	leastGate  = 0.002
)

func (w *waveforms) prepare() {
	w.from, w.to = w.span()
	w.voltage = math.Max(leastVolts, size(w.Supply.Value))
	amps, gates := leastAmps, leastGate
	for k := range w.Channels {
		c := &w.Channels[k]
		w.volts = append(w.volts, math.Max(leastVolts, size(c.Voltage.Value)))
		w.amps = append(w.amps, math.Max(leastAmps, size(c.Current.Value)))
		w.gates = append(w.gates, math.Max(leastGate, size(c.Gate.Value)))
		w.voltage = math.Max(w.voltage, w.volts[k])
		amps, gates = math.Max(amps, w.amps[k]), math.Max(gates, w.gates[k])
	}
	if w.OwnScales {
		return
	}
	for k := range w.Channels {
		w.volts[k], w.amps[k], w.gates[k] = w.voltage, amps, gates
	}
}

// zeros are the zeros of the fundamental within the figure, by number.
func (w *waveforms) zeros() (first, last int) {
	half := 1 / (2 * w.Frequency)
	return int(math.Ceil(w.from/half - 1e-6)), int(math.Floor(w.to/half + 1e-6))
}

// marked returns a channel's marks of one kind within the figure.
func (w *waveforms) marked(k int, kind MarkKind) []Mark {
	var out []Mark
	for _, m := range w.Channels[k].Marks {
		if m.Kind == kind && m.Time >= w.from && m.Time <= w.to {
			out = append(out, m)
		}
	}
	return out
}
