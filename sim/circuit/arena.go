package circuit

import "runtime"

// arena hands out what is to stay from larger pieces. Those up to a certain size
// serve again after it has been emptied; what they hold by then is cleared only
// where it is handed out once more.
type arena[T any] struct {
	free   []T
	next   int // size of the next piece
	pieces [][]T
	used   int // how many of them have been handed out from
}

// What an emptied arena points to stays reachable until it is handed out once more,
// or the garbage collector takes the workspace from the pool.

// maxPieces bounds how many pieces an arena keeps when it is emptied.
const maxPieces = 48

// take hands out n, all zero, from a piece of least at first, then of more.
func (a *arena[T]) take(n, least int) []T {
	x := a.lend(n, least)
	clear(x)
	return x
}

// lend is take for those who write all of it: it may hold anything.
func (a *arena[T]) lend(n, least int) []T {
	if n > len(a.free) {
		a.open(n, least)
	}
	x := a.free[:n:n]
	a.free = a.free[n:]
	return x
}

// open begins a piece with room for n.
func (a *arena[T]) open(n, least int) {
	for a.used < len(a.pieces) {
		piece := a.pieces[a.used]
		a.used++
		if n <= len(piece) {
			a.free = piece
			return
		}
	}
	a.next = min(max(2*a.next, least), 4*least)
	a.free = make([]T, max(n, a.next))
	if len(a.free) == a.next && len(a.pieces) < maxPieces {
		a.pieces = append(a.pieces, a.free)
		a.used = len(a.pieces)
	}
}

// empty takes back all that has been handed out.
func (a *arena[T]) empty() { a.free, a.used = nil, 0 }

// leave forgets all that has been handed out, which goes on to serve those who
// have it.
func (a *arena[T]) leave() { a.pieces, a.used = nil, 0 }

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
	return w.numbers.take(n, 1000)
}

// lend is take for those who write all of it.
func (w *workspace) lend(n int) []float64 {
	if w == nil {
		return make([]float64, n)
	}
	return w.numbers.lend(n, 1000)
}

// takeInts lends integers, as take does numbers.
func (w *workspace) takeInts(n int) []int {
	if w == nil {
		return make([]int, n)
	}
	return w.ints.take(n, 500)
}

// takeEnds lends ends of branches.
func (w *workspace) takeEnds(n int) [][2]end {
	if w == nil {
		return make([][2]end, n)
	}
	return w.ends.take(n, 50)
}

// Release hands back the storage of all networks that the solver has put together,
// which then serves the next solver. Neither the solver nor what it returned
// that still needs them - recordings, segments, and whatever was asked of these
// by reference - may be used thereafter; records, snapshots and numbers may.
// Calling it is never necessary: without it the storage goes when nothing refers
// to the solver.
func (s *Solver) Release() {
	if w := s.net.work; w != nil {
		w.reductions.empty()
		w.blocks.empty()
		w.indices.empty()
		s.retire(w)
	}
}

// forget leaves a course nothing but its room.
func (c *course) forget() {
	c.old, c.at = c.old[:0], 0
	for i := range c.legs {
		c.legs[i] = c.legs[i][:0]
	}
}

// retire gives the solver's workspace to the next solver, but for what blocks are
// made of.
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
	clear(w.recent[:])
	clear(w.trials[:])
	s.recent, s.trials = nil, nil
	w.numbers.empty()
	w.phasors.empty()
	w.flags.empty()
	w.combinations.empty()
	w.views.empty()
	w.bands.empty()
	w.ints.empty()
	w.ends.empty()
	w.lists.empty()
	w.branches, s.net.branches = s.net.branches[:0], nil
	select {
	case spareWork <- w:
	default:
	}
}
