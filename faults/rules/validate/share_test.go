package validate

import (
	"math"
	"testing"
	"testing/quick"

	"gonum.org/v1/gonum/stat/distuv"
)

// Newcombe, Stat. Med. 17 (1998) 857, Table I, method 3, from memory to four
// digits; more digits are from the formula at 30 digits.
func TestWilson(t *testing.T) {
	for _, x := range []struct {
		k, n      uint64
		low, high float64
	}{
		{81, 263, 0.2553, 0.3662},
		{15, 148, 0.0624, 0.1605},
		{0, 20, 0, 0.1611},
		{1, 29, 0.0061, 0.1718},
	} {
		low, high := Wilson(x.k, x.n, 0.95)
		if math.Abs(low-x.low) > 5e-5 || math.Abs(high-x.high) > 5e-5 {
			t.Errorf("%d of %d: found %.6f to %.6f, expected %.4f to %.4f", x.k, x.n, low, high, x.low, x.high)
		}
	}
	low, high := Wilson(81, 263, 0.95)
	if math.Abs(low-0.2552885199) > 1e-9 || math.Abs(high-0.366209577) > 1e-9 {
		t.Errorf("81 of 263: found %.10f to %.10f", low, high)
	}
}

// The ends are the shares from which the count lies just as many standard
// deviations away as the confidence allows: what defines the interval.
func TestWilsonInverts(t *testing.T) {
	z := distuv.UnitNormal.Quantile(0.975)
	holds := func(a, b uint16) bool {
		n := uint64(a)%5000 + 1
		k := uint64(b) % (n + 1)
		low, high := Wilson(k, n, 0.95)
		p := float64(k) / float64(n)
		for _, x := range []struct {
			end   float64
			exact bool
		}{{low, k == 0}, {high, k == n}} {
			if x.exact {
				continue
			}
			if got := math.Abs(p-x.end) / math.Sqrt(x.end*(1-x.end)/float64(n)); math.Abs(got-z) > 1e-6 {
				t.Logf("%d of %d: the end %v is %v standard deviations away, expected %v", k, n, x.end, got, z)
				return false
			}
		}
		return low <= p && p <= high && low >= 0 && high <= 1
	}
	if err := quick.Check(holds, nil); err != nil {
		t.Error(err)
	}
}

func TestWilsonNone(t *testing.T) {
	for _, x := range []Share{{0, 0}, {3, 2}} {
		if low, high := x.Interval(); !math.IsNaN(low) || !math.IsNaN(high) {
			t.Errorf("%v: found %v to %v, expected no numbers", x, low, high)
		}
	}
	if low, _ := Wilson(0, 7, 0.95); low != 0 {
		t.Errorf("none of 7: found the lower end %v, expected 0", low)
	}
	if _, high := Wilson(7, 7, 0.95); high != 1 {
		t.Errorf("all of 7: found the upper end %v, expected 1", high)
	}
}

func TestCounts(t *testing.T) {
	c := Counts{TP: 90, FP: 40, FN: 10, TN: 360}
	for _, x := range []struct {
		name string
		got  Share
		want float64
	}{
		{"sensitivity", c.Sensitivity(), 0.9},
		{"specificity", c.Specificity(), 0.9},
		{"positive predictive value", c.Positive(), 90.0 / 130},
		{"negative predictive value", c.Negative(), 360.0 / 370},
		{"prevalence", c.Prevalence(), 0.2},
	} {
		if math.Abs(x.got.Value()-x.want) > 1e-15 {
			t.Errorf("%s: found %v, expected %v", x.name, x.got.Value(), x.want)
		}
	}
	// Predictive values follow from the others by Bayes' theorem.
	se, sp, p := c.Sensitivity().Value(), c.Specificity().Value(), c.Prevalence().Value()
	if want := se * p / (se*p + (1-sp)*(1-p)); math.Abs(c.Positive().Value()-want) > 1e-15 {
		t.Errorf("found %v, expected %v", c.Positive().Value(), want)
	}
}

// What is told of a share is never rounded to all or none that it is not.
func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		shares []float64
		want   int
	}{{[]float64{0.5}, 2}, {[]float64{0}, 2}, {[]float64{1}, 2}, {[]float64{1, 0.84, 1}, 2}, {[]float64{1, 0.9962, 1}, 4},
		{[]float64{0.9949}, 2}, {[]float64{0.995}, 4}, {[]float64{0.0049}, 4}, {[]float64{0.005}, 2}, {[]float64{math.NaN()}, 2}} {
		if got := Decimals(c.shares...); got != c.want {
			t.Errorf("%v: found %d, expected %d", c.shares, got, c.want)
		}
		for _, x := range c.shares {
			if v := math.Round(x*math.Pow(10, float64(c.want))) / math.Pow(10, float64(c.want)); x > 0 && x < 1 && (v == 0 || v == 1) {
				t.Errorf("%v is rounded to %v", x, v)
			}
		}
	}
}
