package heat

import "golang.org/x/sys/cpu"

// wide tells that the processor works on four lanes at once.
var wide = cpu.X86.HasAVX2

// laneSame is calmSame, where kernels find it.
//
//lint:ignore U1000 read in assembly
var laneSame = calmSame

// The following are their plain twins in AVX2, to the bit; without it they go on to
// them. They trust lengths and places.

//go:noescape
func calmBegin(lanes *calmLanes, p *rhythm, factor float64, nodes []float64) (near int)

//go:noescape
func calmMeans(lanes *calmLanes, means *Lanes, p *rhythm, scale *Lanes)

//go:noescape
func calmAdvance(lanes *calmLanes, p *rhythm, element, link *Lanes, power float64, nodes []float64) (out int)

//go:noescape
func calmDrawn(lanes *calmLanes)

//go:noescape
func calmRedraw(lanes *calmLanes, p *rhythm, element, link *Lanes) (carried float64)

//go:noescape
func spanJoin(s, first, then *calmSpan, d float64)

//go:noescape
func rhythmTotals(lanes *calmLanes, p *rhythm, s *calmSums, paces []Pace) (together int)

//go:noescape
func rhythmRespond(s *calmSums, paces []Pace, spans []calmSpan)

//go:noescape
func rhythmGather(lanes *calmLanes, p *rhythm, s *calmSums)
