package infer

import (
	"math"
	"slices"
	"strings"
)

// expect writes what a test shows under the likeliest suspects, over the
// degrees and polarities of each that are likely.
func (w *Bench) expect(p *plan, t *Test) []Expectation {
	var out []Expectation
	for i, h := range p.hs {
		name := w.Hypotheses[h].Name
		at := slices.IndexFunc(out, func(x Expectation) bool { return x.Suspect == name })
		sum := 0.0
		for _, x := range p.weight[i] {
			sum += x
		}
		switch text := w.showsUnder(t, h); {
		case text == "":
		case at < 0 && len(out) < 4:
			out = append(out, Expectation{name, text})
		case at >= 0 && sum > 0.01 && !slices.Contains(strings.Split(out[at].Text, " or "), text):
			out[at].Text += " or " + text
		}
	}
	return out
}

// showsUnder writes the range of what a test shows under a hypothesis.
func (w *Bench) showsUnder(t *Test, h int) string {
	low, high, choice, ok := w.rangeUnder(t, h)
	switch {
	case !ok:
		return ""
	case choice >= 0:
		return t.Choices()[choice]
	case t.Show(low) == t.Show(high):
		return t.Show(low)
	}
	return strings.TrimSuffix(t.Show(low), " "+t.unit()) + ".." + t.Show(high)
}

// Shows writes what a test shows under suspects, given by name, over all of
// their degrees: the range over the draws, or the likeliest choice.
func (w *Bench) Shows(t *Test, suspects []string) []Expectation {
	var out []Expectation
	for _, name := range suspects {
		var texts []string
		for h := range w.Hypotheses {
			if w.Hypotheses[h].Name != name {
				continue
			}
			if text := w.showsUnder(t, h); text != "" && !slices.Contains(texts, text) {
				texts = append(texts, text)
			}
		}
		out = append(out, Expectation{name, strings.Join(texts, " or ")})
	}
	return out
}

// Range is where what a test shows lies under a suspect, over all of its
// degrees and the boards drawn; in the test's unit, +Inf where it reads open.
type Range struct {
	Suspect   string
	Low, High float64
}

// Ranges returns where what a test shows lies under suspects, given by name;
// those under which it shows nothing, and all of a test with choices, are left
// out.
func (w *Bench) Ranges(t *Test, suspects []string) []Range {
	var out []Range
	for _, name := range suspects {
		r := Range{name, math.Inf(1), math.Inf(-1)}
		for h := range w.Hypotheses {
			if w.Hypotheses[h].Name != name {
				continue
			}
			if low, high, choice, ok := w.rangeUnder(t, h); ok && choice < 0 {
				r.Low, r.High = math.Min(r.Low, low), math.Max(r.High, high)
			}
		}
		if r.Low <= r.High {
			out = append(out, r)
		}
	}
	return out
}

func (w *Bench) rangeUnder(t *Test, h int) (low, high float64, choice int, ok bool) {
	meter := -1
	if t.instrument() {
		meter = w.meterIndices(t)[0]
	}
	xs := w.experiments(t)
	w.look([]int{h}, true)
	w.need(xs, []int{h})
	ss := make([]*sheet, len(xs))
	for i := range xs {
		ss[i] = w.sheet(&xs[i])
	}
	sc := scaleOf(t, w.Board)
	k := w.kernelOf(t, xs, ss, &sc, h, meter)
	low, high, choice = math.Inf(1), math.Inf(-1), -1
	var chance []float64
	for _, o := range k.outcomes {
		switch {
		case !o.ok:
		case o.chance != nil:
			if chance == nil {
				chance = make([]float64, len(o.chance))
			}
			for i, c := range o.chance {
				chance[i] += c
			}
			ok = true
		default:
			low, high, ok = math.Min(low, o.value), math.Max(high, o.value), true
		}
	}
	for i := range chance {
		if choice < 0 || chance[i] > chance[choice] {
			choice = i
		}
	}
	return low, high, choice, ok
}
