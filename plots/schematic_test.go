package plots

import (
	"fmt"
	"strings"
	"testing"
)

// demoSchematic is a channel with its triac in the line and four faults.
func demoSchematic() SchematicInput {
	return SchematicInput{
		Channel: "dye", GateShunt: true, Snubber: true, ZeroCross: true, Upstream: true,
		Values: map[SchematicPart]string{
			SupplyPart: "230 V, 50 Hz", GateResistorPart: "330 Ω", GateShuntPart: "1 kΩ", SnubberResistorPart: "100 Ω", SnubberCapacitorPart: "10 nF",
			LinkPart: "126 °C", ElementPart: "35.3 Ω", DrivePart: "12 V", UpstreamLinkPart: "104 °C", ThermostatPart: "90 °C",
		},
		Faults: []SchematicFault{
			{Kind: Film, Part: ElsewherePart, Route: AcrossOpto, Text: "film-opto: 10 kΩ"},
			{Kind: Gap, Part: ElementPart, Text: "element-open"},
			{Kind: OneWay, Part: ElsewherePart, Route: AcrossTriac, Text: "triac-one-way"},
			{Kind: Altered, Part: OptoPart, Text: "opto-half-wave"},
		},
	}
}

// demoSchematicNeutral is a healthy channel with its triac in the neutral,
// main terminal 1 to the load.
func demoSchematicNeutral() SchematicInput {
	in := demoSchematic()
	in.NeutralSide, in.MT1Load, in.Thermostat, in.Faults = true, true, true, nil
	return in
}

// TestSchematicLabels puts every mark on every variant of the circuit and asks
// that no label lies over another.
func TestSchematicLabels(t *testing.T) {
	var marks []SchematicFault
	for r := AcrossTriac; r <= ElementToEarth; r++ {
		for _, kind := range []FaultKind{Film, Bridged, OneWay} {
			marks = append(marks, SchematicFault{Kind: kind, Part: ElsewherePart, Route: r, Text: "path"})
		}
	}
	for p := range ElsewherePart {
		for _, kind := range []FaultKind{Gap, Altered, Added} {
			marks = append(marks, SchematicFault{Kind: kind, Part: p, Text: "part"})
		}
	}
	for variant := range 64 {
		in := demoSchematic()
		in.Faults = nil
		bit := func(n int) bool { return variant>>n&1 == 1 }
		in.NeutralSide, in.MT1Load, in.Upstream, in.Thermostat, in.GateShunt, in.Snubber = bit(0), bit(1), bit(2), bit(3), bit(4), bit(5)
		for i := 0; i < len(marks); i += mostMarks {
			in.Faults = nil
			for _, f := range marks[i:min(i+mostMarks, len(marks))] {
				if f.Route != AcrossCapacitor || in.Snubber {
					in.Faults = append(in.Faults, f)
				}
			}
			s, err := Schematic(in)
			widths := []float64{minWidth} // the tightest
			if variant%8 == 0 {
				widths = append(widths, defaultWidth)
			}
			checkLabels(t, must(t, s, err), widths...)
			if t.Failed() {
				t.Fatalf("variant %06b, marks from %d", variant, i)
			}
		}
	}
}

func TestSchematicAlternative(t *testing.T) {
	s, err := Schematic(demoSchematic())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(),
		"Circuit diagram: Circuit of channel dye.",
		"From line to neutral: link ahead of all channels 104 °C, triac, load wire, thermal link 126 °C, heating element 35.3 Ω.",
		"Main terminal 1 of the triac points to the supply.", "From main terminal 2 to the gate: optotriac, gate resistor 330 Ω.",
		"From gate to main terminal 1: gate-to-MT1 resistor 1 kΩ.", "Across the triac: snubber resistor 100 Ω, snubber capacitor 10 nF.",
		"Fault 1: film-opto: 10 kΩ, across the opto output.", "Fault 2: element-open, heating element.")
	contains(t, "caption", s.Caption(), "IEC 60617", "A dashed resistor: a path that does not belong there.", "mains voltage")
	s, err = Schematic(demoSchematicNeutral())
	must(t, s, err)
	contains(t, "text alternative", s.Alt(), "From line to neutral: link ahead of all channels 104 °C, heating element 35.3 Ω, thermal link 126 °C, thermostat 90 °C, load wire, triac.",
		"Main terminal 1 of the triac points to the load.", "No fault is marked.")
	rows := map[string]string{}
	parts := s.Data()[0]
	for i := range parts.Rows() {
		rows[parts.Columns[0].Text[i]] = parts.Columns[1].Text[i]
	}
	if rows["snubber capacitor"] != "10 nF" || rows["thermostat"] != "90 °C" {
		t.Errorf("found parts %v", rows)
	}
}

