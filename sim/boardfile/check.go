package boardfile

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"time"

	"boilwright/models"
	"boilwright/models/quantity"
)

// How many channels a board may have, and elements a list.
const (
	maxChannels = 16
	maxElements = 1000
)

// Check tells whether every value of a board is possible, by the same bounds
// as a file is read with: after an edit, or for a board built in Go. The
// error is an [*Error] whose entries have no position. Whether the circuit can
// be solved is another matter.
func Check(b *models.Board) error {
	if b == nil {
		return &Error{[]*Entry{{Field: "board", Found: "nothing", Expected: "a board"}}}
	}
	var entries []*Entry
	for _, v := range violations(b) {
		entries = append(entries, &Entry{Field: v[0].path, Found: v[0].found, Expected: v[0].expected})
	}
	return errorOf(entries, nil)
}

// violation is one broken rule, told of each value that takes part in it.
type violation []told

type told struct {
	path string
	wrong
}

// checker collects violations.
type checker struct {
	channels []string
	found    []violation
}

func (c *checker) fail(path, found, expected string) {
	c.found = append(c.found, violation{{path, wrong{found, expected}}})
}

// less demands low < high, or low ≤ high where equal is allowed, of two
// values; show prints one.
func less[V float64 | time.Duration](c *checker, prefix, lowKey, highKey string, low, high V, equal bool, show func(V) string) {
	if low < high || equal && low == high {
		return
	}
	below, above := "less than ", "more than "
	if equal {
		below, above = "at most ", "at least "
	}
	c.found = append(c.found, violation{
		{prefix + lowKey, wrong{show(low), below + highKey + ", " + show(high)}},
		{prefix + highKey, wrong{show(high), above + lowKey + ", " + show(low)}},
	})
}

func violations(b *models.Board) []violation {
	c := &checker{}
	for _, ch := range b.Channels {
		c.channels = append(c.channels, ch.Name)
	}
	if n := len(c.channels); n == 0 || n > maxChannels {
		c.fail(channelKey, fmt.Sprintf("%d channels", n), fmt.Sprintf("1 to %d", maxChannels))
	}
	for i, name := range c.channels {
		if w := checkChannelName(name); w != nil {
			c.fail(channelsKey, w.found, w.expected)
		} else if slices.Contains(c.channels[:i], name) {
			c.fail(channelsKey, quote(name)+" twice", "different names")
		}
	}
	c.group(&boardGroup, b, "")
	c.board(b)
	for i := range b.Channels {
		prefix := channelKey + "." + c.channels[i] + "."
		c.group(&channelGroup, &b.Channels[i], prefix)
		c.channel(&b.Channels[i], i, prefix)
	}
	return c.found
}

func (c *checker) group(g *group, target any, prefix string) {
	for i := range g.fields {
		c.field(&g.fields[i], target, prefix)
	}
	for i := range g.lists {
		l := &g.lists[i]
		if n := l.length(target); n > maxElements {
			c.fail(prefix+l.key, fmt.Sprintf("%d elements", n), fmt.Sprintf("at most %d", maxElements))
			continue
		}
		var names []string
		for k := range l.length(target) {
			item := l.item(target, k)
			p := element(prefix+l.key, k) + "."
			for j := range l.fields {
				f := &l.fields[j]
				c.field(f, item, p)
				if f.key == l.name {
					v, _ := f.get(item)
					if slices.Contains(names, v.(string)) {
						c.fail(p+f.key, quote(v.(string))+" twice", "different names")
					}
					names = append(names, v.(string))
				}
			}
		}
	}
}

// element is the path of the k-th element of a list, counted from 1 in text.
func element(path string, k int) string { return path + "[" + strconv.Itoa(k+1) + "]" }

func (c *checker) field(f *field, target any, prefix string) {
	v, ok := f.get(target)
	if !ok {
		return
	}
	if w := f.check(v, c.channels); w != nil {
		c.fail(prefix+f.key, w.found, w.expected)
	}
}

func in(d quantity.Dimension) func(float64) string {
	return func(v float64) string { return quantity.Format(d, v) }
}

