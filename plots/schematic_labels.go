package plots

import (
	"strconv"
	"strings"
)

// labels writes the parts' names and values.
func (d *schematic) labels(p *pen, size float64) {
	name := func(r area, al align, up int, parts ...SchematicPart) {
		var words []string
		for _, x := range parts {
			words = append(words, d.T(x.String()))
			if v := clean(d.Values[x]); v != "" {
				words = append(words, v)
			}
		}
		p.label(r, al, up, regular, size, ink, words...)
	}
	mirrored := func(r area, al align) (area, align) {
		if p.mirror == 0 {
			return r, al
		}
		return area{p.mirror - r.x1, r.y0, p.mirror - r.x0, r.y1}, right - al
	}
	terminal := func(r area, t string) {
		r, al := mirrored(r, centre)
		p.label(r, al, 0, regular, size, slate, t)
	}
	p.label(area{45, 176, 82, 216}, left, -1, regular, size, ink, strings.Split(clean(d.Values[SupplyPart]), ", ")...)
	line, neutral := "L", "N"
	if d.NeutralSide {
		line, neutral = neutral, line
	}
	p.label(area{8, 62, 24, 78}, right, 1, bold, size, ink, line)
	p.label(area{8, 256, 24, 272}, right, -1, bold, size, ink, neutral)
	if y := d.rail(); d.Upstream {
		if d.NeutralSide {
			name(area{36, y + 8, 106, y + 38}, left, -1, UpstreamLinkPart)
		} else {
			name(area{36, y - 43, 106, y - 8}, left, 1, UpstreamLinkPart)
		}
	}
	if !d.Alone {
		r := area{24, 8, 106, 36}
		if d.NeutralSide {
			r = area{120, 262, 330, 290}
			p.label(r, left, 0, regular, size, slate, d.T("to the other channels"))
		} else {
			p.label(r, right, -1, regular, size, slate, d.T("to the other channels"))
		}
	}
	if d.Snubber {
		p.label(area{257, 6, 327, 50}, left, -1, regular, size, ink, d.T("snubber"), strings.Trim(clean(d.Values[SnubberResistorPart])+" + "+clean(d.Values[SnubberCapacitorPart]), " +"))
	}
	terminal(area{144, 84, 170, 98}, "MT1")
	terminal(area{220, 84, 246, 98}, "MT2")
	r, al := mirrored(area{192, 100, 246, 114}, right)
	name(r, al, 0, TriacPart)
	if d.GateShunt {
		r, al = mirrored(area{38, 90, 113, 134}, right)
		if p.mirror != 0 && d.earthed() {
			r.x0, r.x1 = 308, 366
		}
		name(r, al, 0, GateShuntPart)
	}
	r, al = mirrored(area{84, 138, 151, 180}, right)
	name(r, al, 0, GateResistorPart)
	r, al = mirrored(area{262, 142, 340, 182}, left)
	note := d.T("turns on near zero only")
	if !d.ZeroCross {
		note = d.T("turns on at any phase")
	}
	if p.mirror != 0 {
		r.x0 = 58
	}
	p.label(r, al, 0, regular, size, ink, d.T(OptoPart.String())+",", note)
	p.label(area{268, 196, 352, 240}, left, 0, regular, size, slate, d.T("control side, extra-low voltage"))
	drive := d.T(DrivePart.String())
	if v := clean(d.Values[DrivePart]); v != "" {
		drive += " " + v
	}
	p.label(area{102, 213, 250, 227}, left, 0, regular, size, ink, drive)
	out := area{254, 62, 282, 76}
	if p.mirror != 0 { // the gate's leads are on this side
		out = area{281, 62, 308, 76}
	}
	p.label(out, left, 0, regular, size, slate, "OUT")
	if d.Thermostat {
		name(area{326, 26, 388, 66}, centre, 1, ThermostatPart)
	}
	link := area{392, 26, 470, 66}
	if !d.Thermostat {
		link.x0 = 362
	}
	name(link, left, 1, LinkPart)
	name(area{366, 126, 440, 172}, right, 0, ElementPart)
	pe := area{496, 182, 512, 196}
	if p.flip {
		pe.y0, pe.y1 = p.upright(pe.y1), p.upright(pe.y0)
	}
	p.label(pe, centre, -1, bold, size, ink, "PE")
}

// earthed reports whether a path leads from OUT to earth.
func (d *schematic) earthed() bool {
	for _, f := range d.Faults {
		if f.Route == OutputToEarth {
			return true
		}
	}
	return false
}

// spot is where the number of a fault stands.
func (d *schematic) spot(p *pen, f SchematicFault) (x, y float64, ok bool) {
	switch f.Route {
	case AcrossTriac:
		return p.sx(162), 53, true
	case AcrossOpto:
		return p.sx(250), 122, true
	case GateToMT1:
		return p.sx(124), 74, true
	case AcrossCapacitor:
		return p.sx(188), 15, true
	case OutputToEarth:
		if p.flip {
			return 289, 137, true
		}
		return 291, 112, true
	case ElementToEarth:
		return 492, p.upright(152), true
	}
	type place struct{ x, y float64 }
	at, known := map[SchematicPart]place{
		SupplyPart: {50, 152}, TriacPart: {p.sx(222), 67}, GateLead: {p.sx(188), 120},
		GateResistorPart: {p.sx(186), 144}, GateShuntPart: {p.sx(156), 112}, OptoPart: {p.sx(200), 175}, DrivePart: {122, 194},
		SnubberResistorPart: {p.sx(222), 11}, SnubberCapacitorPart: {p.sx(165), 9}, WirePart: {318, 62}, ThermostatPart: {365, 93},
		LinkPart: {410, 96}, ElementPart: {440, 196}, EarthLead: {518, 150},
	}[f.Part]
	switch f.Part {
	case LEDPart:
		return p.sx(225) + 20, 193, true
	case NeutralLead:
		if d.NeutralSide {
			return 66, 96, true
		}
		return 66, 240, true
	case UpstreamLinkPart:
		if d.NeutralSide {
			return 77, 238, true
		}
		return 28, 108, true
	}
	return at.x, at.y, known
}

// discs numbers the faults at their marks; what shares a place shares a disc.
func (d *schematic) discs(p *pen, size float64) {
	var places [][2]float64
	var texts []string
	for i, f := range d.Faults {
		x, y, ok := d.spot(p, f)
		if !ok {
			continue
		}
		n := strconv.Itoa(i + 1)
		for j, q := range places {
			if q == [2]float64{x, y} {
				texts[j] += "," + n
				n = ""
			}
		}
		if n != "" {
			places, texts = append(places, [2]float64{x, y}), append(texts, n)
		}
	}
	for i, q := range places {
		p.s.numbered(p.at(q[0], q[1]), size, texts[i])
	}
}
