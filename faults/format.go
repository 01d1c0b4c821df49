package faults

import (
	"slices"
	"strconv"
	"strings"
	"time"

	q "boilwright/models/quantity"
)

// String writes the injection as [Parse] reads it back to the same, with the
// channel's number and the keys in a fixed order; defaults are left out.
func (j Injection) String() string { return j.Text(nil) }

// Text is String with the channels' names where they can be read back; it is
// read back with the same channels.
func (j Injection) Text(channels []string) string {
	var b strings.Builder
	b.WriteString(written(j.Channel, channels))
	b.WriteString(":" + j.Fault)
	pair := func(key, value string) { b.WriteString("," + key + "=" + value) }
	duration := func(key string, d time.Duration) {
		if d != 0 {
			pair(key, q.FormatDuration(d))
		}
	}
	f := find(j.Fault)
	for _, s := range j.Settings {
		k := Key{Dimension: q.Number}
		if f != nil {
			if own, ok := f.Key(s.Key); ok {
				k = own
			}
		}
		pair(s.Key, k.format(s.Value))
	}
	if j.Severity != 1 {
		pair(keySeverity, q.Format(q.Number, j.Severity))
	}
	o, c := &j.Onset, &j.Course
	duration(keyFrom, o.From)
	if o.Spot != NoSpot {
		pair(o.Spot.String()+aboveSuffix, o.Above.String())
	}
	if o.GatePower != 0 {
		pair(keyGatePower, o.GatePower.String())
	}
	if o.HalfCycles != 0 {
		pair(keyHalfCycles, strconv.FormatInt(o.HalfCycles, 10))
	}
	if o.Watch != 0 {
		pair(keyWatch, written(o.Watch-1, channels))
	}
	duration(keyHold, o.Hold)
	duration(keyDelay, o.Delay)
	duration(keyOn, c.On)
	duration(keyOff, c.Off)
	if c.Fixed {
		pair(keyDwell, dwellFixed)
	}
	duration(keyGrowing, c.Growing)
	if c.Start != 0 {
		pair(keyStart, q.Format(q.Number, c.Start))
	}
	if c.Steps != 0 {
		pair(keySteps, strconv.Itoa(c.Steps))
	}
	c.Wetting.write(pair, channels)
	duration(keyFor, c.For)
	duration(keyUntil, c.Until)
	return b.String()
}

// written is how a channel is written: by its name where that reads back as
// the same channel, otherwise by its number.
func written(ch int, channels []string) string {
	if ch == WholeBoard {
		return boardWord
	}
	if ch >= 0 && ch < len(channels) && usable(channels[ch]) && slices.Index(channels, channels[ch]) == ch {
		return channels[ch]
	}
	return strconv.Itoa(ch + 1)
}

// MarshalText writes what String writes; an injection that cannot be read
// back is an error.
func (j Injection) MarshalText() ([]byte, error) {
	if err := j.Check(nil); err != nil {
		return nil, err
	}
	return []byte(j.String()), nil
}

// UnmarshalText reads what MarshalText wrote; channels are numbers.
func (j *Injection) UnmarshalText(text []byte) error {
	read, err := Parse(string(text), nil)
	if err != nil {
		return err
	}
	*j = read
	return nil
}
