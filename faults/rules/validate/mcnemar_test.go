package validate

import (
	"math"
	"testing"
)

func TestMcNemar(t *testing.T) {
	// Approval of a president in two surveys: 150 and 86 changed their minds.
	// Agresti, Categorical Data Analysis (1990) page 350: z² = 17.36 without
	// the correction.
	x := McNemar(150, 86)
	b, c := 150.0, 86.0
	if z := (b - c) * (b - c) / (b + c); math.Abs(z-17.36) > 0.005 {
		t.Errorf("found z² = %.4f, expected 17.36", z)
	}
	if want := (150.0 - 86 - 1) * (150.0 - 86 - 1) / 236; x.Square != want || x.Exact {
		t.Errorf("found χ² = %v, exact %v, expected %v of the chi-squared law", x.Square, x.Exact, want)
	}
	// Of a standard normal law squared: two tails beyond its root.
	if want := math.Erfc(math.Sqrt(x.Square / 2)); math.Abs(x.P-want) > 1e-12 {
		t.Errorf("found P = %v, expected %v", x.P, want)
	}
	// Airway hyper-responsiveness before and after a transplantation: 1 pair
	// changed one way, 7 the other. Fagerland, Lydersen, Laake, BMC Medical
	// Research Methodology 13 (2013) 91, exact conditional test: P = 0.070, from
	// memory.
	if x := McNemar(1, 7); !x.Exact || math.Abs(x.P-0.070) > 0.0005 {
		t.Errorf("found P = %.5f, expected 0.070", x.P)
	}
}

// The binomial law summed term by term.
func TestMcNemarExact(t *testing.T) {
	for n := range uint64(exactBelow) {
		for b := range n + 1 {
			c := n - b
			x := McNemar(b, c)
			sum, term := 0.0, math.Pow(0.5, float64(n))
			for k := uint64(0); k <= min(b, c); k++ {
				sum += term
				term *= float64(n-k) / float64(k+1)
			}
			if want := math.Min(1, 2*sum); math.Abs(x.P-want) > 1e-12 {
				t.Errorf("%d and %d: found P = %v, expected %v", b, c, x.P, want)
			}
			if y := McNemar(c, b); y.P != x.P {
				t.Errorf("%d and %d: found P = %v and %v the other way round", b, c, x.P, y.P)
			}
		}
	}
	if x := McNemar(0, 0); x.P != 1 || !math.IsNaN(x.Square) {
		t.Errorf("without discordant pairs: found %v", x)
	}
}
