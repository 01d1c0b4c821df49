package infer

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/circuit"
	"boilwright/sim/population/evidence"
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
	// about is the channel whose figures the test takes from a run, −1 for
	// more than one. It makes no other experiment.
	about int
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
		return []float64{evidence.ProbeOhms(&b.Channels[x.channel].Probe, b.Ambient)}, nil
	case Temperature:
		return x.heat(b)
	}
	return x.powers(b, warm)
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
	vs, err := readings.At(x.arranged(b), p, meters, evidence.Cold(b, x.state, warm))
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
	vs, err := readings.Around(b, l, b.Clamps, evidence.Cold(b, x.state, warm))
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

// powers settles the circuit and takes the powers of one cycle.
func (x *experiment) powers(b *models.Board, warm float64) ([]float64, error) {
	c := evidence.Cold(b, x.state, warm)
	if x.exchanged != none {
		// Only the second of the exchanged channels is asked for heat.
		for k := range c.Off {
			c.Off[k] = c.Off[k] || k != x.exchanged[1]
		}
	}
	p, err := evidence.PowersOf(x.arranged(b), c)
	if err != nil {
		return nil, err
	}
	n := len(b.Channels)
	out := make([]float64, powerLength(n))
	for k := range n {
		out[powerIndex(n, powerRatio, k)] = p.Element[k] / (sq(float64(b.Supply.Voltage)) / float64(b.Channels[k].Element.Resistance))
		out[powerIndex(n, gatePower, k)] = p.Gate[k]
		out[powerIndex(n, snubberPower, k)] = p.Snubber[k]
	}
	out[powerSingle(n, plugWatts)] = b.Monitor.ShowPower(p.Plug)
	out[powerSingle(n, plugAmps)] = b.Monitor.ShowCurrent(p.Current, p.Plug)
	out[powerSingle(n, residualRatio)] = p.Residual
	out[powerSingle(n, fuseRatio)] = p.Fuse
	return out, nil
}

// heat runs the board from cold, without draws of water: an hour with the
// controls on, or two with them off.
func (x *experiment) heat(b *models.Board) ([]float64, error) {
	n := len(b.Channels)
	o := sim.Options{Duration: runMinutes * time.Minute, Every: runStep * time.Minute}
	if x.state == readings.Standby {
		o.Duration = standbyMinutes * time.Minute
	}
	r, err := evidence.FromCold(context.Background(), b, x.state, o)
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
	out[lidIndex(n)] = r.Samples[len(r.Samples)-1].Lid - float64(b.Ambient)
	return out, nil
}
