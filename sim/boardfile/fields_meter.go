package boardfile

import (
	"boilwright/models"
	q "boilwright/models/quantity"
)

func detectorNames() []string {
	var names []string
	for _, d := range models.Detectors() {
		names = append(names, d.String())
	}
	return names
}

func risingly(f field) field {
	f.rising = true
	return f
}

// meterList has invented, generic instruments as its default.
var meterList = func() list {
	l := listOf("meter", "voltmeters that a reader may put on the board",
		func(b *models.Board) *[]models.Meter { return &b.Meters },
		title(textOf("name", "a short name", func(m *models.Meter) *string { return &m.Name }).needed()).from(1),
		choiceOf("detector", "law that turns a voltage into a number, calibrated on a sine", func(m *models.Meter) *models.Detector { return &m.Detector }, detectorNames()...).
			needed(),
		quantityOf("resistance", "input resistance", func(m *models.Meter) *q.Ohm { return &m.Resistance }).
			or("10 MΩ").over(0).orInfinite().usually("3 kΩ low-impedance, 10 MΩ otherwise"),
		quantityOf("capacitance", "input capacitance", func(m *models.Meter) *q.Farad { return &m.Input }).
			or("none").from(0).to(1e-6).orNone().usually("none, or 50 pF to 200 pF"),
		integerOf("cycles", "whole cycles over which it measures", func(m *models.Meter) *int { return &m.Cycles }).
			or("10").from(1).to(10000).usually("5 to 25"),
		integerOf("counts", "of the display", func(m *models.Meter) *int { return &m.Counts }).
			or("6000").from(1).to(1e8).usually("2000 to 60000"),
		risingly(quantitiesOf("ranges", "full scales, rising", func(m *models.Meter) *[]q.Volt { return &m.Ranges }).
			or("0.6 V, 6 V, 60 V, 600 V, 1000 V").over(0).to(1e6).usually("0.6 V to 1000 V")),
		quantityOf("accuracy", "fraction of the reading", func(m *models.Meter) *q.Ratio { return &m.Accuracy }).
			or("1 %").from(0).to(1).usually("0.5 % to 2 %"),
		numberOf("accuracy-counts", "counts of the display on top of that", func(m *models.Meter) *float64 { return &m.AccuracyCounts }).
			or("3").from(0).to(1e6).usually("2 to 10"),
	)
	l.name = "name"
	l.def = `[
	{ name = "average", detector = "average" },
	{ name = "average-coupled", detector = "average-coupled" },
	{ name = "rms-coupled", detector = "rms-coupled" },
	{ name = "rms", detector = "rms" },
	{ name = "low-impedance", detector = "rms", resistance = "3 kΩ" },
	{ name = "one-diode", detector = "average-half-wave", resistance = "2 MΩ" },
	{ name = "direct", detector = "direct" },
]`
	return l
}()

// clampList has invented, generic instruments as its default: two current
// transformers and one with a Hall sensor.
var clampList = func() list {
	l := listOf("clamp", "clamp ammeters that a reader may put round a lead",
		func(b *models.Board) *[]models.Clamp { return &b.Clamps },
		title(textOf("name", "a short name", func(m *models.Clamp) *string { return &m.Name }).needed()).from(1),
		choiceOf("detector", "law that turns a current into a number, calibrated on a sine; a coupled one for a current transformer, which passes no direct component", func(m *models.Clamp) *models.Detector { return &m.Detector }, detectorNames()...).
			needed(),
		integerOf("cycles", "whole cycles over which it measures", func(m *models.Clamp) *int { return &m.Cycles }).
			or("10").from(1).to(10000).usually("5 to 25"),
		integerOf("counts", "of the display", func(m *models.Clamp) *int { return &m.Counts }).
			or("6000").from(1).to(1e8).usually("2000 to 10000"),
		risingly(quantitiesOf("ranges", "full scales, rising", func(m *models.Clamp) *[]q.Ampere { return &m.Ranges }).
			or("60 A, 600 A").over(0).to(1e6).usually("20 A to 1000 A")),
		quantityOf("accuracy", "fraction of the reading", func(m *models.Clamp) *q.Ratio { return &m.Accuracy }).
			or("2 %").from(0).to(1).usually("1.5 % to 3 %"),
		numberOf("accuracy-counts", "counts of the display on top of that", func(m *models.Clamp) *float64 { return &m.AccuracyCounts }).
			or("5").from(0).to(1e6).usually("3 to 10"),
	)
	l.name = "name"
	l.def = `[
	{ name = "clamp-average", detector = "average-coupled" },
	{ name = "clamp-rms", detector = "rms-coupled" },
	{ name = "clamp-hall", detector = "rms" },
]`
	return l
}()

