package population_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
	"boilwright/sim/population"
)

// moments returns mean and standard deviation of a law that is not cut off any
// further: of the logarithm for a lognormal one. The standard deviation of a
// normal law cut off at ±c is σ·√(1 − 2c·φ(c)/(2Φ(c) − 1)): Johnson, Kotz and
// Balakrishnan, Continuous Univariate Distributions, vol. 1, 1994, 13.10.1.
func moments(s population.Spread) (mean, sd float64) {
	low, high := s.Low, s.High
	if s.Law == population.LogNormal {
		low, high = math.Log(low), math.Log(high)
	}
	mean = (low + high) / 2
	if s.Law == population.Uniform {
		return mean, (high - low) / math.Sqrt(12)
	}
	const c = 3
	z := distuv.UnitNormal
	return mean, (high - low) / 6 * math.Sqrt(1-2*c*z.Prob(c)/(2*z.CDF(c)-1))
}

// standard takes a drawn value back to what its spread speaks of.
func standard(c population.Column, kind population.Kind, b *models.Board, v float64) float64 {
	x := v
	switch kind {
	case population.Factor:
		x = v / c.Nominal
	case population.Difference:
		x = v - c.Nominal
	case population.Share:
		for i := range b.Meters {
			if m := &b.Meters[i]; m.Name == c.Place && strings.HasPrefix(c.Parameter, "meter.") {
				x = v / map[string]float64{"meter.gain": float64(m.Accuracy), "meter.counts": m.AccuracyCounts}[c.Parameter]
			}
		}
		for i := range b.Clamps {
			if m := &b.Clamps[i]; m.Name == c.Place && strings.HasPrefix(c.Parameter, "clamp.") {
				x = v / map[string]float64{"clamp.gain": float64(m.Accuracy), "clamp.counts": m.AccuracyCounts}[c.Parameter]
			}
		}
		if c.Parameter == "monitor.gain" {
			x = v / float64(b.Monitor.Accuracy)
		}
	}
	if c.Spread.Law == population.LogNormal {
		return math.Log(x)
	}
	return x
}

// Mean and spread of every drawn parameter are those of its law, and no two
// parameters, and no two boards after each other, go together: each within
// five standard errors, which one in 1.7 million exceeds by chance.
func TestMoments(t *testing.T) {
	const n = 10000
	b := boardfile.Default()
	p := drawn(t, 11)
	columns := p.Columns()
	values := make([][]float64, len(columns))
	kinds := map[string]population.Kind{}
	for _, x := range population.Parameters() {
		kinds[x.Name] = x.Kind
	}
	for i := range uint64(n) {
		m, err := p.Given(i)
		if err != nil {
			t.Fatal(err)
		}
		for k, c := range columns {
			values[k] = append(values[k], standard(c, kinds[c.Parameter], b, m.Values[k]))
		}
	}
	seen := map[string]bool{}
	for k, c := range columns {
		seen[c.Parameter] = true
		mean, sd := stat.MeanStdDev(values[k], nil)
		wantMean, wantSD := moments(c.Spread)
		if d := math.Abs(mean - wantMean); d > 5*wantSD/math.Sqrt(n) {
			t.Errorf("%s, %v: mean %g, expected %g ± %g", c.Name, c.Spread, mean, wantMean, 5*wantSD/math.Sqrt(n))
		}
		// Of a normal sample; smaller for laws with lighter tails (Kendall and
		// Stuart, The Advanced Theory of Statistics, vol. 1, 10.7).
		if d := math.Abs(sd - wantSD); d > 5*wantSD/math.Sqrt(2*n) {
			t.Errorf("%s, %v: standard deviation %g, expected %g ± %g", c.Name, c.Spread, sd, wantSD, 5*wantSD/math.Sqrt(2*n))
		}
		if r := stat.Correlation(values[k][1:], values[k][:n-1], nil); math.Abs(r) > 5/math.Sqrt(n) {
			t.Errorf("%s: correlation %.3f of a board with the next", c.Name, r)
		}
		if next := (k + 1) % len(columns); math.Abs(stat.Correlation(values[k], values[next], nil)) > 5/math.Sqrt(n) {
			t.Errorf("%s and %s go together", c.Name, columns[next].Name)
		}
	}
	for _, x := range population.Parameters() {
		if !seen[x.Name] && x.Name != "thermostat" { // which this board has not
			t.Errorf("%s is not drawn on the demonstration board", x.Name)
		}
	}
}

