package plots

import "math"

// scale maps values to a length on the page.
type scale struct {
	lo, hi float64 // values
	a, b   float64 // the points of lo and hi
}

func (s scale) at(v float64) float64 {
	return s.a + (v-s.lo)/(s.hi-s.lo)*(s.b-s.a)
}

// steps are the distances between ticks by decade.
var steps = []float64{1, 2, 5}

// tickStep returns the least step of 1, 2 or 5 times a power of ten that
// gives at most n intervals over span.
func tickStep(span float64, n int) float64 {
	raw := span / math.Max(1, float64(n))
	decade := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, f := range steps {
		if f*decade >= raw*(1-1e-9) {
			return f * decade
		}
	}
	return 10 * decade
}

// ticks returns the multiples of step within [lo, hi].
func ticks(lo, hi, step float64) []float64 {
	var t []float64
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step; k++ {
		v := k * step
		if v == 0 {
			v = 0 // no negative zero
		}
		t = append(t, v)
	}
	return t
}

// decimals is how many decimals multiples of step need.
func decimals(step float64) int {
	d := 0
	for d < 9 && math.Abs(step-math.Round(step)) > 1e-6*step {
		step *= 10
		d++
	}
	return d
}

// tickCount is how many intervals fit a length when each needs room.
func tickCount(length, room float64) int { return max(1, int(length/room)) }

// balanced is a value scale about zero for values up to size, which then
// reach the given share of the half height of r.
func balanced(size, share float64, r rect) scale {
	top := size / share
	return scale{-top, top, r.y1, r.y0}
}

// spanning is a value scale for values from lo to hi with a little room at
// both ends and at least the span least.
func spanning(lo, hi, least float64, r rect) scale {
	if d := least - (hi - lo); d > 0 {
		lo, hi = lo-d/2, hi+d/2
	}
	room := 0.04 * (hi - lo)
	return scale{lo - room, hi + room, r.y1, r.y0}
}

// valueStep chooses the distance of ticks on a value scale: a comfortable one,
// or a tighter one where else no tick but zero would be left.
func valueStep(lo, hi, length float64) float64 {
	room := 15.0
	if length > 150 {
		room = 26
	}
	step := tickStep(hi-lo, tickCount(length, room))
	if len(ticks(lo, hi, step)) < 2 {
		step = tickStep(hi-lo, tickCount(length, 9.5))
	}
	return step
}

// valueAxis draws the ticks and labels of a value scale at the left or right
// side of r, with gridlines from the left axis; p says how values are
// written. Labels stay as far from the ends of r as inset says.
func (s *scene) valueAxis(r rect, sc scale, p prefix, side align, inset float64) {
	step := valueStep(sc.lo/p.factor, sc.hi/p.factor, math.Abs(sc.b-sc.a))
	d := decimals(step)
	x, out := r.x0, -1.0
	if side == right {
		x, out = r.x1, 1
	}
	for _, v := range ticks(sc.lo/p.factor, sc.hi/p.factor, step) {
		y := sc.at(v * p.factor)
		if side == left && v != 0 {
			s.line(gridStroke, point{r.x0, y}, point{r.x1, y})
		}
		s.line(axisStroke, point{x, y}, point{x + out*tickLength, y})
		if y < r.y0+inset || y > r.y1-inset {
			continue
		}
		// The text ends at a left axis and begins at a right one.
		s.text(x+out*(tickLength+2), y+middle(textSize), right-side, regular, textSize, ink, fixed(v, d))
	}
	s.line(axisStroke, point{x, r.y0}, point{x, r.y1})
}

// Insets of tick labels: where other text may adjoin, and where none does.
const (
	adjoined = 3.5
	free     = 0
)

// timeUnit is the unit in which a span of seconds is drawn.
type timeUnit struct {
	name    string
	seconds float64
	steps   []float64 // between ticks, in the unit
}

var (
	milliseconds = timeUnit{"ms", 1e-3, []float64{0.5, 1, 2, 5, 10, 20, 50, 100}}
	seconds      = timeUnit{"s", 1, []float64{1, 2, 5, 10, 15, 30, 60}}
	minutes      = timeUnit{"min", 60, []float64{0.5, 1, 2, 5, 10, 15, 20, 30, 60}}
	hours        = timeUnit{"h", 3600, []float64{0.25, 0.5, 1, 2, 3, 4, 6, 12, 24, 48}}
)

// timeUnitFor chooses the unit of a run's axis.
func timeUnitFor(span float64) timeUnit {
	switch {
	case span <= 180:
		return seconds
	case span <= 4*3600:
		return minutes
	}
	return hours
}

// when writes an instant of a run.
func (u timeUnit) when(t float64) string {
	d := 1
	switch u.name {
	case "h":
		d = 2
	}
	return fixed(t/u.seconds, d) + " " + u.name
}

// step chooses the distance of ticks over sc, in the unit.
func (u timeUnit) step(sc scale) float64 {
	lo, hi := sc.lo/u.seconds, sc.hi/u.seconds
	if n := len(u.steps); hi-lo < 2*u.steps[0] || hi-lo > 12*u.steps[n-1] {
		return labelStep(lo, hi, sc.b-sc.a, nil)
	}
	return labelStep(lo, hi, sc.b-sc.a, u.steps)
}

// labelStep chooses the least of rising steps, by default round ones, at
// which tick labels stand apart along a horizontal axis.
func labelStep(lo, hi, length float64, candidates []float64) float64 {
	if candidates == nil {
		for n := 20; n > 1; n-- {
			candidates = append(candidates, tickStep(hi-lo, n))
		}
	}
	const apart = 12
	for _, st := range candidates {
		d, widest := decimals(st), 0.0
		for _, v := range []float64{math.Ceil(lo/st) * st, math.Floor(hi/st) * st} {
			widest = math.Max(widest, measure(regular, textSize, fixed(v, d)))
		}
		if st/(hi-lo)*length >= widest+apart {
			return st
		}
	}
	return tickStep(hi-lo, 1)
}

// timeAxis draws the time axis below y over the scale sc (seconds), with the
// title, and returns the y of its lower side.
func (s *scene) timeAxis(y float64, sc scale, u timeUnit) float64 {
	step := u.step(sc)
	d := decimals(step)
	s.line(axisStroke, point{sc.a, y}, point{sc.b, y})
	for _, v := range ticks(sc.lo/u.seconds, sc.hi/u.seconds, step) {
		x := sc.at(v * u.seconds)
		s.line(axisStroke, point{x, y}, point{x, y + tickLength})
		s.text(x, y+tickLength+2+ascent*textSize, centre, regular, textSize, ink, fixed(v, d))
	}
	y += tickLength + 2 + textSize + 2
	b := s.text((sc.a+sc.b)/2, y+ascent*textSize, centre, regular, textSize, ink, s.T("time")+", "+u.name)
	return b.y1
}
