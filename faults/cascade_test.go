package faults_test

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"testing"
	"time"

	"boilwright/faults"
	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/boardfile"
)

func cascade(t *testing.T, name string) faults.Cascade {
	t.Helper()
	all := faults.Cascades()
	i := slices.IndexFunc(all, func(c faults.Cascade) bool { return c.Name == name })
	if i < 0 {
		t.Fatalf("found no cascade %s", name)
	}
	return all[i]
}

// onsets passes a run on and notes when each of its faults first acts.
type onsets struct {
	*faults.Run
	at []time.Duration // by injection; −1 for none
}

func (o *onsets) Version(m models.Moment) (uint64, time.Duration) {
	for i, s := range o.Severities(m) {
		if o.at[i] < 0 && s > 0 {
			o.at[i] = m.Time
		}
	}
	return o.Run.Version(m)
}

// runCascade runs a cascade on channel dye of the embedded board and returns
// when its faults set in.
func runCascade(t *testing.T, name string, d time.Duration) (*sim.Result, []time.Duration) {
	t.Helper()
	f, err := boardfile.Embedded("dye-bench-230")
	if err != nil {
		t.Fatal(err)
	}
	set, err := cascade(t, name).Set(1)
	if err != nil {
		t.Fatal(err)
	}
	run, err := set.Start(1)
	if err != nil {
		t.Fatal(err)
	}
	o := &onsets{Run: run}
	for range set {
		o.at = append(o.at, -1)
	}
	r, err := sim.Run(context.Background(), f.Board, sim.Options{Duration: d, Edits: o})
	if err != nil {
		t.Fatal(err)
	}
	return r, o.at
}

// event is when something first happened on channel dye, or −1.
func event(r *sim.Result, kind sim.EventKind, detail string) time.Duration {
	for _, e := range r.Events {
		if e.Channel == 1 && e.Kind == kind && e.Detail == detail {
			return e.Time
		}
	}
	return -1
}

func TestCascades(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range faults.Cascades() {
		if !regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`).MatchString(c.Name) || seen[c.Name] {
			t.Errorf("found the name %q, expected one of its own in lower case with hyphens", c.Name)
		}
		seen[c.Name] = true
		if len(c.Title) < 8 || len(c.What) < 40 || len(c.Faults) == 0 {
			t.Errorf("%s: found %+v, expected title, text and faults", c.Name, c)
		}
		set, err := faults.ParseSet(c.Texts("dye"), []string{"soak", "dye"})
		if err != nil {
			t.Errorf("%s: %v", c.Name, err)
			continue
		}
		for i, j := range set { // written as it is written back, to be pasted
			if got := j.Text([]string{"soak", "dye"}); got != c.Texts("dye")[i] {
				t.Errorf("%s: found %q, expected %q", c.Name, got, c.Texts("dye")[i])
			}
		}
	}
	faults.Cascades()[0].Faults[0] = "changed"
	if cascade(t, "short-opens-link").Faults[0] == "changed" {
		t.Error("found the cascades changed through a copy")
	}
}

// In band, over temperature and the link follow one another with nothing put
// in but the short, at the temperatures that the board states.
func TestShortOpensLink(t *testing.T) {
	r, _ := runCascade(t, "short-opens-link", 15*time.Minute)
	band := event(r, sim.Shows, sim.InBand.String())
	over := event(r, sim.Shows, sim.OverTemp.String())
	link := event(r, sim.LinkOpened, "")
	if !(band > 0 && over > band && link > over) {
		t.Fatalf("found in band at %v, over temperature at %v, link opened at %v, expected them in this order", band, over, link)
	}
	c := &r.Board.Channels[1]
	for i := range r.Samples[1:] {
		if before, after := &r.Samples[i], &r.Samples[i+1]; before.Time <= link && link < after.Time {
			// The link opens at its temperature (IEC 60691, by definition) and
			// the samples beside it are 10 s away; it warms by some 0.2 K/s.
			if f := float64(c.Link.Functions); before.Channels[1].Link > f || after.Channels[1].Link < f-3 {
				t.Errorf("found the link at %.1f and %.1f °C about its opening, expected %.1f °C", before.Channels[1].Link, after.Channels[1].Link, f)
			}
		}
	}
	if last := r.Samples[len(r.Samples)-1].Channels[1]; !last.LinkOpen || last.Power > 0.01 {
		t.Errorf("found %g W after the link has opened, expected none", last.Power)
	}
}

// With an open triac and its drive on, the gate resistor carries
// R_G·(V/R)² by Ohm's law, R being the sum of the path, far above its rating
// from the first half-cycle on: it opens when the hold of 20 s is over, to a
// window.
func TestOpenBurnsGateResistor(t *testing.T) {
	r, at := runCascade(t, "open-burns-gate-resistor", 2*time.Minute)
	window := time.Duration(r.Board.Controller.Window) * 10 * time.Millisecond
	if at[0] != 0 || at[1] < 20*time.Second || at[1] > 20*time.Second+2*window {
		t.Fatalf("found onsets at %v, expected 0 and 20 s later", at)
	}
	c := &r.Board.Channels[1]
	i := r.Board.Supply.Voltage / q.Volt(c.Element.Resistance+c.GateResistance+c.Opto.Slope+c.Triac.GateSlope)
	element := float64(c.Element.Resistance) * float64(i*i)
	before, after := r.Samples[1].Channels[1].Power, r.Samples[len(r.Samples)-1].Channels[1].Power
	// What the drops of opto and gate, some 3 V of 230 V, and the late firing
	// take is below a tenth.
	if before < 0.9*element || before > element || after > 1e-3*element {
		t.Errorf("found %.2f W in the element before and %.2g W after, expected %.2f W and none", before, after, element)
	}
}

// The same current destroys the opto in the first window that shows it, and
// the resistor goes later: three faults in their order.
func TestOpenDestroysOpto(t *testing.T) {
	_, at := runCascade(t, "open-destroys-opto", time.Minute)
	if !(at[0] == 0 && at[1] > 0 && at[1] < 5*time.Second && at[2] >= 20*time.Second && at[2] < 25*time.Second) {
		t.Errorf("found onsets at %v, expected the triac, the opto at once, the resistor after 20 s", at)
	}
}

// Both parts go within a half-cycle.
func TestShortTakesOpto(t *testing.T) {
	set, err := cascade(t, "short-takes-opto").Set(0)
	if err != nil {
		t.Fatal(err)
	}
	run, err := set.Start(1)
	if err != nil {
		t.Fatal(err)
	}
	const short = 25 * time.Minute
	for _, c := range []struct {
		at    time.Duration
		acted int
	}{{short - 1, 0}, {short, 1}, {short + 10*time.Millisecond, 2}} {
		acted := 0
		for _, s := range run.Severities(models.Moment{Time: c.at}) {
			if s == 1 {
				acted++
			}
		}
		if acted != c.acted {
			t.Errorf("at %v: found %d faults, expected %d", c.at, acted, c.acted)
		}
	}
}

// A cascade is a set like any other, to be put in at once.
func ExampleCascade() {
	for _, c := range faults.Cascades() {
		if c.Name != "open-burns-gate-resistor" {
			continue
		}
		fmt.Println(c.Title)
		for _, text := range c.Texts("dye") {
			fmt.Println(text)
		}
	}
	// Output:
	// triac open with its drive on, gate resistor above its rating, resistor open
	// dye:triac-open
	// dye:gate-resistor-open,gate-power-above=2 W,hold=20 s
}