// Every drawn board is one that a board file could hold, and keeps the order
// of its currents, pressures and temperatures.
func TestDrawnBoardsPass(t *testing.T) {
	const each = 2000 // of six boards
	named := map[string]*models.Board{}
	for _, name := range boardfile.EmbeddedNames() {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		named[name] = f.Board
	}
	// At the ends of what a board may be: a high supply, latching currents
	// that come close to the holding currents when hot, a thermostat, a boiler
	// that is full to its floor, and room for no more.
	odd := boardfile.Default()
	odd.Supply.Voltage, odd.Ambient, odd.AmbientPressure = 258, 59, 1.09e5
	for k := range odd.Channels {
		c := &odd.Channels[k]
		c.Triac.HoldingScale, c.Triac.LatchingScale, c.Triac.Latching = 250, 150, 60e-3
		c.Thermostat = models.Thermostat{Fitted: true, Opens: 100, Closes: 99, Resistance: 0.01}
		c.Boiler.Floor, c.Boiler.Inlet, c.Boiler.Start = c.Boiler.Water, 98, 20
		c.Snubber.Capacitance, c.Opto.Inhibit = 0, q.Volt(math.Inf(1))
	}
	if err := boardfile.Check(odd); err != nil {
		t.Fatal(err)
	}
	named["odd"] = odd
	for name, b := range named {
		p, err := population.New(b, population.DefaultSpec(b), 3)
		if err != nil {
			t.Fatal(err)
		}
		for i := range uint64(each) {
			m, err := p.Member(i)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if err := boardfile.Check(m.Board); err != nil {
				t.Fatalf("%s, member %d: %v", name, i, err)
			}
			for k := range m.Board.Channels {
				c := &m.Board.Channels[k]
				for _, tj := range []float64{-20, 25, 150} {
					if l, h := c.Triac.LatchingAt(tj), c.Triac.HoldingAt(tj); !(l > h) {
						t.Errorf("%s, member %d: triac latches at %g A and holds at %g A at %g °C", name, i, l, h, tj)
					}
				}
				if !(c.Opto.Latching > c.Opto.Holding) {
					t.Errorf("%s, member %d: opto latches at %v and holds at %v", name, i, c.Opto.Latching, c.Opto.Holding)
				}
			}
			if len(m.Faults) > 0 {
				if _, err := m.Faulty(); err != nil {
					t.Errorf("%s, member %d: %v", name, i, err)
				}
			}
		}
	}
}

// describe writes everything of a member.
func describe(m population.Member) string {
	return fmt.Sprintf("%d %+v %v %v %v %v\n%s", m.Index, m.Faults, m.Values, append(m.Calibrations, m.Clamps...), m.MonitorGain, m.Seed, boardfile.Marshal(m.Board))
}

// A member follows from board, spec, seed and index alone: drawn again, in
// another order, alone, from another population of the same make.
func TestIndexAlone(t *testing.T) {
	p, again := drawn(t, 5), drawn(t, 5)
	var want []string
	for i := range uint64(50) {
		m, err := p.Member(i)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, describe(m))
	}
	for _, i := range []uint64{49, 3, 17, 3, 0} {
		m, err := again.Member(i)
		if err != nil {
			t.Fatal(err)
		}
		if describe(m) != want[i] {
			t.Errorf("member %d differs when it is drawn by itself", i)
		}
	}
	other, err := drawn(t, 6).Member(0)
	if err != nil {
		t.Fatal(err)
	}
	if slices.Contains(want, describe(other)) {
		t.Error("another seed gives the same member")
	}
	// A member that is edited shows in no other.
	m, _ := p.Member(4)
	m.Board.Channels[0].Element.Resistance, m.Board.Meters[0].Ranges[0] = 1, 1
	if m, _ = p.Member(4); describe(m) != want[4] {
		t.Error("an edit of a member shows in the population")
	}
}

// Another law of one parameter, or other rates, shift nothing else.
func TestStreamsApart(t *testing.T) {
	b := boardfile.Default()
	s := population.DefaultSpec(b)
	p, err := population.New(b, s, 1)
	if err != nil {
		t.Fatal(err)
	}
	s.Tolerances.Triac.Holding = population.Spread{} // not drawn
	s.Tolerances.Load.Element = population.Within(population.Uniform, 0.2)
	s.Rates = population.Rates{}
	changed, err := population.New(b, s, 1)
	if err != nil {
		t.Fatal(err)
	}
	by := func(p *population.Population, i uint64) map[string]float64 {
		m, err := p.Member(i)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]float64{}
		for k, c := range p.Columns() {
			out[c.Name] = m.Values[k]
		}
		return out
	}
	for i := range uint64(20) {
		was, is := by(p, i), by(changed, i)
		for _, c := range p.Columns() {
			v, ok := is[c.Name]
			switch {
			case c.Parameter == "triac.holding-current":
				if ok {
					t.Errorf("%s is drawn though fixed", c.Name)
				}
			case c.Parameter == "element.resistance":
				if v == was[c.Name] {
					t.Errorf("%s has not changed", c.Name)
				}
			case v != was[c.Name]:
				t.Errorf("member %d, %s: %g, expected %g as before", i, c.Name, v, was[c.Name])
			}
		}
		m, _ := changed.Member(i)
		if h := m.Board.Channels[0].Triac.Holding; h != b.Channels[0].Triac.Holding {
			t.Errorf("holding current %v, expected the board's own", h)
		}
	}
}

// The draws are frozen: a change of them changes every population that has
// been published.
func TestFrozenStream(t *testing.T) {
	m, err := drawn(t, 1).Member(0)
	if err != nil {
		t.Fatal(err)
	}
	got := fmt.Sprintf("%.6f %.6f %.6f %.8f %d", m.Board.Supply.Voltage, m.Board.Supply.Frequency, m.Board.Channels[2].Element.Resistance, m.Calibrations[1].Gain, m.Seed)
	if want := "239.165387 49.966780 56.440482 0.00596471 12591137508102360253"; got != want {
		t.Errorf("found %s, expected %s", got, want)
	}
}
