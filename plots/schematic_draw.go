package plots

import (
	"math"
	"strconv"
	"strings"
)

// Sizes of a schematic in its own units.
const (
	schematicWidth = 532.0
	schematicUp    = 274.0 // height with the triac in the line
	schematicDown  = 296.0 // and in the neutral
	switchAxis     = 2 * 195.0
)

var (
	partStroke  = stroke{color: ink, width: 1.1}
	faultStroke = stroke{color: vermillion, width: 1.7}
	boxStroke   = stroke{color: slate, width: 0.5, dash: []float64{4, 2}}
)

// newPen places the diagram with its corner at x, y and k points a unit.
func (d *schematic) newPen(s *scene, x, y, k float64) *pen {
	p := &pen{s: s, x: x, y: y, k: k, h: d.height(), flip: d.NeutralSide}
	if d.MT1Load {
		p.mirror = switchAxis
	}
	return p
}

func (d *schematic) height() float64 {
	if d.NeutralSide {
		return schematicDown
	}
	return schematicUp
}

// draw lays the sheet's body out below y.
func (d *schematic) draw(s *scene, y float64) float64 {
	width := s.w - 2*margin
	k := math.Min(width/schematicWidth, 1.6)
	x := margin + (width-k*schematicWidth)/2
	size := textSize * math.Max(1, math.Min(1.3, k))
	d.diagram(d.newPen(s, x, y, k), size)
	y += k*d.height() + 4
	return d.legend(s, margin, y, width, textSize)
}

// legend lists the faults by the numbers at their marks.
func (d *schematic) legend(s *scene, x, y, width, size float64) float64 {
	for i, f := range d.Faults {
		y += 3
		text := clean(f.Text)
		if where := d.where(f); !strings.Contains(text, where) {
			text += " – " + where
		}
		r := 0.78 * size
		s.numbered(point{x + r, y + 0.62*size}, size, strconv.Itoa(i+1))
		for _, l := range wrap(regular, size, width-2*r-6, text) {
			s.text(x+2*r+6, y+ascent*size+0.12*size, left, regular, size, ink, l)
			y += 1.25 * size
		}
	}
	return y
}

// numbered draws the mark of a fault: a number on a dark disc.
func (s *scene) numbered(p point, size float64, text string) {
	r := 0.78 * size
	half := math.Max(0, measure(bold, size, text)/2-0.3*size)
	var pts []point
	for i := range 37 {
		sn, cs := math.Sincos(math.Pi/2 + math.Pi*float64(i)/36)
		pts = append(pts, point{p.x - half + r*cs, p.y + r*sn})
	}
	for i := range 37 {
		sn, cs := math.Sincos(-math.Pi/2 + math.Pi*float64(i)/36)
		pts = append(pts, point{p.x + half + r*cs, p.y + r*sn})
	}
	s.fill(ink, pts...)
	s.text(p.x, p.y+middle(size), centre, bold, size, white, text)
}

// stroke is how a part is drawn.
func (d *schematic) stroke(p SchematicPart) stroke {
	if d.altered[p] {
		return faultStroke
	}
	return partStroke
}

// diagram draws the circuit with labels in the given size.
func (d *schematic) diagram(p *pen, size float64) {
	d.supply(p)
	d.mainPath(p)
	d.gatePath(p)
	d.snubber(p)
	d.control(p)
	d.routes(p)
	d.labels(p, size)
	d.discs(p, size)
}

// rail is the y of the conductor on which the link ahead of all channels lies.
func (d *schematic) rail() float64 {
	if d.NeutralSide {
		return 254
	}
	return 80
}

func (d *schematic) supply(p *pen) {
	st := partStroke
	p.source(d.stroke(SupplyPart), 28, 167, 14)
	line, neutral := 80.0, 254.0
	if d.NeutralSide {
		line, neutral = neutral, line
	}
	for _, y := range []float64{80, 254} {
		end := []float64{140, y}
		if y == 254 { // up to the element
			end = []float64{462, y, 462, 228}
		}
		start := 153.0
		if y == 254 {
			start = 181
		}
		// The neutral lead's own stretch is at the supply: it may carry a
		// resistance or be broken.
		switch {
		case y == line && d.Upstream:
			p.line(st, 28, start, 28, y, 77-fuseHalf, y)
			p.thermalLink(d.stroke(UpstreamLinkPart), level(77, y), d.open[UpstreamLinkPart])
			if d.open[UpstreamLinkPart] {
				p.parted(level(77, y))
			}
			p.line(st, append([]float64{77 + fuseHalf, y}, end...)...)
		case y == neutral && (d.open[NeutralLead] || d.added[NeutralLead]):
			p.line(st, 28, start, 28, y, 46, y)
			p.lead(st, faultStroke, d.open[NeutralLead], d.added[NeutralLead], 46, y, 104, y)
			p.line(st, append([]float64{104, y}, end...)...)
		default:
			p.line(st, append([]float64{28, start, 28, y}, end...)...)
		}
	}
	if !d.Alone {
		y := d.rail()
		end := 36.0
		if d.NeutralSide {
			end = 286
		}
		p.dot(st, 112, y)
		p.arrow(st, 112, y, 112, end, 5)
	}
}

// parted draws the strokes of an open path across a link.
func (p *pen) parted(a axis) {
	p.line(faultStroke, a.to(-6, 9, -2, -9)...)
	p.line(faultStroke, a.to(2, 9, 6, -9)...)
}

