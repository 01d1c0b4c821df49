package population

import (
	"context"
	"fmt"
	"time"

	"boilwright/sim"
)

// RunJob is a run of each member. The zero value is an hour.
type RunJob struct {
	Duration time.Duration // simulated [1 h]
	// Every is the time between the samples from which peaks are taken
	// [10 s].
	Every time.Duration
	// Full solves every half-cycle by itself.
	Full bool
	// Samples keeps the samples in the outcome, which takes memory by the
	// length of the run.
	Samples bool
}

// Outcome is what a run of one member came to.
type Outcome struct {
	Member   Member
	Status   sim.Status
	Duration time.Duration // simulated
	Channels []sim.Outcome // by channel
	Supply   sim.Supply
	Events   []sim.Event
	Stats    sim.Stats
	// Lid and Pocket are the temperatures at the end, in °C.
	Lid, Pocket float64
	// Samples are the machine over time, every RunJob.Every; nil unless
	// RunJob.Samples asks for them.
	Samples []sim.Sample
	// Problem tells why there is no outcome: the circuit of the board with its
	// faults, or its heat, has no solution. Empty where there is one.
	Problem string
}

// Run runs a member with its faults. A board without a solution is no error
// but the Problem of the outcome; cancelling ctx is an error.
func (j RunJob) Run(ctx context.Context, m Member) (Outcome, error) {
	out := Outcome{Member: m}
	set, err := m.Faults.Start(m.Seed)
	if err != nil {
		return out, fmt.Errorf("member %d: %w", m.Index, err)
	}
	o := sim.Options{Duration: j.Duration, Every: j.Every, Full: j.Full}
	if len(m.Faults) > 0 {
		o.Edits = set
	}
	r, err := sim.Run(ctx, m.Board, o)
	switch {
	case ctx.Err() != nil:
		return out, ctx.Err()
	case err != nil:
		out.Problem = err.Error()
		return out, nil
	}
	out.Status, out.Duration, out.Channels, out.Supply, out.Events, out.Stats = r.Status, r.Duration, r.Outcomes, r.Supply, r.Events, r.Stats
	if n := len(r.Samples); n > 0 {
		out.Lid, out.Pocket = r.Samples[n-1].Lid, r.Samples[n-1].Pocket
	}
	if j.Samples {
		out.Samples = r.Samples
	}
	return out, nil
}
