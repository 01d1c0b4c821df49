package plots

import "math"

// lit are the leads of each path, in the way in which its current counts.
func (c *cycle) lit(p *pen) [pathCount][][]float64 {
	sx := p.sx
	var out [pathCount][][]float64
	tap, up, down := 112.0, []float64{28, 153, 28, 80, 112, 80}, []float64{28, 254, 28, 181}
	if c.d.NeutralSide {
		up, down = []float64{28, 181, 28, 254, 112, 254}, []float64{112, 80, 28, 80, 28, 153}
	}
	out[SupplyCurrent] = [][]float64{up, down}
	far := []float64{462, 150, 462, 254, 28, 254, 28, 246} // past the corner, so that no notch is left there
	if c.d.NeutralSide {
		far = []float64{462, 150, 462, 254, 112, 254}
	}
	out[LoadCurrent] = [][]float64{{tap, 80, 140, 80}, {250, 80, 462, 80, 462, 150}}
	out[FarCurrent] = [][]float64{far}
	out[TriacCurrent] = [][]float64{{sx(250), 80, sx(140), 80}}
	out[OptoCurrent] = [][]float64{{sx(250), 80, sx(250), 160, sx(202), 160}}
	out[GateResistorCurrent] = [][]float64{{sx(202), 160, sx(156), 160, sx(156), 128}}
	out[GateCurrent] = [][]float64{{sx(156), 128, sx(174), 128, sx(174), 101, sx(182), 87}}
	if c.d.GateShunt {
		out[ShuntCurrent] = [][]float64{{sx(156), 128, sx(140), 128, sx(140), 80}}
	}
	if c.d.Snubber {
		out[SnubberCurrent] = [][]float64{{sx(250), 80, sx(250), 28, sx(140), 28, sx(140), 80}}
	}
	for i, r := range []SchematicRoute{AcrossTriac, AcrossOpto, GateToMT1, AcrossCapacitor, OutputToEarth, ElementToEarth} {
		lead := c.d.route(p, r).lead
		if r == ElementToEarth {
			lead = append(append([]float64(nil), lead...), 504, p.upright(130), 504, p.upright(168))
		}
		out[TriacPathCurrent+CurrentPath(i)] = [][]float64{lead}
	}
	out[LEDCurrent] = [][]float64{{99.5, 206, 254, 206, 254, 232, 99.5, 232}}
	return out
}

// order in which paths are lit: wide ones first.
var lightingOrder = []CurrentPath{SupplyCurrent, FarCurrent, LoadCurrent, TriacCurrent, TriacPathCurrent, SnubberCurrent, CapacitorPathCurrent,
	OptoCurrent, OptoPathCurrent, GateResistorCurrent, GateCurrent, ShuntCurrent, GatePathCurrent, OutputPathCurrent, ElementPathCurrent, LEDCurrent}

// moving draws what is of one frame.
func (c *cycle) moving(s *scene, frame int) {
	f := &c.Frames
	p := c.pen(s)
	leads := c.lit(p)
	for _, path := range lightingOrder {
		v := f.Currents[path]
		if v == nil {
			continue
		}
		for _, xy := range leads[path] {
			c.light(p, path, xy, v[frame])
		}
	}
	c.states(p, frame)
	c.readout(s, frame)
	c.along(s, frame)
}

// chevronEvery is how far apart arrows stand on a long lead, in points.
const chevronEvery = 34.0

// A lead with less than leastShare of the full current is dark; no lit lead is
// thinner than leastLit, in points, so that a small current shows whence it
// comes.
const (
	leastShare = 0.002
	leastLit   = 0.9
)

// light draws a lead with its current.
func (c *cycle) light(p *pen, path CurrentPath, xy []float64, amps float64) {
	g := path.group()
	st := groups[g].stroke
	share := math.Abs(amps) / c.full[g]
	if share < leastShare {
		return
	}
	st.width = math.Max(leastLit, st.width*share)
	pts := p.points(xy)
	p.s.line(st, pts...)
	if st.width < 1.4 {
		return
	}
	if amps < 0 {
		for i, j := 0, len(pts)-1; i < j; i, j = i+1, j-1 {
			pts[i], pts[j] = pts[j], pts[i]
		}
	}
	// Arrows stand in the middle of each straight piece that has room, and at
	// equal distances along a long one.
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		l := math.Hypot(b.x-a.x, b.y-a.y)
		if l < 14 {
			continue
		}
		n := max(1, int(l/chevronEvery))
		ux, uy := (b.x-a.x)/l, (b.y-a.y)/l
		h := math.Max(1.6, 0.36*st.width)
		for k := range n {
			t := (float64(k) + 0.5) / float64(n) * l
			q := point{a.x + ux*t, a.y + uy*t}
			p.s.line(stroke{color: white, width: math.Max(0.9, 0.2*st.width)},
				point{q.x - h*ux - h*uy, q.y - h*uy + h*ux}, point{q.x + 0.4*h*ux, q.y + 0.4*h*uy}, point{q.x - h*ux + h*uy, q.y - h*uy - h*ux})
		}
	}
}

// states fills the symbols that conduct and draws them again over the light.
func (c *cycle) states(p *pen, frame int) {
	f := &c.Frames
	none, lit := white, tint(vermillion, 0.55)
	fill := &none
	if f.Triac[frame] {
		fill = &lit
	}
	p.halves(c.d.stroke(TriacPart), level(195, 80), triacHalf, fill)
	green, plain := tint(bluishGreen, 0.55), white
	fill = &plain
	if f.Opto[frame] {
		fill = &green
	}
	p.halves(c.d.stroke(OptoPart), level(p.sx(225), 160), optoHalf, fill)
	glow, dark := orange, white
	fill = &dark
	light := stroke{color: slate, width: 0.6}
	if f.LED[frame] {
		fill = &glow
		light = stroke{color: orange, width: 2.2}
	}
	led := p.sx(225)
	p.diode(c.d.stroke(LEDPart), level(led, 206), fill)
	if f.LED[frame] {
		for _, dx := range []float64{-5, 5} {
			p.arrow(light, led+dx-2, 195, led+dx+3, 178, 4)
		}
	}
}
