package models

import (
	"fmt"
	"strconv"
	"strings"
)

// Place names a point of the circuit, on the board or on one channel.
type Place int

// The places of a board. Those up to Rail exist once, the others once a
// channel.
const (
	SupplyNeutral   Place = iota // the neutral at the supply end: zero of potential
	Source                       // the ideal source
	Line                         // L on the board
	Neutral                      // N on the board
	ProtectiveEarth              // PE on the board
	Rail                         // L of the channels, behind an upstream link
	Output                       // OUT: the terminal of the triac toward the load
	Wire                         // after the wiring, before the link
	Load                         // the terminal of the element on the link side
	Midpoint                     // inside the element, where insulation leaks
	Gate                         // G
	OptoOutput                   // between opto output and gate resistor
	SnubberTap                   // between snubber resistor and capacitor
	Contact                      // between thermostat and thermal link

	// The control side, of extra-low voltage and insulated from the places
	// above. With the control plug pulled off, its pins on the board are
	// PlugPlus and PlugMinus, and those on the controller's side lead to the
	// drive transistor.
	PlugPlus  // pin toward R_LED
	PlugMinus // pin toward the cathode of the LED
	Anode     // between R_LED and the LED
	Collector // output of the drive transistor
	Emitter   // common of the controller
	Base      // of the drive transistor
)

// Node is a place, with the channel (from 0) where the place needs one.
type Node struct {
	Place   Place
	Channel int
}

// At returns the node of a place on channel ch.
func At(p Place, ch int) Node {
	if !p.PerChannel() {
		ch = 0
	}
	return Node{p, ch}
}

// PerChannel reports whether each channel has a place of this kind.
func (p Place) PerChannel() bool { return p > Rail }

// Control reports whether the place lies on the control side.
func (p Place) Control() bool { return p > Contact && p <= Base }

var placeNames = [...]string{
	SupplyNeutral: "supply-neutral", Source: "source", Line: "L", Neutral: "N", ProtectiveEarth: "PE", Rail: "rail",
	Output: "out", Wire: "wire", Load: "load", Midpoint: "mid", Gate: "gate", OptoOutput: "opto", SnubberTap: "snubber", Contact: "contact",
	PlugPlus: "plug-plus", PlugMinus: "plug-minus", Anode: "anode", Collector: "collector", Emitter: "emitter", Base: "base",
}

// String gives the written name: "L", "N", "PE", "out2", "gate1".
func (n Node) String() string {
	if n.Place < 0 || int(n.Place) >= len(placeNames) {
		return fmt.Sprintf("place(%d)", int(n.Place))
	}
	if !n.Place.PerChannel() {
		return placeNames[n.Place]
	}
	return placeNames[n.Place] + strconv.Itoa(n.Channel+1)
}

// ParseNode reads a written node name of the mains side for a board of the
// given number of channels; channels count from 1 in text. The error says what
// was found and what was expected.
func ParseNode(s string, channels int) (Node, error) {
	name := strings.TrimRight(s, "0123456789")
	digits := s[len(name):]
	for p, pn := range placeNames {
		place := Place(p)
		if pn != name || place.Control() {
			continue
		}
		if !place.PerChannel() {
			if digits != "" {
				break
			}
			return Node{Place: place}, nil
		}
		k, err := strconv.Atoi(digits)
		if err != nil || k < 1 || k > channels || digits != strconv.Itoa(k) {
			return Node{}, fmt.Errorf("found node %q, expected %s1 to %s%d", s, pn, pn, channels)
		}
		return Node{place, k - 1}, nil
	}
	return Node{}, fmt.Errorf("found node %q, expected one of %s", s, strings.Join(NodeNames(), ", "))
}

// NodeNames lists the written names that ParseNode takes; "K" stands for the
// channel number.
func NodeNames() []string {
	var names []string
	for p, n := range placeNames {
		if Place(p).Control() {
			continue
		}
		if Place(p).PerChannel() {
			n += "K"
		}
		names = append(names, n)
	}
	return names
}
