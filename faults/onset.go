package faults

import (
	"fmt"
	"math"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
)

// Onset tells when an injection begins to act. It comes when every condition
// that is given is met, has stayed met for Hold, and Delay has passed; once
// come it stays. The zero value is the start of the run.
type Onset struct {
	From time.Duration // not before this time

	Spot  Spot      // a place whose temperature must reach Above
	Above q.Celsius // not used with NoSpot
	// GatePower is the mean power of a gate resistor over a control window
	// that must be reached; 0 is no condition.
	GatePower q.Watt
	// HalfCycles is how many half-cycles a channel's drive must have been on.
	HalfCycles int64
	// Watch is the channel, from 1, whose temperature, gate power or
	// half-cycles count; 0 is the injection's own.
	Watch int

	// Hold is how long the conditions must stay met without a break.
	Hold time.Duration
	// Delay passes after that. Without it an onset takes effect at the next
	// zero of the supply; with it at its own instant, see [Run.Sharp].
	Delay time.Duration
}

// Spot is a place of the machine whose temperature an onset can wait for.
type Spot int

// The places. Those from Junction to Link belong to a channel.
const (
	NoSpot   Spot = iota
	Junction      // of the triac
	Element
	Water
	Shell
	Link
	Lid
	Pocket // around the circuit board
)

var spotNames = [...]string{"no place", "junction", "element", "water", "shell", "link", "lid", "pocket"}

func (s Spot) valid() bool { return s >= NoSpot && s <= Pocket }

func (s Spot) String() string {
	if !s.valid() {
		return fmt.Sprintf("place(%d)", int(s))
	}
	return spotNames[s]
}

// PerChannel reports whether each channel has a place of this kind.
func (s Spot) PerChannel() bool { return s >= Junction && s <= Link }

// temperature returns the temperature in °C of a place at a moment, NaN where
// the moment does not have it.
func (s Spot) temperature(m *models.Moment, ch int) float64 {
	switch s {
	case Junction:
		return at(m.Junction, ch)
	case Element:
		return at(m.Element, ch)
	case Water:
		return at(m.Water, ch)
	case Shell:
		return at(m.Shell, ch)
	case Link:
		return at(m.Link, ch)
	case Lid:
		return m.Lid
	case Pocket:
		return m.Pocket
	}
	return math.NaN()
}

func at(v []float64, ch int) float64 {
	if ch < 0 || ch >= len(v) {
		return math.NaN()
	}
	return v[ch]
}

// watched returns the channel that the conditions look at, from 0.
func (o *Onset) watched(own int) int {
	if o.Watch > 0 {
		return o.Watch - 1
	}
	return own
}

// met reports whether all conditions but the time are met. What a moment does
// not have counts as not reached.
func (o *Onset) met(m *models.Moment, own int) bool {
	ch := o.watched(own)
	if o.Spot != NoSpot && !(o.Spot.temperature(m, ch) >= float64(o.Above)) {
		return false
	}
	if o.GatePower > 0 && !(at(m.GatePower, ch) >= float64(o.GatePower)) {
		return false
	}
	if o.HalfCycles > 0 && (ch < 0 || ch >= len(m.Cycles) || m.Cycles[ch] < o.HalfCycles) {
		return false
	}
	return true
}

// ofChannel reports whether a condition looks at a channel.
func (o *Onset) ofChannel() bool {
	return o.Spot.PerChannel() || o.GatePower > 0 || o.HalfCycles > 0
}

// longest bounds every time that a person sets, so that sums cannot overflow.
const longest = 10000 * time.Hour

func checkTime(field string, d, least time.Duration) error {
	if d < least || d > longest {
		return &FieldError{field, q.FormatDuration(d), q.FormatDuration(least) + " to " + q.FormatDuration(longest)}
	}
	return nil
}

// The bounds of a temperature that an onset waits for, in °C.
const coldest, hottest = -50, 1500

func (o *Onset) check(f *Fault, own int, b *models.Board) []error {
	var errs []error
	bad := func(field, found, expected string) { errs = append(errs, &FieldError{field, found, expected}) }
	for _, t := range []struct {
		field string
		d     time.Duration
	}{{keyFrom, o.From}, {keyHold, o.Hold}, {keyDelay, o.Delay}} {
		if err := checkTime(t.field, t.d, 0); err != nil {
			errs = append(errs, err)
		}
	}
	switch {
	case !o.Spot.valid():
		bad("onset", o.Spot.String(), "a place of the machine")
	case o.Spot != NoSpot && !(o.Above >= coldest && o.Above <= hottest):
		bad(o.Spot.String()+aboveSuffix, o.Above.String(), fmt.Sprintf("%v to %v", q.Celsius(coldest), q.Celsius(hottest)))
	case o.Spot == NoSpot && o.Above != 0:
		bad("onset", "a temperature without a place", "both or neither")
	}
	if !(o.GatePower >= 0 && o.GatePower <= mostPower) {
		bad(keyGatePower, o.GatePower.String(), fmt.Sprintf("%v to %v", q.Watt(0), q.Watt(mostPower)))
	}
	if o.HalfCycles < 0 {
		bad(keyHalfCycles, fmt.Sprint(o.HalfCycles), "0 or more")
	}
	switch {
	case o.Watch < 0, b != nil && o.Watch > len(b.Channels):
		n := "1 or more"
		if b != nil {
			n = fmt.Sprintf("1 to %d", len(b.Channels))
		}
		bad(keyWatch, fmt.Sprint(o.Watch), n)
	case o.Watch > 0 && !o.ofChannel():
		bad(keyWatch, "a channel to watch", "a condition of a channel with it")
	case o.Watch == 0 && own < 0 && o.ofChannel():
		bad(keyWatch, "no channel to watch", "one, as "+f.Name+" belongs to none")
	}
	return errs
}

// mostPower bounds the gate power in watts that an onset waits for.
const mostPower = 1e5
