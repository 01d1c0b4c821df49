package plots

import (
	"fmt"
	"math"
	"strings"
)

// CurrentPath is a stretch of a channel's circuit that carries one current.
type CurrentPath int

// The paths of current. A current counts positive from MT2 of the triac toward
// MT1 and the gate, from OUT through the element, and from the supply's line
// toward the board.
const (
	SupplyCurrent        CurrentPath = iota // out of the supply's line terminal
	LoadCurrent                             // from OUT to the middle of the element
	FarCurrent                              // from the middle of the element on
	TriacCurrent                            // MT2 to MT1
	OptoCurrent                             // through the opto output
	GateResistorCurrent                     // through the gate resistor
	GateCurrent                             // into the gate
	ShuntCurrent                            // from gate to MT1 beside it
	SnubberCurrent                          // MT2 to MT1 through the snubber
	TriacPathCurrent                        // an extra path, by its route
	OptoPathCurrent                         //
	GatePathCurrent                         //
	CapacitorPathCurrent                    //
	OutputPathCurrent                       //
	ElementPathCurrent                      //
	LEDCurrent
	pathCount
)

// currentGroup is the currents that share a full scale.
type currentGroup int

const (
	mainsGroup currentGroup = iota
	gateGroup
	snubberGroup
	earthGroup
	controlGroup
	groupCount
)

// groups says how the currents of a group are drawn.
var groups = [groupCount]struct {
	name   string
	stroke stroke // its width is that of the greatest current
}{
	{"load path", stroke{color: vermillion, width: 7}},
	{"gate path", stroke{color: bluishGreen, width: 5.5}},
	{"snubber", stroke{color: reddishPurple, width: 4.5}},
	{"to earth", stroke{color: blue, width: 4.5}},
	{"control side", stroke{color: orange, width: 4.5}},
}

func (p CurrentPath) group() currentGroup {
	switch p {
	case SupplyCurrent, LoadCurrent, FarCurrent, TriacCurrent, TriacPathCurrent:
		return mainsGroup
	case SnubberCurrent, CapacitorPathCurrent:
		return snubberGroup
	case OutputPathCurrent, ElementPathCurrent:
		return earthGroup
	case LEDCurrent:
		return controlGroup
	}
	return gateGroup
}

// CycleFrames is the state of the circuit in every frame: slices by frame.
type CycleFrames struct {
	Time     []float64                 // s
	Currents map[CurrentPath][]float64 // A
	Supply   []float64                 // V between line and neutral on the board
	Load     []float64                 // V across the load, toward the neutral
	LED      []bool                    // carries its trigger current
	Opto     []bool                    // conducts
	Triac    []bool                    // conducts
}

// CycleInput is what an animation of a channel's circuit shows, at most twenty
// half-cycles in slow motion. Times are in seconds; time 0 is a zero of the
// fundamental.
type CycleInput struct {
	SchematicInput
	Frequency float64 // Hz of the supply
	Rate      float64 // frames a second
	Frames    CycleFrames
	// Curves are drawn along below: fine enough to look smooth. The currents'
	// unit is A, the voltages' V.
	SupplyVoltage, LoadVoltage Trace
	LoadTrace, GateTrace       Trace
}

// most half-cycles in one animation.
const mostHalfCycles = 20

// Cycle builds the animation. An error names what was expected.
func Cycle(in CycleInput) (*Animation, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	c := &cycle{CycleInput: in, d: newSchematic(in.SchematicInput)}
	c.prepare()
	a := &Animation{rate: in.Rate, count: len(in.Frames.Time), still: c.still, moving: c.moving, data: []Table{c.table()}}
	a.title = clean(in.Title)
	if a.title == "" {
		a.title = c.d.T("One channel in slow motion")
		if n := clean(in.Channel); n != "" {
			a.title = c.d.F("Channel %s in slow motion", n)
		}
	}
	c.title = a.title
	src := clean(in.Source)
	if src == "" {
		src = c.d.T(Invented)
	}
	c.source = src
	a.caption = strings.TrimSpace(clean(in.Caption) + " " + c.aid() + " " + c.d.T(Caution) + " " + src)
	a.alt = c.alternative()
	return a, nil
}

