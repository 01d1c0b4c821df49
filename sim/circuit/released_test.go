package circuit

import "testing"

// TestReleasedRoom writes into what a search for switchings hands on to the next
// solver: none of it may lie in the storage that is lent anew.
func TestReleasedRoom(t *testing.T) {
	s := mustNew(t, healthyBoard(20, 20))
	told := false
	s.OnSegment(func(*Segment) { told = told || s.find.told })
	for range 8 {
		if _, err := s.HalfCycle(drives(12, 12)(0)); err != nil {
			t.Fatal(err)
		}
	}
	if !told {
		t.Error("no search foresaw what the probes read: the test shows nothing")
	}
	const mark = 1.2345e300
	w := s.net.work
	s.Release()
	for _, room := range [][]float64{w.finder.then, w.finder.off, w.finder.parts, w.finder.dw} {
		room = room[:cap(room)]
		for i := range room {
			room[i] = mark
		}
	}
	for _, piece := range w.numbers.Pieces() {
		for _, x := range piece {
			if x == mark {
				t.Fatal("found storage to be lent that a search still writes to")
			}
		}
	}
}
