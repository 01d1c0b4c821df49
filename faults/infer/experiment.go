package infer

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// experiment is one simulation of a board, from which the outcomes of one or
// more tests are got. Equal experiments have equal keys.
type experiment struct {
	kind       Kind // Volts, Unplugged, ProbeOhms, MonitorWatt (powers) or Temperature (a run)
	state      readings.State
	point      string
	input      int // class of meter input, of Volts
	instrument readings.Test
	reversed   bool
	lifted     string
	pulled     int
	channel    int // of ProbeOhms
	exchanged  [2]int
}

func (x *experiment) key() string {
	return fmt.Sprintf("%v/%v/%s/%d/%v/%t/%s/%d/%d/%v", x.kind, x.state, x.point, x.input, x.instrument, x.reversed, x.lifted, x.pulled, x.channel, x.exchanged)
}

// none is an exchange of no plugs.
var none = [2]int{-1, -1}

// Layout of the vector of powers for n channels.
const (
	powerRatio   = iota // by channel: element's power over what it would take at the rated voltage
	gatePower           // by channel: W in the gate path
	snubberPower        // by channel: W in the snubber
)

// The figures after those by channel.
const (
	plugWatts = iota
	plugAmps
	residualRatio // residual current over the tripping one
	fuseRatio     // current over that which the fuse carries for ever
	powerSingles
)

func powerLength(n int) int            { return 3*n + powerSingles }
func powerIndex(n, figure, ch int) int { return figure*n + ch }
func powerSingle(n, single int) int    { return 3*n + single }

// Layout of the vector of a run for n channels: shown temperatures every
// step, then by channel the minutes to be in band, the indicator at the end,
// and the minutes at which the link opened; then the lid above the room.
const (
	runMinutes = 60
	runStep    = 2
	runShown   = runMinutes/runStep + 1
)

func runLength(n int) int           { return n*(runShown+3) + 1 }
func shownIndex(ch, step int) int   { return ch*runShown + step }
func reachedIndex(n, ch int) int    { return n*runShown + ch }
func indicatorIndex(n, ch int) int  { return n*(runShown+1) + ch }
func linkOpensIndex(n, ch int) int  { return n*(runShown+2) + ch }
func lidIndex(n int) int            { return n * (runShown + 3) }
func stepOf(minutes int) (step int) { return min(runShown-1, (minutes+runStep/2)/runStep) }

// standbyMinutes is how long a run in standby lasts, for the lid.
const standbyMinutes = 120

// inputs groups the meters of a board by what they load it with: the classes,
// each a list of indices.
func inputs(meters []models.Meter) [][]int {
	var classes [][]int
	for i := range meters {
		at := slices.IndexFunc(classes, func(c []int) bool {
			a, b := &meters[c[0]], &meters[i]
			return a.Resistance == b.Resistance && a.Input == b.Input && a.Cycles == b.Cycles
		})
		if at < 0 {
			classes = append(classes, []int{i})
		} else {
			classes[at] = append(classes[at], i)
		}
	}
	return classes
}

// perform carries an experiment out on a board whose parts are at the
// temperature warm, in °C.
func (x *experiment) perform(b *models.Board, warm float64) ([]float64, error) {
	switch x.kind {
	case Volts:
		return x.volts(b, warm)
	case Clamp:
		return x.clamps(b, warm)
	case Unplugged:
		return x.unplugged(b)
	case ProbeOhms:
		return probeOhms(&b.Channels[x.channel].Probe, float64(b.Ambient)), nil
	case Temperature:
		return x.heat(b)
	}
	return x.powers(b, warm)
}

// cold returns the conditions of a cold board: a channel whose controller
// takes its probe for warm enough is not driven.
func (x *experiment) cold(b *models.Board, warm float64) readings.Conditions {
	c := readings.Conditions{State: x.state, Temps: circuit.Uniform(len(b.Channels), warm), Off: make([]bool, len(b.Channels))}
	for k := range b.Channels {
		ch := &b.Channels[k]
		shown := ch.Probe.Reading(ch.Probe.Code(float64(b.Ambient)))
		c.Off[k] = !ch.Control.Enabled || shown >= float64(ch.Control.SetPoint)
	}
	return c
}