// TestSchematicShowsFaults asks that a fault changes the drawing where it is:
// a gap takes a piece of lead away, a path adds one.
func TestSchematicShowsFaults(t *testing.T) {
	length := func(in SchematicInput, fault bool) (sum float64) {
		s, err := Schematic(in)
		sc := must(t, s, err).layout(defaultWidth)
		for _, it := range sc.items {
			if it.kind == lineItem && (it.stroke.color == vermillion) == fault {
				for i := 1; i < len(it.pts); i++ {
					dx, dy := it.pts[i].x-it.pts[i-1].x, it.pts[i].y-it.pts[i-1].y
					sum += max(dx, -dx) + max(dy, -dy)
				}
			}
		}
		return sum
	}
	in := demoSchematic()
	in.Faults = nil
	if l := length(in, true); l != 0 {
		t.Errorf("healthy: found %g pt in the colour of faults, want none", l)
	}
	whole := length(in, false)
	for p := TriacPart; p < ElsewherePart; p++ {
		if p == ThermostatPart || p == LinkPart {
			continue // drawn open by their symbols
		}
		in.Faults = []SchematicFault{{Kind: Gap, Part: p}}
		if p == ElementPart || p == EarthLead || p == WirePart || p == TriacPart {
			if l := length(in, false); l > whole-9 {
				t.Errorf("gap in %v: found %.1f pt of leads, want about 10 less than %.1f", p, l, whole)
			}
		}
		if l := length(in, true); l < 20 {
			t.Errorf("gap in %v: found %.1f pt in the colour of faults, want two strokes", p, l)
		}
	}
	for r := AcrossTriac; r <= ElementToEarth; r++ {
		in.Faults = []SchematicFault{{Kind: Film, Part: ElsewherePart, Route: r}}
		if l := length(in, true); l < 50 {
			t.Errorf("film %s: found %.1f pt in the colour of faults, want a path", routeWords[r], l)
		}
	}
}

func TestSchematicErrors(t *testing.T) {
	for want, f := range map[string]SchematicFault{
		`fault 1, "x": found kind 9, expected one of the kinds of mark`:                                                      {Kind: 9, Text: "x"},
		`fault 1, "x": found part 99 and route 0, expected a part and a route of the schematic`:                              {Part: 99, Text: "x"},
		`fault 1, "x": found no route, expected one for an extra path`:                                                       {Kind: Film, Text: "x"},
		`fault 1, "x": found a path across a snubber that is not fitted, expected one that is`:                               {Kind: Film, Route: AcrossCapacitor, Text: "x"},
		`fault 1, "x": found part 0 and route -1, expected a part and a route of the schematic`:                              {Route: -1, Text: "x"},
		fmt.Sprintf(`fault 1, "x": found part %d and route 0, expected a part and a route of the schematic`, int(partCount)): {Part: partCount, Text: "x"},
	} {
		in := demoSchematic()
		in.Snubber, in.Faults = false, []SchematicFault{f}
		checkError(t, want, func() (*Sheet, error) { return Schematic(in) })
	}
	in := demoSchematic()
	in.Faults = make([]SchematicFault, 10)
	checkError(t, "found 10 faults, expected at most 9 in one schematic", func() (*Sheet, error) { return Schematic(in) })
	if s := SchematicPart(-1).String(); !strings.Contains(s, "-1") {
		t.Errorf("found %q for no part", s)
	}
}
