package boardfile_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var update = flag.Bool("update", false, "rewrite the golden files")

const (
	boardsDir = "../../testdata/boards"
	badDir    = boardsDir + "/bad"
)

func golden(t *testing.T, path string, got []byte) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s (-want +got):\n%s", path, d)
	}
}

const small = `
[supply]
voltage = "230 V"
frequency = "50 Hz"

[channel.soak]
element.rating = "1200 W at 230 V"
boiler.water = "1.2 L"
control.set-point = "55 °C"
link.functions = "112 °C"
`

// The demonstration is invented; its numbers are those of the scenario that
// the project tells, and resistances follow from R = V²/P.
func TestEmbedded(t *testing.T) {
	for _, name := range boardfile.EmbeddedNames() {
		f, err := boardfile.Embedded(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := boardfile.Check(f.Board); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if !strings.Contains(f.Board.Note, "invented") {
			t.Errorf("%s: note %q does not say that the board is invented", name, f.Board.Note)
		}
		checkReread(t, f.Board)
		volts, hertz := 230.0, 50.0
		switch {
		case strings.HasSuffix(name, "240"):
			volts = 240
		case strings.HasSuffix(name, "120"):
			volts, hertz = 120, 60
		}
		b := f.Board
		if float64(b.Supply.Voltage) != volts || float64(b.Supply.Frequency) != hertz {
			t.Errorf("%s: supply %v %v", name, b.Supply.Voltage, b.Supply.Frequency)
		}
		for i, want := range []struct {
			name          string
			water         q.Kilogram
			watts         float64
			set, link     q.Celsius
			gaugeBar      float64
			draws, refill int
		}{
			{"soak", 1.2, 1200, 55, 112, 3, 0, 0},
			{"dye", 2, 1500, 85, 126, 3, 1, 0},
			{"steam", 1, 1000, 118, 130, 2, 1, -1},
		} {
			c := b.Channels[i]
			if c.Name != want.name || c.Boiler.Water != want.water || c.Control.SetPoint != want.set ||
				c.Link.Functions != want.link || len(c.Boiler.Draws) != want.draws {
				t.Errorf("%s: channel %d is %+v", name, i, c)
			}
			if r := volts * volts / want.watts; math.Abs(float64(c.Element.Resistance)/r-1) > 1e-15 {
				t.Errorf("%s: %s has %v, want %v Ω", name, c.Name, c.Element.Resistance, r)
			}
			if p := want.gaugeBar*1e5 + 101325; float64(c.Boiler.Relief) != p {
				t.Errorf("%s: %s relieves at %v, want %v Pa", name, c.Name, c.Boiler.Relief, p)
			}
			if want.draws > 0 && c.Boiler.Draws[0].Refill != want.refill {
				t.Errorf("%s: %s refills from %d", name, c.Name, c.Boiler.Draws[0].Refill)
			}
			if open := name == "open-vat-230" && c.Name == "dye"; c.Boiler.Open != open {
				t.Errorf("%s: %s open %v", name, c.Name, c.Boiler.Open)
			}
			if neutral := name == "neutral-side-230"; (c.Side == models.NeutralSide) != neutral {
				t.Errorf("%s: %s on the %v side", name, c.Name, c.Side)
			}
		}
	}
	if d := boardfile.Default(); d.Supply.Voltage != 230 {
		t.Errorf("the default board has %v", d.Supply.Voltage)
	}
	first, second := boardfile.Default(), boardfile.Default()
	if first == second || &first.Channels[0] == &second.Channels[0] {
		t.Error("two calls of Default share a board")
	}
	if _, err := boardfile.Embedded("dye-bench-2300"); err == nil || !strings.Contains(err.Error(), "did you mean dye-bench-230") {
		t.Errorf("unknown name: %v", err)
	}
}

// checkReread writes a board, reads it back and compares.
func checkReread(t interface {
	Helper()
	Errorf(string, ...any)
}, b *models.Board) {
	t.Helper()
	text := boardfile.Marshal(b)
	again, err := boardfile.Parse("written", text, nil)
	if err != nil {
		t.Errorf("%v in\n%s", err, text)
		return
	}
	if d := cmp.Diff(b, again.Board, cmpopts.EquateEmpty()); d != "" {
		t.Errorf("read back (-written +read):\n%s\nfrom\n%s", d, text)
	}
	if twice := boardfile.Marshal(again.Board); !bytes.Equal(text, twice) {
		t.Errorf("written twice:\n%s\n%s", text, twice)
	}
}

// The three supply variants in testdata are the embedded ones, byte by byte;
// with -update they are copied.
func TestLoadFromDisk(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"dye-bench-230", "dye-bench-240", "dye-bench-120"} {
		text, _ := boardfile.EmbeddedSource(name)
		path := filepath.Join(boardsDir, name+".toml")
		golden(t, path, text)
		e, err := boardfile.Embedded(name)
		if err != nil {
			t.Fatal(err)
		}
		// The same board with its base beside it on disk.
		beside := filepath.Join(dir, name+".toml")
		text = bytes.Replace(text, []byte(`based-on = "dye-bench-230"`), []byte(`based-on = "dye-bench-230.toml"`), 1)
		if err := os.WriteFile(beside, text, 0o644); err != nil {
			t.Fatal(err)
		}
		for _, path := range []string{path, beside} {
			f, err := boardfile.Load(path)
			if err != nil {
				t.Error(err)
				continue
			}
			if d := cmp.Diff(e.Board, f.Board); d != "" {
				t.Errorf("%s (-embedded +disk):\n%s", path, d)
			}
			want := []string{"dye-bench-230"}
			if path == beside {
				want[0] = filepath.Join(dir, "dye-bench-230.toml")
			}
			if name != "dye-bench-230" && !slices.Equal(f.Bases, want) {
				t.Errorf("%s is based on %v, want %v", path, f.Bases, want)
			}
		}
	}
	_, err := boardfile.Load("no-such.toml")
	var e *boardfile.Error
	if !errors.Is(err, fs.ErrNotExist) || !errors.As(err, &e) || e.Entries[0].File != "no-such.toml" {
		t.Errorf("a missing file: %v", err)
	}
	if _, err := boardfile.Load(t.TempDir()); !errors.As(err, &e) {
		t.Errorf("a directory: %v", err)
	}
}

