package sim

import (
	"math"
	"time"

	"boilwright/models"
	"boilwright/sim/circuit"
	"boilwright/sim/heat"
)

// driven is a run of half-cycles of a window with the same drives.
type driven struct {
	drives uint32
	end    int64 // half-cycle of the window
}

// schedule spreads the cycles that the channels asked for over the window.
func (r *run) schedule() {
	b := r.m.board
	drives, cycles := r.drives[:0], r.window/2
	if !r.limited { // each channel in one run from the start
		asked := r.counts
		if len(b.Crossings) > 0 {
			asked = make([]int, r.n)
			for k := range asked {
				asked[k] = r.counts[b.DriveSource(k)]
			}
		}
		for j := 0; j < cycles; {
			bits, end := uint32(0), cycles
			bit := uint32(1)
			for _, c := range asked {
				if c > j {
					bits |= bit
					end = min(end, c)
				}
				bit <<= 1
			}
			drives = append(drives, driven{bits, 2 * int64(end)})
			j = end
		}
		r.drives = drives
		return
	}
	for k := range r.n {
		pattern(r.want[k], r.counts[k], b.Channels[k].Control.Spread)
	}
	allocate(r.want, r.order, b.Controller.Together, b.Controller.LoseRefused, r.owed)
	for j := range cycles {
		bits := uint32(0)
		for k := range r.n {
			if r.want[b.DriveSource(k)][j] {
				bits |= 1 << k
			}
		}
		if last := len(drives) - 1; last >= 0 && drives[last].drives == bits {
			drives[last].end += 2
			continue
		}
		drives = append(drives, driven{bits, 2 * int64(j+1)})
	}
	r.drives = drives
}

// limits reports whether a board spreads cycles or may refuse some.
func limits(b *models.Board) bool {
	for k := range b.Channels {
		if b.Channels[k].Control.Spread {
			return true
		}
	}
	return b.Controller.Together > 0 && b.Controller.Together < len(b.Channels)
}

// piece is a run of equal cycles within a window.
type piece struct {
	block  block
	halfs  int64
	drives uint32
	sum    tally     // at the temperatures of the last plan
	last   []float64 // element temperatures of the last plan
}

// stretch advances from half-cycle p of the window that starts at half-cycle
// h as far as it can, at most to half-cycle w, and returns how far that is.
func (r *run) stretch(h, p, w int64) (int64, error) {
	q := w
	if _, ok := r.m.engine.(*full); ok {
		q = p + 1
	}
	if r.next < r.at(h+q) {
		q = min(q, max(p+1, r.zero(r.next)-h))
	}
	sup := &r.m.board.Supply
	for _, e := range sup.Events { // supply changes at zeros of the fundamental
		for _, t := range []time.Duration{e.From, e.To} {
			if t > r.at(h+p) && t < r.at(h+q) {
				q = min(q, max(p+1, r.zero(t)-h))
			}
		}
	}
	r.temperatures()
	r.m.engine.class(r.temps)
	r.m.engine.mark()
	factor := sup.FactorAt(r.at(h + p))
	if r.guard.open {
		factor = 0
	}
	if err := r.walk(p, q, factor); err != nil {
		return p, err
	}
	if cut := p + r.trip(); cut < q {
		q = cut // the supply is gone from there on
		r.m.engine.rewind()
		if err := r.walk(p, q, factor); err != nil {
			return p, err
		}
	}
	t0 := float64(h+p) * r.half
	rep, err := r.heat.Window(t0, float64(q-p)*r.half, r.powers)
	if err != nil {
		return p, err
	}
	r.heatEvents(rep.Events)
	if !rep.Early {
		r.account()
		r.tell(h + p)
		r.junctions()
		r.protect(h + p)
		return q, nil
	}
	// A link reached its temperature within half-cycle p + c: it opens at the
	// next zero of its current, so that half-cycle runs to its end.
	c := min(q-p-1, int64(rep.Advanced/r.half))
	r.m.engine.rewind()
	if err := r.walk(p, p+c+1, factor); err != nil {
		return p, err
	}
	r.powers(nil)
	r.account()
	r.tell(h + p)
	r.junctions()
	r.protect(h + p)
	r.open(rep.Events)
	if err := r.rest(h, p, c, rep.Advanced); err != nil {
		return p, err
	}
	return p + c + 1, nil
}

