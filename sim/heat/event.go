package heat

import "fmt"

// Kind is what an event is.
type Kind int

// The events that a window locates.
const (
	LinkReached  Kind = iota // a thermal link reaches its functioning temperature
	BoilStart                // the water of an open boiler begins to boil
	BoilStop                 // it stops, the surplus of heat having gone
	ReliefOpen               // the relief valve of a closed boiler opens
	ReliefReseat             // and closes again
	LowLevel                 // the element begins to lie dry
	RanDry                   // the mass has come down to the floor: a finding
	DrawStart                // a draw of water or steam begins
	DrawStop
	ThermostatOpens
	ThermostatCloses
)

var kindTexts = [...]string{
	LinkReached:  "thermal link reaches its functioning temperature",
	BoilStart:    "water begins to boil",
	BoilStop:     "water stops boiling",
	ReliefOpen:   "relief valve opens",
	ReliefReseat: "relief valve reseats",
	LowLevel:     "water is so low that the element begins to lie dry",
	RanDry:       "boiler has run dry",
	DrawStart:    "draw begins",
	DrawStop:     "draw ends",

	ThermostatOpens:  "thermostat opens",
	ThermostatCloses: "thermostat closes",
}

// String says in plain words what happened.
func (k Kind) String() string {
	if k < 0 || int(k) >= len(kindTexts) {
		return fmt.Sprintf("kind(%d)", int(k))
	}
	return kindTexts[k]
}

// AllChannels is the channel of an event that belongs to none: the upstream
// link's.
const AllChannels = -1

// Event is something that happened at an instant.
type Event struct {
	Time    float64 // s
	Channel int     // from 0, or AllChannels
	Kind    Kind
}

// String gives the event as one line; channels count from 1 in text.
func (e Event) String() string {
	if e.Channel == AllChannels {
		return fmt.Sprintf("%.6f s: upstream: %s", e.Time, e.Kind)
	}
	return fmt.Sprintf("%.6f s: channel %d: %s", e.Time, e.Channel+1, e.Kind)
}
