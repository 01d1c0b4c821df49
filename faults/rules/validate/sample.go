package validate

import (
	"container/heap"
	"math"
)

// sample is a unit that is kept to be looked at.
type sample struct {
	order    uint64 // pseudo-random, from the unit alone
	index    uint64
	channel  int
	meter    int
	values   []float64 // drawn; shared
	severity float64   // of the fault that the rule is about; NaN for none
}

// mix scrambles the bits of x: the finaliser of the generator SplitMix64
// (Steele, Lea and Flood, Fast splittable pseudorandom number generators,
// OOPSLA 2014, figure 16).
func mix(x uint64) uint64 {
	x ^= x >> 30
	x *= 0xbf58476d1ce4e5b9
	x ^= x >> 27
	x *= 0x94d049bb133111eb
	return x ^ x>>31
}

// orderOf is the place of a unit in a sequence that nothing about it decides.
func orderOf(index uint64, channel, meter int) uint64 {
	return mix(mix(index+0x9e3779b97f4a7c15) + uint64(channel+1)<<32 + uint64(meter+1))
}

// reservoir keeps the samples that come first in order: an even choice of all
// that it was offered, the same in whatever order they come (bottom-k
// sampling; Cohen and Kaplan, PODC 2007).
type reservoir struct {
	heap samples
	size int
}

// wants tells whether a sample of this order would be kept.
func (r *reservoir) wants(order uint64) bool {
	return len(r.heap) < r.size || order < r.heap[0].order
}

func (r *reservoir) add(s sample) {
	if !r.wants(s.order) {
		return
	}
	heap.Push(&r.heap, s)
	if len(r.heap) > r.size {
		heap.Pop(&r.heap)
	}
}

// samples have the last in order on top.
type samples []sample

func (s samples) Len() int           { return len(s) }
func (s samples) Less(i, j int) bool { return s[i].order > s[j].order }
func (s samples) Swap(i, j int)      { s[i], s[j] = s[j], s[i] }
func (s *samples) Push(x any)        { *s = append(*s, x.(sample)) }
func (s *samples) Pop() any {
	old := *s
	x := old[len(old)-1]
	*s = old[:len(old)-1]
	return x
}

// no severity.
var none = math.NaN()