func (in *CycleInput) check() error {
	if err := in.SchematicInput.check(); err != nil {
		return err
	}
	f := &in.Frames
	if err := checkFrames(len(f.Time), in.Rate); err != nil {
		return err
	}
	if err := checkFrequency(in.Frequency); err != nil {
		return err
	}
	n := len(f.Time)
	for _, x := range []struct {
		name   string
		values []float64
	}{{"supply voltage", f.Supply}, {"load voltage", f.Load}} {
		if err := checkSeries("frames: "+x.name, f.Time, x.values, mostPrefixed); err != nil {
			return err
		}
	}
	for p := range pathCount {
		if v := f.Currents[p]; v != nil {
			if err := checkSeries(fmt.Sprintf("frames: current %d", p), f.Time, v, mostPrefixed); err != nil {
				return err
			}
		}
	}
	for _, x := range []struct {
		name  string
		state []bool
	}{{"LED", f.LED}, {"opto", f.Opto}, {"triac", f.Triac}} {
		if len(x.state) != n {
			return fmt.Errorf("frames: found %s of the %s for %s, expected as many", plural(len(x.state), "state", "states"), x.name, plural(n, "time", "times"))
		}
	}
	for _, t := range []placed{{&in.SupplyVoltage, "supply voltage"}, {&in.LoadVoltage, "load voltage"}, {&in.LoadTrace, "load current"}, {&in.GateTrace, "gate current"}} {
		if err := t.trace.check(t.where); err != nil {
			return err
		}
	}
	lo, hi := in.SupplyVoltage.Time[0], in.SupplyVoltage.Time[len(in.SupplyVoltage.Time)-1]
	if h := (hi - lo) * 2 * in.Frequency; h > mostHalfCycles+1e-3 {
		return fmt.Errorf("found %.3g half-cycles, expected at most %d in one animation", h, mostHalfCycles)
	}
	for i, t := range f.Time {
		if slack := 0.02 * (hi - lo); !(t >= lo-slack && t <= hi+slack) || i > 0 && t < f.Time[i-1] {
			return fmt.Errorf("frames: found time %g s at index %d, expected rising times from %g s to %g s", t, i, lo, hi)
		}
	}
	return nil
}

// cycle is an animation being built.
type cycle struct {
	CycleInput
	d             *schematic
	title, source string
	full          [groupCount]float64 // A, the greatest current of a group
	from, to      float64
	volts         float64
	amps, gate    float64
}

// least currents that count as full scale, A, so that what leaks through a
// blocking part does not look like a load.
var leastFull = [groupCount]float64{0.02, 0.002, 0.0005, 0.0001, 0.001}

func (c *cycle) prepare() {
	c.full = leastFull
	for p := range pathCount {
		g := p.group()
		c.full[g] = math.Max(c.full[g], size(c.Frames.Currents[p]))
	}
	// Short pulses can fall between two frames; their traces have them.
	c.full[mainsGroup] = math.Max(c.full[mainsGroup], size(c.LoadTrace.Value))
	c.full[gateGroup] = math.Max(c.full[gateGroup], size(c.GateTrace.Value))
	c.from = math.Min(c.SupplyVoltage.Time[0], c.Frames.Time[0])
	c.to = math.Max(c.SupplyVoltage.Time[len(c.SupplyVoltage.Time)-1], c.Frames.Time[len(c.Frames.Time)-1])
	c.volts = math.Max(leastVolts, math.Max(size(c.SupplyVoltage.Value), size(c.LoadVoltage.Value)))
	c.amps = math.Max(leastAmps, size(c.LoadTrace.Value))
	c.gate = math.Max(leastGate, size(c.GateTrace.Value))
}

