package plots

import (
	"math"
	"slices"
)

// spread places things of the given sizes along a line, in the order of their
// wishes, so that none overlaps another and the sum of squared distances from
// the wished centres is least; it returns the centres. It is isotonic
// regression by pooling of adjacent violators. ok is false where lo to hi is
// too short for all.
func spread(wish, size []float64, lo, hi float64) (at []float64, ok bool) {
	n := len(wish)
	at = make([]float64, n)
	if n == 0 {
		return at, true
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case wish[a] < wish[b]:
			return -1
		case wish[a] > wish[b]:
			return 1
		}
		return 0
	})
	// With gap[i] the distance of i from the first when all touch, the wish
	// less the gap must not fall.
	gap := make([]float64, n)
	for i := 1; i < n; i++ {
		gap[i] = gap[i-1] + (size[order[i-1]]+size[order[i]])/2
	}
	type pool struct {
		sum float64
		n   int
	}
	var pools []pool
	for i, k := range order {
		pools = append(pools, pool{wish[k] - gap[i], 1})
		for m := len(pools); m > 1 && pools[m-2].sum/float64(pools[m-2].n) >= pools[m-1].sum/float64(pools[m-1].n); m-- {
			pools[m-2] = pool{pools[m-2].sum + pools[m-1].sum, pools[m-2].n + pools[m-1].n}
			pools = pools[:m-1]
		}
	}
	first, last := lo+size[order[0]]/2, hi-size[order[n-1]]/2-gap[n-1]
	ok = last >= first-1e-9
	i := 0
	for _, p := range pools {
		q := p.sum / float64(p.n)
		q = math.Max(first, math.Min(q, math.Max(first, last)))
		for range p.n {
			at[order[i]] = q + gap[i]
			i++
		}
	}
	return at, ok
}

// pennant is a label that stands above a line at x: its text begins at the line,
// or ends there where it would pass the right border.
type pennant struct {
	x, w   float64 // the line, the text's width
	x0, x1 float64 // the text, with padding
	row    int     // from 0, the lowest
	toLeft bool
}

// pennantPad is the room about a pennant's text.
const pennantPad = 3.0

// raise gives every pennant a row so that no text overlaps another and no line
// crosses a text: a text that spans the line of another pennant stands above
// that pennant. Where two span each other's lines, the earlier stands above;
// where that runs in a circle, one of the circle has lines behind its text.
func raise(f []pennant, lo, hi float64) (rows int) {
	for i := range f {
		f[i].settle(lo, hi)
	}
	spans := func(a, b int) bool { return f[b].x > f[a].x0 && f[b].x < f[a].x1 }
	above := make([][]int, len(f)) // those that each must stand above
	for i := range f {
		for j := range f {
			if j != i && spans(i, j) && !(spans(j, i) && j < i) {
				above[i] = append(above[i], j)
			}
		}
	}
	placed := make([]bool, len(f))
	for range f {
		i := lowest(above, placed)
		row := 0
		for j := range f {
			if placed[j] && spans(i, j) {
				row = max(row, f[j].row+1)
			}
		}
		for taken := true; taken; {
			taken = false
			for j := range f {
				if placed[j] && f[j].row == row && f[i].x0 < f[j].x1 && f[j].x0 < f[i].x1 {
					row++
					taken = true
				}
			}
		}
		f[i].row, placed[i] = row, true
		rows = max(rows, row+1)
	}
	return rows
}

// settle puts the text to the right of the line, to the left where it would
// pass hi, or as far right as it goes where it fits neither.
func (f *pennant) settle(lo, hi float64) {
	f.x0, f.x1 = f.x-pennantPad/2, f.x+f.w+pennantPad
	if f.x1 <= hi {
		return
	}
	f.toLeft = true
	f.x0, f.x1 = f.x-f.w-pennantPad, f.x+pennantPad/2
	if f.x0 < lo {
		f.x1 = math.Min(hi, lo+f.w+pennantPad)
		f.x0 = f.x1 - f.w - pennantPad
	}
}

// lowest returns the one that is to be placed next: the one that, directly or
// not, must stand above the fewest that are not placed, the later of equals.
// Without circles it stands above none.
func lowest(above [][]int, placed []bool) int {
	best, fewest := -1, 0
	for i := range above {
		if placed[i] {
			continue
		}
		seen := make([]bool, len(above))
		seen[i] = true
		todo, n := []int{i}, 0
		for len(todo) > 0 {
			k := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			for _, j := range above[k] {
				if !placed[j] && !seen[j] {
					seen[j] = true
					todo = append(todo, j)
					n++
				}
			}
		}
		if best < 0 || n <= fewest {
			best, fewest = i, n
		}
	}
	return best
}
