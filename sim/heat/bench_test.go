package heat

import (
	"testing"
)

// One simulated hour is 3600 such windows of four pieces each.
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
			at = 0
			b.StopTimer()
			m, _ = New(board)
			b.StartTimer()
		}
	}
}
