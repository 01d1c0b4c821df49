package sim

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"boilwright/models"

	q "boilwright/models/quantity"

	"pgregory.net/rapid"
)

// closedLoop is testdata/reference/heat-closed-loop: three boilers under
// control for 30 minutes, two at most conducting together. Provenance: an
// independent implementation in Python with SciPy, described in the README
// beside it.
type closedLoop struct {
	Supply struct {
		Volts float64 `json:"rms_V"`
		Hertz float64 `json:"frequency_Hz"`
	}
	Ambient  float64 `json:"ambient_degC"`
	Initial  float64 `json:"initial_degC"`
	Pressure float64 `json:"ambient_Pa"`
	Cold     float64 `json:"cold_supply_degC"`
	Control  struct {
		Window   int `json:"window_half_cycles"`
		Together int `json:"channels_together"`
		Priority []int
	}
	Lid struct {
		C   float64 `json:"C_J_per_K"`
		Gka float64 `json:"G_ka_W_per_K"`
		Gkb float64 `json:"G_kb_W_per_K"`
	}
	Pocket struct {
		C   float64 `json:"C_J_per_K"`
		Gba float64 `json:"G_ba_W_per_K"`
	}
	Neighbours []struct {
		Between [2]int
		G       float64 `json:"G_W_per_K"`
	}
	Boilers []struct {
		Name    string
		R20     float64 `json:"R20_ohm"`
		Alpha   float64 `json:"alpha_per_K"`
		RSeries float64 `json:"R_series_ohm"`
		VT0     float64 `json:"V_T0_V"`
		RT      float64 `json:"r_T_ohm"`
		Mass    float64 `json:"mass_kg"`
		MassMin float64 `json:"mass_min_kg"`
		Scale   float64
		Ce      float64 `json:"C_e_J_per_K"`
		Cs      float64 `json:"C_s_J_per_K"`
		Cp      float64 `json:"C_p_J_per_K"`
		Cl      float64 `json:"C_l_J_per_K"`
		Gew     float64 `json:"G_ew_W_per_K"`
		Ges     float64 `json:"G_es0_W_per_K"`
		Gws     float64 `json:"G_ws_W_per_K"`
		Gwp     float64 `json:"G_wp_W_per_K"`
		Gsk     float64 `json:"G_sk_W_per_K"`
		Gsl     float64 `json:"G_sl_W_per_K"`
		Gsa     float64 `json:"G_sa_W_per_K"`
		Link    float64 `json:"link_degC"`
		Relief  float64 `json:"p_relief_Pa"`
		Reseat  float64 `json:"p_reset_Pa"`
		Draws   []struct {
			Kind   string
			From   float64  `json:"from_s"`
			To     float64  `json:"to_s"`
			Flow   float64  `json:"flow_kg_per_s"`
			Refill *int     `json:"refill_from_boiler"`
			Feed   *float64 `json:"feed_degC"`
		}
		Probe struct {
			R25  float64 `json:"R25_ohm"`
			Beta float64 `json:"beta_K"`
			Top  float64 `json:"R_pullup_ohm"`
			Bits int     `json:"adc_bits"`
		}
		Control struct {
			Kind     string
			Pattern  string
			SetPoint float64 `json:"setpoint_degC"`
			Kp       float64 `json:"Kp_per_K"`
			Ti       float64 `json:"Ti_s"`
			Above    float64 `json:"band_above_K"`
			Below    float64 `json:"band_below_K"`
		}
	}
	Run struct {
		End float64 `json:"end_s"`
	}
}