var monitorFields = []field{
	quantityOf("monitor.floor", "power below which the plug-in energy monitor shows zero", func(b *models.Board) *q.Watt { return &b.Monitor.Floor }).
		or("2 W").from(0).to(1e6).usually("0.5 W to 5 W"),
	quantityOf("monitor.period", "sampling period of its log", func(b *models.Board) *q.Second { return &b.Monitor.Period }).
		or("60 s").over(0).to(longest).usually("1 s to 300 s"),
	quantityOf("monitor.accuracy", "of current and power, fraction of the reading", func(b *models.Board) *q.Ratio { return &b.Monitor.Accuracy }).
		or("1 %").from(0).to(1).usually("0.5 % to 3 %"),
	quantityOf("monitor.current-resolution", "step of the displayed current", func(b *models.Board) *q.Ampere { return &b.Monitor.CurrentResolution }).
		or("0.01 A").from(0).to(100).usually("1 mA to 100 mA"),
	quantityOf("monitor.power-resolution", "step of the displayed power", func(b *models.Board) *q.Watt { return &b.Monitor.PowerResolution }).
		or("0.1 W").from(0).to(1e4).usually("0.1 W to 1 W"),
}

// bridgeChannel is the channel of the first node that has one.
func bridgeChannel(_ *models.Board, target any) any {
	b := target.(*models.Bridge)
	switch {
	case b.From.Place.PerChannel():
		return b.From.Channel
	case b.To.Place.PerChannel():
		return b.To.Channel
	}
	return 0
}

var bridgeList = listOf("bridge", "extra paths between two nodes: films, shorted or one-way junctions",
	func(b *models.Board) *[]models.Bridge { return &b.Bridges },
	title(textOf("name", "a short name", func(r *models.Bridge) *string { return &r.Name }).or("")),
	nodeOf("from", "one node", func(r *models.Bridge) *models.Node { return &r.From }).needed(),
	nodeOf("to", "the other", func(r *models.Bridge) *models.Node { return &r.To }).needed(),
	quantityOf("resistance", "of the path; open leaves the capacitance alone", func(r *models.Bridge) *q.Ohm { return &r.Resistance }).
		needed().over(0).orOpen().usually("1 Ω to 100 MΩ"),
	quantityOf("threshold", "voltage above which it conducts", func(r *models.Bridge) *q.Volt { return &r.Threshold }).
		or("0 V").from(0).to(1e4).usually("0 V, or 0.7 V to 1.2 V of a junction"),
	booleanOf("one-way", "it conducts only from the first node to the other", func(r *models.Bridge) *bool { return &r.OneWay }).
		or("false"),
	quantityOf("capacitance", "in parallel", func(r *models.Bridge) *q.Farad { return &r.Capacitance }).
		or("none").from(0).to(1e-2).orNone().usually("none"),
	choiceOf("part", "the part to whose losses the path belongs", func(r *models.Bridge) *models.Part { return &r.Part },
		"none", "triac", "gate", "snubber", "element", "wiring").or("none"),
	channelOf("channel", "the channel of that part", func(r *models.Bridge) *int { return &r.Channel }).
		orFrom("the channel of the first node that has one", bridgeChannel),
)
