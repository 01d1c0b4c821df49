package command

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// drawn is one circuit of a survey: a board with its supply, the faults that
// it is to have, and what it is doing.
type drawn struct {
	base    string
	board   *models.Board // without the faults
	set     faults.Set
	state   readings.State
	temps   circuit.Temperatures
	on      [][]bool  // by cycle and channel: what the controller asks for
	factors []float64 // on the supply, by cycle
}

// drawCircuit draws circuit index of a seed. Each circuit has a random stream
// of its own, so that it does not depend on which others are drawn.
func drawCircuit(boards map[string]*models.Board, seed, index uint64, cycles int) *drawn {
	d := dice{rand.New(rand.NewPCG(seed, index))}
	names := boardfile.EmbeddedNames()
	c := &drawn{base: names[d.IntN(len(names))]}
	c.board = boards[c.base].Clone()
	n := len(c.board.Channels)
	d.supply(c.board)
	if d.oneIn(4) {
		c.board.Upstream = &models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 200, Capacity: 5, ToShell: 0.1}
	}
	for k := range n {
		if ch := &c.board.Channels[k]; d.oneIn(4) {
			ch.MT1 = models.MT1Load - ch.MT1
		}
	}
	for range d.IntN(4) {
		c.set = append(c.set, d.fault(n))
	}
	c.temps = circuit.Uniform(n, 20)
	c.temps.Board = d.in(-10, 90)
	for k := range n {
		c.temps.Element[k], c.temps.Junction[k] = d.in(0, 400), d.in(-10, 140)
	}
	c.state = readings.State(d.IntN(3))
	duty := make([]float64, n)
	for k := range duty {
		duty[k] = d.Float64()
	}
	for range cycles {
		on := make([]bool, n)
		for k := range on {
			on[k] = c.state == readings.Heating || c.state == readings.Holding && d.Float64() < duty[k]
		}
		factor := 1.0
		if d.oneIn(16) { // a sag, a swell, an interruption
			factor = max(0, d.in(-0.2, 1.1))
		}
		c.on, c.factors = append(c.on, on), append(c.factors, factor)
	}
	return c
}

// input is what acts on the faulty board b in a half-cycle.
func (c *drawn) input(b *models.Board, half int) circuit.Input {
	in := circuit.Input{Factor: c.factors[half/2], Drive: make([]float64, len(b.Channels))}
	for k := range in.Drive {
		drive := &b.Channels[k].Drive
		in.Drive[k] = float64(drive.Off)
		if c.on[half/2][b.DriveSource(k)] {
			in.Drive[k] = float64(drive.On)
		}
	}
	return in
}

// describe writes what was drawn, in one line.
func (c *drawn) describe() string {
	s := &c.board.Supply
	parts := []string{fmt.Sprintf("%s on %v %v, DC %v, %d harmonics", c.base, s.Voltage, s.Frequency, s.DC, len(s.Harmonics)), c.state.String()}
	if c.board.Upstream != nil {
		parts = append(parts, "upstream link")
	}
	names := channelNames(c.board)
	for _, j := range c.set {
		parts = append(parts, j.Text(names))
	}
	if len(c.set) == 0 {
		parts = append(parts, "no fault")
	}
	return strings.Join(parts, "; ")
}

// dice draws what a survey needs.
type dice struct{ *rand.Rand }

func (d dice) oneIn(n int) bool { return d.IntN(n) == 0 }

func (d dice) in(low, high float64) float64 { return low + (high-low)*d.Float64() }

// log draws evenly in the logarithm.
func (d dice) log(low, high float64) float64 { return low * math.Pow(high/low, d.Float64()) }

// supply draws voltage, frequency, distortion, direct component and how stiff
// the supply is.
func (d dice) supply(b *models.Board) {
	s := &b.Supply
	s.Voltage = q.Volt(d.in(90, 260))
	s.Frequency = q.Hertz([]float64{50, 60}[d.IntN(2)] * d.in(0.98, 1.02))
	if d.oneIn(3) {
		s.DC = q.Volt(d.in(-5, 5))
	}
	for range d.IntN(4) {
		order := 2 + d.IntN(39)
		if !slices.ContainsFunc(s.Harmonics, func(h models.Harmonic) bool { return h.Order == order }) {
			s.Harmonics = append(s.Harmonics, models.Harmonic{Order: order, Voltage: s.Voltage * q.Volt(d.in(0, 0.08)), Phase: q.Degree(d.in(-180, 180))})
		}
	}
	line, neutral := d.log(0.1, 10), d.log(0.1, 10)
	s.LineResistance *= q.Ohm(line)
	s.LineInductance *= q.Henry(line)
	s.NeutralResistance *= q.Ohm(neutral)
	s.NeutralInductance *= q.Henry(neutral)
}

// fault draws a fault of the catalogue, its place, its severity and its keys,
// over all that they take.
func (d dice) fault(channels int) faults.Injection {
	all := faults.Catalogue()
	f := &all[d.IntN(len(all))]
	j := faults.New(f.Name, faults.WholeBoard)
	if f.Scope == faults.PerChannel {
		j.Channel = d.IntN(channels)
	}
	if f.Graded && !d.oneIn(3) {
		j.Severity = 1 - d.Float64() // never 0
	}
	for i := range f.Keys {
		if d.oneIn(2) {
			j = j.With(f.Keys[i].Name, d.key(&f.Keys[i]))
		}
	}
	return j
}

// key draws a value of a key: one of its words, one within a factor of ten of
// its default, or one anywhere between its bounds.
func (d dice) key(k *faults.Key) float64 {
	switch {
	case len(k.Choices) > 0:
		return k.Choices[d.IntN(len(k.Choices))].Value
	case k.Default > 0 && d.oneIn(2):
		return min(max(k.Default*d.log(0.1, 10), k.Min), k.Max)
	case k.Min > 0 && k.Max > 100*k.Min:
		return min(max(d.log(k.Min, k.Max), k.Min), k.Max)
	}
	return min(max(d.in(k.Min, k.Max), k.Min), k.Max)
}