// closedLoopResult is what the reference came to.
type closedLoopResult struct {
	Snapshots []struct {
		T       float64 `json:"t_s"`
		Lid     float64 `json:"T_lid"`
		Pocket  float64 `json:"T_pocket"`
		Boilers []struct {
			Element float64 `json:"T_element"`
			Water   float64 `json:"T_water"`
			Shell   float64 `json:"T_shell"`
			Probe   float64 `json:"T_probe"`
			Link    float64 `json:"T_link"`
			Mass    float64 `json:"mass_kg"`
		}
	}
	Energy struct {
		In       float64 `json:"electrical_in"`
		Elements []float64
		Stored   float64
		Ambient  float64 `json:"to_ambient"`
		Carried  float64 `json:"carried_out"`
	} `json:"energy_J"`
	Codes     [][]int `json:"adc_code_per_window"`
	Demanded  [][]int `json:"demanded_cycles_per_window"`
	Conducted [][]int `json:"conducted_cycles_per_window"`
}

func readClosedLoop(t testing.TB) (*closedLoop, *closedLoopResult) {
	t.Helper()
	c, r := new(closedLoop), new(closedLoopResult)
	for name, v := range map[string]any{"case": c, "expected": r} {
		data, err := os.ReadFile("../testdata/reference/heat-closed-loop." + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(data, v); err != nil {
			t.Fatal(err)
		}
	}
	return c, r
}

// board makes the case's board; the closed form of its circuit needs no
// electrical values. The reference's hysteresis has two half-widths: the same
// band has its middle half their difference away from the set point.
func (c *closedLoop) board() *models.Board {
	b := &models.Board{
		Ambient: q.Celsius(c.Ambient), AmbientPressure: q.Pascal(c.Pressure),
		Supply: models.Supply{Voltage: q.Volt(c.Supply.Volts), Frequency: q.Hertz(c.Supply.Hertz)},
		Lid: models.Lid{Capacity: q.JoulePerKelvin(c.Lid.C), ToPocket: q.WattPerKelvin(c.Lid.Gkb), ToAir: q.WattPerKelvin(c.Lid.Gka),
			Start: q.Celsius(c.Initial)},
		Pocket:     models.Pocket{Capacity: q.JoulePerKelvin(c.Pocket.C), ToAir: q.WattPerKelvin(c.Pocket.Gba), Start: q.Celsius(c.Initial)},
		Controller: models.Controller{Window: c.Control.Window, Together: c.Control.Together},
	}
	for _, n := range c.Neighbours {
		b.Couplings = append(b.Couplings, models.Coupling{A: n.Between[0] - 1, B: n.Between[1] - 1, Conductance: q.WattPerKelvin(n.G)})
	}
	for _, v := range c.Boilers {
		ch := models.Channel{
			Name:    v.Name,
			Triac:   models.Triac{Threshold: q.Volt(v.VT0), Slope: q.Ohm(v.RT)},
			Element: models.Element{Resistance: q.Ohm(v.R20), Coefficient: q.PerKelvin(v.Alpha), Capacity: q.JoulePerKelvin(v.Ce)},
			Link:    models.ThermalLink{Functions: q.Celsius(v.Link), Capacity: q.JoulePerKelvin(v.Cl), ToShell: q.WattPerKelvin(v.Gsl)},
			Probe: models.Probe{R25: q.Ohm(v.Probe.R25), Beta: q.Kelvin(v.Probe.Beta), Top: q.Ohm(v.Probe.Top), Bits: v.Probe.Bits,
				Capacity: q.JoulePerKelvin(v.Cp), ToWater: q.WattPerKelvin(v.Gwp)},
			Control: models.Control{Enabled: true, SetPoint: q.Celsius(v.Control.SetPoint + (v.Control.Above-v.Control.Below)/2),
				Band: q.Kelvin(v.Control.Above + v.Control.Below), Gain: v.Control.Kp, Integral: q.Second(v.Control.Ti), Spread: v.Control.Pattern == "spread"},
			Boiler: models.Boiler{
				Water: q.Kilogram(v.Mass), Wetted: q.Kilogram(v.MassMin), Floor: 0.01, Start: q.Celsius(c.Initial), Scale: q.Ratio(v.Scale),
				Inlet: q.Celsius(c.Cold), ElementToWater: q.WattPerKelvin(v.Gew), ElementToShell: q.WattPerKelvin(v.Ges),
				WaterToShell: q.WattPerKelvin(v.Gws), ShellToLid: q.WattPerKelvin(v.Gsk), ShellToAir: q.WattPerKelvin(v.Gsa),
				ShellCapacity: q.JoulePerKelvin(v.Cs), Relief: q.Pascal(v.Relief), Reseat: q.Pascal(v.Reseat),
			},
		}
		if v.Control.Kind == "pi" {
			ch.Control.Kind = models.Proportional
		}
		for _, d := range v.Draws {
			draw := models.Draw{From: seconds(d.From), To: seconds(d.To), Flow: q.KilogramPerSecond(d.Flow), Steam: d.Kind == "steam", Refill: -1}
			if d.Refill != nil {
				draw.Refill = *d.Refill - 1
			}
			ch.Boiler.Feed = ch.Boiler.Feed || d.Feed != nil
			ch.Boiler.Draws = append(ch.Boiler.Draws, draw)
		}
		b.Channels = append(b.Channels, ch)
	}
	for place, k := range c.Control.Priority {
		b.Channels[k-1].Control.Priority = place
	}
	return b
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }

// loop is the controllers of a board with what they share, fed with codes.
type loop struct {
	board   *models.Board
	control []controller
	order   []int
	want    [][]bool
	owed    []int
}

func newLoop(b *models.Board) *loop {
	n := len(b.Channels)
	l := &loop{board: b, control: make([]controller, n), order: byPriority(b.Channels), want: make([][]bool, n), owed: make([]int, n)}
	for k := range n {
		l.control[k].set = &b.Channels[k].Control
		l.want[k] = make([]bool, b.Controller.Window/2)
	}
	return l
}

// window puts the patterns of the window with these codes into l.want and
// returns what the channels had asked for.
func (l *loop) window(codes []int) (demanded []int) {
	b := l.board
	cycles := b.Controller.Window / 2
	for k := range l.control {
		ch := &b.Channels[k]
		c := l.control[k].cycles(ch.Probe.Reading(codes[k]), cycles, float64(b.Controller.Window)*b.Supply.HalfCycle())
		pattern(l.want[k], c, ch.Control.Spread)
		demanded = append(demanded, c)
	}
	allocate(l.want, l.order, b.Controller.Together, b.Controller.LoseRefused, l.owed)
	return demanded
}

func trues(on []bool) int {
	n := 0
	for _, v := range on {
		if v {
			n++
		}
	}
	return n
}

// The converter's codes of the reference must give its cycles, every one.
func TestControlReplaysReference(t *testing.T) {
	c, want := readClosedLoop(t)
	l := newLoop(c.board())
	refused := 0
	for w := range want.Codes[0] {
		var codes []int
		for k := range want.Codes {
			codes = append(codes, want.Codes[k][w])
		}
		demanded := l.window(codes)
		for k := range codes {
			if demanded[k] != want.Demanded[k][w] {
				t.Fatalf("window %d, channel %d: found a demand for %d cycles, expected %d", w, k+1, demanded[k], want.Demanded[k][w])
			}
			if found := trues(l.want[k]); found != want.Conducted[k][w] {
				t.Fatalf("window %d, channel %d: found %d cycles that conduct, expected %d", w, k+1, found, want.Conducted[k][w])
			}
			refused += demanded[k] - want.Conducted[k][w]
		}
	}
	if refused == 0 {
		t.Error("found no refused cycle, expected the limit to matter")
	}
	if n := len(want.Codes[0]); n != int(c.Run.End) {
		t.Errorf("found %d windows, expected %g", n, c.Run.End)
	}
}

func TestPattern(t *testing.T) {
	for _, c := range []struct {
		n, c   int
		spread bool
		want   string
	}{
		{8, 0, false, "--------"},
		{8, 3, false, "###-----"},
		{8, 8, false, "########"},
		{8, 0, true, "--------"},
		{8, 1, true, "-------#"},
		{8, 2, true, "---#---#"},
		{8, 3, true, "--#--#-#"},
		{8, 4, true, "-#-#-#-#"},
		{8, 7, true, "-#######"},
		{8, 8, true, "########"},
		{5, 2, true, "--#-#"},
		{1, 1, true, "#"},
	} {
		on := slices.Repeat([]bool{true}, c.n) // what was there must not matter
		pattern(on, c.c, c.spread)
		if found := marks(on); found != c.want {
			t.Errorf("%d of %d, spread %t: found %s, expected %s", c.c, c.n, c.spread, found, c.want)
		}
	}
}

func marks(on []bool) string {
	var s []byte
	for _, v := range on {
		if v {
			s = append(s, '#')
		} else {
			s = append(s, '-')
		}
	}
	return string(s)
}

func patterns(rows ...string) [][]bool {
	var out [][]bool
	for _, r := range rows {
		var on []bool
		for _, c := range r {
			on = append(on, c == '#')
		}
		out = append(out, on)
	}
	return out
}

func TestAllocate(t *testing.T) {
	for _, c := range []struct {
		name     string
		want     []string
		order    []int
		together int
		lose     bool
		got      []string
	}{
		{"no limit", []string{"####", "####", "####"}, []int{0, 1, 2}, 0, false, []string{"####", "####", "####"}},
		{"limit of all", []string{"####", "####"}, []int{0, 1}, 2, false, []string{"####", "####"}},
		{"the last in order waits, then takes what it is owed", []string{"##------", "##------", "##------"}, []int{0, 1, 2}, 2, false,
			[]string{"##------", "##------", "--##----"}},
		{"or loses it", []string{"##------", "##------", "##------"}, []int{0, 1, 2}, 2, true,
			[]string{"##------", "##------", "--------"}},
		{"order, not index, decides", []string{"##--", "##--"}, []int{1, 0}, 1, false, []string{"--##", "##--"}},
		{"one at a time, in turn", []string{"##----", "##----", "##----"}, []int{2, 0, 1}, 1, false,
			[]string{"--##--", "----##", "##----"}},
		{"owed cycles give way to the pattern of one served earlier", []string{"#---#-", "##----"}, []int{0, 1}, 1, false,
			[]string{"#---#-", "-##---"}},
		// Channel 2 is owed its first cycle and asks for the others itself;
		// the debt that is left when the window ends is forgotten.
		{"a debt that doesn't fit ends with the window", []string{"#---", "####"}, []int{0, 1}, 1, false, []string{"#---", "-###"}},
		{"an owed cycle comes before one served later", []string{"##--", "##--", "--##"}, []int{0, 1, 2}, 1, false,
			[]string{"##--", "--##", "----"}},
	} {
		want := patterns(c.want...)
		owed := slices.Repeat([]int{7}, len(want)) // left from the window before
		allocate(want, c.order, c.together, c.lose, owed)
		for k := range want {
			if found := marks(want[k]); found != c.got[k] {
				t.Errorf("%s, channel %d: found %s, expected %s", c.name, k+1, found, c.got[k])
			}
		}
	}
}

func TestByPriority(t *testing.T) {
	chans := make([]models.Channel, 4)
	for k, p := range []int{2, -1, 2, 0} {
		chans[k].Control.Priority = p
	}
	if found, want := byPriority(chans), []int{1, 3, 0, 2}; !slices.Equal(found, want) {
		t.Errorf("found order %v, expected %v: lower goes first, equals by place", found, want)
	}
}

func TestAllocateKeepsItsPromises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		channels := rapid.IntRange(1, 5).Draw(t, "channels")
		n := rapid.IntRange(1, 60).Draw(t, "cycles")
		together := rapid.IntRange(0, 6).Draw(t, "together")
		lose := rapid.Bool().Draw(t, "lose")
		order := rapid.Permutation(indices(channels)).Draw(t, "order")
		want := make([][]bool, channels)
		asked := make([]int, channels)
		before := make([][]bool, channels)
		for k := range want {
			want[k] = make([]bool, n)
			pattern(want[k], rapid.IntRange(0, n).Draw(t, "demand"), rapid.Bool().Draw(t, "spread"))
			asked[k] = trues(want[k])
			before[k] = slices.Clone(want[k])
		}
		allocate(want, order, together, lose, make([]int, channels))

		limit := together
		if limit == 0 {
			limit = channels
		}
		now := 0
		for j := range n {
			now = 0
			for k := range want {
				if want[k][j] {
					now++
				}
			}
			if now > limit {
				t.Fatalf("cycle %d: found %d channels together, expected at most %d", j, now, limit)
			}
		}
		for k := range want {
			if c := trues(want[k]); c > asked[k] {
				t.Fatalf("channel %d: found %d cycles, expected at most the %d it asked for", k, c, asked[k])
			}
		}
		// The first in order never waits.
		if !slices.Equal(want[order[0]], before[order[0]]) {
			t.Fatalf("first in order: found %s, expected its own pattern %s", marks(want[order[0]]), marks(before[order[0]]))
		}
		if lose {
			for k := range want {
				for j := range n {
					if want[k][j] && !before[k][j] {
						t.Fatalf("channel %d, cycle %d: found it on, expected refused cycles to be lost", k, j)
					}
				}
			}
			return
		}
		// A refused cycle is owed for the rest of the window: nobody who is
		// short stays out of the last cycle while there is room.
		for k := range want {
			if trues(want[k]) < asked[k] && !want[k][n-1] && now != limit {
				t.Fatalf("channel %d: found it out of the last cycle with %d of %d cycles granted, and %d channels on, expected %d", k, trues(want[k]), asked[k], now, limit)
			}
		}
	})
}

