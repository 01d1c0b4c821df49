package evidence

import (
	"fmt"
	"slices"
	"time"

	"boilwright/models"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// Plan observes the boards of a population. It may be used by several
// goroutines.
type Plan struct {
	Observables []Observable

	live  []liveState
	power []powerValue
	// steady are the states in which powers are taken.
	steady [2]bool
	dead   []deadValue
	run    []runValue
	rise   []int     // where the rise of the lid goes; a run in standby where any
	plate  []float64 // W at the rated voltage, by channel of the population's board
}

// liveState is what is measured in one state with the supply on.
type liveState struct {
	state  readings.State
	points []livePoint
	leads  []liveLead
}

// livePoint is a test point with the meters that are put there.
type livePoint struct {
	point  readings.Point
	meters []models.Meter
	index  []int // of Board.Meters
	to     []int // of the record
}

type liveLead struct {
	lead   readings.Lead
	clamps []models.Clamp
	index  []int // of Board.Clamps
	to     []int
}

// powerValue is a value from the powers of a state; a device that trips in
// either state has none.
type powerValue struct {
	form    string
	state   readings.State
	channel int
	device  string
	to      int
}

type deadValue struct {
	test        readings.Test
	probe       bool
	plus, minus models.Node
	channel     int // of a probe
	to          int
}

type runValue struct {
	of      func(*course, int) float64
	channel int
	at      time.Duration // where of is nil
	to      int
}

// NewPlan makes ready what observing takes: only what the observables need is
// simulated. The error tells of an observable that the population's board does
// not have.
func NewPlan(p *population.Population, wanted []Observable) (*Plan, error) {
	b := p.Board()
	out := &Plan{Observables: slices.Clone(wanted)}
	for k := range b.Channels {
		v := float64(b.Supply.Voltage)
		out.plate = append(out.plate, v*v/float64(b.Channels[k].Element.Resistance))
	}
	known := map[string]bool{}
	for to := range wanted {
		o := &wanted[to]
		if !known[o.Name] {
			if err := o.check(b); err != nil {
				return nil, err
			}
			known[o.Name] = true
		}
		if err := out.add(b, o, to); err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out.live, func(a, b liveState) int { return int(a.state - b.state) })
	return out, nil
}

func (p *Plan) add(b *models.Board, o *Observable, to int) error {
	f, err := findForm(o.Form)
	if err != nil {
		return err
	}
	var s readings.State
	if i := slices.IndexFunc(f.args, func(d domain) bool { return d.name == states.name }); i >= 0 {
		if s, err = readings.ParseState(o.Args[i]); err != nil {
			return err
		}
	}
	switch f.from {
	case measured:
		return p.addVolts(b, o, s, to)
	case clamped:
		return p.addAmps(b, o, s, to)
	case powered:
		v := powerValue{form: o.Form, state: s, channel: o.Channel, to: to}
		if o.Form == "tripped" {
			v.device = o.Args[0]
			p.steady = [2]bool{true, true}
		} else {
			p.steady[s] = true
		}
		p.power = append(p.power, v)
	case unplugged, probed:
		return p.addDead(b, o, to)
	case heated:
		v := runValue{of: f.of, channel: o.Channel, to: to}
		if f.of == nil {
			var m int
			if _, err := fmt.Sscan(o.Args[1], &m); err != nil {
				return fmt.Errorf("%s: found %q minutes, expected a whole number", o.Form, o.Args[1])
			}
			v.at = time.Duration(m) * time.Minute
		}
		p.run = append(p.run, v)
	case idled:
		p.rise = append(p.rise, to)
	}
	return nil
}

// in returns what is measured in a state.
func (p *Plan) in(s readings.State) *liveState {
	for i := range p.live {
		if p.live[i].state == s {
			return &p.live[i]
		}
	}
	p.live = append(p.live, liveState{state: s})
	return &p.live[len(p.live)-1]
}

func (p *Plan) addVolts(b *models.Board, o *Observable, s readings.State, to int) error {
	at, err := readings.FindPoint(b, o.Args[0])
	if err != nil {
		return err
	}
	l := p.in(s)
	i := slices.IndexFunc(l.points, func(x livePoint) bool { return x.point.Name == at.Name })
	if i < 0 {
		i = len(l.points)
		l.points = append(l.points, livePoint{point: at})
	}
	x := &l.points[i]
	x.meters = append(x.meters, b.Meters[o.Meter])
	x.index, x.to = append(x.index, o.Meter), append(x.to, to)
	return nil
}

func (p *Plan) addAmps(b *models.Board, o *Observable, s readings.State, to int) error {
	lead, err := readings.FindLead(b, o.Args[0])
	if err != nil {
		return err
	}
	clamp := slices.Index(clamps.allowed(b), o.Args[2])
	l := p.in(s)
	i := slices.IndexFunc(l.leads, func(x liveLead) bool { return x.lead.Name == lead.Name })
	if i < 0 {
		i = len(l.leads)
		l.leads = append(l.leads, liveLead{lead: lead})
	}
	x := &l.leads[i]
	x.clamps = append(x.clamps, b.Clamps[clamp])
	x.index, x.to = append(x.index, clamp), append(x.to, to)
	return nil
}

func (p *Plan) addDead(b *models.Board, o *Observable, to int) error {
	v := deadValue{channel: o.Channel, to: to}
	switch o.Form {
	case "probe_ohms":
		v.probe = true
	case "insulation":
		v.test = readings.Insulation
	default:
		at, err := readings.FindUnpluggedPoint(b, o.Args[0])
		if err != nil {
			return err
		}
		v.plus, v.minus = at.Plus, at.Minus
		if o.Form != "ohms" {
			v.test = readings.DiodeTest
		}
		if o.Form == "diode_volts_reversed" {
			v.plus, v.minus = v.minus, v.plus
		}
	}
	p.dead = append(p.dead, v)
	return nil
}