// slowness is how many times slower than life it is shown.
func (c *cycle) slowness() float64 {
	n := len(c.Frames.Time)
	if n < 2 {
		return 1
	}
	return float64(n-1) / c.Rate / math.Max(1e-12, c.Frames.Time[n-1]-c.Frames.Time[0])
}

func (c *cycle) aid() string {
	return c.d.T("Lit leads carry current: the wider, the more, on a scale of its own for each colour; arrows point the way it flows. Filled symbols conduct.")
}

// spans are the stretches of frames in which a state holds, in words.
func (c *cycle) spans(state []bool) string {
	var parts []string
	for i := 0; i < len(state); i++ {
		if !state[i] {
			continue
		}
		j := i
		for j+1 < len(state) && state[j+1] {
			j++
		}
		parts = append(parts, c.d.F("%s ms to %s ms", number(c.Frames.Time[i]*1e3, 4), number(c.Frames.Time[j]*1e3, 4)))
		i = j
	}
	if len(parts) == 0 {
		return c.d.T("never")
	}
	return strings.Join(parts, "; ")
}

func (c *cycle) alternative() string {
	var b strings.Builder
	b.WriteString(c.d.F("Animation of a circuit: %s.", c.title))
	if s := clean(c.Subtitle); s != "" {
		b.WriteString(" " + strings.TrimSuffix(s, ".") + ".")
	}
	b.WriteString(" " + c.d.F("%d frames at %s a second, %s ms of supply at %s Hz, %s times slower than life.", len(c.Frames.Time), number(c.Rate, 4), number((c.to-c.from)*1e3, 4), number(c.Frequency, 4), number(c.slowness(), 3)))
	b.WriteString(" " + c.d.F("LED lit: %s.", c.spans(c.Frames.LED)))
	b.WriteString(" " + c.d.F("Optotriac conducts: %s.", c.spans(c.Frames.Opto)))
	b.WriteString(" " + c.d.F("Triac conducts: %s.", c.spans(c.Frames.Triac)))
	b.WriteString(" " + c.d.F("Supply voltage: %s.", c.SupplyVoltage.between(c.d.Language)))
	b.WriteString(" " + c.d.F("Load voltage: %s.", c.LoadVoltage.between(c.d.Language)))
	b.WriteString(" " + c.d.F("Load current: %s.", c.LoadTrace.between(c.d.Language)))
	b.WriteString(" " + c.d.F("Gate current: %s.", c.GateTrace.between(c.d.Language)))
	for i, f := range c.Faults {
		b.WriteString(" " + c.d.F("Fault %d: %s.", i+1, clean(f.Text)))
	}
	return b.String()
}

// pathNames are the columns of the data.
var pathNames = [pathCount]string{"supply current", "load current", "current in the far half of the element", "triac current", "opto current", "gate resistor current",
	"gate current", "gate-to-MT1 resistor current", "snubber current", "current beside the triac", "current beside the opto", "current beside the gate", "current beside the capacitor",
	"current from OUT to earth", "current from the element to earth", "LED current"}

func (c *cycle) table() Table {
	f := &c.Frames
	word := func(state []bool) []string {
		out := make([]string, len(state))
		for i, s := range state {
			out[i] = "off"
			if s {
				out[i] = "on"
			}
		}
		return out
	}
	t := Table{"frames", []Column{
		{Name: "time", Unit: "s", Number: f.Time}, {Name: "supply voltage", Unit: "V", Number: f.Supply}, {Name: "load voltage", Unit: "V", Number: f.Load},
		{Name: "LED", Text: word(f.LED)}, {Name: "opto", Text: word(f.Opto)}, {Name: "triac", Text: word(f.Triac)},
	}}
	for p := range pathCount {
		if v := f.Currents[p]; v != nil {
			t.Columns = append(t.Columns, Column{Name: pathNames[p], Unit: "A", Number: v})
		}
	}
	return t
}
