package boardfile

import (
	"fmt"
	"math"
	"strings"

	q "boilwright/models/quantity"
)

// PlateNote begins the note of every board that was made from a rating plate.
const PlateNote = "made from a rating plate"

// Plate is what a rating plate and the controls' front tell of a machine.
type Plate struct {
	Name   string
	Supply q.Volt
	// Presumed tells that supply and frequency were not told.
	Presumed  bool
	Frequency q.Hertz
	Channels  []PlateChannel
}

// PlateChannel is one channel of a plate.
type PlateChannel struct {
	Name string
	// Power at the supply's voltage, or Resistance of the element cold; one
	// of them.
	Power      q.Watt
	Resistance q.Ohm
	Water      q.Kilogram
	SetPoint   q.Celsius
	Link       q.Celsius // functioning temperature of the thermal link; 0 is not known
}

// Assumed thermal links: so far above the set point, and at least so high.
const (
	linkAbove = 15.0
	linkLeast = 115.0
)

// Text writes the plate as a board file, with what was assumed in the note and
// as a list of lines. Everything that the plate does not tell has the default
// of the board file. The error is that of reading the file back.
func (p *Plate) Text() (text []byte, assumed []string, err error) {
	var b strings.Builder
	say := func(format string, args ...any) { assumed = append(assumed, fmt.Sprintf(format, args...)) }
	if p.Presumed {
		say("a supply of %s, %s", q.Format(q.Voltage, float64(p.Supply)), q.Format(q.Frequency, float64(p.Frequency)))
	}
	say("triac in the line, with a snubber and a zero-cross opto; parts as the board reference's defaults")
	say("no thermostat, no link ahead of all channels")
	say("closed boilers side by side under one lid; heat losses as the defaults")
	var body strings.Builder
	for i := range p.Channels {
		c := &p.Channels[i]
		fmt.Fprintf(&body, "\n[channel.%s]\n", bareKey(c.Name))
		if c.Power > 0 {
			fmt.Fprintf(&body, "element.rating = \"%s at %s\"\n", q.Format(q.Power, float64(c.Power)), q.Format(q.Voltage, float64(p.Supply)))
		} else {
			fmt.Fprintf(&body, "element.resistance = \"%s\"\n", q.Format(q.Resistance, float64(c.Resistance)))
		}
		fmt.Fprintf(&body, "boiler.water = \"%s\"\n", q.Format(q.Mass, float64(c.Water)))
		if c.SetPoint > 100 {
			body.WriteString("boiler.feed = true\n")
			say("%s makes steam and is fed from the cold supply", c.Name)
		}
		fmt.Fprintf(&body, "control.set-point = \"%s\"\n", q.Format(q.Temperature, float64(c.SetPoint)))
		link := float64(c.Link)
		if link == 0 {
			link = math.Max(linkLeast, float64(c.SetPoint)+linkAbove)
			say("%s: a thermal link that opens at %s", c.Name, q.Format(q.Temperature, link))
		}
		fmt.Fprintf(&body, "link.functions = \"%s\"\n", q.Format(q.Temperature, link))
	}
	name := p.Name
	if name == "" {
		name = "board from a rating plate"
	}
	fmt.Fprintf(&b, "name = %s\nnote = %s\n\n", basicString(name), basicString(PlateNote+"; assumed: "+strings.Join(assumed, "; ")))
	fmt.Fprintf(&b, "[supply]\nvoltage = \"%s\"\nfrequency = \"%s\"\n", q.Format(q.Voltage, float64(p.Supply)), q.Format(q.Frequency, float64(p.Frequency)))
	b.WriteString(body.String())
	text = []byte(b.String())
	_, err = Parse("plate", text, nil)
	return text, assumed, err
}
