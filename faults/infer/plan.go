package infer

import (
	"cmp"
	"math"
	"slices"
)

// plan is what is needed to value a test.
type plan struct {
	hs      []int
	weight  [][]float64
	actions []int // by hypothesis of hs
	n       int   // of actions
}

func (w *Bench) plan(b *belief) plan {
	p := plan{hs: b.likely(planFrom, planMost)}
	w.look(p.hs, true)
	index := map[string]int{}
	total := 0.0
	for _, h := range p.hs {
		do := w.Hypotheses[h].Action.Do
		i, ok := index[do]
		if !ok {
			i = len(index)
			index[do] = i
		}
		p.actions = append(p.actions, i)
		p.weight = append(p.weight, slices.Clone(b.weight[h]))
		for _, x := range b.weight[h] {
			total += x
		}
	}
	p.n = len(index)
	for i := range p.weight {
		for m := range p.weight[i] {
			p.weight[i][m] /= total
		}
	}
	return p
}

// entropy of a distribution, bits; p need not sum to 1.
func entropy(p []float64) float64 {
	sum, h := 0.0, 0.0
	for _, x := range p {
		sum += x
	}
	if sum <= 0 {
		return 0
	}
	for _, x := range p {
		if x > 0 {
			h -= x / sum * math.Log2(x/sum)
		}
	}
	return h
}

// gain is the expected information of a test about the action:
//
//	H(a) − E[H(a | outcome)]
//
// over the outcomes that the likely hypotheses show on the draws.
func (w *Bench) gain(p *plan, t *Test) float64 {
	meter := -1
	if t.instrument() {
		meter = w.meterIndices(t)[0]
	}
	xs := w.experiments(t)
	ss := make([]*sheet, len(xs))
	for i := range xs {
		ss[i] = w.sheet(&xs[i])
	}
	sc := scaleOf(t, w.Board)
	ks := make([]kernel, len(p.hs))
	prior := make([]float64, p.n)
	for i, h := range p.hs {
		ks[i] = w.kernelOf(t, xs, ss, &sc, h, meter)
		for _, x := range p.weight[i] {
			prior[p.actions[i]] += x
		}
	}
	before, after := entropy(prior), 0.0
	if c := t.Choices(); c != nil {
		for v := range c {
			post := make([]float64, p.n)
			sum := 0.0
			for i := range p.hs {
				for m, x := range p.weight[i] {
					l := x * ks[i].likelihood(m, &sc, float64(v), 0, 1)
					post[p.actions[i]] += l
					sum += l
				}
			}
			after += sum * entropy(post)
		}
		return before - after
	}
	// Draws that show the same to within the instrument's error are one outcome.
	type point struct{ y, v, weight float64 }
	var points []point
	for i := range p.hs {
		for m, x := range p.weight[i] {
			if !ks[i].outcomes[m].ok || x < 1e-7 {
				after += x * before
				continue
			}
			v, y := ks[i].outcomes[m].value, ks[i].y[m]
			points = append(points, point{y, v, x})
		}
	}
	slices.SortFunc(points, func(a, b point) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.weight, b.weight)) })
	for i := 0; i < len(points); {
		sd := w.instrument(t, meter, &sc, points[i].v)
		j, sum, at := i, 0.0, points[i]
		for j < len(points) && points[j].y-points[i].y < sd/2 {
			sum += points[j].weight
			if points[j].weight > at.weight {
				at = points[j]
			}
			j++
		}
		own := w.deviation(&Evidence{Test: *t, Value: at.v}, meter)
		post := make([]float64, p.n)
		for k := range p.hs {
			for m, x := range p.weight[k] {
				post[p.actions[k]] += x * ks[k].likelihood(m, &sc, at.v, own, 1)
			}
		}
		after += sum * entropy(post)
		i = j
	}
	return math.Max(0, before-after)
}

func (w *Bench) instrument(t *Test, meter int, sc *scale, v float64) float64 {
	return sc.error(v, w.deviation(&Evidence{Test: *t, Value: v}, meter))
}

// done reports whether a test has been done, or cannot be.
func done(t *Test, es []Evidence, cannot Exclude) bool {
	if cannot[t.Key()] {
		return true
	}
	return slices.ContainsFunc(es, func(e Evidence) bool { return e.Test.Key() == t.Key() })
}
