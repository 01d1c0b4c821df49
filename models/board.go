package models

import (
	"slices"

	q "boilwright/models/quantity"
)

// Board is one controller with its supply, channels, loads and boilers: every
// part, healthy or not, as parameters. A fault is an edit of a Board; nothing
// here knows that faults exist.
type Board struct {
	Name string // a short title
	Note string // where the values come from

	Ambient         q.Celsius // room temperature [20 °C]
	AmbientPressure q.Pascal  // absolute [101325 Pa]

	Supply     Supply
	Earth      Earth
	Upstream   *ThermalLink // one link ahead of all channels, or nil
	Channels   []Channel    // one opto-triac-element-boiler path each
	Bridges    []Bridge     // films and other extra paths between named nodes
	Lid        Lid
	Pocket     Pocket
	Couplings  []Coupling // shell to shell
	Crossings  []Crossing // drive plugs that are exchanged
	Controller Controller
	Protection Protection
	Meters     []Meter       // the meters a reader may put on the board
	Clamps     []Clamp       // the clamp ammeters a reader may put round its leads
	Monitor    EnergyMonitor // the plug-in monitor in the supply lead
}

// Channel is one opto-triac-element-boiler path.
type Channel struct {
	Name  string
	Side  TriacSide // triac in the line or in the neutral
	MT1   MT1Side   // which way round the triac is
	Drive Drive
	Opto  Opto
	// GateResistance is R_G, in series with the opto output; +Inf when open.
	GateResistance q.Ohm
	// GateShunt is R_GK, between gate and MT1; +Inf when not fitted.
	GateShunt  q.Ohm
	Triac      Triac
	Snubber    Snubber
	Wire       q.Ohm // r_wire, from the triac to the link; +Inf when open
	Thermostat Thermostat
	Link       ThermalLink
	Element    Element
	Boiler     Boiler
	Probe      Probe
	Control    Control
}

// TriacSide tells in which conductor the triac sits.
type TriacSide int

// The two positions of the triac.
const (
	LineSide    TriacSide = iota // L, triac, OUT, load, N
	NeutralSide                  // L, load, OUT, triac, N
)

func (s TriacSide) String() string {
	if s == NeutralSide {
		return "neutral"
	}
	return "line"
}

// MT1Side tells to which side main terminal 1 points.
type MT1Side int

// The two orientations of the triac.
const (
	MT1Supply MT1Side = iota // MT1 on the rail, MT2 on OUT
	MT1Load                  // MT1 on OUT, MT2 on the rail
)

func (s MT1Side) String() string {
	if s == MT1Load {
		return "load"
	}
	return "supply"
}

// Bridge is an extra two-terminal path between two named nodes of the board:
// a contamination film, a shorted or one-way junction, a meter input.
//
// It conducts i = (v − Threshold)/Resistance where v = v(From) − v(To)
// exceeds Threshold, and, unless OneWay, the mirror image for negative v.
// With Threshold 0 and OneWay false it is a plain resistor. A Capacitance
// lies in parallel.
type Bridge struct {
	Name        string
	From, To    Node
	Resistance  q.Ohm // more than 0; +Inf leaves the capacitance alone
	Threshold   q.Volt
	OneWay      bool
	Capacitance q.Farad
	// Part says to whose losses the path belongs.
	Part Part
	// Channel is the channel of Part, from 0; ignored where Part has none.
	Channel int
}

// Part classes the losses of a path.
type Part int

// The owners of a loss.
const (
	NoPart    Part = iota // outside the machine: a meter, a film to earth
	TriacPart             // heats the triac and the board pocket
	GatePart              // opto output and gate resistor: heats the pocket
	SnubberPart
	ElementPart // heats the element
	WiringPart
)

// Coupling is a thermal conductance between the shells of two boilers.
type Coupling struct {
	A, B        int // channel indices from 0
	Conductance q.WattPerKelvin
}

// Crossing is a pair of channels whose drive plugs are exchanged: the signal
// meant for each drives the other.
type Crossing struct {
	A, B int // channel indices from 0
}

// DriveSource returns the channel whose controller drives channel k, with the
// board's crossings made one after the other.
func (b *Board) DriveSource(k int) int {
	for i := len(b.Crossings) - 1; i >= 0; i-- {
		switch c := b.Crossings[i]; k {
		case c.A:
			k = c.B
		case c.B:
			k = c.A
		}
	}
	return k
}

// Clone returns a deep copy of b: an edit of the copy never shows in b.
func (b *Board) Clone() *Board {
	c := *b
	if b.Upstream != nil {
		u := *b.Upstream
		c.Upstream = &u
	}
	c.Supply.Harmonics = slices.Clone(b.Supply.Harmonics)
	c.Supply.Events = slices.Clone(b.Supply.Events)
	c.Channels = slices.Clone(b.Channels)
	for i := range c.Channels {
		ch := &c.Channels[i]
		ch.Triac.Foster = slices.Clone(ch.Triac.Foster)
		ch.Boiler.Draws = slices.Clone(ch.Boiler.Draws)
	}
	c.Bridges = slices.Clone(b.Bridges)
	c.Couplings = slices.Clone(b.Couplings)
	c.Crossings = slices.Clone(b.Crossings)
	c.Controller.Schedule = slices.Clone(b.Controller.Schedule)
	c.Meters = slices.Clone(b.Meters)
	for i := range c.Meters {
		c.Meters[i].Ranges = slices.Clone(b.Meters[i].Ranges)
	}
	c.Clamps = slices.Clone(b.Clamps)
	for i := range c.Clamps {
		c.Clamps[i].Ranges = slices.Clone(b.Clamps[i].Ranges)
	}
	return &c
}

// ChannelIndex returns the index of the channel called name, or -1.
func (b *Board) ChannelIndex(name string) int {
	return slices.IndexFunc(b.Channels, func(c Channel) bool { return c.Name == name })
}
