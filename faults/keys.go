package faults

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	q "boilwright/models/quantity"
)

// The words and keys that every fault takes.
const (
	boardWord = "board"

	keySeverity   = "severity"
	keyFrom       = "from"
	aboveSuffix   = "-above"
	keyGatePower  = "gate-power" + aboveSuffix
	keyHalfCycles = "half-cycles"
	keyWatch      = "watch"
	keyHold       = "hold"
	keyDelay      = "delay"
	keyOn         = "on"
	keyOff        = "off"
	keyDwell      = "dwell"
	keyGrowing    = "growing"
	keyStart      = "start"
	keySteps      = "steps"
	keyFor        = "for"
	keyUntil      = "until"
)

// The words that keyDwell takes.
const (
	dwellRandom = "random"
	dwellFixed  = "fixed"
)

// CommonKey is a key that every fault takes.
type CommonKey struct{ Name, Example, Doc string }

// CommonKeys lists the keys that every fault takes, in the order in which an
// injection is written.
func CommonKeys() []CommonKey {
	keys := []CommonKey{
		{keySeverity, "50 %", "0 is healthy, 1 the full fault"},
		{keyFrom, "25 min", "not before this time"},
	}
	for s := Junction; s <= Pocket; s++ {
		keys = append(keys, CommonKey{s.String() + aboveSuffix, "90 °C", "not before the " + s.String() + " has this temperature"})
	}
	return append(keys,
		CommonKey{keyGatePower, "2 W", "not before the mean power of the gate resistor reaches this"},
		CommonKey{keyHalfCycles, "1000", "not before the drive has been on for so many half-cycles"},
		CommonKey{keyWatch, "2", "the channel whose temperature, power or half-cycles count, if not the fault's own"},
		CommonKey{keyHold, "10 s", "how long the conditions must stay met without a break"},
		CommonKey{keyDelay, "3 ms", "time from then to the onset, which is then not put off to a zero of the supply"},
		CommonKey{keyOn, "2 s", "intermittent: how long it acts at a time"},
		CommonKey{keyOff, "10 s", "intermittent: how long it rests at a time"},
		CommonKey{keyDwell, dwellFixed, "intermittent: random (exponential, the times being means) or fixed"},
		CommonKey{keyGrowing, "2 h", "how long the severity rises to its value"},
		CommonKey{keyStart, "10 %", "growing: the severity at the onset"},
		CommonKey{keySteps, "16", "growing: how many steps"},
		CommonKey{keyFor, "10 min", "how long it lasts from its onset"},
		CommonKey{keyUntil, "40 min", "when it ends"},
	)
}

// own reads a key of the fault.
func (p *parser) own(key string, keyAt int, value string, valueAt int) error {
	k, ok := p.fault.Key(key)
	if !ok {
		names := keyNames(p.fault)
		for _, c := range CommonKeys() {
			names = append(names, c.Name)
		}
		if p.fault.Wets {
			for _, c := range WettingKeys() {
				names = append(names, c.Name)
			}
		}
		expected := "a key of " + p.fault.Name
		if own := keyNames(p.fault); len(own) > 0 {
			expected += " (" + strings.Join(own, ", ") + ")"
		}
		return p.fail(keyAt, "the key "+quoted(key), expected+" or of every fault"+didYouMean(key, names))
	}
	if len(k.Choices) > 0 {
		i := slices.IndexFunc(k.Choices, func(c Choice) bool { return c.Word == value })
		if i < 0 {
			return p.fail(valueAt, quoted(value), k.expected()+didYouMean(value, k.words()))
		}
		p.j.Settings = append(p.j.Settings, Setting{key, k.Choices[i].Value})
		return nil
	}
	v, err := q.Parse(k.Dimension, value)
	if err != nil {
		return p.quantity(err, valueAt)
	}
	p.j.Settings = append(p.j.Settings, Setting{key, v})
	return nil
}

// quantity turns an error of package quantity into one with a position.
func (p *parser) quantity(err error, offset int) error {
	var e *q.Error
	if errors.As(err, &e) {
		return p.fail(offset, e.Found, e.Expected)
	}
	return p.fail(offset, err.Error(), "a quantity")
}

// common reads a key that is not the fault's own, one of every fault or of
// wetness, and reports whether it is one.
func (p *parser) common(key, value string, offset int) (bool, error) {
	o, c := &p.j.Onset, &p.j.Course
	if known, err := p.wetting(key, value, offset); known {
		return true, err
	}
	if t := p.duration(key); t != nil {
		d, err := q.ParseDuration(value)
		if err != nil {
			return true, p.quantity(err, offset)
		}
		*t = d
		return true, nil
	}
	number := func(to *float64, d q.Dimension) (bool, error) {
		v, err := q.Parse(d, value)
		if err != nil {
			return true, p.quantity(err, offset)
		}
		*to = v
		return true, nil
	}
	switch key {
	case keySeverity:
		return number(&p.j.Severity, q.Number)
	case keyStart:
		return number(&c.Start, q.Number)
	case keyGatePower:
		return number((*float64)(&o.GatePower), q.Power)
	case keyHalfCycles, keySteps:
		n, err := strconv.ParseInt(value, 10, 64)
		if err != nil || n < 1 || (key == keySteps && n > mostSteps) {
			return true, p.fail(offset, quoted(value), "a whole number from 1"+map[bool]string{true: fmt.Sprintf(" to %d", mostSteps)}[key == keySteps])
		}
		if key == keySteps {
			c.Steps = int(n)
		} else {
			o.HalfCycles = n
		}
		return true, nil
	case keyWatch:
		ch, err := p.channel(value, offset, false)
		o.Watch = ch + 1
		return true, err
	case keyDwell:
		if value != dwellRandom && value != dwellFixed {
			return true, p.fail(offset, quoted(value), dwellRandom+" or "+dwellFixed+didYouMean(value, []string{dwellRandom, dwellFixed}))
		}
		c.Fixed = value == dwellFixed
		return true, nil
	}
	for s := Junction; s <= Pocket; s++ {
		if key == s.String()+aboveSuffix {
			if o.Spot != NoSpot {
				return true, p.fail(offset, "a second temperature", "one, which is already given for the "+o.Spot.String())
			}
			o.Spot = s
			return number((*float64)(&o.Above), q.Temperature)
		}
	}
	return false, nil
}

// duration returns where the time of a key goes, or nil.
func (p *parser) duration(key string) *time.Duration {
	o, c := &p.j.Onset, &p.j.Course
	switch key {
	case keyFrom:
		return &o.From
	case keyHold:
		return &o.Hold
	case keyDelay:
		return &o.Delay
	case keyOn:
		return &c.On
	case keyOff:
		return &c.Off
	case keyGrowing:
		return &c.Growing
	case keyFor:
		return &c.For
	case keyUntil:
		return &c.Until
	}
	return nil
}
