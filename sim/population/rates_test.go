package population_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"boilwright/faults"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
)

// A named fault on the same boards: parts as without it, severity as drawn.
func TestGiven(t *testing.T) {
	p := drawn(t, 2)
	positive := 0
	const n = 2000
	var severities []float64
	for i := range uint64(n) {
		healthy, err := p.Given(i)
		if err != nil || len(healthy.Faults) != 0 {
			t.Fatalf("member %d: %v %v", i, healthy.Faults, err)
		}
		m, err := p.Given(i, population.Place{Fault: "opto-one-way", Channel: 1})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(m.Values, healthy.Values) {
			t.Fatalf("member %d: a fault changes its parts", i)
		}
		j := m.Faults[0]
		if j.Severity < 0.6 || j.Severity > 1 || j.Onset != (faults.Onset{}) || j.Channel != 1 {
			t.Errorf("member %d: %+v", i, j)
		}
		severities = append(severities, j.Severity)
		for _, s := range j.Settings {
			if s.Key == "polarity" && s.Value > 0 {
				positive++
			}
		}
		rated, err := p.Member(i)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range rated.Faults { // alone or with others, it is the same
			alone, err := p.Given(i, population.Place{Fault: f.Fault, Channel: f.Channel})
			if err != nil || fmt.Sprint(alone.Faults[0]) != fmt.Sprint(f) {
				t.Errorf("member %d: %v alone, expected %v; %v", i, alone.Faults, f, err)
			}
		}
	}
	if mean := stat.Mean(severities, nil); math.Abs(mean-0.8) > 5*0.4/math.Sqrt(12*n) {
		t.Errorf("mean severity %g, expected 0.8", mean)
	}
	if d := math.Abs(float64(positive) - n/2); d > 5*math.Sqrt(n)/2 {
		t.Errorf("found %d positive of %d, expected half", positive, n)
	}
	for _, wrong := range []population.Place{{Fault: "no-such", Channel: 0}, {Fault: "triac-open", Channel: 9}, {Fault: "thermostat-open", Channel: 0}, {Fault: "loose-neutral", Channel: 0}} {
		if _, err := p.Given(0, wrong); err == nil {
			t.Errorf("%v: expected an error", wrong)
		}
	}
}

// What would take the supply beyond what a board may have goes as far as it can.
func TestSeverityPossible(t *testing.T) {
	b := boardfile.Default()
	b.Supply.Voltage = 255
	s := population.Spec{Rates: population.Rates{Faults: []population.Rate{{Place: population.Place{Fault: "supply-high", Channel: faults.WholeBoard}, Weight: 1}}}}
	p, err := population.New(b, s, 1)
	if err != nil {
		t.Fatal(err)
	}
	m, err := p.Member(0)
	if err != nil {
		t.Fatal(err)
	}
	f, err := m.Faulty()
	if err != nil {
		t.Fatal(err)
	}
	if v := f.Supply.Voltage; v < 259.99 || v > 260 {
		t.Errorf("supply of %v at severity %g, expected 260 V", v, m.Faults[0].Severity)
	}
}

// Faults come as often as their rates say: Pearson's statistic against the
// 1 − 10⁻⁶ point of the chi-squared distribution, and a binomial's five
// standard deviations.
func TestRates(t *testing.T) {
	b := boardfile.Default()
	weights := map[population.Place]float64{
		{Fault: "triac-shorted", Channel: 0}: 5, {Fault: "triac-shorted", Channel: 2}: 1, {Fault: "opto-dead", Channel: 1}: 3, {Fault: "loose-neutral", Channel: faults.WholeBoard}: 1,
	}
	s := population.Spec{Rates: population.Rates{Healthy: 0.3}}
	for _, at := range []population.Place{{"triac-shorted", 0}, {"triac-shorted", 2}, {"opto-dead", 1}, {"loose-neutral", faults.WholeBoard}} {
		s.Rates.Faults = append(s.Rates.Faults, population.Rate{Place: at, Weight: weights[at]})
	}
	const n = 20000
	count := func(more float64) (healthy, pairs int, by map[population.Place]float64) {
		s.Rates.More = q.Ratio(more)
		p, err := population.New(b, s, 8)
		if err != nil {
			t.Fatal(err)
		}
		by = map[population.Place]float64{}
		for i := range uint64(n) {
			m, err := p.Member(i)
			if err != nil {
				t.Fatal(err)
			}
			switch len(m.Faults) {
			case 0:
				healthy++
			case 1:
				by[population.Place{Fault: m.Faults[0].Fault, Channel: m.Faults[0].Channel}]++
			default:
				pairs++
			}
		}
		return healthy, pairs, by
	}
	healthy, pairs, by := count(0)
	if d := math.Abs(float64(healthy) - 0.3*n); d > 5*math.Sqrt(n*0.3*0.7) || pairs != 0 {
		t.Errorf("found %d healthy boards and %d with several faults, expected about %g and none", healthy, pairs, 0.3*n)
	}
	var seen, want []float64
	for at, w := range weights {
		seen, want = append(seen, by[at]), append(want, float64(n-healthy)*w/10)
	}
	if x, limit := stat.ChiSquare(seen, want), (distuv.ChiSquared{K: 3}).Quantile(1-1e-6); x > limit {
		t.Errorf("found %v, expected %v: chi-squared %.1f above %.1f", seen, want, x, limit)
	}
	healthy, pairs, _ = count(0.25)
	if d := math.Abs(float64(pairs) - 0.25*float64(n-healthy)); d > 5*math.Sqrt(float64(n)*0.25*0.75) {
		t.Errorf("found %d boards with several faults, expected a quarter of %d", pairs, n-healthy)
	}
}
