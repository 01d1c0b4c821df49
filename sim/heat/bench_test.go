package heat

import (
	"math"
	"testing"
	"time"

	"boilwright/models"
	"boilwright/sim/boardfile"
)

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

// calmBoard is the demonstration board at 60 °C, with its draws running all
// day or without them.
func calmBoard(drawing bool) *models.Board {
	b := boardfile.Default()
	for i := range b.Channels {
		bo := &b.Channels[i].Boiler
		bo.Start = 60
		for k := range bo.Draws {
			bo.Draws[k].From, bo.Draws[k].To, bo.Draws[k].Every = 0, 24*time.Hour, 0
		}
		if !drawing {
			bo.Draws = nil
		}
	}
	return b
}

// calmPieces is a window of one second in which channels stop one after
// another after the given tenths of a second.
func calmPieces(tenths [3]int) []Piece {
	var out []Piece
	for at := 0; at < 10; {
		next := 10
		for _, c := range tenths {
			if c > at {
				next = min(next, c)
			}
		}
		p := Piece{Duration: float64(next-at) / 10}
		p.Element, p.Link = make([]float64, 3), make([]float64, 3)
		for ch, c := range tenths {
			p.Element[ch] = 2e-3 // leakage
			if c > at {
				p.Element[ch] = 1200
				p.Pocket += 6
			}
			p.Link[ch] = p.Element[ch] / 6000 // by the same current
		}
		out = append(out, p)
		at = next
	}
	return out
}

// pacesOf returns pieces as a Calm takes them, with beats of so many seconds.
func pacesOf(pieces []Piece, beat float64) []Pace {
	paces := make([]Pace, len(pieces))
	for i := range pieces {
		w, p := &pieces[i], &paces[i]
		p.Beats, p.Pocket = int(math.Round(w.Duration/beat)), w.Pocket
		copy(p.Element[:], w.Element)
		copy(p.Link[:], w.Link)
	}
	return paces
}

// A window in which nothing happens, with its plan known, as the three
// channels of a long run take it.
func BenchmarkCalmWindow(b *testing.B) {
	for _, c := range []struct {
		name    string
		drawing bool
	}{{"draws=none", false}, {"draws=2", true}} {
		b.Run(c.name, func(b *testing.B) {
			pieces := calmPieces([3]int{1, 2, 3})
			board := calmBoard(c.drawing)
			var calm *Calm
			var r *Rhythm
			at := 600.0
			scale := Lanes{1, 1, 1}
			b.ReportAllocs()
			for b.Loop() {
				if at >= 600 {
					b.StopTimer()
					m := mustNew(b, board)
					at = 0
					if _, err := m.Window(0, 1, func(*Outlook) []Piece { return pieces }); err != nil {
						b.Fatal(err)
					}
					calm = m.Calm(1, 10)
					if !calm.Able(0) {
						b.Fatal("found a machine that can't be taken through windows, expected one that can")
					}
					r = calm.Rhythm(pacesOf(pieces, 0.1))
					at++
					b.StartTimer()
				}
				if !calm.Begin(at, r, 1.1) {
					b.Fatalf("at %g s: found a window in which something may happen, expected none", at)
				}
				for ch, mean := range calm.Means(r, &scale) {
					scale[ch] = 1 - 1e-6*mean
				}
				calm.Advance(r, &scale, &scale, 1)
				at++
			}
		})
	}
}

// What a window's plan does to the heat, for plans of up to four pieces.
func BenchmarkRhythm(b *testing.B) {
	m := mustNew(b, calmBoard(false))
	calm := m.Calm(1, 10)
	if !calm.Able(0) {
		b.Fatal("found a machine that can't be taken through windows, expected one that can")
	}
	var plans [][]Pace
	for k := range 64 {
		plans = append(plans, pacesOf(calmPieces([3]int{1 + k%9, 1 + k/3%9, 1 + 4*k%9}), 0.1))
	}
	k := 0
	b.ReportAllocs()
	for b.Loop() {
		calm.Rhythm(plans[k%len(plans)])
		k++
	}
}
