package faults

import (
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"

	"boilwright/models"
)

// Set is the injections that act on one board, in the order in which their
// edits are made. It is never changed by a run and can be started again and
// again.
type Set []Injection

// Check reports everything that is wrong with the set for the board b, see
// [Injection.Check]. A nil board leaves out what only a board can tell.
func (s Set) Check(b *models.Board) error {
	var errs []error
	total := uint64(1)
	for i := range s {
		for _, err := range flat(s[i].Check(b)) {
			errs = append(errs, fmt.Errorf("fault %d, %s: %w", i+1, s[i].place(), err))
		}
		if hi, lo := bits.Mul64(total, s[i].Course.levels()); hi == 0 {
			total = lo
		} else {
			errs = append(errs, fmt.Errorf("fault %d, %s: found more than 2^64 combinations of severities, expected fewer faults or fewer steps", i+1, s[i].place()))
			break
		}
	}
	return errors.Join(errs...)
}

// flat takes joined errors apart.
func flat(err error) []error {
	if err == nil {
		return nil
	}
	if j, ok := err.(interface{ Unwrap() []error }); ok {
		return j.Unwrap()
	}
	return []error{err}
}

// Applied returns a copy of the healthy board b with all faults in it at
// their severities, whatever their onsets and courses: what the board is when
// everything has happened, and films are as wet as they get.
func (s Set) Applied(b *models.Board) (*models.Board, error) {
	if err := s.Check(b); err != nil {
		return nil, err
	}
	c := b.Clone()
	for i := range s {
		full := s[i].severityAt(int(s[i].Course.levels() - 1))
		if err := s[i].apply(c, full); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// Start begins a run of the set. The seed decides the random dwell times of
// intermittent injections and nothing else. The error is that of Check
// without a board.
func (s Set) Start(seed uint64) (*Run, error) {
	if err := s.Check(nil); err != nil {
		return nil, err
	}
	r := &Run{set: slices.Clone(s), states: make([]state, len(s))}
	for i := range r.set {
		r.set[i].Settings = slices.Clone(s[i].Settings)
		r.states[i].source = *rand.NewPCG(seed, r.set.stream(i))
	}
	return r, nil
}

// stream is the number of the random stream of injection i: it follows from
// channel and fault, and from how many equal ones come before it, so that
// other injections do not shift it.
func (s Set) stream(i int) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%d:%s", s[i].Channel+1, s[i].Fault)
	before := uint64(0)
	for k := range i {
		if s[k].Channel == s[i].Channel && s[k].Fault == s[i].Fault {
			before++
		}
	}
	return h.Sum64() + before
}

// never is the time of what does not come.
const never = math.MaxInt64
