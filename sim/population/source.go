package population

import (
	"hash/fnv"
	"math/rand/v2"
)

// mix scrambles the bits of x: the finaliser of the generator SplitMix64
// (Steele, Lea and Flood, Fast splittable pseudorandom number generators,
// OOPSLA 2014, figure 16). It is a permutation of the 64-bit numbers.
func mix(x uint64) uint64 {
	x ^= x >> 30
	x *= 0xbf58476d1ce4e5b9
	x ^= x >> 27
	x *= 0x94d049bb133111eb
	return x ^ x>>31
}

// golden is the increment of the same generator.
const golden = 0x9e3779b97f4a7c15

// source returns the generator of one thing that is drawn for one board: it
// follows from the population's seed, the board's index and the name of the
// thing's stream, and from nothing that has been drawn before.
func source(seed, index, stream uint64) rand.PCG {
	board := mix(mix(seed+golden) + golden*(index+1))
	return *rand.NewPCG(board, mix(board^stream))
}

// stream is the number of a stream with a name.
func stream(name string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(name))
	return h.Sum64()
}

// even draws an even number in (0, 1), never an end of it: the middle of one
// of 2⁵² equal steps.
func even(p *rand.PCG) float64 { return (float64(p.Uint64()>>12) + 0.5) / (1 << 52) }
