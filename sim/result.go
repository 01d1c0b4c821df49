package sim

import (
	"fmt"
	"time"

	"boilwright/models"
	"boilwright/sim/heat"
)

// Status tells why a run stopped.
type Status int

// The ways a run ends.
const (
	Completed   Status = iota
	Interrupted        // the context was cancelled; what was done is kept
)

func (s Status) String() string { return [...]string{"completed", "interrupted"}[s] }

// Result is what a run came to.
type Result struct {
	Status   Status
	Board    *models.Board // as given, without edits
	Duration time.Duration // simulated
	Samples  []Sample
	Events   []Event
	Heat     heat.Balance
	Supply   Supply
	Stats    Stats
	Outcomes []Outcome // by channel
}

// Supply is what the supply lead carried over the whole run.
type Supply struct {
	Source float64 // J out of the ideal source
	Wiring float64 // J lost in supply impedances and shared wiring
	Plug   float64 // J through the plug: Source − Wiring
}

// Stats counts the work of a run.
type Stats struct {
	HalfCycles int64
	Solved     int64 // half-cycles solved, those for sensitivities included
	Versions   int   // versions of the board that edits made
	// Narrow tells that in some half-cycle whose solution was used again a triac
	// fired late, or was near what it withstands, or a gate path or a snubber
	// carried the load's current, on which a junction's temperature tells most.
	// Energies are then good to about 1e-4, or, without Options.Exact, to some
	// per cent where a triac just begins to fail.
	Narrow bool
	// Approximate tells that a triac was near what it withstands in such a
	// half-cycle, and that those after it were not solved one by one.
	Approximate bool
	// Exact is the time from which every half-cycle was solved, as
	// Options.Exact has it; negative for never.
	Exact time.Duration
}

// Sample is the machine at one instant; powers, duty and currents are means
// over the time since the sample before.
type Sample struct {
	Time     time.Duration
	Lid      float64 // °C
	Pocket   float64 // °C
	Power    float64 // W through the plug
	Current  float64 // A rms
	Controls bool    // controls on
	Channels []ChannelSample
}

// ChannelSample is one channel of a Sample; temperatures in °C.
type ChannelSample struct {
	Element, Water, Shell, Link, Junction float64
	Probe                                 float64 // the probe itself
	Reading                               float64 // what the controller takes it for
	Mass                                  float64 // kg
	Pressure                              float64 // Pa absolute
	Drive                                 float64 // fraction of cycles driven
	Power                                 float64 // W of the element
	Indicator                             Indicator
	LinkOpen                              bool
}

// EventKind is what an Event is.
type EventKind string

// The kinds of event that the run itself adds to those of the heat solution.
const (
	LinkOpened EventKind = "thermal link opened"
	Edited     EventKind = "board changed"
	Shows      EventKind = "indicator"
	TooHot     EventKind = "junction above 200 °C: parts of the board are destroyed, what follows is not reliable"
)

// Event is something that happened at an instant of a run.
type Event struct {
	Time    time.Duration
	Channel int // −1 for none
	Kind    EventKind
	Detail  string
}

func (e Event) String() string {
	s := fmt.Sprintf("%v %s", e.Time.Round(time.Millisecond), e.Kind)
	if e.Channel >= 0 {
		s = fmt.Sprintf("%v channel %d: %s", e.Time.Round(time.Millisecond), e.Channel+1, e.Kind)
	}
	if e.Detail != "" {
		s += " " + e.Detail
	}
	return s
}

// Outcome sums up one channel of a run.
type Outcome struct {
	Channel string
	// Reached is when the probe's reading first came into band; negative if
	// never.
	Reached time.Duration
	Peak    float64 // °C of the water
	PeakAt  time.Duration
	Final   float64 // °C of the water at the end
	// Slope is the rate of the water's temperature over the last tenth of the
	// run, K/min.
	Slope      float64
	Energy     float64       // J that the element took
	LinkOpened time.Duration // negative if never
	Boiled     time.Duration // negative if never
	Dry        time.Duration // negative if never
	Drifts     int           // times it left the band after having been in it
	Verdict    Verdict
}

// Verdict is what became of a channel's temperature.
type Verdict string

// The verdicts.
const (
	Unheated  Verdict = "not heated"
	Reaches   Verdict = "reaches its set point"
	StillUp   Verdict = "still rising, later than the run"
	Settles   Verdict = "settles below its set point"
	Overshot  Verdict = "goes above its over-temperature limit"
	LinkEnded Verdict = "never reaches temperature again: its link is open"
	Boils     Verdict = "boils"
	RunsDry   Verdict = "boils dry"
)

const never = -1 * time.Nanosecond

// unheated is the part of what its element could take below which a channel
// counts as not heated: leakage and a snubber's current stay far below it.
const unheated = 1e-3

// rated is the energy in J that the element of channel k would take in the
// whole run at the supply's voltage.
func (r *Result) rated(k int) float64 {
	v := float64(r.Board.Supply.Voltage)
	return v * v / float64(r.Board.Channels[k].Element.Resistance) * r.Duration.Seconds()
}

// outcome sums up channel k from the samples and events of a finished run.
func (r *Result) outcome(k int) Outcome {
	set := &r.Board.Channels[k].Control
	o := Outcome{Channel: r.Board.Channels[k].Name, Reached: never, LinkOpened: never, Boiled: never, Dry: never, Peak: -273.15}
	for i, s := range r.Samples {
		c := &s.Channels[k]
		if i > 0 {
			o.Energy += c.Power * (s.Time - r.Samples[i-1].Time).Seconds()
		}
		if c.Water > o.Peak {
			o.Peak, o.PeakAt = c.Water, s.Time
		}
		o.Final = c.Water
	}
	var over bool
	for _, e := range r.Events {
		if e.Channel != k {
			continue
		}
		switch {
		case e.Kind == LinkOpened && o.LinkOpened < 0:
			o.LinkOpened = e.Time
		case e.Kind == EventKind(heat.BoilStart.String()) && o.Boiled < 0:
			o.Boiled = e.Time
		case e.Kind == EventKind(heat.RanDry.String()) && o.Dry < 0:
			o.Dry = e.Time
		case e.Kind == Shows && e.Detail == InBand.String() && o.Reached < 0:
			o.Reached = e.Time
		case e.Kind == Shows && e.Detail == Drifted.String():
			o.Drifts++
		case e.Kind == Shows && e.Detail == OverTemp.String():
			over = true
		}
	}
	n := len(r.Samples)
	if n > 1 {
		last := r.Samples[n-1]
		i := n - 2
		for i > 0 && last.Time-r.Samples[i].Time < r.Duration/10 {
			i--
		}
		if d := (last.Time - r.Samples[i].Time).Minutes(); d > 0 {
			o.Slope = (last.Channels[k].Water - r.Samples[i].Channels[k].Water) / d
		}
	}
	over = over || o.Peak > float64(set.OverTemp)
	switch {
	case o.Dry >= 0:
		o.Verdict = RunsDry
	case o.LinkOpened >= 0:
		o.Verdict = LinkEnded
	case over:
		o.Verdict = Overshot
	case o.Reached >= 0:
		o.Verdict = Reaches
	case o.Boiled >= 0:
		o.Verdict = Boils
	case !set.Enabled || o.Energy < unheated*r.rated(k):
		o.Verdict = Unheated
	case o.Slope > 0.05:
		o.Verdict = StillUp
	default:
		o.Verdict = Settles
	}
	return o
}