// rest advances the heat alone to the end of half-cycle c of a stretch in
// which a link has reached its temperature.
func (r *run) rest(h, p, c int64, from float64) error {
	last := &r.pieces[r.used-1]
	end := float64(c+1) * r.half
	for end-from > 1e-12 {
		rep, err := r.heat.Window(float64(h+p)*r.half+from, end-from, func(*heat.Outlook) []heat.Piece {
			r.plan = r.plan[:0]
			pw := heat.Piece{Duration: end - from}
			pw.Element, pw.Link = make([]float64, r.n), make([]float64, r.n)
			r.power(&pw.Powers, last.sum, float64(last.halfs)*r.half)
			return append(r.plan, pw)
		})
		if err != nil {
			return err
		}
		r.heatEvents(rep.Events)
		r.open(rep.Events)
		from += rep.Advanced
		if !rep.Early {
			break
		}
	}
	return nil
}

// open lets the links open that reached their temperature, and thermostats
// move.
func (r *run) open(events []heat.Event) {
	for _, e := range events {
		switch e.Kind {
		case heat.LinkReached:
			if e.Channel >= 0 {
				r.linkOut[e.Channel] = true
			} else {
				r.upstreamOut = true
			}
			r.m.engine.change(func(s *circuit.Solver) { s.OpenLink(e.Channel) })
		case heat.ThermostatOpens, heat.ThermostatCloses:
			r.m.engine.change(func(s *circuit.Solver) { setThermostat(s, e.Channel, e.Kind == heat.ThermostatOpens) })
		}
	}
}

func setThermostat(s *circuit.Solver, ch int, open bool) {
	if open {
		s.OpenThermostat(ch)
	} else {
		s.CloseThermostat(ch)
	}
}

func (r *run) heatEvents(events []heat.Event) {
	for _, e := range events {
		t := time.Duration(math.Round(e.Time * 1e9))
		kind := EventKind(e.Kind.String())
		if e.Kind == heat.LinkReached {
			if e.Channel >= 0 && r.linkOut[e.Channel] || e.Channel < 0 && r.upstreamOut {
				continue // it has opened long since, and only warms again
			}
			kind = LinkOpened
		}
		r.event(t, e.Channel, kind, "")
	}
}

// walk lets the engine go through half-cycles p to q of the window and cuts
// them into pieces of equal cycles.
func (r *run) walk(p, q int64, factor float64) error {
	if err := r.tread(p, q, factor); err != nil || r.stands() {
		return err
	}
	return r.tread(p, q, factor)
}

// stands reports whether the way that the engine has gone since its mark holds. If not
// it is back there, or another engine is in its place.
func (r *run) stands() bool {
	e, ok := r.m.engine.(*reuse)
	switch {
	case ok && e.failing && r.o.Exact:
		// From here on every half-cycle is solved.
		e.rewind()
		e.settle()
		r.before += e.solved()
		if r.res.Stats.Exact < 0 {
			r.res.Stats.Exact = r.moment.Time
		}
		f := r.newFull(r.m.board, r.m.sol)
		r.m.engine, r.m.glides = f, nil
		f.class(r.temps)
		f.mark()
		return false
	case ok && e.narrowed:
		// A half-cycle turned out to need narrower classes of temperature: the
		// way is gone again in those.
		e.rewind()
		e.class(r.temps)
		e.mark()
		return false
	}
	return true
}

