package plots

import (
	"math"
	"slices"
)

// maxLaneRows bounds the rows of angle labels; marks beyond them have a sign
// only.
const maxLaneRows = 2

// lane draws the marks of one kind with their angles in rows above or below a
// panel, whose side r is, and returns the height of the rows. Firings stand
// above, extinctions below.
func (w *waveforms) lane(s *scene, x scale, r rect, marks []Mark, word string) float64 {
	marks = slices.Clone(marks)
	slices.SortStableFunc(marks, func(a, b Mark) int {
		switch {
		case a.Time < b.Time:
			return -1
		case a.Time > b.Time:
			return 1
		}
		return 0
	})
	// With the word in one row, or without it in as few as it takes.
	n := 1
	texts, sizes, total := laneTexts(marks, word)
	if total > 0.9*r.width() {
		texts, sizes, total = laneTexts(marks, "")
		for n < maxLaneRows && total > 0.9*float64(n)*r.width() {
			n++
		}
	}
	height := float64(n) * laneHeight
	down := marks[0].Kind == Extinction
	type label struct {
		x, y float64
		text string
	}
	var labels []label
	for q := range n {
		var wish, size []float64
		var row []string
		used := 0.0
		for i := q; i < len(marks); i += n {
			if used += sizes[i]; used > r.width() {
				break
			}
			wish, size, row = append(wish, x.at(marks[i].Time)), append(size, sizes[i]), append(row, texts[i])
		}
		at, _ := spread(wish, size, r.x0-24, r.x1+24)
		for j := range row {
			tip, y := r.y0+height, r.y0+height-6-laneHeight*float64(q)
			edge := y + 1.5
			if down {
				tip, y = r.y0, r.y0+5.5+ascent*textSize+laneHeight*float64(q)
				edge = y - ascent*textSize - 0.5
			}
			if math.Abs(at[j]-wish[j]) > 12 || q > 0 {
				s.line(leaderStroke, point{at[j], edge}, point{wish[j], tip})
			}
			labels = append(labels, label{at[j], y, row[j]})
		}
	}
	for _, l := range labels {
		if n > 1 { // a leader may pass behind
			b := textBox(point{l.x, l.y}, measure(regular, textSize, l.text), textSize, false)
			half := b.width() / 2
			s.fill(white, rect{b.x0 - half - 1, b.y0, b.x1 - half + 1, b.y1}.corners()...)
		}
		s.text(l.x, l.y, centre, regular, textSize, ink, l.text)
	}
	for _, m := range marks {
		if down {
			s.mark(triangle, point{x.at(m.Time), r.y0 + 2.6}, 2.2, ink)
		} else {
			s.mark(openTriangle, point{x.at(m.Time), r.y0 + height - 2.6}, 2.2, ink)
		}
	}
	return height + 1
}

// laneTexts are the labels of marks, and their widths with the room about
// them.
func laneTexts(marks []Mark, word string) (texts []string, sizes []float64, total float64) {
	const pad = 6
	for _, m := range marks {
		t := word + fixed(m.Degrees, 1) + "°"
		texts = append(texts, t)
		sizes = append(sizes, measure(regular, textSize, t)+pad)
		total += sizes[len(sizes)-1]
	}
	return texts, sizes, total
}