// What is asked for in one run from the start is conserved when one channel
// after another fits into the window.
func TestOwedCyclesAreConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 100).Draw(t, "cycles")
		channels := rapid.IntRange(2, 4).Draw(t, "channels")
		want := make([][]bool, channels)
		left := n
		var asked []int
		for k := range want {
			c := rapid.IntRange(0, left).Draw(t, "demand")
			left -= c
			asked = append(asked, c)
			want[k] = make([]bool, n)
			pattern(want[k], c, false)
		}
		allocate(want, rapid.Permutation(indices(channels)).Draw(t, "order"), 1, false, make([]int, channels))
		for k := range want {
			if c := trues(want[k]); c != asked[k] {
				t.Fatalf("channel %d: found %d cycles, expected all of the %d owed", k, c, asked[k])
			}
		}
	})
}

func indices(n int) []int {
	var out []int
	for i := range n {
		out = append(out, i)
	}
	return out
}

func TestSpreadPatternIsEven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "cycles")
		c := rapid.IntRange(0, n).Draw(t, "on")
		on := make([]bool, n)
		pattern(on, c, true)
		if trues(on) != c {
			t.Fatalf("found %d cycles on, expected %d", trues(on), c)
		}
		if c == 0 {
			return
		}
		// Windows follow each other: distances between cycles that are on,
		// around the end, are the two whole numbers beside n/c.
		var at []int
		for j, v := range on {
			if v {
				at = append(at, j)
			}
		}
		for i := range at {
			d := at[(i+1)%c] - at[i]
			if i == c-1 {
				d += n
			}
			if d != n/c && d != (n+c-1)/c {
				t.Fatalf("%s: found a distance of %d, expected %d or %d", marks(on), d, n/c, (n+c-1)/c)
			}
		}
	})
}

