package population

import (
	"fmt"
	"math"

	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// MonitorValue is what the energy monitor in the supply lead shows in a state
// that lasts: every drive on, or every drive off.
type MonitorValue struct {
	State        readings.State
	Power        float64 // W through the plug
	Current      float64 // A rms through the plug
	ShownPower   float64 // W as displayed, with the monitor's error
	ShownCurrent float64 // A as displayed, with the monitor's error
}

// Bounds of how long a board may take to become periodic, and of how many
// cycles are measured where it does not, as with a meter.
const (
	settleCycles  = 25
	monitorCycles = 10
)

// monitor measures power and current through the plug of a board with its
// faults; gain is the error of the monitor, part of the reading.
func monitor(b *models.Board, c readings.Conditions, gain float64) (MonitorValue, error) {
	v := MonitorValue{State: c.State}
	s, err := circuit.New(b)
	if err != nil {
		return v, fmt.Errorf("energy monitor: %w", err)
	}
	defer s.Release()
	s.SetTemperatures(c.Temps)
	in := circuit.Input{Factor: 1, Drive: make([]float64, len(b.Channels))}
	for k := range b.Channels {
		d := &b.Channels[k].Drive
		in.Drive[k] = float64(d.Off)
		if c.State == readings.Heating {
			in.Drive[k] = float64(d.On)
		}
	}
	periodic, err := s.Settle(settleCycles, func(int64) circuit.Input { return in })
	if err != nil {
		return v, fmt.Errorf("energy monitor: %w", err)
	}
	cycles := 1
	if !periodic {
		cycles = monitorCycles
	}
	energy, square, time := 0.0, 0.0, 0.0
	for range 2 * cycles {
		r, err := s.HalfCycle(in)
		if err != nil {
			return v, fmt.Errorf("energy monitor: %w", err)
		}
		energy += r.Source - r.Wiring
		square += r.CurrentSquared
		time += r.Duration
	}
	v.Power, v.Current = energy/time, math.Sqrt(square/time)
	power := v.Power * (1 + gain)
	v.ShownPower, v.ShownCurrent = b.Monitor.ShowPower(power), b.Monitor.ShowCurrent(v.Current*(1+gain), power)
	return v, nil
}
