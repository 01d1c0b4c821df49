package infer_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"boilwright/faults/infer"
	"boilwright/sim/boardfile"
	"boilwright/sim/readings"
)

// Readings as they are met on such boards and what is usually concluded from
// them: common practice, no source.

// bench is made once: what it has simulated serves all tests of this file.
var practiceBench *infer.Bench

func bench(t *testing.T) *infer.Bench {
	t.Helper()
	if practiceBench == nil {
		w, err := infer.NewBench(boardfile.Default(), infer.Options{Draws: 6})
		if err != nil {
			t.Fatal(err)
		}
		practiceBench = w
	}
	return practiceBench
}

// diagnose takes evidence as lines "form text".
func diagnose(t *testing.T, w *infer.Bench, lines ...string) *infer.Diagnosis {
	t.Helper()
	var es []infer.Evidence
	for _, l := range lines {
		form, text, _ := strings.Cut(l, " ")
		x, err := w.Parse(form, text)
		if err != nil {
			t.Fatalf("%s: %v", l, err)
		}
		es = append(es, x...)
	}
	d, err := w.Diagnose(es, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// probability is that of the suspects whose name holds all of the words.
func probability(d *infer.Diagnosis, words ...string) float64 {
	p := 0.0
	for _, s := range d.Suspects {
		all := true
		for _, w := range words {
			all = all && strings.Contains(s.Name, w)
		}
		if all {
			p += s.Probability
		}
	}
	return p
}

// common practice, no source: about half the supply in standby, on any meter's
// own terms, is an opto that conducts in one polarity, ahead of the triac.
func TestHalfTheSupply(t *testing.T) {
	w := bench(t)
	for _, c := range []struct{ meter, volts string }{
		{"average", "115 V"},         // 0.50
		{"average-coupled", "126 V"}, // 0.55
		{"rms", "163 V"},             // 0.71
	} {
		d := diagnose(t, w, "reading dye output to neutral, standby, "+c.volts+", "+c.meter)
		opto := probability(d, "dye:opto-one-way") + probability(d, "dye:opto-breakover")
		triac := probability(d, "dye:triac-one-way")
		if d.Suspects[0].Name != "dye:opto-one-way" || !(opto > triac) {
			t.Errorf("%s on %s: found %s first, opto %.3f, triac %.3f; expected the opto's, ahead of the triac", c.volts, c.meter, d.Suspects[0].Name, opto, triac)
		}
		if opto+triac < 0.9 {
			t.Errorf("%s on %s: found %.3f for one polarity, expected one answer", c.volts, c.meter, opto+triac)
		}
		// Late firing near 90° is named, and the next test excludes it.
		if p := probability(d, "dye:film-opto"); p < 1e-4 || p > 0.1 {
			t.Errorf("%s on %s: found late firing by a film with probability %.5f, expected it named as unlikely", c.volts, c.meter, p)
		}
		if !slices.ContainsFunc(d.Unlikely, func(x infer.Exclusion) bool {
			return x.Suspect == "dye:film-opto" && x.Test.Kind == infer.Unplugged && x.Shows != ""
		}) {
			t.Errorf("%s on %s: found unlikely suspects %v, expected the film with the test that excludes it", c.volts, c.meter, d.Unlikely)
		}
		if d.Next == nil || d.Next.Test.Risk() != infer.Dead {
			t.Errorf("%s on %s: found next %v, expected an unplugged test", c.volts, c.meter, d.Next)
		}
	}
	// The meter not told: the same, and the meters that explain it are named.
	d := diagnose(t, w, "reading dye output to neutral, standby, 118 V")
	if !strings.Contains(d.Suspects[0].Name, "opto-one-way") || len(d.Meters) != 1 {
		t.Errorf("unknown meter: found %s and %d inferred meters, expected the opto and one", d.Suspects[0].Name, len(d.Meters))
	}
	// A diode test excludes late firing: one drop of junction and gate resistor.
	d = diagnose(t, w, "reading dye output to neutral, standby, 115 V, average", "reading dye:triac, reversed, diode, 1.85 V")
	if p := probability(d, "film"); p > 1e-3 || !d.Decided || d.Actions[0].Do != "dye: replace the opto" {
		t.Errorf("after the diode test: found films %.5f, decided %t, %s; expected the opto alone", p, d.Decided, d.Actions[0].Do)
	}
}

// common practice, no source: full supply in standby with a load that draws is
// a shorted triac, with a shorted opto and a drive that is stuck on as
// look-alikes; pulling the drive plug tells the latter.
func TestFullSupply(t *testing.T) {
	w := bench(t)
	d := diagnose(t, w, "reading dye output to neutral, standby, 228 V, low-impedance")
	if d.Suspects[0].Name != "dye:triac-shorted" {
		t.Errorf("found %s first, expected dye:triac-shorted", d.Suspects[0].Name)
	}
	for _, like := range []string{"dye:opto-shorted", "dye:drive-stuck-on"} {
		if probability(d, like) < 0.03 {
			t.Errorf("%s: found %.3f, expected it among the suspects", like, probability(d, like))
		}
	}
	if len(d.Actions) == 0 || !strings.Contains(d.Actions[0].Do, "triac, and the opto with it") {
		t.Errorf("found %v, expected the opto to go with the triac", d.Actions)
	}
	d = diagnose(t, w, "reading dye output to neutral, standby, 228 V, low-impedance", "reading dye output to neutral, standby, drive plug pulled, 0.1 V, low-impedance")
	if p := probability(d, "dye:drive-stuck-on"); p < 0.9 {
		t.Errorf("nothing with the plug pulled: found a stuck drive with %.3f, expected 0.9 at least", p)
	}
	d = diagnose(t, w, "reading dye output to neutral, standby, 228 V, low-impedance", "reading dye output to neutral, standby, drive plug pulled, 228 V, low-impedance")
	if p := probability(d, "dye:drive-stuck-on"); p > 0.02 {
		t.Errorf("full supply with the plug pulled: found a stuck drive with %.3f, expected it excluded", p)
	}
}

// common practice, no source: nearly the whole supply on a meter of 10 MΩ with
// an open load is not a shorted triac.
func TestGhostVoltage(t *testing.T) {
	w := bench(t)
	d := diagnose(t, w, "reading dye output to neutral, standby, 226 V, average", "reading dye:output, ohmmeter, open")
	if p := probability(d, "dye:triac-shorted"); p > 0.2 {
		t.Errorf("open load: found a shorted triac with %.3f, expected less than 0.2", p)
	}
	open := probability(d, "dye:element-open") + probability(d, "dye:link-open") + probability(d, "dye:wire-open")
	if open < 0.7 {
		t.Errorf("found an open load with %.3f, expected 0.7 at least", open)
	}
	// The same on a meter of low impedance is no ghost.
	low := diagnose(t, w, "reading dye output to neutral, standby, 2.2 V, low-impedance", "reading dye output to neutral, standby, 226 V, average")
	if p := probability(low, "dye:triac-shorted"); p > 0.02 {
		t.Errorf("2.2 V on the low impedance: found a shorted triac with %.3f, expected it excluded", p)
	}
}

// common practice, no source: current in standby tells which channel, from
// the watts and the amperes together. A half-wave draws half the power at
// 0.71 of the current.
func TestCurrentInStandby(t *testing.T) {
	w, err := infer.NewBench(boardfile.Default(), infer.Options{Draws: 16})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ monitor, channel string }{
		{"standby, 1480 W, 6.45 A", "dye:"}, {"standby, 1190 W, 5.2 A", "soak:"}, {"standby, 990 W, 4.31 A", "steam:"},
	} {
		d := diagnose(t, w, "monitor "+c.monitor)
		if p := probability(d, c.channel); p < 0.9 {
			t.Errorf("%s: found %s with %.3f, expected 0.9 at least", c.monitor, c.channel, p)
		}
	}
	d := diagnose(t, w, "monitor standby, 745 W, 4.58 A")
	if p := probability(d, "dye:opto-one-way") + probability(d, "dye:triac-one-way") + probability(d, "dye:opto-breakover"); p < 0.9 {
		t.Errorf("half the watts at 0.71 of the amperes: found a half-wave on dye with %.3f, expected 0.9 at least", p)
	}
}

// common practice, no source: a channel that stays cold is a dead one; the
// unplugged tests come first, the control voltage at the plug is told by the
// drive, and exchanging two drive plugs separates drive from board.
func TestDeadChannel(t *testing.T) {
	w := bench(t)
	cold := "warms dye, heating, no"
	d := diagnose(t, w, cold)
	if p := probability(d, "dye:"); p < 0.9 {
		t.Errorf("found a dead dye with %.3f, expected 0.9 at least", p)
	}
	if d.Next == nil || d.Next.Test.Risk().Live() {
		t.Errorf("found next %+v, expected an unplugged test", d.Next)
	}
	drive := func(d *infer.Diagnosis) float64 {
		return probability(d, "dye:drive-stuck-off")
	}
	before := drive(d)
	with := diagnose(t, w, cold, "warms dye, exchanged with soak, full")
	if !(drive(with) > 2*before) || probability(with, "dye:element-open") > 0.01 {
		t.Errorf("dye warms on soak's drive: found its own drive %.3f (%.3f before), an open element %.3f; expected the drive", drive(with), before, probability(with, "dye:element-open"))
	}
	without := diagnose(t, w, cold, "warms dye, exchanged with soak, no")
	if drive(without) > before/2 {
		t.Errorf("dye stays cold on soak's drive: found its own drive %.3f (%.3f before), expected it excluded", drive(without), before)
	}
	none := diagnose(t, w, cold, "reading dye:drive, heating, 0.1 V, direct")
	good := diagnose(t, w, cold, "reading dye:drive, heating, 12.0 V, direct")
	if !(drive(none) > 2*before && drive(good) < before/2) {
		t.Errorf("control voltage: found the drive %.3f without it and %.3f with it (%.3f before)", drive(none), drive(good), before)
	}
}

// common practice, no source: a boiler above its set point is stuck on, and
// the advice says how long there is.
func TestOverSetPoint(t *testing.T) {
	w := bench(t)
	d := diagnose(t, w, "warms dye, standby, full")
	stuck := probability(d, "dye:triac-shorted") + probability(d, "dye:opto-shorted") + probability(d, "dye:drive-stuck-on") + probability(d, "dye:film-opto")
	if stuck < 0.8 {
		t.Errorf("found stuck on with %.3f, expected 0.8 at least", stuck)
	}
	for _, a := range d.Actions[:2] {
		if strings.Contains(a.Do, "triac") && !strings.Contains(strings.Join(a.Check, " "), "thermal link") {
			t.Errorf("%s: found checks %v, expected the thermal link among them", a.Do, a.Check)
		}
	}
}

// With a boiler stuck on, a test that needs the supply says how long there is,
// as the heat solution has it: no less than it takes to heat the water alone
// from the room's temperature to the link's at the element's power (energy
// balance, m·c·ΔT/P), about 10 minutes for 2 kg from 20 °C to 126 °C at 1500 W.
func TestTimeLimit(t *testing.T) {
	w := bench(t)
	es, err := w.Parse("warms", "dye, standby, full")
	if err != nil {
		t.Fatal(err)
	}
	cannot := infer.Exclude{}
	for _, x := range w.Candidates([]int{0, 1, 2}) {
		if r := x.Risk(); r == infer.Dead {
			cannot[x.Key()] = true
		}
	}
	d, err := w.Diagnose(es, cannot)
	if err != nil {
		t.Fatal(err)
	}
	if d.Next == nil || d.Next.Test.Risk() == infer.Dead {
		t.Fatalf("found next %+v, expected a test with the supply on", d.Next)
	}
	minutes := 0.0
	_, after, found := strings.Cut(d.Next.Limit, "in as little as ")
	if _, err := fmt.Sscan(after, &minutes); !found || err != nil || !strings.Contains(d.Next.Limit, "dye") || minutes < 6 || minutes > 14 {
		t.Errorf("%s: found limit %q, expected 6 to 14 minutes for dye", d.Next.Test.Describe(w.Board), d.Next.Limit)
	}
}

// Live tests carry the caution and unplugged ones come before them.
func TestCautionsAndOrder(t *testing.T) {
	w := bench(t)
	for _, lines := range [][]string{nil, {"warms dye, standby, half"}, {"monitor standby, 1480 W"}} {
		d := diagnose(t, w, lines...)
		if d.Next == nil {
			t.Fatalf("%v: found no next test", lines)
		}
		for _, a := range append([]infer.Advice{*d.Next}, d.Others...) {
			if a.Test.Risk().Live() != (a.Caution == readings.LiveCaution) || a.Caution == "" {
				t.Errorf("%s: found caution %q", a.Test.Describe(w.Board), a.Caution)
			}
			if d.Next.Test.Risk().Live() && !a.Test.Risk().Live() && a.Gain >= d.Next.Gain {
				t.Errorf("found a live test advised where %s gains as much", a.Test.Describe(w.Board))
			}
		}
	}
}

// A reading that nothing explains is said, not forced.
func TestNotInCatalogue(t *testing.T) {
	w := bench(t)
	d := diagnose(t, w, "warms dye, standby, no", "reading dye:element, ohmmeter, 35 Ω", "reading soak:element, ohmmeter, 4.1 Ω", "reading steam:element, ohmmeter, 310 Ω")
	if d.Other < 0.5 {
		t.Errorf("found %.3f for something not in the catalogue, expected more than 0.5", d.Other)
	}
	if len(d.Unexplained) == 0 {
		t.Error("found all evidence explained")
	}
}

// The alarm on power drawn while off lies between what a healthy board and a
// fault that heats a boiler draw; what draws nothing undriven is missed.
func TestAlarm(t *testing.T) {
	a := bench(t).Alarm()
	if !(a.Healthy < a.Watts && a.Watts < a.Least) {
		t.Errorf("found threshold %g W between %g and %g W", a.Watts, a.Healthy, a.Least)
	}
	for _, missed := range []string{"element-open", "opto-dead", "opto-half-wave"} {
		if !slices.Contains(a.Silent, missed) {
			t.Errorf("%s: expected it among those that the alarm misses: %v", missed, a.Silent)
		}
	}
	for _, told := range []string{"triac-shorted", "opto-one-way", "drive-stuck-on"} {
		if !slices.Contains(a.Tells, told) {
			t.Errorf("%s: expected it among those that give the alarm: %v", told, a.Tells)
		}
	}
	if !(a.Minutes > 1 && a.Minutes < 60) {
		t.Errorf("found %g min until a link opens, expected it within the hour", a.Minutes)
	}
}

// The time that an alarm leaves is that of the quickest boiler, whichever
// channel it is: 1 kg of water takes 95 K times 4.2 kJ/K at 2 kW in 3.3 min, and
// its shell a little more.
func TestAlarmQuickest(t *testing.T) {
	b := boardfile.Default().Clone()
	b.Channels = b.Channels[:2]
	b.Couplings = nil
	b.Channels[1].Boiler.Draws = nil
	slow, quick := &b.Channels[0], &b.Channels[1]
	slow.Element.Resistance, slow.Boiler.Water, slow.Link.Functions = 52.9, 4, 115
	quick.Element.Resistance, quick.Boiler.Water, quick.Link.Functions = 26.45, 1, 115
	w, err := infer.NewBench(b, infer.Options{Draws: 4})
	if err != nil {
		t.Fatal(err)
	}
	if a := w.Alarm(); !(a.Minutes > 2.5 && a.Minutes < 6) {
		t.Errorf("found %g min until a link opens, expected 3 to 5", a.Minutes)
	}
}

// TestRepeatsTellNothingNew: a reading that is written down twice, with the
// same meter, is no second witness; another meter's is.
func TestRepeatsTellNothingNew(t *testing.T) {
	const reading = "reading dye output to neutral, standby, %s, average meter"
	w := bench(t)
	a := diagnose(t, w, fmt.Sprintf(reading, "118 V"))
	b := diagnose(t, w, fmt.Sprintf(reading, "117 V"), fmt.Sprintf(reading, "119 V"))
	for i := range a.Suspects[:5] {
		if x, y := a.Suspects[i], b.Suspects[i]; x.Name != y.Name || math.Abs(x.Probability-y.Probability) > 1e-9 {
			t.Errorf("suspect %d: once %s %v, twice %s %v", i+1, x.Name, x.Probability, y.Name, y.Probability)
		}
	}
	if len(b.Moves) != 2 || b.Moves[1].Bits != 0 || b.Moves[0].Bits != a.Moves[0].Bits {
		t.Errorf("once %+v, twice %+v", a.Moves, b.Moves)
	}
}