func TestHysteresis(t *testing.T) {
	set := &models.Control{Kind: models.Hysteresis, Enabled: true, SetPoint: 50, Band: 4}
	below := math.Nextafter(52, 0)
	for _, c := range []struct {
		name     string
		readings []float64
		want     []int
	}{
		{"starts on inside the band", []float64{51.9, 51.9}, []int{10, 10}},
		{"starts on one step below the upper edge", []float64{below}, []int{10}},
		{"starts off at the upper edge", []float64{52, 50.1, 48.1, 48}, []int{0, 0, 0, 10}},
		{"goes round", []float64{20, 48, 50, below, 52, 50, math.Nextafter(48, 50), 48, 51, 53}, []int{10, 10, 10, 10, 0, 0, 0, 10, 10, 0}},
	} {
		l := controller{set: set}
		for i, r := range c.readings {
			if found := l.cycles(r, 10, 1); found != c.want[i] {
				t.Errorf("%s: at reading %d of %g °C: found %d cycles, expected %d", c.name, i+1, r, found, c.want[i])
			}
		}
	}
	l := controller{set: set}
	l.cycles(53, 10, 1)
	l.cycles(51, 10, 1)
	l.reset()
	if found := l.cycles(51, 10, 1); found != 10 {
		t.Errorf("inside the band after the controls were off: found %d cycles, expected 10 as at the first start", found)
	}
}