// board holds the rules between the values of a board.
func (c *checker) board(b *models.Board) {
	for i, h := range b.Supply.Harmonics {
		for _, earlier := range b.Supply.Harmonics[:i] {
			if earlier.Order == h.Order {
				c.fail(element("supply.harmonic", i)+".order", fmt.Sprintf("%d twice", h.Order), "different orders")
				break
			}
		}
	}
	for i, e := range b.Supply.Events {
		less(c, element("supply.event", i)+".", "from", "to", e.From, e.To, false, quantity.FormatDuration)
	}
	for i, p := range b.Controller.Schedule {
		less(c, element("controller.on-period", i)+".", "from", "to", p.From, p.To, false, quantity.FormatDuration)
	}
	for i, k := range b.Couplings {
		if k.A == k.B && k.A >= 0 && k.A < len(c.channels) {
			c.fail(element("coupling", i)+".neighbour", quote(c.channels[k.B]), "another channel")
		}
	}
	for i, k := range b.Crossings {
		if k.A == k.B && k.A >= 0 && k.A < len(c.channels) {
			c.fail(element("crossing", i)+".with", quote(c.channels[k.B]), "another channel")
		}
	}
	for i, r := range b.Bridges {
		if r.From == r.To {
			c.fail(element("bridge", i)+".to", quote(r.To.String()), "another node than from")
		}
	}
}

// Junction temperatures between which a latching current must stay above the
// holding current.
const (
	coldJunction = -20.0
	hotJunction  = 150.0
)

// channel holds the rules between the values of a channel.
func (c *checker) channel(ch *models.Channel, index int, prefix string) {
	t := &ch.Triac
	amperes, pascals := in(quantity.Current), in(quantity.Pressure)
	before := len(c.found)
	less(c, prefix, "triac.holding-current", "triac.latching-current", float64(t.Holding), float64(t.Latching), false, amperes)
	for _, tj := range []float64{coldJunction, hotJunction} {
		if h, l := t.HoldingAt(tj), t.LatchingAt(tj); len(c.found) == before && h >= l {
			expected := fmt.Sprintf("a holding current below the latching current at %s", quantity.Format(quantity.Temperature, tj))
			c.found = append(c.found, violation{
				{prefix + "triac.holding-scale", wrong{in(quantity.TemperatureDifference)(float64(t.HoldingScale)), expected}},
				{prefix + "triac.latching-scale", wrong{in(quantity.TemperatureDifference)(float64(t.LatchingScale)), expected}},
				{prefix + "triac.holding-current", wrong{amperes(float64(t.Holding)), expected}},
				{prefix + "triac.latching-current", wrong{amperes(float64(t.Latching)), expected}},
			})
		}
	}
	less(c, prefix, "opto.holding-current", "opto.latching-current", float64(ch.Opto.Holding), float64(ch.Opto.Latching), false, amperes)
	if ch.Thermostat.Fitted {
		less(c, prefix, "thermostat.closes", "thermostat.opens", float64(ch.Thermostat.Closes), float64(ch.Thermostat.Opens), false, in(quantity.Temperature))
	}
	less(c, prefix, "boiler.floor", "boiler.water", float64(ch.Boiler.Floor), float64(ch.Boiler.Water), true, in(quantity.Mass))
	if !ch.Boiler.Open {
		less(c, prefix, "boiler.reseat", "boiler.relief", float64(ch.Boiler.Reseat), float64(ch.Boiler.Relief), false, pascals)
	}
	if ch.Probe.A != 0 && ch.Probe.B == 0 {
		c.found = append(c.found, violation{
			{prefix + "probe.steinhart-hart-b", wrong{"0", "more than 0, as steinhart-hart-a is not 0"}},
			{prefix + "probe.steinhart-hart-a", wrong{strconv.FormatFloat(ch.Probe.A, 'g', -1, 64), "0, or steinhart-hart-b above 0"}},
		})
	}
	for i, d := range ch.Boiler.Draws {
		p := element(prefix+drawList.key, i) + "."
		less(c, p, "from", "to", d.From, d.To, false, quantity.FormatDuration)
		if length := d.To - d.From; d.Every > 0 && length > d.Every {
			c.fail(p+"every", quantity.FormatDuration(d.Every), "at least the length of the draw, "+quantity.FormatDuration(length))
		}
		if d.Refill == index {
			c.fail(p+"refill", quote(ch.Name), "cold or another channel")
		}
	}
}

var channelName = regexp.MustCompile(`^[a-z][a-z0-9-]{0,31}$`)

// reserved names of channels: what belongs to no channel, and the cold supply.
var reserved = []string{"board", "cold"}

func checkChannelName(name string) *wrong {
	if !channelName.MatchString(name) {
		return &wrong{"the channel name " + quote(name), "a lower-case letter, then up to 31 lower-case letters, digits and hyphens"}
	}
	if slices.Contains(reserved, name) {
		return &wrong{"the channel name " + quote(name), "a name other than " + oneOf(reserved)}
	}
	return nil
}
