package boardfile_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
)

func TestCheck(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		name string
		edit func(*models.Board)
		want string // empty is no error
	}{
		{"healthy", func(*models.Board) {}, ""},
		{"no channels", func(b *models.Board) { b.Channels = nil }, "channel: found 0 channels, expected 1 to 16"},
		{"channel names", func(b *models.Board) { b.Channels[1].Name = "soak" }, `channels: found "soak" twice, expected different names`},
		{"a bad channel name", func(b *models.Board) { b.Channels[1].Name = "Dye" }, `channels: found the channel name "Dye", expected a lower-case letter`},
		{"the lowest voltage", func(b *models.Board) { b.Supply.Voltage = 90 }, ""},
		{"just below", func(b *models.Board) { b.Supply.Voltage = q.Volt(math.Nextafter(90, 0)) }, "supply.voltage: found 89.99999999999999 V, expected a voltage from 90 V to 260 V"},
		{"the highest voltage", func(b *models.Board) { b.Supply.Voltage = 260 }, ""},
		{"NaN", func(b *models.Board) { b.Supply.Voltage = q.Volt(nan) }, "supply.voltage: found NaN"},
		{"minus infinity", func(b *models.Board) { b.Channels[0].Triac.Breakover = q.Volt(-inf) }, "channel.soak.triac.breakover-voltage: found -infinite"},
		{"an open element", func(b *models.Board) { b.Channels[0].Element.Open = true }, ""},
		{"an infinite element", func(b *models.Board) { b.Channels[0].Element.Resistance = q.Ohm(inf) }, "channel.soak.element.resistance: found open, expected a resistance above 0 Ω, at most 1 GΩ"},
		{"open gate resistor", func(b *models.Board) { b.Channels[0].GateResistance = q.Ohm(inf) }, ""},
		{"dead LED", func(b *models.Board) { b.Channels[0].Opto.LEDSlope = q.Ohm(inf) }, ""},
		{"no protective earth", func(b *models.Board) { b.Earth.Resistance = q.Ohm(inf) }, ""},
		{"stuck drive", func(b *models.Board) { b.Channels[0].Drive.Off = 12 }, ""},
		{"insensitive in one quadrant", func(b *models.Board) { b.Channels[0].Triac.Trigger[2] = q.Ampere(inf) }, ""},
		{"zero heat capacity", func(b *models.Board) { b.Pocket.Capacity = 0 }, "pocket.heat-capacity: found 0 J/K, expected a heat capacity above 0 J/K"},
		{"holding at latching", func(b *models.Board) { b.Channels[0].Triac.Holding = 0.04 }, "channel.soak.triac.holding-current: found 40 mA, expected less than triac.latching-current, 40 mA"},
		{"holding just below latching", func(b *models.Board) { b.Channels[0].Triac.Holding = q.Ampere(math.Nextafter(0.04, 0)) }, ""},
		{"currents that cross when hot", func(b *models.Board) { b.Channels[0].Triac.LatchingScale = 80 }, "channel.soak.triac.holding-scale: found 150 K, expected a holding current below the latching current at 150 °C"},
		{"currents that cross when cold", func(b *models.Board) { b.Channels[0].Triac.HoldingScale = 50 }, "channel.soak.triac.holding-scale: found 50 K, expected a holding current below the latching current at -20 °C"},
		{"an odd window", func(b *models.Board) { b.Controller.Window = 99 }, "controller.window: found 99, expected an even number from 2 to 12000"},
		{"reseat of an open vat", func(b *models.Board) { b.Channels[0].Boiler.Open, b.Channels[0].Boiler.Reseat = true, 2e6 }, ""},
		{"an unknown detector", func(b *models.Board) { b.Meters[0].Detector = 77 }, "meter[1].detector: found 77, expected average, "},
		{"an unknown law", func(b *models.Board) { b.Channels[0].Control.Kind = -1 }, "channel.soak.control.law: found -1, expected hysteresis"},
		{"a refill from nowhere", func(b *models.Board) {
			b.Channels[1].Boiler.Draws = []models.Draw{{To: 40 * time.Second, Flow: 0.01, Refill: 3}}
		}, "channel.dye.draw[1].refill: found 3, expected a channel: cold, soak, dye or steam"},
		{"a draw that outlasts its period", func(b *models.Board) {
			b.Channels[1].Boiler.Draws = []models.Draw{{To: 40 * time.Second, Every: 39 * time.Second, Flow: 0.01, Refill: -1}}
		}, "channel.dye.draw[1].every: found 39 s, expected at least the length of the draw, 40 s"},
		{"a bridge to no channel", func(b *models.Board) {
			b.Bridges = []models.Bridge{{From: models.At(models.Gate, 3), To: models.At(models.Line, 0), Resistance: 1}}
		}, "bridge[1].from: found gate4, expected one of supply-neutral"},
		{"a bridge to no place", func(b *models.Board) {
			b.Bridges = []models.Bridge{{From: models.Node{Place: 99}, To: models.At(models.Line, 0), Resistance: 1}}
		}, "bridge[1].from: found place(99), expected one of"},
		{"a draw from nowhere to nowhere", func(b *models.Board) {
			b.Channels[1].Boiler.Draws = []models.Draw{{Flow: 0.01, Refill: -1}}
		}, "channel.dye.draw[1].from: found 0 s, expected less than to, 0 s"},
		{"too many draws", func(b *models.Board) { b.Channels[1].Boiler.Draws = make([]models.Draw, 1001) }, "channel.dye.draw: found 1001 elements, expected at most 1000"},
		{"a capacitance alone", func(b *models.Board) {
			b.Bridges = []models.Bridge{{From: models.At(models.Gate, 2), To: models.At(models.Line, 0), Resistance: q.Ohm(inf), Capacitance: 1e-9}}
		}, ""},
		{"an upstream link", func(b *models.Board) { b.Upstream = &models.ThermalLink{Capacity: 5, Functions: 150} }, ""},
		{"an upstream link without heat", func(b *models.Board) { b.Upstream = &models.ThermalLink{Functions: 150} }, "upstream-link.heat-capacity: found 0 J/K"},
		{"a title of two lines", func(b *models.Board) { b.Name = "a\nb" }, "name: found the control character U+000A, expected one line of up to 120 characters"},
		{"a title that is no text", func(b *models.Board) { b.Name = "\xff" }, "name: found text that is not UTF-8, expected UTF-8"},
	} {
		b := boardfile.Default()
		c.edit(b)
		err := boardfile.Check(b)
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.want == "":
			checkReread(t, b)
		case err == nil || !strings.HasPrefix(err.Error(), c.want):
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
	if boardfile.Check(nil) == nil {
		t.Error("no board passes")
	}
}