func TestFixedDuty(t *testing.T) {
	for _, c := range []struct {
		duty float64
		want int
	}{{0, 0}, {0.049, 0}, {0.05, 1}, {0.5, 5}, {0.949, 9}, {0.95, 10}, {1, 10}, {1.5, 10}, {-1, 0}} {
		l := controller{set: &models.Control{Kind: models.FixedDuty, Enabled: true, Duty: q.Ratio(c.duty), SetPoint: 50}}
		if found := l.cycles(80, 10, 1); found != c.want {
			t.Errorf("duty %g: found %d of 10 cycles, expected %d", c.duty, found, c.want)
		}
	}
}

func TestDisabledChannelAsksForNothing(t *testing.T) {
	for _, kind := range []models.ControlKind{models.Hysteresis, models.Proportional, models.FixedDuty} {
		l := controller{set: &models.Control{Kind: kind, SetPoint: 90, Gain: 1, Duty: 1, Band: 2}}
		if found := l.cycles(20, 10, 1); found != 0 || l.integral != 0 {
			t.Errorf("%v: found %d cycles and an integral of %g, expected none", kind, found, l.integral)
		}
	}
}

// Proportional-integral with Kp 0.1 1/K, Ti 100 s and windows of 2 s: the
// integral moves by e/500 a window unless u lies outside [0, 1] and e pushes
// it further out.
func TestAntiWindUp(t *testing.T) {
	const kp, ti, w = 0.1, 100.0, 2.0
	for _, c := range []struct {
		name     string
		integral float64
		reading  float64
		cycles   int
		after    float64
	}{
		{"within range, below", 0.25, 45, 75, 0.25 + kp/ti*5*w},
		{"within range, above", 0.75, 55, 25, 0.75 - kp/ti*5*w},
		{"at exactly 1 it still learns", 0.5, 45, 100, 0.5 + kp/ti*5*w},
		{"at exactly 0 it still learns", 0.5, 55, 0, 0.5 - kp/ti*5*w},
		{"saturated high and pushed higher", 0.6, 40, 100, 0.6},
		{"saturated low and pushed lower", 0.4, 60, 0, 0.4},
		{"saturated high, pushed back", 2, 55, 100, 2 - kp/ti*5*w},
		{"saturated low, pushed back", -2, 45, 0, -2 + kp/ti*5*w},
		{"no error", 0.3, 50, 30, 0.3},
		{"saturated by the integral alone", 1.5, 50, 100, 1.5},
		{"rounded to the nearest", 0, 49.86, 1, kp / ti * 0.14 * w},
	} {
		l := controller{set: &models.Control{Kind: models.Proportional, Enabled: true, SetPoint: 50, Gain: kp, Integral: ti}, integral: c.integral}
		if found := l.cycles(c.reading, 100, w); found != c.cycles {
			t.Errorf("%s: found %d cycles, expected %d", c.name, found, c.cycles)
		}
		if math.Abs(l.integral-c.after) > 1e-15 {
			t.Errorf("%s: found the integral at %g, expected %g", c.name, l.integral, c.after)
		}
	}
	l := controller{set: &models.Control{Kind: models.Proportional, Enabled: true, SetPoint: 50, Gain: kp}}
	for range 100 {
		if found := l.cycles(45, 100, w); found != 50 {
			t.Fatalf("proportional alone: found %d cycles, expected 50", found)
		}
	}
}

