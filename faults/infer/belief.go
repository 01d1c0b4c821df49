package infer

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"boilwright/models"
)

// belief is the state of knowledge: a weight for each hypothesis on each draw.
type belief struct {
	w      *Bench
	weight [][]float64 // by hypothesis and draw; with other they sum to 1
	// fine are the same weights by hypothesis, draw and supply, of as many
	// supplies as levels.
	fine   [][]float64
	levels int
	other  float64
	// fits is how well each piece of evidence is explained: the probability
	// that it is a mistake or comes from outside the catalogue.
	amiss  []float64
	meters []MeterBelief
}

// MeterBelief tells which meter explains the readings made with one of which
// only the kind is known.
type MeterBelief struct {
	Of          []string // what was said of it; empty for nothing
	Names       []string // of the board's meters that it may be
	Probability []float64
}

// observed is a piece of evidence prepared for scoring.
type observed struct {
	e       *Evidence
	scale   scale
	broad   float64
	meters  []int
	kernels [][]kernel // by meter, then hypothesis
	own     []float64  // by meter
	power   float64    // of the supply's voltage, in what it shows
	// known are likelihoods that have been worked out, by meter, hypothesis,
	// draw and supply; NaN where not.
	known [][]float64
}

// likelihood is that of the evidence with a meter, under a hypothesis, on a
// draw with the supply of another, an index in Bench.supplies.
func (o *observed) likelihood(w *Bench, meter, h, m, supply int) float64 {
	draws := len(o.kernels[meter][h].outcomes)
	levels := len(w.supplies)
	if o.power == 0 {
		supply, levels = 0, 1
	}
	if o.known == nil {
		o.known = make([][]float64, len(o.meters))
		for j := range o.known {
			o.known[j] = make([]float64, len(o.kernels[j])*draws*levels)
			for i := range o.known[j] {
				o.known[j][i] = math.NaN()
			}
		}
	}
	at := &o.known[meter][(h*draws+m)*levels+supply]
	if math.IsNaN(*at) {
		*at = o.kernels[meter][h].likelihood(m, &o.scale, o.e.Value, o.own[meter], o.factor(w, m, supply))
	}
	return *at
}

// factor is that on what draw m shows were its supply another.
func (o *observed) factor(w *Bench, m, supply int) float64 {
	if o.power == 0 {
		return 1
	}
	return math.Pow(w.supplies[supply]/float64(w.draws[m].Supply.Voltage), o.power)
}

// mostSupplies is how many supplies each draw is tried with.
const mostSupplies = 6

// spreadSupplies chooses voltages of the draws, evenly by rank.
func spreadSupplies(boards []*models.Board) []float64 {
	var all []float64
	for _, b := range boards {
		all = append(all, float64(b.Supply.Voltage))
	}
	slices.Sort(all)
	n := min(mostSupplies, len(all))
	out := make([]float64, n)
	for i := range out {
		out[i] = all[(2*i+1)*len(all)/(2*n)]
	}
	return out
}

// supplyPower is the power of the supply's voltage with which what a test
// shows goes, nearly: the switching angles hardly move.
func supplyPower(t *Test) float64 {
	switch t.Kind {
	case Volts:
		if strings.HasSuffix(t.Point, ":drive") || strings.HasSuffix(t.Point, ":led") {
			return 0
		}
		return 1
	case Clamp, MonitorAmp:
		return 1
	case MonitorWatt:
		return 2
	}
	return 0
}

// First look at evidence: few draws with wide kernels tell which hypotheses
// are worth all of them. How few and how wide is assumption.
const (
	firstDraws = 2
	firstRuns  = 1    // of hours, which stand for all draws
	firstSlack = 4    // factor on the kernels' widths
	firstLeast = 1e-3 // probability
	// firstMistaken stands for the probability of a mistake: what only a
	// mistake would explain is not worth its simulations.
	firstMistaken = 1e-5
)

