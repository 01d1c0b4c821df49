// Package arena hands out slices that stay for as long as a piece of work does from
// larger pieces, which serve again for the next one, so that many pieces of work one
// after another leave little to collect. It knows nothing of what lies in them.
package arena

// Of is an arena of values of one type. The zero value is ready for use. It is for
// one goroutine at a time.
type Of[T any] struct {
	free   []T
	next   int // size of the next piece
	pieces [][]T
	used   int // how many of them have been handed out from
}

// maxPieces bounds how many pieces an arena keeps when it is emptied, and growth
// how much larger than the first they become; larger ones are not kept.
const (
	maxPieces = 48
	growth    = 4
)

// Take hands out n zero values, from a piece of least at first, then of more.
func (a *Of[T]) Take(n, least int) []T {
	x := a.Lend(n, least)
	clear(x)
	return x
}

// Lend is Take for those who write all of it: it may hold anything.
func (a *Of[T]) Lend(n, least int) []T {
	if n > len(a.free) {
		a.open(n, least)
	}
	x := a.free[:n:n]
	a.free = a.free[n:]
	return x
}

// open begins a piece with room for n.
func (a *Of[T]) open(n, least int) {
	for a.used < len(a.pieces) {
		piece := a.pieces[a.used]
		a.used++
		if n <= len(piece) {
			a.free = piece
			return
		}
	}
	a.next = min(max(2*a.next, least), growth*least)
	a.free = make([]T, max(n, a.next))
	if len(a.free) == a.next && len(a.pieces) < maxPieces {
		a.pieces = append(a.pieces, a.free)
		a.used = len(a.pieces)
	}
}

// Empty takes back all that has been handed out, which must not be used any more.
// Nothing is cleared before it is taken again: what it points to stays reachable
// until then, or until the arena goes.
func (a *Of[T]) Empty() { a.free, a.used = nil, 0 }

// Pieces returns those that would serve again: tests look into them.
func (a *Of[T]) Pieces() [][]T { return a.pieces }
