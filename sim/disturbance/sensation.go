package disturbance

import "time"

// Sensation is the instantaneous flicker over a run: the greatest P_inst of
// each of equal parts of it, the last of which may be shorter. A value of 1 is
// the threshold of perception.
type Sensation struct {
	Every time.Duration // the length of a part
	Peak  []float64
}

// mostParts is the number of parts kept; beyond it neighbours become one.
const mostParts = 2048

// sensation gathers a Sensation from one P_inst a half-cycle.
type sensation struct {
	per  int64 // half-cycles of a part
	n    int64 // of the present one
	peak []float64
}

// feed takes the P_inst at the end of the next half-cycle.
func (s *sensation) feed(p float64) {
	if s.n == s.per {
		s.n = 0
	}
	if s.n++; s.n > 1 {
		last := &s.peak[len(s.peak)-1]
		*last = max(*last, p)
		return
	}
	if len(s.peak) == mostParts {
		for i := range mostParts / 2 {
			s.peak[i] = max(s.peak[2*i], s.peak[2*i+1])
		}
		s.peak = s.peak[:mostParts/2]
		s.per *= 2
	}
	s.peak = append(s.peak, p)
}