// arranged returns the board with the experiment's plug pulled or plugs
// exchanged.
func (x *experiment) arranged(b *models.Board) *models.Board {
	if x.pulled < 0 && x.exchanged == none {
		return b
	}
	c := b.Clone()
	if x.pulled >= 0 {
		d := &c.Channels[x.pulled].Drive
		d.On, d.Off = 0, 0
	}
	if x.exchanged != none {
		c.Crossings = append(c.Crossings, models.Crossing{A: x.exchanged[0], B: x.exchanged[1]})
		// The drive transistors are at the other end of the exchanged plugs.
		da, db := &c.Channels[x.exchanged[0]].Drive, &c.Channels[x.exchanged[1]].Drive
		da.On, db.On = db.On, da.On
		da.Off, db.Off = db.Off, da.Off
		da.Saturation, db.Saturation = db.Saturation, da.Saturation
	}
	return c
}

func (x *experiment) volts(b *models.Board, warm float64) ([]float64, error) {
	p, err := readings.FindPoint(b, x.point)
	if err != nil {
		return nil, err
	}
	var meters []models.Meter
	for _, i := range inputs(b.Meters)[x.input] {
		meters = append(meters, b.Meters[i])
	}
	vs, err := readings.At(x.arranged(b), p, meters, x.cold(b, warm))
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(vs))
	for i, v := range vs {
		out[i] = v.Indicated
	}
	return out, nil
}

// clamps is what every clamp of the board shows.
func (x *experiment) clamps(b *models.Board, warm float64) ([]float64, error) {
	l, err := readings.FindLead(b, x.point)
	if err != nil {
		return nil, err
	}
	vs, err := readings.Around(b, l, b.Clamps, x.cold(b, warm))
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(vs))
	for i, v := range vs {
		out[i] = v.Indicated
	}
	return out, nil
}

func (x *experiment) unplugged(b *models.Board) ([]float64, error) {
	var plus, minus models.Node
	if x.instrument != readings.Insulation {
		p, err := readings.FindUnpluggedPoint(b, x.point)
		if err != nil {
			return nil, err
		}
		if plus, minus = p.Plus, p.Minus; x.reversed {
			plus, minus = minus, plus
		}
	}
	var lifted []string
	if x.lifted != "" {
		lifted = strings.Split(x.lifted, ",")
	}
	d, err := readings.Unplugged(b, circuit.Uniform(len(b.Channels), float64(b.Ambient)), x.instrument, plus, minus, lifted...)
	if err != nil {
		return nil, err
	}
	if x.instrument == readings.DiodeTest {
		return []float64{d.Volts}, nil
	}
	return []float64{d.Ohms}, nil
}

func probeOhms(p *models.Probe, ambient float64) []float64 {
	switch {
	case p.Open:
		return []float64{math.Inf(1)}
	case p.Shorted:
		return []float64{0.5} // its leads
	}
	return []float64{p.Resistance(ambient + float64(p.Offset))}
}

