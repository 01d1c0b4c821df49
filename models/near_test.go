package models_test

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// near fails unless got is within tol·scale of want.
func near(t *testing.T, what string, got, want, scale, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Abs(scale)) {
		t.Errorf("%s: got %.15g, want %.15g (off by %.3g, allowed %.3g)", what, got, want, got-want, tol*math.Abs(scale))
	}
}

// printed fails unless got rounds to a number as it is printed in a source:
// within half a unit of its last digit.
func printed(t *testing.T, what string, got float64, number string) {
	t.Helper()
	want, err := strconv.ParseFloat(number, 64)
	if err != nil {
		t.Fatal(err)
	}
	mantissa, exponent, _ := strings.Cut(number, "e")
	places := 0
	if _, fraction, ok := strings.Cut(mantissa, "."); ok {
		places = len(fraction)
	}
	e := 0
	if exponent != "" {
		if e, err = strconv.Atoi(exponent); err != nil {
			t.Fatal(err)
		}
	}
	if half := 0.5000001 * math.Pow10(e-places); !(math.Abs(got-want) <= half) {
		t.Errorf("%s: got %.15g, expected what rounds to %s", what, got, number)
	}
}