func (d *schematic) mainPath(p *pen) {
	st := partStroke
	p.lead(st, faultStroke, d.open[TriacPart], d.added[TriacPart], p.sx(140), 80, p.sx(195-triacHalf), 80)
	p.line(st, p.sx(195+triacHalf), 80, p.sx(250), 80)
	p.halves(d.stroke(TriacPart), level(195, 80), triacHalf, nil)
	// From the triac's terminal to the contact or link.
	next := 410 - fuseHalf
	if d.Thermostat {
		next = 365 - fuseHalf
	}
	p.lead(st, faultStroke, d.open[WirePart], d.added[WirePart], 250, 80, next, 80)
	if d.Thermostat {
		p.thermostat(d.stroke(ThermostatPart), level(365, 80), d.open[ThermostatPart])
		p.line(st, 365+fuseHalf, 80, 410-fuseHalf, 80)
	}
	p.thermalLink(d.stroke(LinkPart), level(410, 80), d.open[LinkPart])
	if d.open[LinkPart] {
		p.parted(level(410, 80))
	}
	p.line(st, 410+fuseHalf, 80, 462, 80, 462, 150-elementHalf)
	p.heater(d.stroke(ElementPart), plumb(462, 150))
	p.lead(st, faultStroke, d.open[ElementPart], d.added[ElementPart], 462, 150+elementHalf, 462, 228)
	// The element's metal sheath is earthed.
	p.outline(boxStroke, 449, 116, 475, 116, 475, 184, 449, 184)
	from, to := p.upright(130), p.upright(168)
	p.line(st, 475, from, 504, from)
	p.lead(st, faultStroke, d.open[EarthLead], d.added[EarthLead], 504, from, 504, to)
	p.earth(st, 504, to)
	p.dot(st, 250, 80)
	p.dot(st, 140, 80)
}

func (d *schematic) gatePath(p *pen) {
	st := partStroke
	gate := 80 + triacHalf
	p.line(st, p.sx(195-triacHalf), gate-6, p.sx(174), gate+8, p.sx(174), 110)
	p.lead(st, faultStroke, d.open[GateLead], d.added[GateLead], p.sx(174), 104, p.sx(174), 128)
	p.line(st, p.sx(174), 128, p.sx(156), 128, p.sx(156), 160, p.sx(174-resistorHalf), 160)
	if d.GateShunt {
		p.line(st, p.sx(140), 80, p.sx(140), 104-resistorHalf)
		p.resistor(d.stroke(GateShuntPart), plumb(p.sx(140), 104), resistorHalf)
		p.lead(st, faultStroke, d.open[GateShuntPart], d.added[GateShuntPart], p.sx(140), 104+resistorHalf, p.sx(140), 128)
		p.line(st, p.sx(140), 128, p.sx(156), 128)
	}
	if d.GateShunt {
		p.dot(st, p.sx(156), 128)
	}
	p.resistor(d.stroke(GateResistorPart), level(p.sx(174), 160), resistorHalf)
	p.lead(st, faultStroke, d.open[GateResistorPart], false, p.sx(174+resistorHalf), 160, p.sx(202), 160)
	p.lead(st, faultStroke, d.open[OptoPart], d.added[OptoPart], p.sx(202), 160, p.sx(225-optoHalf), 160)
	p.halves(d.stroke(OptoPart), level(p.sx(225), 160), optoHalf, nil)
	p.line(st, p.sx(225+optoHalf), 160, p.sx(250), 160, p.sx(250), 80)
}

func (d *schematic) snubber(p *pen) {
	if !d.Snubber {
		return
	}
	st := partStroke
	p.line(st, p.sx(140), 80, p.sx(140), 28)
	p.lead(st, faultStroke, d.open[SnubberCapacitorPart], d.added[SnubberCapacitorPart], p.sx(140), 28, p.sx(165-plateHalf), 28)
	p.capacitor(d.stroke(SnubberCapacitorPart), level(p.sx(165), 28))
	p.lead(st, faultStroke, d.open[SnubberResistorPart], d.added[SnubberResistorPart], p.sx(165+plateHalf), 28, p.sx(222-resistorHalf), 28)
	p.resistor(d.stroke(SnubberResistorPart), level(p.sx(222), 28), resistorHalf)
	p.line(st, p.sx(222+resistorHalf), 28, p.sx(250), 28, p.sx(250), 80)
}

// control is the extra-low-voltage side: drive, series resistor and LED.
func (d *schematic) control(p *pen) {
	st := partStroke
	p.outline(boxStroke, 84, 188, 264, 188, 264, 242, 84, 242)
	led, res := p.sx(225), p.sx(165)
	first, second := res, led
	if led < res {
		first, second = led, res
	}
	for _, y := range []float64{206, 232} {
		p.outline(st, circle(97, y, 2.5)...)
	}
	p.lead(st, faultStroke, d.open[DrivePart], d.added[DrivePart], 99.5, 206, first-resistorHalf, 206)
	p.lead(st, faultStroke, d.open[LEDPart], d.added[LEDPart], first+resistorHalf, 206, second-resistorHalf, 206)
	p.line(st, second+resistorHalf, 206, 254, 206, 254, 232, 99.5, 232)
	p.resistor(d.stroke(DrivePart), level(res, 206), resistorHalf)
	p.diode(d.stroke(LEDPart), level(led, 206), nil)
	p.line(st, led-resistorHalf, 206, led-7, 206)
	p.line(st, led+7, 206, led+resistorHalf, 206)
	light := st
	light.width = 0.9
	for _, dx := range []float64{-5, 5} {
		p.arrow(light, led+dx-2, 195, led+dx+3, 178, 4)
	}
}
