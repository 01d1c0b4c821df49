package infer

import (
	"runtime"
	"slices"
	"sync"
)

// sheet is what one experiment shows, by hypothesis and draw.
type sheet struct {
	rows    [][]float64 // by hypothesis·draws + draw; nil where not simulated
	changed bool
}

// failed marks a simulation that came to no end.
var failed = []float64{}

func (w *Bench) sheet(x *experiment) *sheet {
	key := x.key()
	s := w.sheets[key]
	if s == nil {
		s = &sheet{rows: make([][]float64, len(w.Hypotheses)*len(w.draws))}
		w.sheets[key] = s
		if w.store != nil {
			s.unpack(w.store.Load(key), w.length(x))
		}
	}
	return s
}

// Flush hands what is new to the store, in the order of keys.
func (w *Bench) Flush() {
	if w.store == nil {
		return
	}
	for _, key := range sortedKeys(w.sheets) {
		if s := w.sheets[key]; s.changed {
			w.store.Save(key, s.pack())
			s.changed = false
		}
	}
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// pack writes the rows one after the other: −1 for none, otherwise the length
// and the values.
func (s *sheet) pack() []float64 {
	var out []float64
	for _, r := range s.rows {
		if r == nil {
			out = append(out, -1)
			continue
		}
		out = append(out, float64(len(r)))
		out = append(out, r...)
	}
	return out
}

// length is how many figures an experiment has.
func (w *Bench) length(x *experiment) int {
	n := len(w.Board.Channels)
	switch x.kind {
	case Volts:
		return len(w.classes[x.input])
	case Clamp:
		return len(w.Board.Clamps)
	case Unplugged, ProbeOhms:
		return 1
	case Temperature:
		return runLength(n)
	}
	return powerLength(n)
}

// unpack reads what pack wrote, rows of the given length or failed ones; a
// sheet that does not fit is left out, to be simulated again.
func (s *sheet) unpack(values []float64, length int) {
	rows := make([][]float64, len(s.rows))
	for i := range rows {
		if len(values) == 0 {
			return
		}
		n := values[0]
		values = values[1:]
		if n < 0 {
			continue
		}
		if !(n == 0 || n == float64(length)) || int(n) > len(values) {
			return
		}
		rows[i] = values[:int(n):int(n)]
		if rows[i] == nil {
			rows[i] = failed
		}
		values = values[int(n):]
	}
	if len(values) == 0 {
		s.rows = rows
	}
}

// drawsOf is how many draws an experiment is carried out on.
func (w *Bench) drawsOf(x *experiment) int {
	if x.kind == Temperature {
		return w.runs
	}
	return len(w.draws)
}

// job is an experiment on one hypothesis and draw.
type job struct {
	x    *experiment
	s    *sheet
	h, m int
}

// need carries out experiments on hypotheses where that has not been done,
// on all cores. The result does not depend on how many there are.
func (w *Bench) need(xs []experiment, hs []int) { w.needDraws(xs, hs, len(w.draws)) }

// needDraws is need for the first draws only.
func (w *Bench) needDraws(xs []experiment, hs []int, draws int) {
	var jobs []job
	queued := map[string]bool{}
	for i := range xs {
		x := &xs[i]
		if queued[x.key()] {
			continue
		}
		queued[x.key()] = true
		s := w.sheet(x)
		for _, h := range hs {
			for m := range min(draws, w.drawsOf(x)) {
				if s.rows[h*len(w.draws)+m] == nil {
					jobs = append(jobs, job{x, s, h, m})
				}
			}
		}
	}
	if len(jobs) == 0 {
		return
	}
	next := make(chan job, 64)
	var wg sync.WaitGroup
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for j := range next {
				j.s.rows[j.h*len(w.draws)+j.m] = w.perform(j)
			}
		})
	}
	for _, j := range jobs {
		next <- j
	}
	close(next)
	wg.Wait()
	for _, j := range jobs {
		j.s.changed = true
	}
}

func (w *Bench) perform(j job) []float64 {
	b, err := w.board(j.h, j.m)
	if err != nil {
		return failed
	}
	out, err := j.x.perform(b, w.warm[j.m])
	if err != nil || out == nil {
		return failed
	}
	for i, v := range out { // as a store keeps it, so that an answer does not depend on it
		out[i] = float64(float32(v))
	}
	return out
}

// row returns what experiment x shows under hypothesis h on draw m, as far as
// the hypothesis is looked at; nil otherwise. Where it is not looked at
// exactly, what the healthy board shows stands for it if the fault is on
// another channel than the test.
//
// What has been simulated for other questions does not show, so that an answer
// does not depend on what was asked before.
func (w *Bench) row(x *experiment, s *sheet, h, m int) []float64 {
	if m >= w.looked[h].draws {
		return nil
	}
	if x.kind == Temperature {
		m %= w.looked[h].runs
	}
	if !w.looked[h].exactly && w.elsewhere(x, h) {
		return s.rows[m]
	}
	return s.rows[h*len(w.draws)+m]
}

// looked is how closely a hypothesis is looked at in an answer.
type looked struct {
	draws   int
	runs    int  // over which those of a run of hours are spread
	exactly bool // nothing stands for it that was simulated for another
}

// glance has all hypotheses looked at on a few draws, the healthy board on all.
func (w *Bench) glance(draws int) {
	w.looked = make([]looked, len(w.Hypotheses))
	for h := range w.looked {
		w.looked[h] = looked{draws: draws, runs: min(firstRuns, w.runs)}
	}
	w.look([]int{0}, true)
}

// look has hypotheses looked at on all draws.
func (w *Bench) look(hs []int, exactly bool) {
	for _, h := range hs {
		w.looked[h].draws, w.looked[h].runs = len(w.draws), w.runs
		w.looked[h].exactly = w.looked[h].exactly || exactly
	}
}

// elsewhere reports whether a hypothesis's faults are confined to another
// channel than that on which the experiment measures a voltage, or whose
// temperature is watched: apart from the load on the supply, and from what heat
// crosses between boilers, it shows what it does on the healthy board.
func (w *Bench) elsewhere(x *experiment, h int) bool {
	ch := -1
	switch x.kind {
	case Volts:
		ch = w.channelOf(x.point)
	case Temperature:
		ch = x.about
	}
	l := w.Hypotheses[h].local()
	return ch >= 0 && l >= 0 && l != ch && h > 0
}
