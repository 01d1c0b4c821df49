package disturbance

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/integrate/quad"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
)

// shortTime is the time of a short-term severity in seconds.
const shortTime = 600

// observer takes the half-cycles of a run.
type observer struct {
	board   *models.Board // as given
	sys     System
	half    float64 // s
	meter   *Flickermeter
	changes *Changes
	short   []Severity
	felt    sensation
	perPst  int64         // half-cycles of a short-term severity
	begun   int64         // half-cycle at which the present one began
	first   *models.Board // the version at the start
	err     error
	fed     int64

	seen  map[state]*spell
	now   state
	spell *spell

	window  int64
	drives  []uint32 // of the cycles of the present window
	move    float64
	changed bool
	last    sim.HalfCycle
	best    struct {
		move   float64
		from   int64
		drives []uint32
		state
	}
}

// state is what tells patterns apart.
type state struct {
	board        *models.Board
	drives, open uint32
	upstream     bool
}

// spell is how long a state was in force.
type spell struct {
	state
	first, n int64
}

func newObserver(b *models.Board) (*observer, error) {
	w := &observer{board: b, sys: SystemOf(&b.Supply), half: b.Supply.HalfCycle(), seen: map[state]*spell{}, window: int64(b.Controller.Window)}
	var err error
	if err = w.sys.check(); err != nil {
		return nil, err
	}
	if w.changes, err = NewChanges(b.Supply.Voltage, b.Supply.Frequency); err != nil {
		return nil, err
	}
	w.perPst = int64(math.Round(shortTime / w.half))
	w.felt.per = int64(math.Round(1 / w.half))
	return w, nil
}

// connect lets a second without load go before the run, on the supply that is
// in force at its start; the meter is adapted to it. Its changes are those of
// the source alone. A source without voltage leaves the meter adapted to
// nominal.
func (w *observer) connect(s *models.Supply) error {
	even, odd := unloaded(s)
	to := q.Volt(math.Sqrt((even*even + odd*odd) / 2))
	if least := w.board.Supply.Voltage / 10; !(to > least) {
		to = w.board.Supply.Voltage
	}
	var err error
	if w.meter, err = NewHalfCycleMeter(w.sys, to); err != nil {
		return err
	}
	for range int(0.5/w.half + 0.5) {
		for _, v := range []float64{even, odd} {
			w.meter.Feed(v)
			w.changes.Feed(v)
		}
	}
	w.meter.Reset()
	return nil
}

// unloaded returns the rms values of the source's half-cycles at the start of
// a run.
func unloaded(s *models.Supply) (even, odd float64) {
	f := s.FactorAt(0)
	rms := func(from float64) float64 {
		square := quad.Fixed(func(theta float64) float64 {
			dc := float64(s.DC)
			e := dc + f*(s.EMF(theta)-dc)
			return e * e
		}, from, from+math.Pi, 64, quad.Legendre{}, 0)
		return math.Sqrt(square / math.Pi)
	}
	return rms(0), rms(math.Pi)
}

// at is the time of half-cycle h.
func (w *observer) at(h int64) time.Duration {
	return time.Duration(math.Round(float64(h) * w.half * 1e9))
}

func (w *observer) halfCycle(h sim.HalfCycle) {
	if w.err != nil {
		return
	}
	if w.meter == nil {
		w.first = h.Board
		if w.err = w.connect(&h.Board.Supply); w.err != nil {
			return
		}
	}
	w.felt.feed(w.meter.Feed(h.Voltage))
	w.changes.Feed(h.Voltage)
	w.fed++
	if w.fed-w.begun == w.perPst {
		w.severity()
	}
	now := state{h.Board, h.Drives, h.Open, h.Upstream}
	if w.spell == nil || now != w.now {
		w.now, w.spell = now, w.seen[now]
		if w.spell == nil {
			w.spell = &spell{state: now, first: h.Index}
			w.seen[now] = w.spell
		}
	}
	w.spell.n++
	w.burst(h)
}

// severity ends a short-term severity.
func (w *observer) severity() {
	w.short = append(w.short, Severity{w.at(w.begun), w.at(w.fed), w.meter.Pst(), w.fed-w.begun == w.perPst})
	w.begun = w.fed
	w.meter.Reset()
}

// finish ends the observation. A rest of less than a second is left out.
func (w *observer) finish() {
	if float64(w.fed-w.begun)*w.half >= 1 {
		w.severity()
	}
}

// burst looks for the control window whose changes of drive move the voltage
// most: by the sum of the squares of the steps at them.
func (w *observer) burst(h sim.HalfCycle) {
	if h.Index%w.window == 0 {
		w.drives, w.move, w.changed = w.drives[:0], 0, false
	} else if h.Drives != w.last.Drives {
		d := h.Voltage - w.last.Voltage
		w.move += d * d
		w.changed = true
	}
	w.last = h
	if h.Index%2 == 0 {
		w.drives = append(w.drives, h.Drives)
	}
	if w.changed && w.move > w.best.move && 2*int64(len(w.drives)) == w.window && (h.Index+1)%w.window == 0 {
		w.best.move, w.best.from = w.move, h.Index+1-w.window
		w.best.drives = append(w.best.drives[:0], w.drives...)
		w.best.state = w.now
	}
}

// mostPatterns is the number of patterns analysed.
const mostPatterns = 32

// spells returns the states that were longest in force, in order of
// appearance, and the number of those left out.
func (w *observer) spells() ([]spell, int) {
	var all []spell
	for _, s := range w.seen {
		all = append(all, *s)
	}
	slices.SortFunc(all, func(a, b spell) int {
		return cmp.Or(cmp.Compare(b.n, a.n), cmp.Compare(a.first, b.first))
	})
	left := max(0, len(all)-mostPatterns)
	all = all[:len(all)-left]
	slices.SortFunc(all, func(a, b spell) int { return cmp.Compare(a.first, b.first) })
	return all, left
}
