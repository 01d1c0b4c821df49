package infer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"boilwright/sim/readings"
)

// Advice is a test with what it is worth.
type Advice struct {
	Test    Test
	Gain    float64 // expected information about the action, bits
	Caution string
	// Expect is what it would show under the likeliest suspects.
	Expect []Expectation
	// Limit warns of what happens while the test lasts; empty for nothing.
	Limit string
}

// Expectation is what a test shows under a suspect.
type Expectation struct {
	Suspect string
	Text    string
}

// Limits of the search for a test: assumptions.
const (
	leastGain = 0.02 // bits below which a test is not worth its while
	worth     = 0.10 // bits at which a safer test is taken before any riskier one
	planFrom  = 2e-3 // probability from which a hypothesis counts in planning
	planMost  = 32   // of them at most
)

// Candidates lists the tests that may be advised for some channels.
func (w *Bench) Candidates(channels []int) []Test {
	var out []Test
	add := func(k Kind, change func(t *Test)) {
		t := newTest(k)
		change(&t)
		if w.CheckTest(&t) == nil {
			out = append(out, t)
		}
	}
	for _, d := range []string{fuseDevice, residualDevice} {
		add(Tripped, func(t *Test) { t.Device = d })
	}
	for _, s := range []readings.State{readings.Standby, readings.Heating} {
		add(MonitorWatt, func(t *Test) { t.State = s })
		add(MonitorAmp, func(t *Test) { t.State = s })
		add(Volts, func(t *Test) { t.State, t.Point = s, "supply" })
	}
	add(Volts, func(t *Test) { t.State, t.Point = readings.Standby, "line-earth" })
	add(Unplugged, func(t *Test) { t.Instrument = readings.Insulation })
	add(LidWarm, func(t *Test) {})
	for _, ch := range channels {
		name := w.Board.Channels[ch].Name
		on := func(k Kind, change func(t *Test)) {
			add(k, func(t *Test) { t.Channel = ch; change(t) })
		}
		at := func(k Kind, point string, change func(t *Test)) {
			add(k, func(t *Test) { t.Point = name + ":" + point; change(t) })
		}
		for _, s := range Sights {
			on(Look, func(t *Test) { t.Sight = s })
		}
		for _, p := range []string{"element", "link", "output", "triac", "gate", "gate-resistor", "opto-output", "thermostat"} {
			at(Unplugged, p, func(t *Test) { t.Instrument = readings.Ohmmeter })
		}
		for _, p := range []string{"triac", "gate", "opto-output"} {
			for _, r := range []bool{false, true} {
				at(Unplugged, p, func(t *Test) { t.Instrument, t.Reversed = readings.DiodeTest, r })
			}
		}
		for _, p := range []string{"led", "transistor-base"} {
			at(Unplugged, p, func(t *Test) { t.Instrument = readings.DiodeTest })
		}
		at(Unplugged, "transistor", func(t *Test) { t.Instrument = readings.Ohmmeter })
		on(ProbeOhms, func(*Test) {})
		for _, s := range []readings.State{readings.Standby, readings.Heating} {
			on(Warms, func(t *Test) { t.State = s })
			for _, p := range []string{"output", "drive", "triac", "link"} {
				at(Volts, p, func(t *Test) { t.State = s })
			}
		}
		on(Warms, func(t *Test) { t.State, t.Pulled = readings.Heating, ch })
		for other := range w.Board.Channels {
			if other != ch {
				on(Warms, func(t *Test) { t.State, t.With = readings.Heating, other })
				break
			}
		}
		at(Volts, "led", func(t *Test) { t.State = readings.Heating })
		at(Volts, "output", func(t *Test) { t.State, t.Pulled = readings.Standby, ch })
		on(Indicator, func(*Test) {})
		on(WarmUp, func(*Test) {})
		for _, m := range []int{20, 60} {
			on(Temperature, func(t *Test) { t.State, t.Minutes = readings.Heating, m })
		}
		on(Temperature, func(t *Test) { t.State, t.Minutes = readings.Standby, 20 })
	}
	return out
}

// long reports whether the outcome of a test takes a run of hours to simulate.
func (t *Test) long() bool {
	switch t.Kind {
	case Indicator, Temperature, WarmUp, LidWarm:
		return true
	}
	return false
}

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

// outside is the probability of something that is not in the catalogue up to
// which an action can be settled: an assumption.
const outside = 0.05

// done reports whether a test has been done, or cannot be.
func done(t *Test, es []Evidence, cannot Exclude) bool {
	if cannot[t.Key()] {
		return true
	}
	return slices.ContainsFunc(es, func(e Evidence) bool { return e.Test.Key() == t.Key() })
}

