package evidence

import (
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// Cold returns the conditions in a state of a board that has just been plugged
// in, its parts at the temperature warm in °C: a channel that is not enabled,
// or whose controller takes its probe at room temperature for warm enough, is
// not driven.
func Cold(b *models.Board, s readings.State, warm float64) readings.Conditions {
	c := readings.Conditions{State: s, Temps: circuit.Uniform(len(b.Channels), warm), Off: make([]bool, len(b.Channels))}
	if s == readings.Standby {
		return c // nothing is driven
	}
	for k := range b.Channels {
		ch := &b.Channels[k]
		shown := ch.Probe.Reading(ch.Probe.Code(float64(b.Ambient)))
		c.Off[k] = !ch.Control.Enabled || shown >= float64(ch.Control.SetPoint)
	}
	return c
}

// Powers are means over whole cycles of a board in a steady state.
type Powers struct {
	Plug    float64   // W through the plug
	Current float64   // A rms through the plug
	Element []float64 // W, by channel
	Gate    []float64 // W in the gate path, by channel
	Snubber []float64 // W, by channel
	// Residual is the residual current over the one at which the
	// residual-current device trips, 0 without one.
	Residual float64
	// Fuse is the current over that which the fuse carries for ever, 0 without
	// one.
	Fuse float64
}

// Bounds of how long a board may take to become periodic, and of how many
// cycles are measured where it does not.
const (
	settleCycles = 10
	powerCycles  = 5
)

// PowersOf settles the circuit of a board in standby or heating and takes the
// powers of one cycle, or of five where no cycle is like the one before.
//
// A residual-current device of type AC is not assured to trip on a half wave:
// its residual current counts a third where its mean is more than 0.3 of its
// rms (assumption). A fuse carries 1.6 of its rated current for ever, its
// conventional fusing current (IEC 60269-1, from memory).
func PowersOf(b *models.Board, c readings.Conditions) (Powers, error) {
	n := len(b.Channels)
	out := Powers{Element: make([]float64, n), Gate: make([]float64, n), Snubber: make([]float64, n)}
	s, err := circuit.New(b)
	if err != nil {
		return out, err
	}
	defer s.Release()
	s.SetTemperatures(c.Temps)
	in := circuit.Input{Factor: 1, Drive: make([]float64, n)}
	for k := range b.Channels {
		d := &b.Channels[k].Drive
		in.Drive[k] = float64(d.Off)
		if from := b.DriveSource(k); c.State == readings.Heating && (c.Off == nil || !c.Off[from]) {
			in.Drive[k] = float64(d.On)
		}
	}
	periodic, err := s.Settle(settleCycles, func(int64) circuit.Input { return in })
	if err != nil {
		return out, err
	}
	cycles := 1
	if !periodic {
		cycles = powerCycles
	}
	time, square, earth, charge := 0.0, 0.0, 0.0, 0.0
	for range 2 * cycles {
		r, err := s.HalfCycle(in)
		if err != nil {
			return out, err
		}
		time += r.Duration
		square += r.CurrentSquared
		earth += r.EarthSquared
		charge += r.EarthCharge
		out.Plug += r.Source - r.Wiring
		for k := range n {
			out.Element[k] += r.Element[k]
			out.Gate[k] += r.Gate[k]
			out.Snubber[k] += r.Snubber[k]
		}
	}
	out.Plug /= time
	for k := range n {
		out.Element[k] /= time
		out.Gate[k] /= time
		out.Snubber[k] /= time
	}
	out.Current = math.Sqrt(square / time)
	if p := &b.Protection.Residual; p.Fitted {
		rms := math.Sqrt(earth / time)
		if p.TypeAC && math.Abs(charge/time) > 0.3*rms {
			rms /= 3
		}
		out.Residual = rms / (float64(p.Threshold) * float64(p.Rated))
	}
	if f := &b.Protection.Fuse; f.Fitted {
		out.Fuse = out.Current / (1.6 * float64(f.Rated))
	}
	return out, nil
}
