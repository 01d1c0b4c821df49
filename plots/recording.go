package plots

import (
	"fmt"
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
)

// RecordingOptions say what of a recording a waveform sheet shows.
type RecordingOptions struct {
	Heading
	// First is the half-cycle at which the recording begins: what
	// Solver.Half returned before Record.
	First int64
	// Channels are the channels shown, from 0; nil shows all.
	Channels []int
	// Notes are words beside the channels' names, by channel of the board.
	Notes []string
	// Points is about how many values each trace has [2400]; every switching
	// adds two.
	Points int
}

// FromRecording makes the input of [Waveforms] from a recording of s, the
// solver of board b. Voltage and current of an element count from the rail of
// the triac toward the load for a triac in the line, and the same way through
// the element for one in the neutral, so that they are in phase with the
// supply.
func FromRecording(b *models.Board, s *circuit.Solver, r *circuit.Recording, o RecordingOptions) (WaveformInput, error) {
	in := WaveformInput{Heading: o.Heading, Frequency: float64(b.Supply.Frequency)}
	if in.Title == "" {
		in.Title = "Waveforms: " + b.Name
	}
	if r.Duration() <= 0 {
		return in, fmt.Errorf("found an empty recording, expected at least one half-cycle")
	}
	if o.Points <= 0 {
		o.Points = 2400
	}
	line := models.At(models.Line, 0)
	supply, err := s.Voltage(line, models.At(models.Neutral, 0))
	if err != nil {
		return in, err
	}
	g := newGrid(r, supply, o.Points)
	trace := func(name, unit string, sig circuit.Signal, sign float64) Trace {
		t := Trace{Name: name, Unit: unit, Time: g.times, Value: g.values(r, sig)}
		if sign != 1 {
			for i := range t.Value {
				t.Value[i] *= sign
			}
		}
		return t
	}
	in.Supply = trace("between L and N on the board", "V", supply, 1)
	if o.Channels == nil {
		for k := range b.Channels {
			o.Channels = append(o.Channels, k)
		}
	}
	half := b.Supply.HalfCycle()
	for _, k := range o.Channels {
		if k < 0 || k >= len(b.Channels) {
			return in, fmt.Errorf("found channel index %d, expected 0 to %d", k, len(b.Channels)-1)
		}
		c := WaveformChannel{Name: b.Channels[k].Name}
		if k < len(o.Notes) {
			c.Note = o.Notes[k]
		}
		from, to, sign := models.At(models.Output, k), models.At(models.Neutral, 0), 1.0
		name := "voltage from OUT to N"
		if b.Channels[k].Side == models.NeutralSide {
			from, to, sign = models.At(models.Rail, 0), from, -1
			name = "voltage from L to OUT"
		}
		v, err := s.Voltage(from, to)
		if err != nil {
			return in, err
		}
		c.Voltage = trace(name, "V", v, 1)
		c.Current = branchTrace(s, trace, "element current", sign, fmt.Sprintf("element-near%d", k+1), fmt.Sprintf("element-far%d", k+1), fmt.Sprintf("wire%d", k+1))
		c.Gate = branchTrace(s, trace, "gate current", 1, fmt.Sprintf("junction%d", k+1))
		for _, t := range []*Trace{&c.Current, &c.Gate} {
			if t.Value == nil {
				t.Time, t.Value = g.times, make([]float64, len(g.times))
			}
		}
		end := r.Duration()
		for _, e := range r.Events {
			kind := Firing
			switch {
			case e.Channel != k:
				continue
			case e.Kind == circuit.Fired:
			case e.Kind == circuit.Extinguished:
				kind = Extinction
			default:
				continue
			}
			if t := (float64(e.Half-o.First) + e.Degrees/180) * half; t >= 0 && t <= end {
				c.Marks = append(c.Marks, Mark{kind, t, e.Degrees})
			}
		}
		in.Channels = append(in.Channels, c)
	}
	return in, nil
}

// branchTrace is the current of the first branch that the network has; a path
// that is open has none and carries no current.
func branchTrace(s *circuit.Solver, trace func(string, string, circuit.Signal, float64) Trace, name string, sign float64, branches ...string) Trace {
	for _, b := range branches {
		if sig, err := s.Current(b); err == nil {
			return trace(name, "A", sig, sign)
		}
	}
	return Trace{Name: name, Unit: "A"}
}

// grid is the instants at which a recording is drawn: the solver's own, each
// switching twice, with equally spaced ones between.
type grid struct {
	times []float64
	end   []int // index among the solver's instants, −1 for the others
}

func newGrid(r *circuit.Recording, sig circuit.Signal, points int) grid {
	ends, _ := r.Instants(sig)
	gap := r.Duration() / float64(points)
	var g grid
	add := func(t float64, end int) {
		if n := len(g.times); n > 0 { // rounding at the start of a half-cycle
			t = math.Max(t, g.times[n-1])
		}
		g.times, g.end = append(g.times, t), append(g.end, end)
	}
	for i := 0; i+1 < len(ends); i += 2 {
		a, b := ends[i], ends[i+1]
		add(a, i)
		n := int(math.Ceil((b - a) / gap))
		for j := 1; j < n; j++ {
			add(a+(b-a)*float64(j)/float64(n), -1)
		}
		add(b, i+1)
	}
	return g
}

// values is a signal on the grid: where an instant comes twice, the value
// before and the value after.
func (g grid) values(r *circuit.Recording, sig circuit.Signal) []float64 {
	v := r.At(sig, g.times)
	_, at := r.Instants(sig)
	for i, e := range g.end {
		if e >= 0 {
			v[i] = at[e]
		}
	}
	return v
}
