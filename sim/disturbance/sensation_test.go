package disturbance

import (
	"slices"
	"testing"
)

// TestSensation: the greatest value of each part; more parts than are kept
// become half as many, each of twice the length.
func TestSensation(t *testing.T) {
	s := sensation{per: 2}
	for _, p := range []float64{1, 3, 2, 1, 5} {
		s.feed(p)
	}
	if !slices.Equal(s.peak, []float64{3, 2, 5}) || s.per != 2 {
		t.Errorf("found %v by %d, expected 3, 2 and 5 by 2", s.peak, s.per)
	}
	s = sensation{per: 2}
	for h := range 3*2*mostParts + 1 { // 0 0 1 1 2 2 ...
		s.feed(float64(h / 2))
	}
	want := sensation{per: 8}
	for h := range 3*2*mostParts + 1 {
		want.feed(float64(h / 2))
	}
	if s.per != 8 || len(s.peak) != 3*mostParts/4+1 || !slices.Equal(s.peak, want.peak) {
		t.Errorf("found %d parts of %d half-cycles, expected %d of 8, as gathered so from the start", len(s.peak), s.per, 3*mostParts/4+1)
	}
}