func (r *run) tread(p, q int64, factor float64) error {
	r.used = 0
	for _, d := range r.drives {
		if d.end <= p {
			continue
		}
		if p >= q {
			break
		}
		if r.used == len(r.pieces) {
			r.pieces = append(r.pieces, piece{sum: make(tally, tallySize(r.n)), block: block{account: newAccount(r.n)}})
		}
		pc := &r.pieces[r.used]
		r.used++
		end := min(d.end, q)
		pc.halfs, pc.drives = end-p, d.drives
		if err := r.m.engine.advance(input{d.drives, factor}, pc.halfs, &pc.block); err != nil {
			return err
		}
		p = end
	}
	return nil
}

// powers is the plan of the heat solution: the power of each piece with the
// elements at the temperatures that the outlook gives. A nil outlook leaves
// the temperatures of the last plan.
func (r *run) powers(o *heat.Outlook) []heat.Piece {
	if cap(r.plan) < r.used {
		r.plan = make([]heat.Piece, r.used)
	}
	r.plan = r.plan[:r.used]
	for i := range r.pieces[:r.used] {
		pc := &r.pieces[i]
		if o != nil {
			if len(pc.last) != r.n {
				pc.last = make([]float64, r.n)
			}
			for k := range r.n {
				pc.last[k] = o.ElementMean(i, k)
			}
		}
		for k := range r.n {
			r.ohms[k] = r.m.board.Channels[k].Element.ResistanceAt(pc.last[k])
		}
		clear(pc.sum)
		r.m.engine.sum(&pc.block, r.ohms, pc.sum)
		w := &r.plan[i]
		w.Duration = float64(pc.halfs) * r.half
		if len(w.Element) != r.n {
			w.Element, w.Link = make([]float64, r.n), make([]float64, r.n)
		}
		r.power(&w.Powers, pc.sum, w.Duration)
	}
	return r.plan
}

// power turns the energies of a time into powers of the heat's nodes.
func (r *run) power(w *heat.Powers, sum tally, duration float64) {
	pocket, rate := 0.0, 1/duration
	element, link := w.Element[:r.n], w.Link[:r.n]
	for k := range element {
		c := (*[tPerChannel]float64)(sum.channel(k))
		element[k] = c[tElement] * rate
		link[k] = c[tLink] * rate
		pocket += c[tTriac] + c[tGate] + c[tSnubber]
	}
	w.Pocket = pocket * rate
	w.Upstream = sum[tUpstream] * rate
}

// account adds the pieces' energies to the running sums.
func (r *run) account() {
	for i := range r.pieces[:r.used] {
		pc := &r.pieces[i]
		r.accTime += float64(pc.halfs) * r.half
		r.source += pc.sum[tSource]
		r.going.shared[ofWiring] += pc.sum[tWiring]
		r.going.shared[ofSquare] += pc.sum[tSquare]
		for k := range r.n {
			r.element[k] += pc.sum.channel(k)[tElement]
			if pc.drives>>k&1 == 1 {
				r.moment.Cycles[k] += pc.halfs
			}
		}
	}
}

// junctions advances the triacs' thermal networks through the pieces.
func (r *run) junctions() {
	for i := range r.pieces[:r.used] {
		pc := &r.pieces[i]
		d := float64(pc.halfs) * r.half
		for k := range r.n {
			c := pc.sum.channel(k)
			r.warmer[k] = r.warm(k, c[tTriac]/d, d)
			r.gate[k] += c[tGate]
		}
	}
}

// warm advances the stages of channel k's triac by d seconds under a power in W and
// returns their sum.
func (r *run) warm(k int, power, d float64) float64 {
	t := &r.m.board.Channels[k].Triac
	stages := r.own[:len(t.Foster)]
	for i := range stages {
		stages[i] = *r.stage(k, i)
	}
	sum := t.FosterStep(stages, power, d)
	for i, x := range stages {
		*r.stage(k, i) = x
	}
	return sum
}
