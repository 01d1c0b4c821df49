package plots

import "math"

// places of extra paths: the two ends of the lead and its axis.
type route struct {
	lead []float64 // from the first node through the middle to the second
	at   axis      // of the middle, its direction from the first to the second
}

// route returns where an extra path lies. It leads from MT2, the gate or OUT.
func (d *schematic) route(p *pen, r SchematicRoute) route {
	sx := p.sx
	dir := 1.0
	if p.mirror != 0 {
		dir = -1
	}
	switch r {
	case AcrossTriac:
		return route{[]float64{sx(250), 80, sx(250), 53, sx(140), 53, sx(140), 80}, axis{sx(195), 53, -dir, 0}}
	case AcrossOpto:
		return route{[]float64{sx(250), 138, sx(202), 138, sx(202), 160}, axis{sx(226), 138, -dir, 0}}
	case GateToMT1:
		return route{[]float64{sx(156), 128, sx(124), 128, sx(124), 80, sx(140), 80}, axis{sx(124), 104, 0, -1}}
	case AcrossCapacitor:
		return route{[]float64{sx(184), 28, sx(184), 9, sx(140), 9, sx(140), 28}, axis{sx(162), 9, -dir, 0}}
	case OutputToEarth:
		if p.flip { // up first, since a symbol of earth hangs from its lead
			return route{[]float64{276, 80, 276, 126, 291, 126, 291, 112}, axis{276, 104, 0, 1}}
		}
		return route{[]float64{276, 80, 276, 126}, axis{276, 104, 0, 1}}
	}
	to := p.upright(130)
	return route{[]float64{469, 150, 488, 150, 488, to}, axis{488, (150 + to) / 2, 0, math.Copysign(1, to-150)}}
}

// routes draws the extra paths.
func (d *schematic) routes(p *pen) {
	for _, f := range d.Faults {
		if f.Kind == Bridged && f.Route == NoRoute {
			d.shorted(p, f.Part)
		}
		if f.Route == NoRoute {
			continue
		}
		r := d.route(p, f.Route)
		half := filmHalf
		switch {
		case f.Route == ElementToEarth:
			half = 7
		case f.Kind == OneWay:
			half = 7
		}
		if f.Kind == Bridged {
			p.line(stroke{color: vermillion, width: 2.6}, r.lead...)
		} else {
			d.broken(p, r, half)
			a := r.at
			switch f.Kind {
			case OneWay:
				if f.Reversed {
					a.ux, a.uy = -a.ux, -a.uy
				}
				p.diode(faultStroke, a, &white)
			default:
				p.resistor(dashed(faultStroke), a, half)
			}
		}
		n := len(r.lead)
		p.dot(faultStroke, r.lead[0], r.lead[1])
		if f.Route == OutputToEarth {
			p.earth(faultStroke, r.lead[n-2], r.lead[n-1])
		} else {
			p.dot(faultStroke, r.lead[n-2], r.lead[n-1])
		}
	}
}

// broken draws the lead of a route without its middle.
func (d *schematic) broken(p *pen, r route, half float64) {
	st := faultStroke
	st.width = 1.2
	for i := 0; i+3 < len(r.lead); i += 2 {
		x0, y0, x1, y1 := r.lead[i], r.lead[i+1], r.lead[i+2], r.lead[i+3]
		on := (x1-x0)*(r.at.y-y0) == (y1-y0)*(r.at.x-x0) && (r.at.x-x0)*(r.at.x-x1) <= 0 && (r.at.y-y0)*(r.at.y-y1) <= 0
		if !on {
			p.line(st, x0, y0, x1, y1)
			continue
		}
		p.line(st, x0, y0, r.at.x-half*r.at.ux, r.at.y-half*r.at.uy)
		p.line(st, r.at.x+half*r.at.ux, r.at.y+half*r.at.uy, x1, y1)
	}
}

// shorted draws a bridge over a part that has no route of its own.
func (d *schematic) shorted(p *pen, part SchematicPart) {
	st := stroke{color: vermillion, width: 2.6}
	switch part {
	case ElementPart: // over its lower half
		p.line(st, 462, 150+elementHalf+3, 445, 150+elementHalf+3, 445, 154, 455, 154)
	case ThermostatPart:
		p.line(st, 365-fuseHalf, 80, 365-fuseHalf, 70, 365+fuseHalf, 70, 365+fuseHalf, 80)
	case DrivePart:
		p.line(st, 97, 206, 97, 216)
	}
}
