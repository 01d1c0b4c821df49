package infer

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"boilwright/sim"
	"boilwright/sim/readings"
)

// outcome is what a test shows under one hypothesis on one draw: a value in
// the test's unit, or the probabilities of its choices.
type outcome struct {
	value  float64
	chance []float64
	ok     bool
}

// Thresholds of what people notice: assumptions.
const (
	scorchWatts = 1.0  // W in the gate path above which a resistor discolours
	scorched    = 0.8  // probability that it then shows
	warmLid     = 8.0  // K above the room that is felt as warm
	coldBelow   = 0.15 // part of rated power that is still "no"
	halfBelow   = 0.75 // and that is still "half"
	beepBelow   = 30.0 // Ω
	slip        = 0.01 // probability of a choice misread
	blunder     = 1e-3 // probability that cold is taken for warm, or full for nothing
)

// outcome reads a test's outcome off the rows of its experiments; meter is
// the index of the meter, for Volts.
func (w *Bench) outcome(t *Test, rows [][]float64, h, meter int) outcome {
	n := len(w.Board.Channels)
	for _, r := range rows {
		if len(r) == 0 {
			return outcome{}
		}
	}
	value := func(v float64) outcome { return outcome{value: v, ok: true} }
	yes := func(p float64) outcome {
		p = slip + (1-2*slip)*p
		return outcome{chance: []float64{1 - p, p}, ok: true}
	}
	r := rows[0]
	switch t.Kind {
	case Volts:
		for i, class := range w.classesOf(t) {
			for j, k := range class {
				if k == meter {
					return value(rows[i][j])
				}
			}
		}
		return outcome{}
	case Unplugged:
		if t.Instrument == readings.Continuity {
			return yes(below(math.Log10(math.Max(r[0], 1e-3)), math.Log10(beepBelow), 0.1))
		}
		return value(r[0])
	case ProbeOhms:
		return value(r[0])
	case Clamp:
		return value(r[meter])
	case Temperature:
		return value(r[shownIndex(t.Channel, stepOf(t.Minutes))])
	case WarmUp:
		return value(math.Min(r[reachedIndex(n, t.Channel)], neverReach))
	case Indicator:
		c := make([]float64, len(t.Choices()))
		at := int(r[indicatorIndex(n, t.Channel)]) - int(sim.Heating)
		for i := range c {
			c[i] = slip
			if i == at {
				c[i] = 1 - slip*float64(len(c)-1)
			}
		}
		return outcome{chance: c, ok: at >= 0 && at < len(c)}
	case LidWarm:
		return yes(1 - below(r[lidIndex(n)], warmLid, 2))
	case Tripped:
		at := powerSingle(n, fuseRatio)
		if t.Device != fuseDevice {
			at = powerSingle(n, residualRatio)
		}
		return yes(1 - below(math.Max(rows[0][at], rows[1][at]), 1, 0.02))
	case Look:
		p := w.Priors.sight(t.Sight, &w.Hypotheses[h], t.Channel)
		if t.Sight == Sights[0] {
			p = math.Max(p, scorched*(1-below(r[powerIndex(n, gatePower, t.Channel)], scorchWatts, 0.2)))
		}
		return outcome{chance: []float64{1 - p, p}, ok: true}
	case Warms:
		x := r[powerIndex(n, powerRatio, t.Channel)]
		no, atMostHalf := below(x, coldBelow, 0.04), below(x, halfBelow, 0.07)
		return outcome{chance: misread([]float64{no, math.Max(0, atMostHalf-no), 1 - atMostHalf}), ok: true}
	case MonitorWatt:
		return value(r[powerSingle(n, plugWatts)])
	case MonitorAmp:
		return value(r[powerSingle(n, plugAmps)])
	}
	return outcome{}
}

// misread is what people say of ordered choices with the given probabilities:
// now and then the one beside it, rarely one further off.
func misread(c []float64) []float64 {
	out := make([]float64, len(c))
	for i, p := range c {
		rest := p
		for j := range out {
			if j == i {
				continue
			}
			off := slip
			if j-i > 1 || i-j > 1 {
				off = blunder
			}
			out[j] += off * p
			rest -= off * p
		}
		out[i] += rest
	}
	return out
}

// below is the probability that something noticed about x counts as below a
// threshold, which people and parts have with the deviation sd.
func below(x, threshold, sd float64) float64 {
	return distuv.UnitNormal.CDF((threshold - x) / sd)
}

const (
	fuseDevice     = "fuse"
	residualDevice = "residual-current device"
)

// classesOf are the meters of the experiments of a test, in their order.
func (w *Bench) classesOf(t *Test) [][]int {
	var out [][]int
	for _, members := range w.classes {
		for _, i := range members {
			if t.takes(w.Board.Meters[i].Name) {
				out = append(out, members)
				break
			}
		}
	}
	return out
}