// The defaults are the generic values that the documentation of the models
// and the reference state; common practice, no source.
func TestDefaults(t *testing.T) {
	f, err := boardfile.Parse("small.toml", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	// The gain is settled by runs: only its range is common practice.
	gain := f.Board.Channels[0].Control.Gain
	if gain < 0.02 || gain > 0.5 {
		t.Errorf("gain %v", gain)
	}
	inf := math.Inf(1)
	reactance := func(x float64) q.Henry { return q.Henry(x / (2 * math.Pi * 50)) }
	want := &models.Board{
		Ambient: 20, AmbientPressure: 101325,
		Supply: models.Supply{Voltage: 230, Frequency: 50, LineResistance: 0.24, LineInductance: reactance(0.15),
			NeutralResistance: 0.16, NeutralInductance: reactance(0.10), Damping: 50},
		Earth: models.Earth{Resistance: 0.1},
		Channels: []models.Channel{{
			Name:           "soak",
			Drive:          models.Drive{On: 12, Saturation: 0.2, Resistance: 820, OffConductance: 1e-9},
			Opto:           models.Opto{Forward: 1.1, LEDSlope: 5, Trigger: 5e-3, Threshold: 1.2, Slope: 5, Off: 2e-9, Inhibit: 20, Latching: 0.6e-3, Holding: 0.3e-3, TriggerScale: q.Kelvin(inf)},
			GateResistance: 330, GateShunt: 330,
			Triac: models.Triac{Threshold: 0.9, Slope: 0.02, Off: 50e-9, GateThreshold: 0.8, GateSlope: 10,
				Trigger: [4]q.Ampere{25e-3, 25e-3, 25e-3, 50e-3}, Latching: 40e-3, Holding: 30e-3,
				StaticRate: 200e6, CommutatingRate: 5e6, CommutatingFall: 5e3, TurnOffTime: 50e-6, Breakover: 800,
				TriggerScale: 110, LatchingScale: 150, HoldingScale: 150, RateScale: 60,
				Foster: []models.FosterStage{{Resistance: 0.2, Time: 1e-3}, {Resistance: 0.6, Time: 50e-3}, {Resistance: 2.2, Time: 5}}},
			Snubber:    models.Snubber{Resistance: 100, Capacitance: 10e-9},
			Wire:       0.02,
			Link:       models.ThermalLink{Resistance: 5e-3, Stray: 5e-12, Functions: 112, Capacity: 5, ToShell: 0.25},
			Thermostat: models.Thermostat{Opens: 105, Closes: 90, Resistance: 10e-3, Stray: 5e-12},
			Element:    models.Element{Resistance: 230 * 230 / 1200.0, Coefficient: 170e-6, Split: 0.5, Insulation: 1e9, Capacity: 150},
			Boiler: models.Boiler{Water: 1.2, Wetted: 0.48, Floor: 0.06, Start: 20, Scale: 1, Inlet: 15,
				ElementToWater: 20, ElementToShell: 2, WaterToShell: 60, ShellToLid: 0.15, ShellToAir: 0.8, ShellCapacity: 400,
				Relief: 401325, Reseat: 371325},
			Probe: models.Probe{R25: 10e3, Beta: 3950, Top: 2.2e3, Bits: 12, Capacity: 15, ToWater: 1.5},
			Control: models.Control{Kind: models.Proportional, Enabled: true, SetPoint: 55, Band: 2, Gain: gain, Integral: 300,
				InBand: 3, OverTemp: 65},
		}},
		Lid:        models.Lid{Capacity: 1500, ToPocket: 0.4, ToAir: 1.2, Start: 20},
		Pocket:     models.Pocket{Capacity: 300, ToAir: 0.6, Start: 20},
		Controller: models.Controller{Window: 100},
		Protection: models.Protection{
			Residual: models.ResidualDevice{Rated: 0.03, Threshold: 0.75},
			Fuse:     models.Fuse{Rated: 20, Melt: 1000},
		},
		Monitor: models.EnergyMonitor{Floor: 2, Period: 60, Accuracy: 0.01, CurrentResolution: 0.01, PowerResolution: 0.1},
	}
	for _, m := range []models.Meter{
		{Name: "average", Detector: models.AverageFullWave, Resistance: 10e6},
		{Name: "average-coupled", Detector: models.AverageFullWaveCoupled, Resistance: 10e6},
		{Name: "rms-coupled", Detector: models.RMSCoupled, Resistance: 10e6},
		{Name: "rms", Detector: models.RMSDirect, Resistance: 10e6},
		{Name: "low-impedance", Detector: models.RMSDirect, Resistance: 3e3},
		{Name: "one-diode", Detector: models.AverageHalfWave, Resistance: 2e6},
		{Name: "direct", Detector: models.Direct, Resistance: 10e6},
	} {
		m.Cycles, m.Counts, m.Ranges, m.Accuracy, m.AccuracyCounts = 10, 6000, []q.Volt{0.6, 6, 60, 600, 1000}, 0.01, 3
		want.Meters = append(want.Meters, m)
	}
	for _, m := range []models.Clamp{
		{Name: "clamp-average", Detector: models.AverageFullWaveCoupled},
		{Name: "clamp-rms", Detector: models.RMSCoupled},
		{Name: "clamp-hall", Detector: models.RMSDirect},
	} {
		m.Cycles, m.Counts, m.Ranges, m.Accuracy, m.AccuracyCounts = 10, 6000, []q.Ampere{60, 600}, 0.02, 5
		want.Clamps = append(want.Clamps, m)
	}
	if d := cmp.Diff(want, f.Board, cmpopts.EquateEmpty(), cmpopts.EquateApprox(1e-15, 0)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestPrecedence(t *testing.T) {
	files := map[string]string{
		"base.toml": small + `
[[channel.soak.draw]]
from = "1 min"
to = "2 min"
flow = "5 g/s"
[channel.dye]
element.resistance = "35 Ω"
boiler.water = "2 L"
control.set-point = "85 °C"
link.functions = "126 °C"
triac.slope = "30 mΩ"
[every-channel]
triac.slope = "10 mΩ"
gate.shunt = "none"
control.duty = 0.25
`,
		"sub/mid.toml": `
based-on = "../base.toml"
[every-channel]
triac.slope = "15 mΩ"
[channel.soak]
element.resistance = "50 Ω"
draw = []
[upstream-link]
functions = "150 °C"
`,
	}
	open := func(name string) ([]byte, error) {
		if text, ok := files[name]; ok {
			return []byte(text), nil
		}
		return nil, fs.ErrNotExist
	}
	f, err := boardfile.Parse("sub/leaf.toml", []byte("based-on = \"mid.toml\"\nambient.temperature = \"30 °C\"\nchannel.dye.triac.foster = []\nmeter = []\n"), open)
	if err != nil {
		t.Fatal(err)
	}
	soak, dye := f.Board.Channels[0], f.Board.Channels[1]
	if soak.Name != "soak" || dye.Name != "dye" {
		t.Fatalf("channels %s, %s", soak.Name, dye.Name)
	}
	for _, c := range []struct {
		what      string
		got, want any
	}{
		{"every-channel of the nearer file", soak.Triac.Slope, q.Ohm(0.015)},
		{"a channel's own value before every-channel", dye.Triac.Slope, q.Ohm(0.030)},
		{"none", soak.GateShunt, q.Ohm(math.Inf(1))},
		{"a bare ratio", dye.Control.Duty, q.Ratio(0.25)},
		{"a resistance over a rating in the base", soak.Element.Resistance, q.Ohm(50)},
		{"an emptied list", len(soak.Boiler.Draws), 0},
		{"an emptied list with a default", len(dye.Triac.Foster), 0},
		{"meters", len(f.Board.Meters), 0},
		{"a start from the ambient", soak.Boiler.Start, q.Celsius(30)},
		{"a lid from the ambient", f.Board.Lid.Start, q.Celsius(30)},
		{"an upstream link by its table", f.Board.Upstream.Functions, q.Celsius(150)},
		{"an upstream link's default", f.Board.Upstream.Resistance, q.Ohm(0.005)},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %v, want %v", c.what, c.got, c.want)
		}
	}
	if want := []string{"sub/mid.toml", "base.toml"}; !slices.Equal(f.Bases, want) {
		t.Errorf("bases %v, want %v", f.Bases, want)
	}
	for path, want := range map[string]boardfile.Origin{
		"ambient.temperature":             {Path: "ambient.temperature", Value: "30 °C", Written: "30 °C", Source: boardfile.FromFile, File: "sub/leaf.toml", Line: 2, Column: 23},
		"channel.soak.element.resistance": {Path: "channel.soak.element.resistance", Value: "50 Ω", Written: "50 Ω", Source: boardfile.FromBase, File: "sub/mid.toml", Line: 6, Column: 22},
		"channel.soak.boiler.start":       {Path: "channel.soak.boiler.start", Value: "30 °C", Written: "the ambient temperature"},
	} {
		if got, ok := f.Origin(path); !ok || got != want {
			t.Errorf("origin of %s: %+v, want %+v", path, got, want)
		}
	}
	if _, ok := f.Origin("channel.tea.triac.slope"); ok {
		t.Error("an origin of nothing")
	}
	checkReread(t, f.Board)
}

// An element may be given by a power at a voltage: R = V²/P.
func TestRatingOverResistance(t *testing.T) {
	f, err := boardfile.Parse("x", []byte("based-on = \"dye-bench-230\"\nchannel.soak.element.resistance = \"44 Ω\"\n"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if r := f.Board.Channels[0].Element.Resistance; r != 44 {
		t.Errorf("resistance %v, want 44 Ω", r)
	}
}

func TestBadBoards(t *testing.T) {
	paths, err := filepath.Glob(badDir + "/*.toml")
	if err != nil || len(paths) < 15 {
		t.Fatalf("%d bad boards, %v", len(paths), err)
	}
	open := func(name string) ([]byte, error) { return os.ReadFile(filepath.Join(badDir, name)) }
	for _, path := range paths {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			data, err := open(name)
			if err != nil {
				t.Fatal(err)
			}
			_, err = boardfile.Parse(name, data, open)
			var e *boardfile.Error
			if !errors.As(err, &e) {
				t.Fatalf("error %v, want a *boardfile.Error", err)
			}
			for i, x := range e.Entries {
				if x.Line < 1 || x.Column < 1 || x.File == "" || x.Field == "" || x.Found == "" || x.Expected == "" {
					t.Errorf("entry %+v has no place or no text", x)
				}
				if i > 0 && x.File == e.Entries[i-1].File && x.Line < e.Entries[i-1].Line {
					t.Errorf("%v after %v", x, e.Entries[i-1])
				}
			}
			golden(t, strings.TrimSuffix(path, ".toml")+".golden.txt", []byte(err.Error()+"\n"))
		})
	}
}

func TestLimits(t *testing.T) {
	_, err := boardfile.Parse("big", bytes.Repeat([]byte("#"), boardfile.MaxSize+1), nil)
	if err == nil || err.Error() != "big: size: found more than 1 MiB, expected at most 1048576 bytes" {
		t.Errorf("a large file: %v", err)
	}
	data := []byte(small)
	data = append(data, '#')
	data = append(data, bytes.Repeat([]byte("x"), boardfile.MaxSize-len(data))...)
	if _, err := boardfile.Parse("largest", data, nil); err != nil {
		t.Errorf("a file of exactly MaxSize: %v", err)
	}
	if _, err := boardfile.Parse("", []byte("\ufeff"+small), nil); err != nil {
		t.Errorf("a byte order mark: %v", err)
	}
	if _, err := boardfile.Parse("crlf", []byte(strings.ReplaceAll(small, "\n", "\r\n")), nil); err != nil {
		t.Errorf("CR LF: %v", err)
	}
	open := func(name string) ([]byte, error) { return []byte(`based-on = "x` + name + `"`), nil }
	if _, err := boardfile.Parse("endless", []byte(`based-on = "x"`), open); err == nil || !strings.Contains(err.Error(), "found one more base, expected at most 16") {
		t.Errorf("an endless chain of bases: %v", err)
	}
	if _, err := boardfile.Parse("closed", []byte(`based-on = "x.toml"`), nil); err == nil || !strings.Contains(err.Error(), "expected an embedded board: ") {
		t.Errorf("a base on disk without open: %v", err)
	}
	var many strings.Builder
	many.WriteString("[supply]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n")
	for i := range 17 {
		fmt.Fprintf(&many, "[channel.c%d]\n", i)
	}
	if _, err := boardfile.Parse("many", []byte(many.String()), nil); err == nil || !strings.Contains(err.Error(), "expected at most 16") {
		t.Errorf("17 channels: %v", err)
	}
}

// A file of one long line with many values is read in linear time, and its
// lists end.
func TestLongLine(t *testing.T) {
	n := boardfile.MaxSize/2 - 8
	data := []byte("based-on = \"dye-bench-230\"\nmeter = [" + strings.Repeat("1,", n-32) + "]")
	_, err := boardfile.Parse("long", data, nil)
	var e *boardfile.Error
	if !errors.As(err, &e) || len(e.Entries) != 1001 {
		t.Fatalf("%d entries", len(e.Entries))
	}
	if got, want := e.Entries[1000].Error(), fmt.Sprintf("long:2:2010: meter: found %d elements, expected at most 1000", n-32); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
