package pages

import (
	"time"

	"boilwright/faults"
	"boilwright/models"
	"boilwright/sim"
	"boilwright/sim/readings"
)

// Study is what was worked out of one board: the healthy one, or the same with
// a fault at full severity.
type Study struct {
	Fault *faults.Fault // nil for the healthy board
	Text  string        // the fault as it is put in: "soak:triac-shorted"
	// Lacking tells why the board cannot have the fault; empty where it can.
	// Everything that follows is then missing.
	Lacking string
	// Failed tells what stopped the simulation of the fault; what came of it
	// until then is there.
	Failed string

	Standby, Heating [][]readings.Value // by test point and meter, as in Reference
	// Holding is by test point and meter as well, but may be of fewer of both,
	// while the channel alone is driven, in bursts; nil where it was not
	// measured. Boards that something else tells apart need it not.
	Holding [][]readings.Value
	Dead    []Dead  // tests on the unplugged board, the same ones in every study
	Plug    [2]Plug // in standby, and with every drive on

	Hour *Hour // nil where it was not simulated

	Waveforms, Temperatures Figure
}

// Dead is a test on the unplugged board.
type Dead struct {
	Point    string // name of the test point
	Reversed bool   // the positive lead where the negative one stands otherwise
	readings.Dead
}

// Plug is what the energy monitor in the supply lead shows: W and A.
type Plug struct{ Watts, Amperes float64 }

// Hour is what became of a board in a run.
type Hour struct {
	Duration time.Duration
	Outcomes []sim.Outcome // by channel
	Plug     float64       // J through the plug
}

// Figure is a figure beside the pages.
type Figure struct {
	File  string // relative to the pages; empty for none
	Title string
	Alt   string // what it shows, in words
}

// Reference is everything that its pages are made from.
type Reference struct {
	Board   *models.Board // healthy
	Channel int           // that has the faults
	// Conditions are those of readings and waveforms, in words.
	Conditions string
	Points     []readings.Point // the supply's and the channel's
	Meters     []models.Meter
	Healthy    *Study
	// Faults are the studies of the whole catalogue, in its order: look-alikes
	// are sought among all of them.
	Faults []*Study
	// Pages are the names of the faults that have a page: links lead to those
	// only. Nil is all.
	Pages []string
	// Notice stands at the head of every page.
	Notice string
}

// name is what a study is called.
func (s *Study) name() string {
	if s.Fault == nil {
		return "healthy board"
	}
	return s.Fault.Name
}

// simulated reports whether there is anything to compare.
func (s *Study) simulated() bool { return s.Lacking == "" && len(s.Standby) > 0 && len(s.Heating) > 0 }

// missing tells why there is not.
func (s *Study) missing() string {
	if s.Lacking != "" {
		return "the board cannot have it"
	}
	return "its simulation failed"
}

// channel is the name of the channel that has the faults.
func (r *Reference) channel() string { return r.Board.Channels[r.Channel].Name }

// study finds the study of a fault.
func (r *Reference) study(fault string) *Study {
	for _, s := range r.Faults {
		if s.Fault.Name == fault {
			return s
		}
	}
	return nil
}

// File is the name of the page of a fault.
func File(fault string) string { return fault + ".md" }

// IndexFile is the name of the index.
const IndexFile = "index.md"
