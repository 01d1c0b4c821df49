package command

import (
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"boilwright/plots"
	"boilwright/sim/disturbance"
)

// sheetOf draws a sweep of an embedded board.
func sheetOf(t *testing.T, name string, k int, texts ...string) *plots.Sheet {
	t.Helper()
	for _, x := range sweeps {
		if x.name == name {
			s, err := x.draw(context.Background(), testTarget(t, "dye-bench-230", texts...), k, plots.Heading{}, 1)
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
	}
	t.Fatalf("found no sheet %q", name)
	return nil
}

// TestDelaySheet asks that a leak delays the firing the more the lower it is,
// and that without a leak to speak of it is the healthy board's.
func TestDelaySheet(t *testing.T) {
	s := sheetOf(t, "delay", 1)
	if n := len(s.Data()); n != 2 {
		t.Fatalf("found %d curves, want one for each half-cycle", n)
	}
	for _, x := range s.Data() {
		r, d := x.Columns[0].Number, x.Columns[1].Number
		for i := 1; i < len(d); i++ {
			if d[i] > d[i-1]+1e-9 {
				t.Errorf("%s: found a delay of %g° at %g Ω and %g° at %g Ω, want it not to rise with the resistance", x.Name, d[i-1], r[i-1], d[i], r[i])
			}
		}
		if d[0] < 30 || d[len(d)-1] > 5 || r[0] < 1.1 {
			t.Errorf("%s: found %g° at %g Ω, %g° at the end; want a late firing that stops, and an early one", x.Name, d[0], r[0], d[len(d)-1])
		}
	}
}

// TestStandbySheet compares with V²/R behind the supply's impedance (Ohm's
// law).
func TestStandbySheet(t *testing.T) {
	s := sheetOf(t, "standby", 0)
	x := testTarget(t, "dye-bench-230").file.Board
	rows := s.Data()[0]
	found := 0
	for i, name := range rows.Columns[0].Text {
		k := x.ChannelIndex(name)
		if k < 0 {
			continue
		}
		found++
		r := x.Channels[k].Element.ResistanceAt(25)
		z := float64(x.Supply.LineResistance + x.Supply.NeutralResistance)
		v := float64(x.Supply.Voltage)
		want := v * v * r / ((r + z) * (r + z))
		if got := rows.Columns[1].Number[i]; math.Abs(got/want-1) > 0.02 {
			t.Errorf("%s: found %g W, want about %.0f", name, got, want)
		}
	}
	if found != 3 || !strings.Contains(s.Alt(), "nothing conducts: power 0 W") {
		t.Errorf("found %d channels alone, want 3 and nothing: %s", found, s.Alt())
	}
}

// TestLinkSheet asks of each boiler that the time left falls to nothing by the
// temperature at which its link functions, or a little above: the link is on
// the shell, which lags the water.
func TestLinkSheet(t *testing.T) {
	s := sheetOf(t, "link", 0)
	x := testTarget(t, "dye-bench-230").file.Board
	if len(s.Data()) != 3 {
		t.Fatalf("found %d curves, want 3", len(s.Data()))
	}
	for _, c := range s.Data() {
		temps, left := c.Columns[0].Number, c.Columns[1].Number
		n := len(temps) - 1
		links := float64(x.Channels[x.ChannelIndex(c.Name)].Link.Functions)
		if left[n] > 0.1 || temps[n] < links-5 || temps[n] > links+15 {
			t.Errorf("%s: found %g min left at %g °C, want none near %g °C", c.Name, left[n], temps[n], links)
		}
	}
}

// TestFlickerSheet compares the slowest pattern with the analytical method of
// IEC 61000-3-3 clause 4.2 (from memory), which holds for steps at least 1 s
// apart; it is known to agree within some 10 %.
func TestFlickerSheet(t *testing.T) {
	b := testTarget(t, "dye-bench-230").file.Board
	on, off, err := dip(b, 1)
	if err != nil {
		t.Fatal(err)
	}
	got, err := burstFlicker(b, on, off, 200, 0.5, false)
	if err != nil {
		t.Fatal(err)
	}
	if want := disturbance.AnalyticPst(100*(off-on)/230, 1, 30); math.Abs(got/want-1) > 0.15 {
		t.Errorf("found P_st %.3f, want about %.3f", got, want)
	}
	s := sheetOf(t, "flicker", 1)
	if len(s.Data()) != 5 {
		t.Errorf("found %d patterns, want 5", len(s.Data()))
	}
	for _, c := range (&disturbance.Assessment{Short: []disturbance.Severity{{Value: 0.5, Whole: true}}}).Checks() {
		if strings.Contains(c.What, "P_st") && (c.Limit != severityLimit || c.Source != severitySource) {
			t.Errorf("found the limit %g of %q, want %g of %q as a disturbance has it", severityLimit, severitySource, c.Limit, c.Source)
		}
	}
	if !strings.Contains(s.Caption(), "IEC 61000-3-3") {
		t.Errorf("found no source of the limit in %q", s.Caption())
	}
}

// TestCrossedDrives asks that the channel looked at conducts where its drive is
// exchanged with another's: it is the other controller that must be on.
func TestCrossedDrives(t *testing.T) {
	x := testTarget(t, "dye-bench-230", "dye:drive-crossed")
	b, err := x.applied()
	if err != nil {
		t.Fatal(err)
	}
	if b.DriveSource(1) == 1 {
		t.Fatal("found the drive of channel 2 at its own controller, want it exchanged")
	}
	on, off, err := dip(b, 1)
	if err != nil {
		t.Fatal(err)
	}
	// Ohm's law: the element and the supply's impedance share the voltage.
	s := &b.Supply
	z := float64(s.LineResistance + s.NeutralResistance)
	want := float64(s.Voltage) * z / (z + b.Channels[1].Element.ResistanceAt(25))
	if got := off - on; math.Abs(got/want-1) > 0.05 {
		t.Errorf("found a dip of %.3f V, want about %.3f V", got, want)
	}
	flags := newConditions("heating")
	o := &animationOptions{rate: 20, speed: durationValue(time.Millisecond), headingFlags: headingFlags{languageName: "en"}}
	in, err := cycleOf(x, 1, &flags, true, 2, [2]float64{0, 360}, o)
	if err != nil {
		t.Fatal(err)
	}
	most := 0.0
	for _, a := range in.Frames.Currents[plots.LoadCurrent] {
		most = math.Max(most, math.Abs(a))
	}
	if !in.Frames.LED[0] || most < 1 {
		t.Errorf("found an LED that is lit %v and at most %g A in the load, want the channel driven", in.Frames.LED[0], most)
	}
}
