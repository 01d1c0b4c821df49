package heat

import (
	"math"
	"slices"
	"time"

	"boilwright/models"
)

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

// temperature tells at which element temperature a piece's power is taken.
type temperature func(o *Outlook, piece, ch int) float64

// burst makes the pieces of a window in which each channel conducts for its
// first cycles. The element's power is V²R/(R + R_s)²; the triac's loss on a
// full sine goes into the pocket,
//
//	V_T0 2√2/π I + r_T I²,  I = V/(R + R_s)
type burst struct {
	board             *models.Board
	volts, hertz      float64
	half              int // half-cycles of a window
	at                temperature
	cycles            []int
	series, threshold []float64
	slope             []float64

	edges  []float64
	pieces []Piece
}

func newBurst(b *models.Board, volts, hertz float64, half int, at temperature) *burst {
	n := len(b.Channels)
	p := &burst{board: b, volts: volts, hertz: hertz, half: half, at: at, cycles: make([]int, n),
		series: make([]float64, n), threshold: make([]float64, n), slope: make([]float64, n), edges: make([]float64, n+1), pieces: make([]Piece, n+1)}
	for k := range p.pieces {
		p.pieces[k].Element = make([]float64, n)
	}
	return p
}

func (p *burst) plan(o *Outlook) []Piece {
	for i, c := range p.cycles {
		p.edges[i] = float64(c) / p.hertz
	}
	p.edges[len(p.cycles)] = float64(p.half) / (2 * p.hertz)
	slices.Sort(p.edges)
	t := 0.0
	for k := range p.pieces {
		e := &p.pieces[k]
		e.Duration = p.edges[k] - t
		e.Pocket = 0
		for i, c := range p.cycles {
			e.Element[i] = 0
			if float64(c)/p.hertz <= t || p.board.Channels[i].Link.Open {
				continue
			}
			res := p.board.Channels[i].Element.ResistanceAt(p.at(o, k, i))
			amps := p.volts / (res + p.series[i])
			e.Element[i] = res * amps * amps
			e.Pocket += p.threshold[i]*2*math.Sqrt2/math.Pi*amps + p.slope[i]*amps*amps
		}
		t = p.edges[k]
	}
	return p.pieces
}

// after returns the pieces without their first seconds.
func after(pieces []Piece, skip float64) []Piece {
	var out []Piece
	for _, p := range pieces {
		if d := min(skip, p.Duration); d > 0 {
			p.Duration -= d
			skip -= d
		}
		out = append(out, p)
	}
	return out
}