// advise decides whether to stop, or which test comes next.
func (w *Bench) advise(d *Diagnosis, b *belief, obs []observed, cannot Exclude) {
	p := w.plan(b)
	if b.other > 0.5 {
		d.Stop = "no fault of the catalogue explains what was seen: check the readings, and look for something else"
	}
	if len(d.Actions) > 0 && d.Actions[0].Probability >= decided*(1-b.other) && b.other <= outside {
		d.Decided = true
		d.Stop = "what remains unknown would not change what to do"
	}
	if d.Decided {
		d.Confirm = w.confirm(p.hs)
	}
	if d.Stop != "" {
		return
	}
	var channels []int
	for _, h := range p.hs {
		for _, j := range w.Hypotheses[h].Set {
			if j.Channel >= 0 && !slices.Contains(channels, j.Channel) && len(channels) < len(w.Board.Channels) {
				channels = append(channels, j.Channel)
			}
		}
	}
	slices.Sort(channels)
	meters := lastMeters(d.Evidence, w)
	var ranked []Advice
	candidates := w.Candidates(channels)
	// Safer tests first, and among them those that need no run of hours: once
	// one gains enough, no riskier one is looked at.
	every := true
	for risk := Closed; risk <= LiveMains; risk++ {
		for _, long := range []bool{false, true} {
			if len(ranked) > 0 && ranked[0].Gain >= worth {
				every = every && risk == LiveMains && long // of which there are none
				continue
			}
			var ts []Test
			var xs []experiment
			for _, t := range candidates {
				if t.Kind == Volts {
					t.Meters = meters
				}
				if t.long() == long && t.Risk().level() == risk && !done(&t, d.Evidence, cannot) {
					ts = append(ts, t)
					xs = append(xs, w.experiments(&t)...)
				}
			}
			w.need(xs, p.hs)
			for i := range ts {
				if g := w.gain(&p, &ts[i]); g >= leastGain {
					ranked = append(ranked, Advice{Test: ts[i], Gain: g, Caution: ts[i].Caution()})
				}
			}
			order(ranked)
		}
	}
	if len(ranked) == 0 {
		d.Stop = "no test that is known here separates what is left"
		d.Confirm = w.confirm(p.hs)
	} else {
		for i := range ranked {
			ranked[i].Expect = w.expect(&p, &ranked[i].Test)
		}
		ranked[0].Limit = w.limit(&p, &ranked[0].Test)
		d.Next, d.Others = &ranked[0], ranked[1:min(len(ranked), 6)]
	}
	d.Unlikely = w.exclusions(b, candidates, d, cannot)
	if every { // otherwise there are tests that have not been looked at
		d.Alike = w.alike(&p, ranked)
	}
}

// lastMeters are the meters of the last reading, to be used again; else the
// board's first.
func lastMeters(es []Evidence, w *Bench) []string {
	for i := len(es) - 1; i >= 0; i-- {
		if es[i].Test.Kind == Volts && len(es[i].Test.Meters) > 0 {
			return es[i].Test.Meters
		}
	}
	return []string{w.Board.Meters[0].Name}
}

// order sorts advice: of the tests of the least risk that gain enough, the one
// that gains most in its time; a riskier one only where no safer one gains
// enough or as much.
func order(a []Advice) {
	class := func(x *Advice) int {
		r := x.Test.Risk().level()
		if x.Gain < worth {
			return int(LiveMains) + 1 + int(r)
		}
		return int(r)
	}
	slices.SortStableFunc(a, func(x, y Advice) int {
		return cmp.Or(cmp.Compare(class(&x), class(&y)), cmp.Compare(y.Gain/y.Test.Effort(), x.Gain/x.Test.Effort()))
	})
}

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

// limit tells how long there is before a thermal link opens while a test with
// the supply on lasts, from a cold start, where that is soon.
func (w *Bench) limit(p *plan, t *Test) string {
	if r := t.Risk(); r == Dead || r == LowVoltage && t.State == readings.Standby {
		return ""
	}
	state := readings.Standby
	if t.State == readings.Heating {
		state = readings.Heating
	}
	x := experiment{kind: Temperature, state: state, pulled: -1, exchanged: none, about: -1}
	hs := p.hs[:min(len(p.hs), 3)]
	w.need([]experiment{x}, hs)
	s := w.sheet(&x)
	n := len(w.Board.Channels)
	soonest, which := math.Inf(1), 0
	for _, h := range hs {
		for m := range w.runs {
			r := s.rows[h*len(w.draws)+m]
			if len(r) == 0 {
				continue
			}
			for ch := range n {
				if v := r[linkOpensIndex(n, ch)]; v < soonest {
					soonest, which = v, ch
				}
			}
		}
	}
	if math.IsInf(soonest, 1) {
		return ""
	}
	return fmt.Sprintf("from cold %s can reach its thermal link in as little as %.0f minutes with the supply on, sooner when warm: measure, then unplug", w.Board.Channels[which].Name, math.Floor(soonest))
}

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
