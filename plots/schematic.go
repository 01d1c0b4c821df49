package plots

import (
	"fmt"
)

// SchematicPart is a part of a channel as a schematic shows it.
type SchematicPart int

// The parts, in the order in which current meets them.
const (
	SupplyPart SchematicPart = iota
	NeutralLead
	UpstreamLinkPart
	TriacPart
	GateLead
	GateResistorPart
	GateShuntPart
	OptoPart
	LEDPart
	DrivePart
	SnubberResistorPart
	SnubberCapacitorPart
	WirePart
	ThermostatPart
	LinkPart
	ElementPart
	EarthLead
	ElsewherePart // not in the circuit: probes, boilers, other channels
	partCount
)

var schematicPartNames = [partCount]string{
	"supply", "neutral lead", "link ahead of all channels", "triac", "gate lead", "gate resistor", "gate-to-MT1 resistor", "optotriac",
	"LED", "drive", "snubber resistor", "snubber capacitor", "load wire", "thermostat", "thermal link", "heating element",
	"protective earth", "outside this circuit",
}

func (p SchematicPart) String() string {
	if p < 0 || p >= partCount {
		return fmt.Sprintf("part(%d)", int(p))
	}
	return schematicPartNames[p]
}

// SchematicRoute is a place where an extra path lies in a schematic.
type SchematicRoute int

// The routes of extra paths.
const (
	NoRoute         SchematicRoute = iota
	AcrossTriac                    // MT2 to MT1
	AcrossOpto                     // MT2 to the gate resistor
	GateToMT1                      // gate to MT1
	AcrossCapacitor                // snubber tap to MT1
	OutputToEarth                  // OUT to protective earth
	ElementToEarth                 // inside the element to protective earth
)

var routeWords = [...]string{
	"", "across the triac", "across the opto output", "from gate to MT1", "across the snubber capacitor",
	"from OUT to protective earth", "from the element to protective earth",
}

// FaultKind is how a fault is drawn.
type FaultKind int

// The kinds of mark.
const (
	Altered FaultKind = iota // the part is drawn heavily: a value is not the healthy one
	Gap                      // the part's lead is broken
	Film                     // a dashed resistor on Route
	Bridged                  // a solid bridge on Route, or over the part
	OneWay                   // a diode on Route
	Added                    // a dashed resistor in series, in the part's lead
)

// SchematicFault is a fault marked on its part.
type SchematicFault struct {
	Kind  FaultKind
	Part  SchematicPart  // of Altered, Gap, Added and, without a Route, Bridged
	Route SchematicRoute // of Film, Bridged, OneWay
	// Reversed turns the diode of OneWay: it then passes current from MT1, not
	// toward it.
	Reversed bool
	Text     string // "film-opto: 47 kΩ"
}

// SchematicInput is what a schematic shows: the circuit of one channel.
type SchematicInput struct {
	Heading
	Channel     string
	NeutralSide bool // the triac lies in the neutral
	MT1Load     bool // main terminal 1 points to the load
	Upstream    bool // a thermal link ahead of all channels
	Thermostat  bool
	GateShunt   bool
	Snubber     bool
	// ZeroCross tells that the optotriac turns on near the supply's zeros only.
	ZeroCross bool
	// Alone leaves out the lead to the other channels.
	Alone  bool
	Values map[SchematicPart]string // "360 Ω", beside the part's name
	Faults []SchematicFault         // at most 9
}

// mostMarks bounds the faults of one schematic.
const mostMarks = 9

// Schematic builds the circuit diagram of one channel in symbols of IEC 60617,
// laid out from the board's structure, with faults marked on their parts. An
// error names the fault and what was expected.
func Schematic(in SchematicInput) (*Sheet, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	d := newSchematic(in)
	title := d.T("Circuit of one channel")
	if c := clean(in.Channel); c != "" {
		title = d.F("Circuit of channel %s", c)
	}
	s := in.Heading.sheet(title, d.aid())
	s.alt = d.alternative(s)
	s.data = []Table{d.table()}
	s.body = d.draw
	return s, nil
}

func (in *SchematicInput) check() error {
	if n := len(in.Faults); n > mostMarks {
		return fmt.Errorf("found %d faults, expected at most %d in one schematic", n, mostMarks)
	}
	for i, f := range in.Faults {
		where := fmt.Sprintf("fault %d, %q", i+1, f.Text)
		if f.Kind < Altered || f.Kind > Added {
			return fmt.Errorf("%s: found kind %d, expected one of the kinds of mark", where, f.Kind)
		}
		if f.Part < 0 || f.Part >= partCount || f.Route < 0 || int(f.Route) >= len(routeWords) {
			return fmt.Errorf("%s: found part %d and route %d, expected a part and a route of the schematic", where, f.Part, f.Route)
		}
		routed := f.Kind == Film || f.Kind == OneWay || f.Kind == Bridged && f.Part == ElsewherePart
		if routed && f.Route == NoRoute {
			return fmt.Errorf("%s: found no route, expected one for an extra path", where)
		}
		if f.Route == AcrossCapacitor && !in.Snubber {
			return fmt.Errorf("%s: found a path across a snubber that is not fitted, expected one that is", where)
		}
	}
	return nil
}

// schematic is a diagram being built.
type schematic struct {
	SchematicInput
	*Language
	open    [partCount]bool
	added   [partCount]bool
	altered [partCount]bool
}

func newSchematic(in SchematicInput) *schematic {
	d := &schematic{SchematicInput: in, Language: in.Heading.Language}
	for _, f := range in.Faults {
		switch f.Kind {
		case Gap:
			d.open[f.Part] = true
		case Added:
			d.added[f.Part] = true
		case Altered:
			d.altered[f.Part] = true
		}
	}
	return d
}

// has reports whether the diagram has a part at all.
func (d *schematic) has(p SchematicPart) bool {
	switch p {
	case UpstreamLinkPart:
		return d.Upstream
	case ThermostatPart:
		return d.Thermostat
	case GateShuntPart:
		return d.GateShunt
	case SnubberResistorPart, SnubberCapacitorPart:
		return d.Snubber
	}
	return p != ElsewherePart
}

// where says in words where a fault is.
func (d *schematic) where(f SchematicFault) string {
	if f.Route != NoRoute {
		return d.T(routeWords[f.Route])
	}
	return d.T(f.Part.String())
}
