package infer

import (
	"math"
	"slices"
)

// Exclusion is a suspect that is unlikely but not excluded, with the unplugged
// test that tells it best from the first one.
type Exclusion struct {
	Suspect     string
	Probability float64
	Test        Test
	Shows       string // under the suspect
}

// Unlikely suspects that are named: their probabilities, and how many;
// assumptions.
const (
	unlikelyFrom = 2e-4
	unlikelyTo   = 2e-2
	unlikelyMost = 2
)

// exclusions names unlikely single faults with other remedies than the first
// suspect's.
func (w *Bench) exclusions(b *belief, candidates []Test, d *Diagnosis, cannot Exclude) []Exclusion {
	hs := b.likely(unlikelyFrom/4, len(w.Hypotheses))
	if len(hs) == 0 {
		return nil
	}
	top := hs[0]
	var out []Exclusion
	for _, s := range d.Suspects {
		if s.Probability < unlikelyFrom || s.Probability > unlikelyTo || s.Action == w.Hypotheses[top].Action.Do || len(out) == unlikelyMost {
			continue
		}
		i := slices.IndexFunc(hs, func(h int) bool { return w.Hypotheses[h].Name == s.Name })
		if i < 0 || len(w.Hypotheses[hs[i]].Set) != 1 || w.Hypotheses[hs[i]].Channel != w.Hypotheses[top].Channel {
			continue
		}
		p := plan{hs: []int{top, hs[i]}}
		w.look(p.hs, true)
		x := Exclusion{Suspect: s.Name, Probability: s.Probability}
		least := 0.5
		for _, t := range candidates {
			if t.Kind != Unplugged || done(&t, d.Evidence, cannot) {
				continue
			}
			w.need(w.experiments(&t), p.hs)
			if o := w.overlap(&p, &t, 0, 1); o < 0.9*least {
				least, x.Test, x.Shows = o, t, w.showsUnder(&t, hs[i])
			}
		}
		if x.Shows != "" {
			out = append(out, x)
		}
	}
	return out
}

// alike groups suspects that no remaining test separates: two are alike where
// the distributions of every test overlap by more than half.
func (w *Bench) alike(p *plan, ranked []Advice) [][]string {
	hs := p.hs[:min(len(p.hs), 12)]
	var groups [][]string
	taken := map[string]bool{}
	for i, h := range hs {
		name := w.Hypotheses[h].Name
		if taken[name] {
			continue
		}
		group := []string{name}
		for j := i + 1; j < len(hs); j++ {
			other := w.Hypotheses[hs[j]].Name
			if other == name || taken[other] || slices.Contains(group, other) {
				continue
			}
			apart := slices.ContainsFunc(ranked, func(a Advice) bool { return w.overlap(p, &a.Test, i, j) < 0.5 })
			if !apart {
				group = append(group, other)
			}
		}
		if len(group) > 1 {
			for _, g := range group {
				taken[g] = true
			}
			groups = append(groups, group)
		}
	}
	return groups
}

// overlap is the probability that a test's outcome under hypothesis i of the
// plan speaks as much for j: Σ min(p_i, p_j) for choices, and for values the
// mean of min(1, p_j/p_i) over the outcomes under i.
func (w *Bench) overlap(p *plan, t *Test, i, j int) float64 {
	meter := -1
	if t.instrument() {
		meter = w.meterIndices(t)[0]
	}
	xs := w.experiments(t)
	ss := make([]*sheet, len(xs))
	for k := range xs {
		ss[k] = w.sheet(&xs[k])
	}
	sc := scaleOf(t, w.Board)
	a, b := w.kernelOf(t, xs, ss, &sc, p.hs[i], meter), w.kernelOf(t, xs, ss, &sc, p.hs[j], meter)
	mean := func(k *kernel, v, own float64) float64 {
		sum := 0.0
		for m := range k.outcomes {
			sum += k.likelihood(m, &sc, v, own, 1)
		}
		return sum / float64(len(k.outcomes))
	}
	sum := 0.0
	if c := t.Choices(); c != nil {
		for v := range c {
			sum += math.Min(mean(&a, float64(v), 0), mean(&b, float64(v), 0))
		}
		return sum
	}
	n := 0.0
	for m := range a.outcomes {
		if !a.outcomes[m].ok {
			continue
		}
		v := a.outcomes[m].value
		own := w.deviation(&Evidence{Test: *t, Value: v}, meter)
		sum += math.Min(1, mean(&b, v, own)/mean(&a, v, own))
		n++
	}
	if n == 0 {
		return 1
	}
	return sum / n
}