// powers settles the circuit and takes the powers of one cycle.
func (x *experiment) powers(b *models.Board, warm float64) ([]float64, error) {
	c := x.cold(b, warm)
	if x.exchanged != none {
		// Only the second of the exchanged channels is asked for heat.
		for k := range c.Off {
			c.Off[k] = c.Off[k] || k != x.exchanged[1]
		}
	}
	a := x.arranged(b)
	s, err := circuit.New(a)
	if err != nil {
		return nil, err
	}
	s.SetTemperatures(c.Temps)
	in := circuit.Input{Factor: 1, Drive: make([]float64, len(a.Channels))}
	for k := range a.Channels {
		d := &a.Channels[k].Drive
		in.Drive[k] = float64(d.Off)
		if c.State == readings.Heating && !c.Off[a.DriveSource(k)] {
			in.Drive[k] = float64(d.On)
		}
	}
	periodic, err := s.Settle(10, func(int64) circuit.Input { return in })
	if err != nil {
		return nil, err
	}
	cycles := 1
	if !periodic {
		cycles = 5
	}
	n := len(a.Channels)
	out := make([]float64, powerLength(n))
	time, square, earth, charge := 0.0, 0.0, 0.0, 0.0
	for range 2 * cycles {
		r, err := s.HalfCycle(in)
		if err != nil {
			return nil, err
		}
		time += r.Duration
		square += r.CurrentSquared
		earth += r.EarthSquared
		charge += r.EarthCharge
		out[powerSingle(n, plugWatts)] += r.Source - r.Wiring
		for k := range n {
			out[powerIndex(n, powerRatio, k)] += r.Element[k]
			out[powerIndex(n, gatePower, k)] += r.Gate[k]
			out[powerIndex(n, snubberPower, k)] += r.Snubber[k]
		}
	}
	for i := range out {
		out[i] /= time
	}
	for k := range n {
		out[powerIndex(n, powerRatio, k)] /= sq(float64(b.Supply.Voltage)) / float64(b.Channels[k].Element.Resistance)
	}
	amps := math.Sqrt(square / time)
	watts := out[powerSingle(n, plugWatts)]
	out[powerSingle(n, plugWatts)] = b.Monitor.ShowPower(watts)
	out[powerSingle(n, plugAmps)] = b.Monitor.ShowCurrent(amps, watts)
	if p := &b.Protection.Residual; p.Fitted {
		rms := math.Sqrt(earth / time)
		if p.TypeAC && math.Abs(charge/time) > 0.3*rms {
			rms /= 3 // not assured to trip on a half-wave
		}
		out[powerSingle(n, residualRatio)] = rms / (float64(p.Threshold) * float64(p.Rated))
	}
	if f := &b.Protection.Fuse; f.Fitted {
		out[powerSingle(n, fuseRatio)] = amps / (1.6 * float64(f.Rated)) // conventional fusing current, see package sim
	}
	return out, nil
}

// burns is the power in watts far above what a gate resistor or a snubber
// resistor stands for a minute: an assumption.
const burns = 10.0

// burn opens the resistors of a board that would burn soon after the supply is
// switched on: an hour with a hundred watts in one of them does not happen.
func (x *experiment) burn(b *models.Board) error {
	p := *x
	p.kind = MonitorWatt
	out, err := p.powers(b, float64(b.Ambient))
	if err != nil {
		return err
	}
	n := len(b.Channels)
	for k := range b.Channels {
		if out[powerIndex(n, gatePower, k)] > burns {
			b.Channels[k].GateResistance = q.Ohm(math.Inf(1))
		}
		if out[powerIndex(n, snubberPower, k)] > burns {
			b.Channels[k].Snubber.Resistance = q.Ohm(math.Inf(1))
		}
	}
	return nil
}

// heat runs the board from cold, without draws of water: an hour with the
// controls on, or two with them off.
func (x *experiment) heat(b *models.Board) ([]float64, error) {
	c := b.Clone()
	n := len(c.Channels)
	o := sim.Options{Duration: runMinutes * time.Minute, Every: runStep * time.Minute}
	c.Controller.Schedule = nil
	if x.state == readings.Standby {
		o.Duration = standbyMinutes * time.Minute
		c.Controller.Schedule = []models.OnPeriod{{From: 1000 * time.Hour, To: 1001 * time.Hour}}
	}
	c.Supply.Events = nil
	if err := x.burn(c); err != nil {
		return nil, err
	}
	for k := range c.Channels {
		c.Channels[k].Boiler.Draws = nil
		c.Channels[k].Boiler.Start = c.Ambient
	}
	c.Lid.Start, c.Pocket.Start = c.Ambient, c.Ambient
	r, err := sim.Run(context.Background(), c, o)
	if err != nil {
		return nil, err
	}
	out := make([]float64, runLength(n))
	for i := range out {
		out[i] = math.Inf(1)
	}
	for k := range n {
		at := 0
		for step := range runShown {
			for at+1 < len(r.Samples) && r.Samples[at].Time < time.Duration(step*runStep)*time.Minute {
				at++
			}
			out[shownIndex(k, step)] = r.Samples[at].Channels[k].Reading
		}
		if t := r.Outcomes[k].Reached; t >= 0 {
			out[reachedIndex(n, k)] = t.Minutes()
		}
		if t := r.Outcomes[k].LinkOpened; t >= 0 {
			out[linkOpensIndex(n, k)] = t.Minutes()
		}
		out[indicatorIndex(n, k)] = float64(r.Samples[len(r.Samples)-1].Channels[k].Indicator)
	}
	out[lidIndex(n)] = r.Samples[len(r.Samples)-1].Lid - float64(c.Ambient)
	return out, nil
}