// prepare simulates what evidence shows under the hypotheses: under all of
// them on a few draws, and on all draws under those that could explain it.
// Voltages and temperatures on one channel under faults of another are those of
// the healthy board; see refine.
func (w *Bench) prepare(es []Evidence) []observed {
	all := make([]int, len(w.Hypotheses))
	for i := range all {
		all[i] = i
	}
	simulate := func(hs []int, draws, runs int) {
		for i := range es {
			xs := w.experiments(&es[i].Test)
			var near []int
			for _, h := range hs {
				if h == 0 || !w.elsewhere(&xs[0], h) {
					near = append(near, h)
				}
			}
			n := draws
			if xs[0].kind == Temperature {
				n = min(n, runs)
			}
			w.needDraws(xs, near, n)
			w.needDraws(xs, []int{0}, len(w.draws))
		}
	}
	values := 0
	for i := range es {
		if es[i].Test.Choices() == nil {
			values++
		}
	}
	observe := func(slack float64) []observed {
		out := make([]observed, len(es))
		for i := range es {
			out[i] = w.observe(&es[i], all)
			out[i].scale.slack, out[i].scale.together = slack, values
		}
		return out
	}
	w.glance(min(firstDraws, len(w.draws)))
	simulate(all, min(firstDraws, len(w.draws)), min(firstRuns, w.runs))
	hs := w.score(observe(firstSlack), -1).likely(firstLeast, len(all))
	w.look(hs, false)
	simulate(hs, len(w.draws), w.runs)
	return observe(0)
}

// observe makes the kernels of a piece of evidence under the hypotheses.
func (w *Bench) observe(e *Evidence, hs []int) observed {
	t := &e.Test
	o := observed{e: e, scale: scaleOf(t, w.Board), meters: []int{-1}, broad: 0, power: supplyPower(t)}
	if t.instrument() {
		o.meters = w.meterIndices(t)
	}
	if c := t.Choices(); c != nil {
		o.broad = 1 / float64(len(c))
	} else {
		o.broad = o.scale.broad()
	}
	xs := w.experiments(t)
	ss := make([]*sheet, len(xs))
	for i := range xs {
		ss[i] = w.sheet(&xs[i])
	}
	for _, m := range o.meters {
		ks := make([]kernel, len(w.Hypotheses))
		for _, h := range hs {
			ks[h] = w.kernelOf(t, xs, ss, &o.scale, h, m)
		}
		o.kernels = append(o.kernels, ks)
		o.own = append(o.own, w.deviation(e, m))
	}
	return o
}

// refine simulates exactly what was taken from the healthy board, for the
// hypotheses that matter.
func (w *Bench) refine(obs []observed, hs []int) {
	w.look(hs, true)
	for i := range obs {
		o := &obs[i]
		o.known = nil
		xs := w.experiments(&o.e.Test)
		w.need(xs, hs)
		ss := make([]*sheet, len(xs))
		for j := range xs {
			ss[j] = w.sheet(&xs[j])
		}
		for j, m := range o.meters {
			for _, h := range hs {
				o.kernels[j][h] = w.kernelOf(&o.e.Test, xs, ss, &o.scale, h, m)
			}
		}
	}
}

// instruments groups evidence by what was said of the meter: the same words
// are the same meter. Each group is the indices of its evidence.
func instruments(obs []observed) [][]int {
	var groups [][]int
	index := map[string]int{}
	for i := range obs {
		key := strings.Join(obs[i].e.Test.Meters, "|")
		if key = obs[i].e.Test.Kind.String() + " " + key; !obs[i].e.Test.instrument() {
			key = "none"
		}
		g, ok := index[key]
		if !ok {
			g = len(groups)
			index[key] = g
			groups = append(groups, nil)
		}
		groups[g] = append(groups[g], i)
	}
	return groups
}

// astray are the parts of readings that are anything at all where the fault is
// not in the catalogue, each as likely as the next: an assumption.
var astray = []float64{0.05, 0.15, 0.3, 0.5, 0.7, 0.9}

// score weighs the hypotheses by evidence; skip leaves one piece out, −1 none.
// M counts the draws on which all of it has been simulated. Each draw is tried
// with the supplies u of others:
//
//	w_hm = P(h)/M · mean over u Π_groups mean over meters Π_e L(e | h, m, meter, u)
func (w *Bench) score(obs []observed, skip int) *belief {
	b := &belief{w: w, weight: make([][]float64, len(w.Hypotheses)), amiss: make([]float64, len(obs))}
	groups := instruments(obs)
	draws := len(w.draws)
	total := 0.0
	part := 1 / float64(draws)
	levels := 1
	for i := range obs {
		if i != skip && obs[i].power != 0 {
			levels = len(w.supplies)
		}
	}
	b.levels, b.fine = levels, make([][]float64, len(w.Hypotheses))
	like := func(u int, of func(o *observed, meter, supply int) float64) float64 {
		l := 1.0
		for _, g := range groups {
			l *= groupLikelihood(obs, g, skip, len(obs[g[0]].meters), func(o *observed, j int) float64 { return of(o, j, u) })
		}
		return l / float64(levels)
	}
	for h := range w.Hypotheses {
		b.weight[h], b.fine[h] = make([]float64, draws), make([]float64, draws*levels)
		var seen []int
		for m := range draws {
			whole := true
			for i := range obs {
				whole = whole && obs[i].kernels[0][h].seen[m]
			}
			if whole {
				seen = append(seen, m)
			}
		}
		for _, m := range seen {
			prior := w.Hypotheses[h].Prior / float64(len(seen))
			for u := range levels {
				x := prior * like(u, func(o *observed, j, u int) float64 { return o.likelihood(w, j, h, m, u) })
				b.fine[h][m*levels+u] = x
				b.weight[h][m] += x
				total += x
			}
		}
	}
	for m := range draws {
		for _, a := range astray {
			for u := range levels {
				l := like(u, func(o *observed, j, u int) float64 { return o.healthyOr(w, j, m, u, a) })
				b.other += w.Priors.Other * part * l / float64(len(astray))
			}
		}
	}
	total += b.other
	if total > 0 {
		for h := range b.weight {
			for m := range b.weight[h] {
				b.weight[h][m] /= total
			}
			for i := range b.fine[h] {
				b.fine[h][i] /= total
			}
		}
		b.other /= total
	}
	return b
}

