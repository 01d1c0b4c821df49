package evidence

import (
	"context"
	"fmt"
	"math"
	"sort"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/readings"
)

// burns is the power in watts far above what a gate resistor or a snubber
// resistor stands for a minute: an assumption.
const burns = 10.0

// burn opens the resistors of a board that would burn soon after the supply is
// switched on: an hour with a hundred watts in one of them does not happen.
func burn(b *models.Board, s readings.State) error {
	p, err := PowersOf(b, Cold(b, s, float64(b.Ambient)))
	if err != nil {
		return err
	}
	for k := range b.Channels {
		if p.Gate[k] > burns {
			b.Channels[k].GateResistance = q.Ohm(math.Inf(1))
		}
		if p.Snubber[k] > burns {
			b.Channels[k].Snubber.Resistance = q.Ohm(math.Inf(1))
		}
	}
	return nil
}

// FromCold runs a board from room temperature without draws of water and
// without events of the supply: with the controls on in Heating, with them off
// in Standby. Gate and snubber resistors that take more than 10 W from the
// start burn open first. The board is left as it is. The result is Interrupted
// where ctx was cancelled.
func FromCold(ctx context.Context, b *models.Board, s readings.State, o sim.Options) (*sim.Result, error) {
	c := b.Clone()
	c.Controller.Schedule = nil
	if s == readings.Standby {
		c.Controller.Schedule = []models.OnPeriod{{From: 1000 * time.Hour, To: 1001 * time.Hour}}
	}
	c.Supply.Events = nil
	if err := burn(c, s); err != nil {
		return nil, err
	}
	for k := range c.Channels {
		c.Channels[k].Boiler.Draws = nil
		c.Channels[k].Boiler.Start = c.Ambient
	}
	c.Lid.Start, c.Pocket.Start = c.Ambient, c.Ambient
	return sim.Run(ctx, c, o)
}

// Lengths of the runs, and the time between the samples of that in which
// temperatures are read. Samples fall on whole control windows, and a minute is
// read at the sample then or next: no later than a sampling and a window.
const (
	hour        = minutes * time.Minute
	standbyTime = 2 * time.Hour
	sampling    = 10 * time.Second
)

// course is the hour of a run from cold.
type course struct {
	*sim.Result
	set []float64 // set points, °C, by channel
}

// run carries out the run of an hour, or of two in standby.
func run(ctx context.Context, b *models.Board, s readings.State) (*sim.Result, error) {
	o := sim.Options{Duration: hour, Every: sampling}
	if s == readings.Standby {
		o = sim.Options{Duration: standbyTime, Every: standbyTime}
	}
	r, err := FromCold(ctx, b, s, o)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case err != nil:
		return nil, fmt.Errorf("from cold: %w", err)
	}
	return r, nil
}

// sample is the sample so long after the start, or the next.
func (c *course) sample(t time.Duration) *sim.Sample {
	i := sort.Search(len(c.Samples), func(i int) bool { return c.Samples[i].Time >= t })
	return &c.Samples[min(i, len(c.Samples)-1)]
}

// at is the temperature that channel k shows so long after the start.
func (c *course) at(k int, t time.Duration) float64 { return c.sample(t).Channels[k].Reading }

func (c *course) final(k int) float64 { return c.Samples[len(c.Samples)-1].Channels[k].Reading }

func (c *course) peak(k int) float64 {
	p := math.Inf(-1)
	for i := range c.Samples {
		p = math.Max(p, c.Samples[i].Channels[k].Reading)
	}
	return p
}

func (c *course) overshoot(k int) float64 { return math.Max(0, c.peak(k)-c.set[k]) }

// slope leaves out the first minute, in which the element and the probe have
// not yet come along.
func (c *course) slope(k int) float64 {
	first, last := c.sample(time.Minute), c.sample(3*time.Minute)
	return (last.Channels[k].Reading - first.Channels[k].Reading) / (last.Time - first.Time).Minutes()
}

func (c *course) warmUp(k int) float64 {
	if t := c.Outcomes[k].Reached; t >= 0 {
		return t.Minutes()
	}
	return math.Inf(1)
}

func (c *course) indicator(k int) float64 {
	return float64(c.Samples[len(c.Samples)-1].Channels[k].Indicator)
}
