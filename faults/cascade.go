package faults

import (
	"slices"
	"strconv"
)

// Cascade is a known chain of faults on one channel, in which one brings about
// the next: a set, with the onsets that chain it.
//
// That these chains happen is common practice, without a source. The
// thresholds at which they go on are invented for a board with a gate resistor
// of a few hundred ohms and say nothing of a real part.
type Cascade struct {
	Name  string // trade words in lower case with hyphens
	Title string // the chain in a line
	What  string // why one leads to the next, and what is to be learnt
	// Faults are the injections without their channel, in order. What the
	// physics of the board brings about by itself needs none.
	Faults []string
}

// cascades is every chain, those that need the least first.
var cascades = []Cascade{
	{
		Name:   "short-opens-link",
		Title:  "triac shorted, over temperature, thermal link open",
		What:   "Only the short is put in. The boiler passes its set point and its limit because nothing switches it off, and its thermal link opens at its functioning temperature: both come out of the circuit and the heat by themselves. A new link alone opens again.",
		Faults: []string{"triac-shorted"},
	},
	{
		Name:   "short-takes-opto",
		Title:  "triac shorted with its gate involved, opto output destroyed",
		What:   "Where the gate is part of the short, mains voltage comes back through the gate path and the opto's output goes with the triac, here one half-cycle after it. As long as the triac is shorted the opto does not show; a new triac alone then fires undriven. Measure both before the supply comes back.",
		Faults: []string{"triac-shorted,from=25 min", "opto-shorted,from=25 min,delay=10 ms"},
	},
	{
		Name:   "open-burns-gate-resistor",
		Title:  "triac open with its drive on, gate resistor above its rating, resistor open",
		What:   "A triac that does not take over leaves the load current to the gate path in every driven half-cycle. The gate resistor is far above its rating, here 2 W, and opens when it has been so for 20 s. A burnt resistor points to the triac.",
		Faults: []string{"triac-open", "gate-resistor-open,gate-power-above=2 W,hold=20 s"},
	},
	{
		Name:   "open-destroys-opto",
		Title:  "triac open with its drive on, opto above its surge rating, opto shorted, gate resistor open",
		What:   "The same load current flows through the opto's output. Where it is above the surge rating the output is destroyed at once, here shorted; the gate path then carries current with the drive off as well, and its resistor opens. The power of the gate path stands for the current: 50 W in 330 Ω is a sine of 0.55 A peak. Three parts are to be changed, and the triac is the first.",
		Faults: []string{"triac-open", "opto-shorted,gate-power-above=50 W", "gate-resistor-open,gate-power-above=2 W,hold=20 s"},
	},
}

// Cascades returns the known chains of faults.
func Cascades() []Cascade {
	out := slices.Clone(cascades)
	for i := range out {
		out[i].Faults = slices.Clone(out[i].Faults)
	}
	return out
}

// Texts writes the injections for a channel, given by its name or number as
// [Parse] reads it.
func (c Cascade) Texts(channel string) []string {
	texts := make([]string, len(c.Faults))
	for i, f := range c.Faults {
		texts[i] = channel + ":" + f
	}
	return texts
}

// Set returns the injections for a channel, counted from 0. The error is that
// of [ParseSet].
func (c Cascade) Set(channel int) (Set, error) {
	return ParseSet(c.Texts(strconv.Itoa(channel+1)), nil)
}