// mistaken is the probability ε that a reading is a mistake: an assumption.
const mistaken = 0.003

// bandwidth is the part of the spread between draws that each draw's kernel
// has where d values are scored together on each of M draws, Scott's rule:
//
//	M^(−1/(d + 4))
//
// (Scott, Multivariate density estimation, 1992, section 6.3.3): the more values,
// the wider, as fewer draws are near in all of them.
func bandwidth(m, d int) float64 { return math.Pow(float64(m), -1/float64(d+4)) }

// kernel is a test with what it shows under one hypothesis, draw by draw.
type kernel struct {
	outcomes []outcome // by draw
	y        []float64 // of values
	width    []float64 // distance in y from each draw to its neighbours
	spread   float64   // standard deviation of y over the draws
	seen     []bool    // by draw: it has been simulated
}

// kernelOf collects the outcomes of a test under a hypothesis.
func (w *Bench) kernelOf(t *Test, xs []experiment, ss []*sheet, sc *scale, h, meter int) kernel {
	k := kernel{outcomes: make([]outcome, len(w.draws)), seen: make([]bool, len(w.draws)), y: make([]float64, len(w.draws)), width: make([]float64, len(w.draws))}
	rows := make([][]float64, len(xs))
	var with []int
	sum, square := 0.0, 0.0
	for m := range w.draws {
		k.seen[m] = true
		for i := range xs {
			rows[i] = w.row(&xs[i], ss[i], h, m)
			k.seen[m] = k.seen[m] && rows[i] != nil
		}
		o := w.outcome(t, rows, h, meter)
		k.outcomes[m] = o
		if !o.ok {
			continue
		}
		if o.chance == nil {
			k.y[m] = sc.y(o.value)
			with = append(with, m)
			sum, square = sum+k.y[m], square+sq(k.y[m])
		}
	}
	n := float64(len(with))
	if n < 2 {
		return k
	}
	k.spread = math.Sqrt(math.Max(0, square-sum*sum/n) / (n - 1))
	near := make([]float64, 0, len(with))
	for _, m := range with {
		near = near[:0]
		for _, o := range with {
			if o != m {
				near = append(near, math.Abs(k.y[o]-k.y[m]))
			}
		}
		slices.Sort(near)
		k.width[m] = near[len(near)/neighbours]
	}
	return k
}

// neighbours tells which neighbour's distance bounds the width of a draw's
// kernel, one in so many of all: draws that fall into two lots stay two.
const neighbours = 3

// likelihood is that of evidence of value v under draw m, by density on the
// test's scale for values and by probability for choices; own is the standard
// deviation of the instrument in the test's unit, and factor that on what the
// draw shows, see [Bench.supplies].
func (k *kernel) likelihood(m int, sc *scale, v, own, factor float64) float64 {
	o := &k.outcomes[m]
	eps := mistaken
	if sc.slack > 0 {
		eps = firstMistaken
	}
	if o.chance != nil {
		broad := 1 / float64(len(o.chance))
		return (1-eps)*o.chance[int(v)] + eps*broad
	}
	if !o.ok {
		return eps * sc.broad()
	}
	return (1-eps)*k.fit(m, sc, v, own, factor) + eps*sc.broad()
}

// fit is the normal density of value v under draw m.
func (k *kernel) fit(m int, sc *scale, v, own, factor float64) float64 {
	spread := math.Min(k.width[m], k.spread*bandwidth(len(k.outcomes), max(1, sc.together)))
	sd := math.Hypot(sc.error(v, own), spread)
	if sc.slack > 0 {
		sd *= sc.slack
	}
	y := k.y[m]
	if factor != 1 {
		y = sc.y(factor * k.outcomes[m].value)
	}
	return density(sc.y(v), y, sd)
}

// deviation is the instrument's standard deviation for evidence of value v.
func (w *Bench) deviation(e *Evidence, meter int) float64 {
	if e.Uncertainty > 0 {
		return e.Uncertainty / math.Sqrt(3) // an even distribution within the bounds
	}
	switch e.Test.Kind {
	case Volts:
		return meterDeviation(&w.Board.Meters[meter], e.Value)
	case Clamp:
		_, res, unc, _ := w.Board.Clamps[meter].Display(e.Value)
		return (unc + res/2) / math.Sqrt(3)
	case MonitorWatt:
		return float64(w.Board.Monitor.Accuracy)*math.Abs(e.Value)/math.Sqrt(3) + float64(w.Board.Monitor.PowerResolution)/2
	case MonitorAmp:
		return float64(w.Board.Monitor.Accuracy)*math.Abs(e.Value)/math.Sqrt(3) + float64(w.Board.Monitor.CurrentResolution)/2
	}
	return 0
}
