package plots

import "math"

// columnWidth is the width in points of the columns within which a long
// series keeps only its first, least, greatest and last value.
const columnWidth = 0.4

// curve maps a series to the page and drops what cannot be seen: within a
// column all but the first, least, greatest and last point, then every point
// that lies within 0.02 pt of the line without it. Times must not fall.
func curve(t, v []float64, x, y scale) []point {
	pts := make([]point, 0, min(len(t), 4096))
	for i := 0; i < len(t); {
		col := math.Floor(x.at(t[i]) / columnWidth)
		j, lo, hi := i, i, i
		for j+1 < len(t) && math.Floor(x.at(t[j+1])/columnWidth) == col {
			j++
			if v[j] < v[lo] {
				lo = j
			}
			if v[j] > v[hi] {
				hi = j
			}
		}
		last := -1
		for _, k := range [4]int{i, min(lo, hi), max(lo, hi), j} {
			if k > last {
				pts = append(pts, point{x.at(t[k]), y.at(v[k])})
				last = k
			}
		}
		i = j + 1
	}
	return straighten(pts, 0.02)
}

// straighten drops points that lie within tol of the line between those that
// are kept. From each kept point it narrows the range of slopes that pass all
// later ones; a point outside the range ends the line at the one before.
func straighten(pts []point, tol float64) []point {
	if len(pts) < 3 {
		return pts
	}
	out := pts[:1:1]
	from := 0
	lo, hi := math.Inf(-1), math.Inf(1)
	for i := 1; i < len(pts); i++ {
		dx, dy := pts[i].x-pts[from].x, pts[i].y-pts[from].y
		ok := dx > 1e-9
		if ok {
			m := dy / dx
			ok = m >= lo && m <= hi
		}
		if !ok && i-1 > from {
			from = i - 1
			out = append(out, pts[from])
			lo, hi = math.Inf(-1), math.Inf(1)
			dx, dy = pts[i].x-pts[from].x, pts[i].y-pts[from].y
			ok = dx > 1e-9
		}
		if !ok { // a jump: keep both its ends
			from = i
			out = append(out, pts[from])
			lo, hi = math.Inf(-1), math.Inf(1)
			continue
		}
		lo, hi = math.Max(lo, (dy-tol)/dx), math.Min(hi, (dy+tol)/dx)
	}
	if from != len(pts)-1 {
		out = append(out, pts[len(pts)-1])
	}
	return out
}

// staircase maps means over the time since the sample before to steps.
func staircase(t, v []float64, x, y scale) []point {
	var st, sv []float64
	for i := 1; i < len(t); i++ {
		st = append(st, t[i-1], t[i])
		sv = append(sv, v[i], v[i])
	}
	return curve(st, sv, x, y)
}

// under closes a curve down to the height y.
func under(pts []point, y float64) []point {
	if len(pts) == 0 {
		return nil
	}
	out := make([]point, 0, len(pts)+2)
	out = append(out, point{pts[0].x, y})
	out = append(out, pts...)
	return append(out, point{pts[len(pts)-1].x, y})
}
