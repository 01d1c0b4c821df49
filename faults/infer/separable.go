package infer

import (
	"context"
	"math"
)

// Separability tells how well a fault could be told if every test were done.
type Separability struct {
	Fault string
	// Error is the mean probability that is left to other faults: the Bayes
	// error, to within what so few draws tell.
	Error float64
}

// separableBelow is the Bayes error below which a fault counts as separable.
const separableBelow = 0.01

// Separable reports whether the fault can be told from all others.
func (s Separability) Separable() bool { return s.Error < separableBelow }

// Separate works out, before any trial, which faults on a channel all
// candidate tests together tell from all others there, from the board's own
// and from a healthy board, each as likely as the other. Each draw in turn is
// the board that is tested, and the others explain it. It takes a simulation
// of every test under every one of these hypotheses. Cancelling ctx ends it
// with nothing.
func (w *Bench) Separate(ctx context.Context, channel int) []Separability {
	var hs []int
	class := map[string]int{}
	var names []string
	variants := map[string]float64{}
	for h := range w.Hypotheses {
		x := &w.Hypotheses[h]
		if len(x.Set) > 1 || len(x.Set) == 1 && x.Channel >= 0 && x.Channel != channel {
			continue
		}
		name := faultOf(x.Name)
		if _, ok := class[name]; !ok {
			class[name] = len(names)
			names = append(names, name)
		}
		variants[name]++
		hs = append(hs, h)
	}
	w.look(hs, true)
	ts := w.Candidates([]int{channel})
	draws := len(w.draws)
	type prepared struct {
		t     Test
		sc    scale
		ks    []kernel
		meter int
	}
	var ps []prepared
	for _, t := range ts {
		if ctx.Err() != nil {
			return nil
		}
		if t.Kind == Look { // by assumption, not by simulation
			continue
		}
		if t.instrument() {
			t.Meters = []string{w.meterName(&t, 0)}
		}
		xs := w.experiments(&t)
		w.need(xs, hs)
		ss := make([]*sheet, len(xs))
		for i := range xs {
			ss[i] = w.sheet(&xs[i])
		}
		p := prepared{t: t, sc: scaleOf(&t, w.Board), meter: -1}
		if t.instrument() {
			p.meter = w.meterIndices(&t)[0]
		}
		for _, h := range hs {
			p.ks = append(p.ks, w.kernelOf(&t, xs, ss, &p.sc, h, p.meter))
		}
		ps = append(ps, p)
	}
	errors := make([]float64, len(names))
	count := make([]float64, len(names))
	for i, h := range hs {
		own := class[faultOf(w.Hypotheses[h].Name)]
		for m := range draws {
			logs := make([]float64, len(hs)*draws)
			for p := range ps {
				o := &ps[p].ks[i].outcomes[m]
				if !o.ok {
					continue
				}
				v := o.value
				for c, x := range o.chance {
					if x > o.chance[int(v)] {
						v = float64(c)
					}
				}
				dev := w.deviation(&Evidence{Test: ps[p].t, Value: v}, ps[p].meter)
				for j := range hs {
					for n := range draws {
						logs[j*draws+n] += math.Log(ps[p].ks[j].likelihood(n, &ps[p].sc, v, dev, 1))
					}
				}
			}
			most := math.Inf(-1)
			for j := range hs {
				for n := range draws {
					if n != m {
						most = math.Max(most, logs[j*draws+n])
					}
				}
			}
			total, mine := 0.0, 0.0
			for j := range hs {
				name := faultOf(w.Hypotheses[hs[j]].Name)
				for n := range draws {
					if n == m {
						continue
					}
					x := math.Exp(logs[j*draws+n]-most) / variants[name]
					total += x
					if class[name] == own {
						mine += x
					}
				}
			}
			errors[own] += 1 - mine/total
			count[own]++
		}
	}
	var out []Separability
	for i, n := range names {
		out = append(out, Separability{n, errors[i] / count[i]})
	}
	return out
}
