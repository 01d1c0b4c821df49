package evidence

import (
	"context"
	"fmt"
	"math"
	"slices"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
	"boilwright/sim/population"
	"boilwright/sim/readings"
)

// Observe observes a member with its faults: what its own meters show. A board
// without a solution is no error but the Problem of the record; cancelling ctx
// is an error.
func (p *Plan) Observe(ctx context.Context, m population.Member) (Record, error) {
	if err := ctx.Err(); err != nil {
		return Record{}, err
	}
	values := make([]float64, len(p.Observables))
	b, err := m.Faulty()
	if err == nil {
		err = p.observe(ctx, &m, b, values)
	}
	if ctx.Err() != nil {
		return Record{}, ctx.Err()
	}
	if err == nil {
		if i := slices.IndexFunc(values, math.IsNaN); i >= 0 {
			err = fmt.Errorf("%s: found no number, expected one", p.Observables[i].Name)
		}
	}
	if err != nil {
		return Record{Problem: err.Error()}, nil
	}
	return Record{Values: values}, nil
}

func (p *Plan) observe(ctx context.Context, m *population.Member, b *models.Board, values []float64) error {
	for i := range p.live {
		if err := p.live[i].observe(m, b, values); err != nil {
			return fmt.Errorf("%v: %w", p.live[i].state, err)
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	if len(p.power) > 0 {
		if err := p.powers(m, b, values); err != nil {
			return err
		}
	}
	for i := range p.dead {
		if err := p.dead[i].observe(b, values); err != nil {
			return fmt.Errorf("%v: %w", readings.UnpluggedState, err)
		}
	}
	if len(p.run) > 0 {
		r, err := run(ctx, b, readings.Heating)
		if err != nil {
			return err
		}
		c := course{Result: r}
		for k := range m.Board.Channels {
			c.set = append(c.set, float64(m.Board.Channels[k].Control.SetPoint))
		}
		for _, v := range p.run {
			if v.of == nil {
				values[v.to] = c.at(v.channel, v.at)
			} else {
				values[v.to] = v.of(&c, v.channel)
			}
		}
	}
	if len(p.rise) > 0 {
		r, err := run(ctx, b, readings.Standby)
		if err != nil {
			return err
		}
		for _, to := range p.rise {
			values[to] = r.Samples[len(r.Samples)-1].Lid - float64(b.Ambient)
		}
	}
	return nil
}

// shown is a reading as a value.
func shown(v *readings.Value) float64 {
	if v.Over {
		return math.Inf(1)
	}
	return v.Shown
}

func (l *liveState) observe(m *population.Member, b *models.Board, values []float64) error {
	x, err := readings.NewBench(b, Cold(b, l.state, float64(b.Ambient)))
	if err != nil {
		return err
	}
	for i := range l.points {
		at := &l.points[i]
		row, err := x.At(at.point, at.meters)
		if err != nil {
			return err
		}
		for j := range row {
			v := m.Calibrations[at.index[j]].Apply(&at.meters[j], row[j])
			values[at.to[j]] = shown(&v)
		}
	}
	for i := range l.leads {
		at := &l.leads[i]
		row, err := x.Around(at.lead, at.clamps)
		if err != nil {
			return err
		}
		for j := range row {
			v := m.Clamps[at.index[j]].ApplyClamp(&at.clamps[j], row[j])
			values[at.to[j]] = shown(&v)
		}
	}
	return nil
}

func (p *Plan) powers(m *population.Member, b *models.Board, values []float64) error {
	var by [2]Powers
	for s, wanted := range p.steady {
		if !wanted {
			continue
		}
		state := readings.State(s)
		var err error
		if by[s], err = PowersOf(b, Cold(b, state, float64(b.Ambient))); err != nil {
			return fmt.Errorf("%v: powers: %w", state, err)
		}
	}
	for i := range p.power {
		v := &p.power[i]
		x := &by[v.state]
		watts := x.Plug * (1 + m.MonitorGain)
		y := &values[v.to]
		switch {
		case v.device == fuse:
			*y = trips(by[0].Fuse, by[1].Fuse)
		case v.device == residual:
			*y = trips(by[0].Residual, by[1].Residual)
		case v.form == "plug_watts":
			*y = b.Monitor.ShowPower(watts)
		case v.form == "plug_amps":
			*y = b.Monitor.ShowCurrent(x.Current*(1+m.MonitorGain), watts)
		default:
			*y = x.Element[v.channel] / p.plate[v.channel]
		}
	}
	return nil
}

// trips tells whether a device trips with its current in either state over the
// one at which it does.
func trips(standby, heating float64) float64 {
	if standby >= 1 || heating >= 1 {
		return 1
	}
	return 0
}

func (v *deadValue) observe(b *models.Board, values []float64) error {
	if v.probe {
		values[v.to] = ProbeOhms(&b.Channels[v.channel].Probe, b.Ambient)
		return nil
	}
	d, err := readings.Unplugged(b, circuit.Uniform(len(b.Channels), float64(b.Ambient)), v.test, v.plus, v.minus)
	if err != nil {
		return err
	}
	if values[v.to] = d.Ohms; v.test == readings.DiodeTest {
		values[v.to] = d.Volts
	}
	return nil
}

// probeLeads is the resistance of the leads of a probe that is shorted, an
// assumption.
const probeLeads = 0.5

// ProbeOhms is the resistance in ohms of a temperature probe in a room at the
// ambient temperature: +Inf where it is open.
func ProbeOhms(p *models.Probe, ambient q.Celsius) float64 {
	switch {
	case p.Open:
		return math.Inf(1)
	case p.Shorted:
		return probeLeads
	}
	return p.Resistance(float64(ambient) + float64(p.Offset))
}
