package faults

import (
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"boilwright/models"
)

// changes is the interface that a simulation asks of a run, as it would
// define it itself.
type changes interface {
	Version(m models.Moment) (version uint64, next time.Duration)
	Timed() bool
	Edit(b *models.Board, m models.Moment) error
}

var _ changes = (*Run)(nil)

// parsed reads injections for the channels of the healthy board.
func parsed(t testing.TB, texts ...string) Set {
	t.Helper()
	s, err := ParseSet(texts, []string{"soak", "dye", "steam"})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func started(t testing.TB, seed uint64, texts ...string) *Run {
	t.Helper()
	r, err := parsed(t, texts...).Start(seed)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// cold is a moment of a machine of three channels at 20 °C.
func cold(at time.Duration) models.Moment {
	same := func(x float64) []float64 { return []float64{x, x, x} }
	return models.Moment{Time: at, HalfCycle: int64(at / (10 * time.Millisecond)),
		Element: same(20), Water: same(20), Shell: same(20), Link: same(20), Junction: same(20), Lid: 20, Pocket: 20,
		Cycles: make([]int64, 3), GatePower: same(0)}
}

// severityAt is the severity of the first injection at a time, of a cold
// machine.
func severityAt(r *Run, at time.Duration) float64 { return r.Severities(cold(at))[0] }

func TestOnsetAtATime(t *testing.T) {
	r := started(t, 1, "dye:triac-open,from=25 min")
	const from = 25 * time.Minute
	if v, next := r.Version(cold(0)); v != 0 || next != from {
		t.Errorf("found version %d until %v, expected 0 until %v", v, next, from)
	}
	if s := r.Sharp(cold(0)); s != never {
		t.Errorf("found a sharp change at %v without a delay", s)
	}
	if v, _ := r.Version(cold(from - 1)); v != 0 {
		t.Errorf("found version %d a nanosecond before the onset", v)
	}
	if v, next := r.Version(cold(from)); v == 0 || next != never {
		t.Errorf("found version %d until %v at the onset", v, next)
	}
	b := healthyBoard(models.LineSide, models.MT1Supply)
	if err := r.Edit(b, cold(from)); err != nil || !b.Channels[1].Triac.Open {
		t.Errorf("found an open triac: %v, %v", b.Channels[1].Triac.Open, err)
	}
}

// An onset by temperature stays when the place has cooled again, and belongs
// to the channel that is watched.
func TestOnsetAtATemperature(t *testing.T) {
	hot := func(at time.Duration, set func(m *models.Moment)) models.Moment {
		m := cold(at)
		set(&m)
		return m
	}
	for _, c := range []struct {
		text string
		set  func(m *models.Moment)
	}{
		{"dye:triac-shorted,junction-above=120 °C", func(m *models.Moment) { m.Junction[1] = 120 }},
		{"dye:element-open,element-above=400 °C", func(m *models.Moment) { m.Element[1] = 401 }},
		{"dye:scale,water-above=60 °C", func(m *models.Moment) { m.Water[1] = 60 }},
		{"dye:wire-open,shell-above=60 °C", func(m *models.Moment) { m.Shell[1] = 60 }},
		{"dye:link-open,link-above=90 °C,watch=steam", func(m *models.Moment) { m.Link[2] = 90 }},
		{"board:loose-neutral,lid-above=40 °C", func(m *models.Moment) { m.Lid = 40 }},
		{"dye:opto-weak-led,pocket-above=45 °C", func(m *models.Moment) { m.Pocket = 50 }},
		{"board:earth-missing,water-above=60 °C,watch=1", func(m *models.Moment) { m.Water[0] = 75 }},
		{"dye:gate-resistor-open,gate-power-above=2 W", func(m *models.Moment) { m.GatePower[1] = 2 }},
		{"dye:triac-leaky,half-cycles=100", func(m *models.Moment) { m.Cycles[1] = 100 }},
	} {
		r := started(t, 1, c.text)
		if v, next := r.Version(cold(0)); v != 0 || next != never {
			t.Errorf("%s: found version %d until %v while cold", c.text, v, next)
		}
		if v, _ := r.Version(hot(time.Second, c.set)); v == 0 {
			t.Errorf("%s: found no onset", c.text)
		}
		if v, _ := r.Version(cold(2 * time.Second)); v == 0 {
			t.Errorf("%s: found the onset gone after cooling", c.text)
		}
		// Another channel's value is not looked at.
		other := started(t, 1, c.text)
		m := hot(0, c.set)
		for _, s := range [][]float64{m.Junction, m.Element, m.Water, m.Shell, m.Link, m.GatePower} {
			s[0], s[1], s[2] = s[1], s[2], s[0]
		}
		m.Cycles[0], m.Cycles[1] = m.Cycles[1], m.Cycles[0]
		m.Lid, m.Pocket = 20, 20
		if v, _ := other.Version(m); v != 0 {
			t.Errorf("%s: found an onset by another place", c.text)
		}
		// A moment that lacks the value never reaches it.
		bare := started(t, 1, c.text)
		if v, _ := bare.Version(models.Moment{}); v != 0 {
			t.Errorf("%s: found an onset in an empty moment", c.text)
		}
	}
}

// The conditions must last for the hold, and a break begins it anew.
func TestHoldAndDelay(t *testing.T) {
	r := started(t, 1, "dye:gate-resistor-open,gate-power-above=2 W,hold=20 s,delay=3 ms")
	at := func(s float64, watts float64) models.Moment {
		m := cold(time.Duration(s * float64(time.Second)))
		m.GatePower[1] = watts
		return m
	}
	check := func(m models.Moment, version uint64, next, sharp time.Duration) {
		t.Helper()
		v, n := r.Version(m)
		if s := r.Sharp(m); v != version || n != next || s != sharp {
			t.Errorf("at %v: found version %d until %v, sharp %v; expected %d until %v, sharp %v", m.Time, v, n, s, version, next, sharp)
		}
	}
	const second = time.Second
	check(at(0, 0), 0, never, never)
	check(at(10, 5), 0, 30*second+3*time.Millisecond, 30*second+3*time.Millisecond)
	check(at(29, 1), 0, never, never) // broken
	check(at(40, 5), 0, 60*second+3*time.Millisecond, 60*second+3*time.Millisecond)
	check(at(60, 5), 0, 60*second+3*time.Millisecond, 60*second+3*time.Millisecond)
	check(at(60.002, 0), 0, 60*second+3*time.Millisecond, 60*second+3*time.Millisecond) // held for long enough
	check(at(60.003, 0), 1, never, never)
}

// TestTimed: only time changes a version once every fault has begun, and none is a
// film that dries.
func TestTimed(t *testing.T) {
	for _, c := range []struct {
		set           []string
		before, after bool
	}{
		{nil, true, true},
		{[]string{"dye:triac-shorted"}, true, true},
		{[]string{"dye:triac-shorted,on=1 s,off=2 s"}, true, true},
		{[]string{"dye:triac-shorted,from=10 min,junction-above=100 °C"}, false, true},
		{[]string{"dye:triac-shorted", "soak:wire-open,junction-above=100 °C"}, false, false},
		{[]string{"dye:film-opto,dries=100 s"}, false, false},
	} {
		r := started(t, 1, c.set...)
		m := cold(time.Minute)
		r.Version(m)
		if got := r.Timed(); got != c.before {
			t.Errorf("%v: found %v, expected %v", c.set, got, c.before)
		}
		m = cold(20 * time.Minute)
		m.Junction[1] = 110
		r.Version(m)
		if got := r.Timed(); got != c.after {
			t.Errorf("%v: found %v once hot, expected %v", c.set, got, c.after)
		}
	}
}

// A time and a temperature together: both must be met.
func TestOnsetOfSeveralConditions(t *testing.T) {
	r := started(t, 1, "dye:triac-shorted,from=10 min,junction-above=100 °C")
	m := cold(time.Minute)
	m.Junction[1] = 110
	if v, next := r.Version(m); v != 0 || next != 10*time.Minute {
		t.Errorf("found version %d until %v, expected 0 until 10 min", v, next)
	}
	if v, next := r.Version(cold(11 * time.Minute)); v != 0 || next != never {
		t.Errorf("found version %d until %v, expected 0 while cold", v, next)
	}
	m.Time = 12 * time.Minute
	if v, _ := r.Version(m); v == 0 {
		t.Error("found no onset with both met")
	}
}

func TestFixedDwell(t *testing.T) {
	r := started(t, 1, "dye:drive-open,from=1 min,on=2 s,off=10 s,dwell=fixed")
	for at := time.Duration(0); at < 3*time.Minute; at += 500 * time.Millisecond {
		want := 0.0
		if at >= time.Minute && (at-time.Minute)%(12*time.Second) < 2*time.Second {
			want = 1
		}
		if got := severityAt(r, at); got != want {
			t.Fatalf("at %v: found severity %g, expected %g", at, got, want)
		}
	}
}

// The share of time that an alternating renewal process is on is
// on/(on + off), and an exponential dwell has a standard deviation equal to
// its mean (Ross, Introduction to Probability Models, renewal theory, from
// memory). Tolerances are four standard errors for 20,000 dwells.
func TestRandomDwell(t *testing.T) {
	const dwells = 20000
	on, off := 2*time.Second, 6*time.Second
	r := started(t, 7, "dye:drive-open,on=2 s,off=6 s")
	var acting, total time.Duration
	var sum, square float64
	at := time.Duration(0)
	for range dwells {
		v, next := r.Version(cold(at))
		d := next - at
		if v != 0 {
			acting += d
		}
		total += d
		mean := off
		if v != 0 {
			mean = on
		}
		x := float64(d) / float64(mean)
		sum += x
		square += x * x
		at = next
	}
	share := float64(acting) / float64(total)
	if math.Abs(share-0.25) > 4*0.25*0.75*math.Sqrt(2.0/(dwells/2)) {
		t.Errorf("found %g of the time acting, expected 0.25", share)
	}
	mean := sum / dwells
	if math.Abs(mean-1) > 4/math.Sqrt(dwells) {
		t.Errorf("found a mean of %g of what was asked", mean)
	}
	if v := square/dwells - mean*mean; math.Abs(v-1) > 4*math.Sqrt(8.0/dwells) {
		t.Errorf("found a variance of %g, expected 1", v)
	}
}

// The first changes, in nanoseconds, of two streams for seed 1. Do not change these: a change
// is a decision that changes every recorded run with intermittent faults.
func TestStreamsAreFrozen(t *testing.T) {
	for _, c := range []struct {
		texts []string
		want  []time.Duration
	}{
		{[]string{"dye:drive-open,on=2 s,off=10 s"}, []time.Duration{1005945895, 1194494530, 1245993417, 1769689184, 3215954258, 23241856042}},
		{[]string{"steam:opto-dead,on=1 s,off=1 s"}, []time.Duration{1934161230, 2175541727, 2475540301, 3881758124, 4002266152, 4303168637}},
	} {
		r := started(t, 1, c.texts...)
		at := time.Duration(0)
		for i, want := range c.want {
			_, at = r.Version(cold(at))
			if at != want {
				t.Errorf("%v: change %d found at %d ns, expected %d", c.texts, i, at, want)
			}
		}
	}
}

// Another injection does not shift the dwells of one, and equal ones differ.
func TestStreamsAreTheirOwn(t *testing.T) {
	const text = "dye:drive-open,on=2 s,off=10 s"
	alone := started(t, 1, text)
	among := started(t, 1, "steam:opto-dead,on=1 s,off=1 s", text, text, "soak:triac-open")
	differ := false
	for at := time.Duration(0); at < 10*time.Minute; at += 100 * time.Millisecond {
		a, s := severityAt(alone, at), among.Severities(cold(at))
		if a != s[1] {
			t.Fatalf("at %v: found severity %g among others and %g alone", at, s[1], a)
		}
		differ = differ || s[1] != s[2]
	}
	if !differ {
		t.Error("found two equal injections with equal dwells")
	}
}

func TestGrowing(t *testing.T) {
	r := started(t, 1, "dye:film-opto,severity=90 %,from=1 min,growing=10 min,start=10 %,steps=4")
	changes := 0
	last := uint64(0)
	for at := time.Duration(0); at < 20*time.Minute; at += time.Second {
		v, _ := r.Version(cold(at))
		if v != last {
			changes++
			last = v
		}
		want := 0.0
		if at >= time.Minute {
			steps := math.Min(4, math.Floor((at-time.Minute).Minutes()/2.5))
			want = 0.1 + 0.8*steps/4
		}
		if got := severityAt(r, at); math.Abs(got-want) > 1e-15 {
			t.Fatalf("at %v: found severity %g, expected %g", at, got, want)
		}
	}
	if changes != 5 {
		t.Errorf("found %d changes, expected steps + 1", changes)
	}
	if got := severityAt(r, 20*time.Minute); got != 0.9 {
		t.Errorf("found severity %g in the end, expected 0.9 exactly", got)
	}
}

// A step falls on the first nanosecond at or after its share of the time, and
// the product of the longest time and the most steps does not overflow.
func TestStepTimes(t *testing.T) {
	c := Course{Growing: 10, Steps: 3}
	for k, want := range []time.Duration{0, 4, 7, 10} {
		if got := c.stepTime(k); got != want {
			t.Errorf("step %d of 3 in 10 ns: found %d ns, expected %d", k, got, want)
		}
	}
	c = Course{Growing: longest, Steps: mostSteps}
	if got := c.stepTime(mostSteps / 2); got != longest/2 {
		t.Errorf("found %v half-way, expected %v", got, longest/2)
	}
}

func TestEnds(t *testing.T) {
	for _, c := range []struct {
		text       string
		start, end time.Duration
	}{
		{"dye:triac-open,from=1 min,for=2 min", time.Minute, 3 * time.Minute},
		{"dye:triac-open,from=1 min,until=2 min", time.Minute, 2 * time.Minute},
		{"dye:triac-open,from=1 min,for=10 min,until=2 min", time.Minute, 2 * time.Minute},
		{"dye:triac-open,for=1 min,until=2 min", 0, time.Minute},
		{"dye:triac-open,from=1 min,delay=2 min,until=2 min", time.Hour, time.Hour}, // over before it began
	} {
		r := started(t, 1, c.text)
		for at := time.Duration(0); at < 5*time.Minute; at += 10 * time.Second {
			want := 0.0
			if at >= c.start && at < c.end {
				want = 1
			}
			if got := severityAt(r, at); got != want {
				t.Errorf("%s at %v: found severity %g, expected %g", c.text, at, got, want)
			}
		}
	}
}

// An end that comes at rest changes nothing any more.
func TestEndsAtRest(t *testing.T) {
	r := started(t, 1, "dye:drive-open,on=2 s,off=10 s,dwell=fixed,until=5 s")
	for _, c := range []struct{ at, next time.Duration }{{0, 2 * time.Second}, {2 * time.Second, never}, {6 * time.Second, never}} {
		if _, next := r.Version(cold(c.at)); next != c.next {
			t.Errorf("at %v: found next %v, expected %v", c.at, next, c.next)
		}
	}
}

// A run does not change its set, and a set can be started again.
func TestSetIsNeverChanged(t *testing.T) {
	s := parsed(t, "dye:triac-shorted,resistance=0.5 Ω,junction-above=100 °C", "soak:drive-open,on=1 s,off=1 s")
	before := parsed(t, "dye:triac-shorted,resistance=0.5 Ω,junction-above=100 °C", "soak:drive-open,on=1 s,off=1 s")
	r, err := s.Start(3)
	if err != nil {
		t.Fatal(err)
	}
	m := cold(time.Minute)
	m.Junction[1] = 120
	first, _ := r.Version(m)
	if !reflect.DeepEqual(s, before) || !reflect.DeepEqual(r.Set(), before) {
		t.Error("found the set changed by a run")
	}
	s[0].Settings[0].Value = 7 // and a run does not follow its set
	if r.Set()[0].Settings[0].Value != 0.5 {
		t.Error("found the run changed through its set")
	}
	again, err := before.Start(3)
	if err != nil {
		t.Fatal(err)
	}
	if v, _ := again.Version(cold(time.Minute)); v == first {
		t.Error("found a new run with the old one's onset")
	}
}

func TestCloneTriesAMoment(t *testing.T) {
	r := started(t, 1, "dye:triac-shorted,junction-above=100 °C", "soak:drive-open,on=1 s,off=1 s")
	r.Version(cold(0))
	trial := r.Clone()
	m := cold(time.Hour)
	m.Junction[1] = 120
	if v, _ := trial.Version(m); v == 0 {
		t.Error("found no onset in the trial")
	}
	fresh := started(t, 1, "dye:triac-shorted,junction-above=100 °C", "soak:drive-open,on=1 s,off=1 s")
	for at := time.Duration(0); at < time.Minute; at += 100 * time.Millisecond {
		a, na := r.Version(cold(at))
		b, nb := fresh.Version(cold(at))
		if a != b || na != nb {
			t.Fatalf("at %v: found version %d until %v after a trial, expected %d until %v", at, a, na, b, nb)
		}
	}
}

func TestStartRefuses(t *testing.T) {
	many := Set{}
	for range 8 {
		j := New("film-opto", 0)
		j.Course = Course{Growing: time.Hour, Steps: mostSteps}
		many = append(many, j)
	}
	for _, s := range []Set{many, {New("no-such-fault", 0)}, {New("triac-open", WholeBoard)}, {New("loose-neutral", 1)}} {
		if _, err := s.Start(1); err == nil {
			t.Errorf("found %v started, expected an error", s)
		}
	}
	// What only a board can tell is an error of the edit, not a crash.
	r, err := Set{New("triac-open", 7)}.Start(1)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Edit(healthyBoard(models.LineSide, models.MT1Supply), cold(0)); err == nil {
		t.Error("found channel 8 of a board of 3 edited")
	}
}

// randomInjection draws an injection that the catalogue takes.
func randomInjection(t *rapid.T) Injection {
	f := &catalogue[rapid.IntRange(0, len(catalogue)-1).Draw(t, "fault")]
	j := New(f.Name, rapid.IntRange(0, 2).Draw(t, "channel"))
	if f.Scope == PerBoard {
		j.Channel = WholeBoard
	}
	for _, k := range f.Keys {
		if !rapid.Bool().Draw(t, "set "+k.Name) {
			continue
		}
		v := 0.0
		if len(k.Choices) > 0 {
			v = rapid.SampledFrom(k.Choices).Draw(t, k.Name).Value
		} else {
			v = rapid.Float64Range(k.Min, k.Max).Draw(t, k.Name)
		}
		j = j.With(k.Name, v)
	}
	if f.Graded {
		j.Severity = rapid.Float64Range(0, 1).Draw(t, "severity")
	} else if rapid.Bool().Draw(t, "healthy") {
		j.Severity = 0
	}
	span := func(label string) time.Duration {
		return time.Duration(rapid.Int64Range(0, int64(10*time.Minute)).Draw(t, label))
	}
	o, c := &j.Onset, &j.Course
	if rapid.Bool().Draw(t, "onset") {
		o.From, o.Hold, o.Delay = span("from"), span("hold"), span("delay")
		if o.Spot = Spot(rapid.IntRange(int(NoSpot), int(Pocket)).Draw(t, "spot")); o.Spot != NoSpot {
			o.Above = 60
		}
		o.HalfCycles = rapid.Int64Range(0, 500).Draw(t, "half-cycles")
		if o.ofChannel() {
			o.Watch = rapid.IntRange(0, 3).Draw(t, "watch")
			if f.Scope == PerBoard {
				o.Watch = max(1, o.Watch)
			}
		}
	}
	if !f.Lasting && rapid.Bool().Draw(t, "intermittent") {
		c.On, c.Off = shortest+span("on"), shortest+span("off")
		c.Fixed = rapid.Bool().Draw(t, "fixed")
	}
	if f.Graded && rapid.Bool().Draw(t, "growing") {
		if c.Growing = span("growing"); c.Growing > 0 {
			c.Start = j.Severity * rapid.Float64Range(0, 1).Draw(t, "start")
			c.Steps = rapid.IntRange(0, 20).Draw(t, "steps")
		}
	}
	if f.Wets && !c.intermittent() && c.Growing == 0 && rapid.Bool().Draw(t, "wets") {
		c.Wetting = drawWetting(t)
	}
	if rapid.Bool().Draw(t, "ends") {
		c.For = span("for")
		if u := span("until"); u > o.From {
			c.Until = u
		}
	}
	return j
}

// randomMoments draws moments of one run in the order of time.
func randomMoments(t *rapid.T) []models.Moment {
	var ms []models.Moment
	at := time.Duration(0)
	cycles := int64(0)
	for range rapid.IntRange(1, 12).Draw(t, "moments") {
		at += time.Duration(rapid.Int64Range(0, int64(5*time.Minute)).Draw(t, "later"))
		cycles += rapid.Int64Range(0, 200).Draw(t, "cycles")
		m := cold(at)
		for k := range 3 {
			m.Cycles[k] = cycles
			for _, s := range [][]float64{m.Junction, m.Element, m.Water, m.Shell, m.Link} {
				s[k] = rapid.SampledFrom([]float64{20, 60, 90}).Draw(t, "temperature")
			}
		}
		m.Lid, m.Pocket = m.Shell[0], m.Shell[1]
		ms = append(ms, m)
	}
	return ms
}

// The contract with a simulation: equal versions are equal boards, version 0
// is the healthy one, and while only time passes nothing changes before next.
func TestVersionContract(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Set
		for range rapid.IntRange(0, 4).Draw(t, "faults") {
			s = append(s, randomInjection(t))
		}
		healthy := healthyBoard(models.LineSide, models.MT1Supply)
		if s.Check(healthy) != nil {
			t.Fatalf("%v: %v", s, s.Check(healthy))
		}
		seed := rapid.Uint64().Draw(t, "seed")
		r, err := s.Start(seed)
		if err != nil {
			t.Fatal(err)
		}
		boards := map[uint64]*models.Board{0: healthy}
		for _, m := range randomMoments(t) {
			v, next := r.Version(m)
			if again, n := r.Version(m); again != v || n != next {
				t.Fatalf("found version %d until %v, then %d until %v, of one moment", v, next, again, n)
			}
			if next <= m.Time {
				t.Fatalf("at %v: found next %v, expected a later time", m.Time, next)
			}
			b := healthy.Clone()
			if err := r.Edit(b, m); err != nil {
				continue // such as two high supplies: an error, not a board
			}
			if old := boards[v]; old != nil && !reflect.DeepEqual(old, b) {
				t.Fatalf("found two boards under version %d", v)
			}
			boards[v] = b
			if slices.ContainsFunc(s, func(j Injection) bool { return j.Course.Wetting.wets() }) {
				continue // a film's wetness goes on
			}
			// Only time passes, tried on a copy.
			trial := r.Clone()
			if next == never {
				m.Time += longest
				if w, _ := trial.Version(m); w != v {
					t.Fatalf("found version %d after %d, expected no change by time alone", w, v)
				}
				continue
			}
			m.Time += time.Duration(rapid.Int64Range(0, int64(next-m.Time)-1).Draw(t, "while"))
			if w, n := trial.Version(m); w != v || n != next {
				t.Fatalf("found version %d until %v before next, expected %d until %v", w, n, v, next)
			}
			m.Time = next
			if w, _ := trial.Version(m); w == v {
				t.Fatalf("found version %d at next too, expected a change", w)
			}
		}
	})
}