func groupLikelihood(obs []observed, group []int, skip, meters int, of func(o *observed, meter int) float64) float64 {
	sum := 0.0
	for j := range meters {
		l := 1.0
		for _, i := range group {
			if i != skip {
				l *= of(&obs[i], j)
			}
		}
		sum += l
	}
	return sum / float64(meters)
}

// healthyOr is the likelihood of evidence where the fault is not in the
// catalogue: what a healthy board shows, or in the part a anything.
func (o *observed) healthyOr(w *Bench, meter, m, supply int, a float64) float64 {
	k := &o.kernels[meter][0]
	v, own := o.e.Value, o.own[meter]
	if c := k.outcomes[m].chance; c != nil {
		return (1-a)*c[int(v)] + a*o.broad
	}
	if !k.outcomes[m].ok {
		return a * o.broad
	}
	return (1-a)*k.fit(m, &o.scale, v, own, o.factor(w, m, supply)) + a*o.broad
}

// posterior is the probability of each hypothesis.
func (b *belief) posterior() []float64 {
	p := make([]float64, len(b.weight))
	for h, ws := range b.weight {
		for _, x := range ws {
			p[h] += x
		}
	}
	return p
}

// likely lists the hypotheses of at least the probability least, the likeliest
// first, at most so many.
func (b *belief) likely(least float64, most int) []int {
	p := b.posterior()
	var hs []int
	for h := range p {
		if p[h] >= least {
			hs = append(hs, h)
		}
	}
	slices.SortStableFunc(hs, func(x, y int) int { return cmp.Compare(p[y], p[x]) })
	return hs[:min(len(hs), most)]
}

// explain fills in how well each piece of evidence is explained, and which
// meters explain it.
func (b *belief) explain(obs []observed) {
	for i := range obs {
		o := &obs[i]
		bad, total := 0.0, 0.0
		for h := range b.weight {
			for i, x := range b.fine[h] {
				if x < 1e-9 {
					continue
				}
				with, without := 0.0, 0.0
				for j := range o.meters {
					with += o.likelihood(b.w, j, h, i/b.levels, i%b.levels)
					without += mistaken * o.broad
				}
				total += x
				bad += x * math.Min(1, without/with)
			}
		}
		if total+b.other > 0 {
			b.amiss[i] = (bad + b.other) / (total + b.other)
		}
	}
	for _, g := range instruments(obs) {
		first := &obs[g[0]]
		if !first.e.Test.instrument() || len(first.meters) < 2 {
			continue
		}
		mb := MeterBelief{Of: first.e.Test.Meters}
		total := 0.0
		for j, meter := range first.meters {
			p := 0.0
			for h := range b.weight {
				for n, x := range b.fine[h] {
					if x < 1e-9 {
						continue
					}
					all, own := 0.0, 1.0
					for k := range first.meters {
						l := 1.0
						for _, i := range g {
							l *= obs[i].likelihood(b.w, k, h, n/b.levels, n%b.levels)
						}
						all += l
						if k == j {
							own = l
						}
					}
					p += x * own / all
				}
			}
			mb.Names = append(mb.Names, b.w.meterName(&first.e.Test, meter))
			mb.Probability = append(mb.Probability, p)
			total += p
		}
		for j := range mb.Probability {
			if total > 0 {
				mb.Probability[j] /= total
			}
		}
		b.meters = append(b.meters, mb)
	}
}
