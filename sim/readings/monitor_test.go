package readings_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

func table(t testing.TB, b *models.Board, tol readings.Tolerance) []readings.Combination {
	t.Helper()
	rows, err := readings.MonitorTable(b, circuit.Uniform(len(b.Channels), 20), tol)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// row returns the index of the row of a name.
func row(t testing.TB, rows []readings.Combination, name string) int {
	t.Helper()
	i := slices.IndexFunc(rows, func(c readings.Combination) bool { return c.Name() == name })
	if i < 0 {
		t.Fatalf("no row %q", name)
	}
	return i
}

// TestMonitorRows: three states for each of three channels make 27 rows, the
// first channel slowest; a row with more than one half-wave comes a second
// time with half-waves of both polarities.
func TestMonitorRows(t *testing.T) {
	rows := table(t, embedded(t, "dye-bench-230"), readings.DefaultTolerance)
	if len(rows) != 27+9 { // two half-waves in 6 rows, three in one: 6·1 + 1·3
		t.Fatalf("%d rows, want 27 and 9 opposed", len(rows))
	}
	seen := map[string]bool{}
	for i, r := range rows {
		if seen[r.Name()] {
			t.Errorf("row %q comes twice", r.Name())
		}
		seen[r.Name()] = true
		number, halves := 0, 0
		for _, m := range r.Modes {
			number = 3*number + int(m)
			if m == readings.HalfWave || m == readings.Reversed {
				halves++
			}
		}
		if i < 27 && (number != i || r.Opposed()) || i >= 27 && (!r.Opposed() || halves < 2) {
			t.Errorf("row %d is %q", i, r.Name())
		}
		if halves > 1 && i < 27 { // each half-wave but the first is reversed in some row
			first := strings.Index(r.Name(), "half") + len("half")
			row(t, rows, r.Name()[:first]+strings.Replace(r.Name()[first:], "half", "reversed", 1))
		}
		for _, b := range []readings.Band{r.Power, r.Current} {
			if !(b.Low <= b.Nominal && b.Nominal <= b.High && b.Low >= 0) {
				t.Errorf("row %q: band %+v", r.Name(), b)
			}
		}
	}
	if r := rows[0]; r.Power != (readings.Band{}) || r.Current != (readings.Band{}) {
		t.Errorf("all off: %+v W, %+v A, want nothing on the display", r.Power, r.Current)
	}
}

// TestMonitorHalfWave: a channel that conducts in one polarity takes half of
// its watts and 0.71 of its amperes. Half of a sine's cycle, texts; the step
// of the display and, as the source impedance is the same in the conducting
// half, a few parts in a thousand are allowed.
func TestMonitorHalfWave(t *testing.T) {
	for _, name := range []string{"dye-bench-240", "dye-bench-120", "neutral-side-230"} {
		rows := table(t, embedded(t, name), readings.DefaultTolerance)
		for _, pair := range [][2]string{{"half off off", "on off off"}, {"off half off", "off on off"}, {"off off half", "off off on"}} {
			half, full := rows[row(t, rows, pair[0])], rows[row(t, rows, pair[1])]
			near(t, name+", watts of "+pair[0], half.Power.Nominal/full.Power.Nominal, 0.5, 1, 1e-3)
			near(t, name+", amperes of "+pair[0], half.Current.Nominal/full.Current.Nominal, math.Sqrt2/2, 1, 2.5e-3)
		}
	}
}

// TestMonitorSums: watts add up, less what the channels take from each other
// on a supply with an impedance, and exactly on one without. Amperes of full
// channels add up; of half-waves of one polarity too, times √½; of both
// polarities as the root of half the sum of squares.
func TestMonitorSums(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	rows := table(t, b, readings.DefaultTolerance)
	power := func(rows []readings.Combination, name string) float64 { return rows[row(t, rows, name)].Power.Nominal }
	sum := power(rows, "on off off") + power(rows, "off on off") + power(rows, "off off on")
	if all := power(rows, "on on on"); !(all < sum && all > 0.95*sum) {
		t.Errorf("all on take %.1f W of a sum of %.1f W, expected a few percent less", all, sum)
	}

	stiffen(b)
	for k := range b.Channels {
		c := &b.Channels[k]
		c.Snubber, c.Triac.Off, c.Opto.Off = models.Snubber{}, 0, 0 // nothing flows while it blocks
	}
	b.Monitor.PowerResolution, b.Monitor.CurrentResolution = 0, 0
	rows = table(t, b, readings.DefaultTolerance)
	amps := func(name string) float64 { return rows[row(t, rows, name)].Current.Nominal }
	one := []float64{amps("on off off"), amps("off on off"), amps("off off on")}
	watts := []float64{power(rows, "on off off"), power(rows, "off on off"), power(rows, "off off on")}
	for _, r := range rows {
		w, both, up, down := 0.0, 0.0, 0.0, 0.0 // currents in both, or one half of the cycle
		for k, m := range r.Modes {
			switch {
			case m == readings.FullWave:
				w += watts[k]
				both += one[k]
			case m == readings.Reversed:
				w += watts[k] / 2
				down += one[k]
			case m == readings.HalfWave:
				w += watts[k] / 2
				up += one[k]
			}
		}
		near(t, r.Name()+", watts", r.Power.Nominal, w, 4000, 1e-9)
		near(t, r.Name()+", amperes", r.Current.Nominal, math.Sqrt(((both+up)*(both+up)+(both+down)*(both+down))/2), 16, 1e-4)
	}
}

// TestMonitorPolarity: half-waves of one polarity take their current in the
// same half of the supply's cycle wherever their triacs sit, so that the table
// does not depend on it.
func TestMonitorPolarity(t *testing.T) {
	want := table(t, embedded(t, "dye-bench-230"), readings.DefaultTolerance)
	for _, side := range []models.TriacSide{models.LineSide, models.NeutralSide} {
		for _, mt1 := range []models.MT1Side{models.MT1Supply, models.MT1Load} {
			b := embedded(t, "dye-bench-230")
			b.Channels[1].Side, b.Channels[1].MT1 = side, mt1
			for i, r := range table(t, b, readings.DefaultTolerance) {
				what := fmt.Sprintf("triac in the %v, MT1 to the %v, %s", side, mt1, r.Name())
				near(t, what+", watts", r.Power.Nominal, want[i].Power.Nominal, 1, 0.21) // two steps of the display
				near(t, what+", amperes", r.Current.Nominal, want[i].Current.Nominal, 1, 0.011)
			}
		}
	}
}

// TestMonitorOverlaps: rows that cannot be told apart say so of each other,
// none of itself, and the lists agree with the bands.
func TestMonitorOverlaps(t *testing.T) {
	rows := table(t, embedded(t, "dye-bench-230"), readings.DefaultTolerance)
	meet := func(a, b readings.Band) bool { return !(a.High < b.Low || b.High < a.Low) }
	some := false
	for i, r := range rows {
		for j, o := range rows {
			p, a := i != j && meet(r.Power, o.Power), i != j && meet(r.Current, o.Current)
			if slices.Contains(r.SamePower, j) != p || slices.Contains(r.SameCurrent, j) != a || slices.Contains(r.Same, j) != (p && a) {
				t.Errorf("rows %q and %q: lists say %v, %v, %v; bands %v, %v", r.Name(), o.Name(),
					slices.Contains(r.SamePower, j), slices.Contains(r.SameCurrent, j), slices.Contains(r.Same, j), p, a)
			}
			if slices.Contains(r.Same, j) != slices.Contains(o.Same, i) {
				t.Errorf("rows %q and %q: one says it is the other's, not the other way round", r.Name(), o.Name())
			}
			some = some || p && a
		}
	}
	if !some {
		t.Error("no two rows overlap, expected some among 34")
	}
}

// TestMonitorTwins: two channels of nearly equal power cannot be told apart,
// two of 1000 W and 1500 W can. Common practice, no source.
func TestMonitorTwins(t *testing.T) {
	b := embedded(t, "dye-bench-230")
	b.Channels[1].Element.Resistance = b.Channels[0].Element.Resistance * 0.97
	rows := table(t, b, readings.DefaultTolerance)
	soak, dye, steam := row(t, rows, "on off off"), row(t, rows, "off on off"), row(t, rows, "off off on")
	if !slices.Contains(rows[soak].Same, dye) || !slices.Contains(rows[dye].Same, soak) {
		t.Errorf("channels 3 %% apart: %+v and %+v are told apart", rows[soak].Power, rows[dye].Power)
	}
	if slices.Contains(rows[steam].Same, dye) {
		t.Errorf("channels 24 %% apart: %+v and %+v are not told apart", rows[steam].Power, rows[dye].Power)
	}
	half := row(t, rows, "half half off")
	if slices.Contains(rows[half].Same, soak) || !slices.Contains(rows[half].SamePower, soak) {
		t.Errorf("two half-waves %+v %+v: same watts as one full channel, but other amperes, expected", rows[half].Power, rows[half].Current)
	}
	if opposed := row(t, rows, "half reversed off"); !slices.Contains(rows[opposed].Same, soak) {
		t.Error("two opposed half-waves of equal channels are told apart from one full channel, expected the same watts and amperes")
	}
}

// TestDefaultTolerance: −10 % and +5 % of an element's power (input deviation
// of heating appliances above 200 W, IEC 60335-1 clause 10.1, from memory)
// are a resistance between 0.952380952381 and 1.11111111111 of V²/P at
// constant voltage.
func TestDefaultTolerance(t *testing.T) {
	tol := readings.DefaultTolerance
	near(t, "least resistance", 1/(1+float64(tol.ElementHigh)), 0.952380952381, 1, 1e-12)
	near(t, "greatest resistance", 1/(1+float64(tol.ElementLow)), 1.11111111111, 1, 1e-11)

	b := single(t, "dye-bench-230")
	stiffen(b)
	c := &b.Channels[0]
	c.Snubber, c.Wire, c.Link.Resistance = models.Snubber{}, 0, 0
	c.Triac.Threshold, c.Triac.Slope = 0, 0
	b.Monitor = models.EnergyMonitor{Accuracy: 0.01, PowerResolution: 0.1, CurrentResolution: 0.01, Floor: 2}
	on := func(tol readings.Tolerance) readings.Combination {
		rows := table(t, b, tol)
		return rows[row(t, rows, "on")]
	}
	p := 230 * 230 / float64(c.Element.Resistance)
	r := on(tol)
	near(t, "nominal watts", r.Power.Nominal, p, p, 5e-4)
	near(t, "least watts", r.Power.Low, 0.9*p*0.99-0.05, p, 5e-4)
	near(t, "most watts", r.Power.High, 1.05*p*1.01+0.05, p, 5e-4)
	near(t, "least amperes", r.Current.Low, 0.9*p/230*0.99-0.005, p/230, 1e-3)
	near(t, "most amperes", r.Current.High, 1.05*p/230*1.01+0.005, p/230, 1e-3)

	tol.Supply = 0.1
	r = on(tol)
	near(t, "least watts at 207 V", r.Power.Low, 0.9*0.81*p*0.99, p, 1e-3)
	near(t, "most watts at 253 V", r.Power.High, 1.05*1.21*p*1.01, p, 1e-3)
	near(t, "most amperes at 253 V", r.Current.High, 1.05*1.1*p/230*1.01, p/230, 3e-3)

	r = on(readings.Tolerance{})
	near(t, "least watts, no tolerance", r.Power.Low, p*0.99, p, 5e-4)

	// Below its floor the monitor shows nothing at all.
	b.Monitor.Floor = q.Watt(2 * p)
	if r := on(readings.DefaultTolerance); r.Power != (readings.Band{}) || r.Current != (readings.Band{}) {
		t.Errorf("below the floor: %+v W, %+v A, want nothing on the display", r.Power, r.Current)
	}
}

func TestMonitorErrors(t *testing.T) {
	b := single(t, "dye-bench-230")
	for range 6 {
		b.Channels = append(b.Channels, b.Channels[0])
	}
	_, err := readings.MonitorTable(b, circuit.Uniform(7, 20), readings.DefaultTolerance)
	if err == nil || !strings.Contains(err.Error(), "found 7 channels, expected at most 6") {
		t.Errorf("seven channels: error %v", err)
	}
	b = single(t, "dye-bench-230")
	b.Bridges = append(b.Bridges, models.Bridge{Name: "nowhere", From: models.At(models.Output, 3), To: neutral, Resistance: 1})
	if _, err = readings.MonitorTable(b, circuit.Uniform(1, 20), readings.DefaultTolerance); err == nil || !strings.Contains(err.Error(), "nowhere") {
		t.Errorf("a bridge to nowhere: error %v", err)
	}
	if got := fmt.Sprint(readings.ChannelOff, readings.HalfWave, readings.FullWave); got != "off half on" {
		t.Errorf("modes are written %q", got)
	}
}