// Where nothing but time counts, how often a run is asked does not matter.
func TestAskingDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := randomInjection(t)
		j.Onset.Spot, j.Onset.Above, j.Onset.HalfCycles, j.Onset.Watch = NoSpot, 0, 0, 0
		j.Course.Wetting = Wetting{} // its steps follow the wetness that is seen
		seed := rapid.Uint64().Draw(t, "seed")
		often, err := Set{j}.Start(seed)
		if err != nil {
			t.Fatal(err)
		}
		once, _ := Set{j}.Start(seed)
		asked := rapid.SliceOfN(rapid.Int64Range(0, int64(time.Hour)), 0, 20).Draw(t, "asked")
		slices.Sort(asked)
		for _, at := range asked {
			often.Version(cold(time.Duration(at)))
		}
		at := time.Hour + time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "end"))
		a, na := often.Version(cold(at))
		b, nb := once.Version(cold(at))
		if a != b || na != nb {
			t.Fatalf("found version %d until %v asked often and %d until %v asked once", a, na, b, nb)
		}
	})
}

// Where an edit is taken at all, it is the same in every run, and a board that
// shares nothing with the healthy one.
func TestEditOnACopyOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := rapid.SampledFrom(orientations).Draw(t, "orientation")
		var s Set
		for range rapid.IntRange(1, 4).Draw(t, "faults") {
			s = append(s, randomInjection(t))
		}
		healthy := healthyBoard(o.side, o.mt1)
		pristine := healthyBoard(o.side, o.mt1)
		a, errA := s.Applied(healthy)
		b, errB := s.Applied(healthy)
		if (errA == nil) != (errB == nil) || !reflect.DeepEqual(a, b) {
			t.Fatal("found two boards of one set")
		}
		if !reflect.DeepEqual(healthy, pristine) {
			t.Fatal("found the healthy board changed")
		}
	})
}
