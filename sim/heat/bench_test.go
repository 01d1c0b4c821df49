package heat

import "testing"

// One simulated hour is 3600 windows of one second, here of four pieces each.
func BenchmarkWindow(b *testing.B) {
	r := readFixedDuty(b)
	board := r.board()
	m, err := New(board)
	if err != nil {
		b.Fatal(err)
	}
	plan := r.plan(board, (*Outlook).ElementMean)
	at := 0.0
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Window(at, 1, plan); err != nil {
			b.Fatal(err)
		}
		if at++; at >= 600 {
			b.StopTimer()
			at = 0
			if m, err = New(board); err != nil {
				b.Fatal(err)
			}
			b.StartTimer()
		}
	}
}

// A night of ten hours with the controls off, from hot.
func BenchmarkCoast(b *testing.B) {
	r := readFixedDuty(b)
	board := r.board()
	for i := range board.Channels {
		board.Channels[i].Boiler.Start = 95
	}
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		m, err := New(board)
		if err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
		if _, err := m.Coast(0, 36000, Powers{}); err != nil {
			b.Fatal(err)
		}
	}
}

// A window allocates nothing once its buffers have grown.
func TestWindowAllocatesNothing(t *testing.T) {
	r := readFixedDuty(t)
	board := r.board()
	m := mustNew(t, board)
	plan := r.plan(board, (*Outlook).ElementMean)
	at := 0.0
	if n := testing.AllocsPerRun(500, func() {
		if _, err := m.Window(at, 1, plan); err != nil {
			t.Fatal(err)
		}
		at++
	}); n != 0 {
		t.Errorf("found %g allocations a window, expected none", n)
	}
}