// Whatever is read, the demand is a whole number of cycles of the window and
// the integral stays within what one step can add to the range of u.
func TestProportionalStaysInRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		set := &models.Control{Kind: models.Proportional, Enabled: true, SetPoint: q.Celsius(rapid.Float64Range(0, 200).Draw(t, "set point")),
			Gain: rapid.Float64Range(0, 10).Draw(t, "gain"), Integral: q.Second(rapid.Float64Range(1, 1e4).Draw(t, "integral time"))}
		l := controller{set: set}
		n := rapid.IntRange(1, 6000).Draw(t, "cycles")
		w := rapid.Float64Range(0.01, 120).Draw(t, "window")
		largest := 255.0 // K, the widest error that readings of -55 °C to 200 °C allow
		bound := 1 + set.Gain*largest*(1+w/float64(set.Integral))
		for range 50 {
			c := l.cycles(rapid.Float64Range(-55, 200).Draw(t, "reading"), n, w)
			if c < 0 || c > n {
				t.Fatalf("found %d cycles, expected 0 to %d", c, n)
			}
			if !(math.Abs(l.integral) <= bound) {
				t.Fatalf("found the integral at %g, expected within %g", l.integral, bound)
			}
		}
	})
}

func TestIndicator(t *testing.T) {
	type step struct {
		reading float64
		on      bool
		want    Indicator
	}
	up, down := math.Nextafter(53, 60), math.Nextafter(47, 40)
	for _, c := range []struct {
		name  string
		steps []step
	}{
		{"warms up, holds, is disturbed and comes back", []step{
			{20, true, Heating}, {down, true, Heating}, {47, true, InBand}, {53, true, InBand}, {down, true, Drifted}, {up, true, Drifted}, {50, true, InBand}}},
		{"over temperature only above the limit", []step{
			{60, true, Heating}, {math.Nextafter(60, 70), true, OverTemp}, {70, true, OverTemp}, {60, true, Heating}}},
		{"over temperature does not count as having been in band", []step{{70, true, OverTemp}, {20, true, Heating}}},
		{"over temperature after having been in band", []step{{50, true, InBand}, {61, true, OverTemp}, {55, true, Drifted}}},
		{"controls off forget the band", []step{{50, true, InBand}, {50, false, IndicatorOff}, {30, true, Heating}, {50, true, InBand}}},
		{"off is off whatever is read", []step{{20, false, IndicatorOff}, {99, false, IndicatorOff}}},
	} {
		l := controller{set: &models.Control{Enabled: true, SetPoint: 50, InBand: 3, OverTemp: 60}}
		for i, s := range c.steps {
			if found := l.indicate(s.reading, s.on); found != s.want || l.shown != s.want {
				t.Errorf("%s: at step %d: found %q, expected %q", c.name, i+1, found, s.want)
			}
		}
	}
	disabled := controller{set: &models.Control{SetPoint: 50, InBand: 3, OverTemp: 60}}
	if found := disabled.indicate(50, true); found != IndicatorOff {
		t.Errorf("disabled channel: found %q, expected %q", found, IndicatorOff)
	}
}
