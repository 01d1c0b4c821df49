package readings

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
)

// Mode is what a channel does as the energy monitor sees it.
type Mode int

// The modes.
const (
	ChannelOff Mode = iota
	HalfWave        // conducting in one polarity only
	FullWave
	Reversed // half-wave, of the other polarity than the row's first half-wave
)

func (m Mode) String() string { return [...]string{"off", "half", "on", "reversed"}[m] }

// half reports whether the channel conducts in one polarity only.
func (m Mode) half() bool { return m == HalfWave || m == Reversed }

// Tolerance is what the bands of the monitor's table allow for.
type Tolerance struct {
	// ElementLow and ElementHigh bound an element's power at its rated
	// voltage, as parts of the rated power. The default −10 %, +5 % is the
	// input deviation of heating appliances above 200 W in IEC 60335-1
	// clause 10.1 (from memory).
	ElementLow, ElementHigh q.Ratio
	// Supply is the tolerance of the supply voltage; 0 where it was measured.
	Supply q.Ratio
}

// DefaultTolerance is the tolerance used where none is given.
var DefaultTolerance = Tolerance{ElementLow: -0.10, ElementHigh: 0.05}

// Combination is one row of the energy monitor's table.
type Combination struct {
	Modes   []Mode // by channel
	Power   Band   // W through the plug
	Current Band   // A rms
	// SamePower and SameCurrent list the rows, by index, whose bands overlap
	// this row's in watts and in amperes; Same those that overlap in both.
	SamePower, SameCurrent, Same []int
}

// Name writes the modes, channel by channel.
func (c Combination) Name() string {
	s := make([]string, len(c.Modes))
	for i, m := range c.Modes {
		s[i] = m.String()
	}
	return strings.Join(s, " ")
}

// Opposed reports whether half-waves of both polarities are among the
// channels, which changes the current though hardly the power.
func (c Combination) Opposed() bool { return slices.Contains(c.Modes, Reversed) }

// Band is a nominal value as displayed, with the bounds that tolerances and
// the monitor's accuracy give.
type Band struct{ Nominal, Low, High float64 }

func (b Band) overlaps(o Band) bool { return b.Low <= o.High && o.Low <= b.High }

// MonitorTable computes what the energy monitor in the supply lead shows for
// every combination of channels off, half-wave and on: 3ⁿ rows for n channels,
// the half-waves all of one polarity, followed by every arrangement in which
// half-waves of both polarities meet. Elements are at temperature t.
func MonitorTable(b *models.Board, t circuit.Temperatures, tol Tolerance) ([]Combination, error) {
	n := len(b.Channels)
	if n > 6 {
		return nil, fmt.Errorf("found %d channels, expected at most 6 for a table of combinations", n)
	}
	rows := combinations(n)
	low, high := spread(b, tol.ElementLow, -tol.Supply), spread(b, tol.ElementHigh, tol.Supply)
	for i := range rows {
		r := &rows[i]
		p, a, err := plug(b, t, r.Modes)
		if err != nil {
			return nil, err
		}
		pl, al, err := plug(low, t, r.Modes)
		if err != nil {
			return nil, err
		}
		ph, ah, err := plug(high, t, r.Modes)
		if err != nil {
			return nil, err
		}
		m := &b.Monitor
		r.Power = band(m.ShowPower(p), m.ShowPower(pl), m.ShowPower(ph), float64(m.Accuracy), float64(m.PowerResolution))
		r.Current = band(m.ShowCurrent(a, p), m.ShowCurrent(al, pl), m.ShowCurrent(ah, ph), float64(m.Accuracy), float64(m.CurrentResolution))
	}
	for i := range rows {
		for j := range rows {
			if i == j {
				continue
			}
			p, a := rows[i].Power.overlaps(rows[j].Power), rows[i].Current.overlaps(rows[j].Current)
			if p {
				rows[i].SamePower = append(rows[i].SamePower, j)
			}
			if a {
				rows[i].SameCurrent = append(rows[i].SameCurrent, j)
			}
			if p && a {
				rows[i].Same = append(rows[i].Same, j)
			}
		}
	}
	return rows, nil
}

// combinations lists the modes of n channels, the first channel slowest, then
// the arrangements with both polarities, the row's first half-wave unreversed.
func combinations(n int) []Combination {
	total := 1
	for range n {
		total *= 3
	}
	var rows, opposed []Combination
	for i := range total {
		modes := make([]Mode, n)
		var halves []int
		for k, rest := n-1, i; k >= 0; k-- {
			modes[k] = Mode(rest % 3)
			rest /= 3
		}
		for k, m := range modes {
			if m == HalfWave {
				halves = append(halves, k)
			}
		}
		rows = append(rows, Combination{Modes: modes})
		if len(halves) < 2 {
			continue
		}
		for bits := 1; bits < 1<<(len(halves)-1); bits++ {
			turned := slices.Clone(modes)
			for j, k := range halves[1:] {
				if bits>>j&1 == 1 {
					turned[k] = Reversed
				}
			}
			opposed = append(opposed, Combination{Modes: turned})
		}
	}
	return append(rows, opposed...)
}

// spread returns b with every element's power and the supply off by the given
// parts.
func spread(b *models.Board, power, supply q.Ratio) *models.Board {
	c := b.Clone()
	for k := range c.Channels {
		c.Channels[k].Element.Resistance /= q.Ohm(1 + power)
	}
	c.Supply.Voltage *= q.Volt(1 + supply)
	return c
}

// plug returns the power in watts and the rms current in amperes through the
// plug.
func plug(b *models.Board, t circuit.Temperatures, modes []Mode) (watts, amps float64, err error) {
	c := b.Clone()
	in := circuit.Input{Factor: 1, Drive: make([]float64, len(modes))}
	for k, m := range modes {
		d := &c.Channels[k].Drive
		in.Drive[k] = float64(d.Off)
		if m != ChannelOff {
			in.Drive[k] = float64(d.On)
		}
		if m.half() {
			c.Channels[k].Opto.Fires = polarity(&c.Channels[k])
		}
		if m == Reversed {
			c.Channels[k].Opto.Fires *= -1
		}
	}
	s, err := circuit.New(c)
	if err != nil {
		return 0, 0, err
	}
	defer s.Release()
	s.SetTemperatures(t)
	input := func(int64) circuit.Input { return in }
	periodic, err := s.Settle(settleCycles, input)
	if err != nil {
		return 0, 0, err
	}
	cycles := 1
	if !periodic {
		cycles = 10
	}
	square, time := 0.0, 0.0
	for range 2 * cycles {
		r, err := s.HalfCycle(in)
		if err != nil {
			return 0, 0, err
		}
		watts += r.Source - r.Wiring
		square += r.CurrentSquared
		time += r.Duration
	}
	return watts / time, math.Sqrt(square / time), nil
}

// polarity is the sign of v(MT2 − G) in the half-cycle in which the line is
// negative: half-waves of one polarity take their current in the same half of
// the supply's cycle, however their triacs are placed.
func polarity(c *models.Channel) int {
	if (c.Side == models.NeutralSide) != (c.MT1 == models.MT1Load) {
		return -1
	}
	return 1
}

func band(nominal, low, high, accuracy, step float64) Band {
	lo, hi := math.Min(low, high), math.Max(low, high)
	if lo > 0 {
		lo = math.Max(0, lo*(1-accuracy)-step/2)
	}
	if hi > 0 {
		hi = hi*(1+accuracy) + step/2
	}
	return Band{nominal, lo, hi}
}
