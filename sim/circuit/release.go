package circuit

import "runtime"

// spareWork keeps some workspaces that nobody needs any more. A run of a board that
// changes often hands back dozens at once, which must not pile up.
var spareWork = make(chan *workspace, runtime.NumCPU()+2)

func newWorkspace() *workspace {
	select {
	case w := <-spareWork:
		return w
	default:
		return new(workspace)
	}
}

// take lends numbers. Without a workspace they are made.
func (w *workspace) take(n int) []float64 {
	if w == nil {
		return make([]float64, n)
	}
	return w.numbers.Take(n, 1000)
}

// lend is take for those who write all of it.
func (w *workspace) lend(n int) []float64 {
	if w == nil {
		return make([]float64, n)
	}
	return w.numbers.Lend(n, 1000)
}

// takeInts lends integers, as take does numbers.
func (w *workspace) takeInts(n int) []int {
	if w == nil {
		return make([]int, n)
	}
	return w.ints.Take(n, 500)
}

// takeEnds lends ends of branches.
func (w *workspace) takeEnds(n int) [][2]end {
	if w == nil {
		return make([][2]end, n)
	}
	return w.ends.Take(n, 50)
}

// Release hands back the storage of all networks that the solver has put together,
// which then serves the next solver. Neither the solver nor what it returned
// that still needs them - recordings, segments, and whatever was asked of these
// by reference - may be used thereafter; records, snapshots and numbers may.
// Calling it is never necessary: without it the storage goes when nothing refers
// to the solver.
func (s *Solver) Release() {
	if s.net != nil && s.net.work != nil {
		s.retire(s.net.work)
	}
}

// forget leaves a course nothing but its room.
func (c *course) forget() {
	c.old, c.at = c.old[:0], 0
	for i := range c.legs {
		c.legs[i] = c.legs[i][:0]
	}
}

// forget leaves a solver nothing but its room.
func (s *Solver) forget() {
	clear(s.sets)
	clear(s.risen) // of what it points to
	*s = Solver{
		sets: s.sets, x: s.x, chans: s.chans, lim: s.lim, windows: s.windows, strain: s.strain, urge: s.urge, risen: s.risen,
		contacts: s.contacts[:0], spells: s.spells[:0], sums: s.sums, turn: s.turn, z: s.z,
		seg: Segment{xi: s.seg.xi}, prev: Segment{xi: s.prev.xi}, prober: prober{edges: s.prober.edges, owner: s.prober.owner}, gears: s.gears,
		rec: Record{Triac: s.rec.Triac, Gate: s.rec.Gate, Snubber: s.rec.Snubber, Element: s.rec.Element, Wire: s.rec.Wire, Events: s.rec.Events[:0]},
	}
}

// retire gives the solver's workspace to the next solver.
func (s *Solver) retire(w *workspace) {
	s.net.work, s.par.work = nil, nil
	for _, p := range s.sets {
		p.work = nil
	}
	w.finder, w.gram, w.course = s.find, s.gram, s.course
	s.find, s.gram, s.course = finder{}, gram{}, course{}
	w.finder.release()
	w.course.forget()
	w.integrator.find.release()
	for i := range w.passes {
		w.passes[i].forget()
	}
	clear(w.recent[:])
	clear(w.trials[:])
	s.recent, s.trials = nil, nil
	w.numbers.Empty()
	w.phasors.Empty()
	w.flags.Empty()
	w.combinations.Empty()
	w.views.Empty()
	w.bands.Empty()
	w.ints.Empty()
	w.ends.Empty()
	w.lists.Empty()
	w.reductions.Empty()
	w.blocks.Empty()
	w.indices.Empty()
	w.branches, s.net.branches = s.net.branches[:0], nil
	if w.solver == s {
		w.params = s.par
		s.par.forget()
		s.forget()
	}
	select {
	case spareWork <- w:
	default:
	}
}
