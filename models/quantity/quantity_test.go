package quantity_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	q "boilwright/models/quantity"
	"pgregory.net/rapid"
)

func Example() {
	r, err := q.As[q.Ohm]("1.5 kΩ")
	fmt.Println(float64(r), err)
	fmt.Println(q.Farad(1e-8), q.VoltPerSecond(5e7), q.Ohm(math.Inf(1)), q.Ratio(0.05))
	fmt.Println(q.Digits(q.Volt(229.96), 4))
	_, err = q.As[q.Ohm]("10 nF")
	fmt.Println(err)
	// Output:
	// 1500 <nil>
	// 10 nF 50 V/µs open 5 %
	// 230.0 V
	// "10 nF": found a capacitance, expected a resistance such as 1.5 kΩ
}

func ExampleParse_gauge() {
	p, _ := q.Parse(q.Pressure, "3 bar gauge")
	fmt.Println(p, q.Format(q.Pressure, p))
	// Output:
	// 401325 401.325 kPa
}

func ExampleParse_reactance() {
	// The line inductance of a supply is often given as a reactance.
	l, _ := q.Parse(q.Inductance, "0.15 Ω at 50 Hz")
	fmt.Println(q.FormatDigits(q.Inductance, l, 4))
	// Output:
	// 477.5 µH
}

func ExampleParseDuration() {
	d, err := q.ParseDuration("1 h 30 min")
	fmt.Println(d, q.FormatDuration(d), err)
	// Output:
	// 1h30m0s 1 h 30 min <nil>
}

// Prefixes and units: SI Brochure, 9th edition (BIPM 2019), Tables 4, 7, 8.
// 1 bar = 100 kPa, 1 L = 1 dm³, 1 min = 60 s: Table 8. The standard
// atmosphere, 101325 Pa: 10th CGPM (1954), Resolution 4. One litre of water
// as one kilogram is this package's own convention.
func TestParse(t *testing.T) {
	inf := math.Inf(1)
	reactance := 0.15 // a variable: constants would be rounded only once
	for _, c := range []struct {
		d    q.Dimension
		text string
		want float64
	}{
		{q.Resistance, "1.5 kΩ", 1500},
		{q.Resistance, "1.5 k\u2126", 1500},
		{q.Resistance, "1.5kohm", 1500},
		{q.Resistance, "1.5\u00a0kΩ", 1500},
		{q.Resistance, " 1.5\u202fkΩ ", 1500},
		{q.Resistance, "0.24 ohm", 0.24},
		{q.Resistance, "20 mΩ", 0.020},
		{q.Resistance, "20 MΩ", 20e6},
		{q.Resistance, "1 GΩ", 1e9},
		{q.Resistance, "1 TΩ", 1e12},
		{q.Resistance, "open", inf},
		{q.Resistance, "infinite", inf},
		{q.Resistance, "none", inf},
		{q.Voltage, "230 V", 230},
		{q.Voltage, "1e3 V", 1000},
		{q.Voltage, "1E3V", 1000},
		{q.Voltage, "1e-3 kV", 1},
		{q.Voltage, "-0.5 V", -0.5},
		{q.Voltage, "\u22120.5 V", -0.5},
		{q.Voltage, "+0.5 V", 0.5},
		{q.Voltage, "none", inf},
		{q.Capacitance, "10 nF", 1e-8},
		{q.Capacitance, "100 µF", 100e-6},
		{q.Capacitance, "100 \u03bcF", 100e-6},
		{q.Capacitance, "100 uF", 100e-6},
		{q.Capacitance, "4.7 pF", 4.7e-12},
		{q.Capacitance, "none", 0},
		{q.Current, "25 mA", 0.025},
		{q.Conductance, "50 nS", 5e-8},
		{q.Inductance, "477.5 µH", 477.5e-6},
		{q.Inductance, "0.15 Ω at 50 Hz", reactance / (2 * math.Pi * 50)},
		{q.Power, "1.2 kW", 1200},
		{q.Energy, "1 kWh", 3.6e6},
		{q.Energy, "0.1 Wh", 360},
		{q.Temperature, "118 °C", 118},
		{q.Temperature, "118 degC", 118},
		{q.Temperature, "118℃", 118},
		{q.TemperatureDifference, "2 K", 2},
		{q.TemperatureDifference, "infinite", inf},
		{q.TemperatureCoefficient, "1.7e-4 /K", 1.7e-4},
		{q.TemperatureCoefficient, "170 ppm/K", 1.7e-4},
		{q.TemperatureCoefficient, "0.08 1/K", 0.08},
		{q.ThermalResistance, "0.6 K/W", 0.6},
		{q.ThermalConductance, "20 W/K", 20},
		{q.ThermalConductance, "150 mW/K", 0.15},
		{q.HeatCapacity, "1.5 kJ/K", 1500},
		{q.Frequency, "50 Hz", 50},
		{q.Time, "50 µs", 50e-6},
		{q.Time, "5 min", 300},
		{q.Time, "0.1 min", 6},
		{q.Mass, "1.2 L", 1.2},
		{q.Mass, "1.2 kg", 1.2},
		{q.Mass, "1200 g", 1.2},
		{q.Mass, "1200 mL", 1.2},
		{q.MassFlow, "5 g/s", 0.005},
		{q.MassFlow, "0.6 L/min", 0.01},
		{q.MassFlow, "36 kg/h", 0.01},
		{q.Pressure, "2 bar", 2e5},
		{q.Pressure, "2 bar(g)", 2e5 + 101325},
		{q.Pressure, "2 bar gauge", 2e5 + 101325},
		{q.Pressure, "2 bar (g)", 2e5 + 101325},
		{q.Pressure, "-0.2 bar gauge", 81325},
		{q.Pressure, "101.3 kPa", 101300},
		{q.Pressure, "1013.25 hPa", 101325},
		{q.VoltageRate, "50 V/us", 50e6},
		{q.VoltageRate, "50 V/µs", 50e6},
		{q.CurrentRate, "4 A/ms", 4000},
		{q.MeltingIntegral, "10 A²s", 10},
		{q.MeltingIntegral, "10 A2s", 10},
		{q.Angle, "30°", 30},
		{q.Angle, "30 deg", 30},
		{q.Number, "0.5", 0.5},
		{q.Number, "5 %", 0.05},
		{q.Number, "5%", 0.05},
		{q.Number, "200 ppm", 2e-4},
		{q.Voltage, "4.9e-324 V", 5e-324},
		{q.Voltage, "1.7976931348623157e308 V", math.MaxFloat64},
	} {
		got, err := q.Parse(c.d, c.text)
		if err != nil || got != c.want {
			t.Errorf("Parse(%v, %q) = %v, %v, want %v", c.d, c.text, got, err, c.want)
		}
		if !regexp.MustCompile(q.Pattern(c.d)).MatchString(c.text) {
			t.Errorf("%q does not match the pattern of %v", c.text, c.d)
		}
	}
}

func TestParseErrors(t *testing.T) {
	for _, c := range []struct {
		d               q.Dimension
		text            string
		found, expected string
	}{
		{q.Resistance, "", "nothing", "a resistance such as 1.5 kΩ"},
		{q.Resistance, "  ", "nothing", "a resistance such as 1.5 kΩ"},
		{q.Resistance, "1.5", "a number without a unit", "a resistance such as 1.5 kΩ"},
		{q.Resistance, "1,5 kΩ", "a comma", "a decimal point, as in 1.5 kΩ"},
		{q.Resistance, "10 nF", "a capacitance", "a resistance such as 1.5 kΩ"},
		{q.Resistance, "10 KΩ", `the unit "KΩ"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "1.5 kΩ 3", `the unit "kΩ 3"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "NaN", `"NaN"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "Inf Ω", `"Inf Ω"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "inf", `"inf"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "-open", `"-open"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "0x10 Ω", `the unit "x10 Ω"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "1_000 Ω", `the unit "_000 Ω"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, "5. Ω", `"5. Ω"`, "a resistance such as 1.5 kΩ"},
		{q.Resistance, ".5 Ω", `".5 Ω"`, "a resistance such as 1.5 kΩ"},
		{q.Capacitance, "open", `"open"`, "a capacitance such as 10 nF"},
		{q.Capacitance, "10 m", `the unit "m"`, "a capacitance such as 10 nF"},
		{q.Voltage, "230", "a number without a unit", "a voltage such as 230 V"},
		{q.Voltage, "5 e V", `the unit "e V"`, "a voltage such as 230 V"},
		{q.Voltage, "1e400 V", "a number too large", "at most 1.8e308 in the base unit"},
		{q.Voltage, "1e99999999999999999999999 V", "a number too large", "at most 1.8e308 in the base unit"},
		{q.Voltage, "1e-99999999999999999999999 V", "a number too small", "0 or at least 4.9e-324 in the base unit"},
		{q.Time, "1e400 min", "a number too large", "at most 1.8e308 in the base unit"},
		{q.Voltage, strings.Repeat("1", 200) + " V", "202 bytes of text", "a voltage such as 230 V"},
		{q.Temperature, "391 K", "a temperature difference", "a temperature such as 118 °C"},
		{q.TemperatureDifference, "2 °C", "a temperature", "a temperature difference such as 2 K"},
		{q.Inductance, "0.15 Ω", "a resistance", "an inductance such as 1 mH or 0.15 Ω at 50 Hz"},
		{q.Inductance, "0.15 Ω at 50", "a number without a unit", "an inductance such as 1 mH or 0.15 Ω at 50 Hz"},
		{q.Inductance, "open at 50 Hz", "open", "an inductance such as 1 mH or 0.15 Ω at 50 Hz"},
		{q.Inductance, "0.15 Ω at 0 Hz", "a frequency of 0 Hz", "a frequency above 0 Hz"},
		{q.Number, "half", `"half"`, "a ratio such as 0.5 or 50 %"},
		{q.Number, "5 V", "a voltage", "a ratio such as 0.5 or 50 %"},
		{q.Dimension(99), "5 V", "unknown dimension", "one of the dimensions of this package"},
	} {
		_, err := q.Parse(c.d, c.text)
		var e *q.Error
		if !errors.As(err, &e) {
			t.Errorf("Parse(%v, %q): error %v, want a *quantity.Error", c.d, c.text, err)
			continue
		}
		if e.Found != c.found || e.Expected != c.expected || e.Input != c.text {
			t.Errorf("Parse(%v, %q): found %s, expected %s; want found %s, expected %s", c.d, c.text, e.Found, e.Expected, c.found, c.expected)
		}
	}
}

func TestParseRating(t *testing.T) {
	p, u, err := q.ParseRating("1200 W at 230 V")
	if p != 1200 || u != 230 || err != nil {
		t.Errorf("got %v, %v, %v", p, u, err)
	}
	for _, bad := range []string{"1200 W", "1200 W at", "1200 W at 230", "1200 at 230 V", "1200 W at infinite", "44 Ω at 230 V", ""} {
		if _, _, err := q.ParseRating(bad); err == nil {
			t.Errorf("ParseRating(%q): no error", bad)
		}
	}
}

func TestFormat(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		d    q.Dimension
		v    float64
		want string
	}{
		{q.Resistance, 1500, "1.5 kΩ"},
		{q.Resistance, 0.02, "20 mΩ"},
		{q.Resistance, 0, "0 Ω"},
		{q.Resistance, 999.9999999999999, "999.9999999999999 Ω"},
		{q.Resistance, inf, "open"},
		{q.Voltage, inf, "infinite"},
		{q.Voltage, -inf, "-infinite"},
		{q.Voltage, math.NaN(), "NaN"},
		{q.Voltage, -230, "-230 V"},
		{q.Voltage, 1e300, "1e300 V"},
		{q.Voltage, 1.5e-30, "1.5e-30 V"},
		{q.Mass, 1.2, "1.2 kg"},
		{q.Mass, 0.5, "500 g"},
		{q.MassFlow, 0.005, "5 g/s"},
		{q.Pressure, 101325, "101.325 kPa"},
		{q.VoltageRate, 2e8, "200 V/µs"},
		{q.CurrentRate, 5000, "5 A/ms"},
		{q.TemperatureCoefficient, 1.7e-4, "170 ppm/K"},
		{q.TemperatureCoefficient, 0.08, "0.08 /K"},
		{q.Temperature, 118, "118 °C"},
		{q.HeatCapacity, 1500, "1500 J/K"},
		{q.Angle, 30, "30°"},
		{q.Number, 0.5, "50 %"},
		{q.Number, 1, "1"},
		{q.Number, 1.15, "1.15"},
		{q.Number, 0, "0"},
		{q.Time, 50e-6, "50 µs"},
		{q.Time, 300, "300 s"},
	} {
		if got := q.Format(c.d, c.v); got != c.want {
			t.Errorf("Format(%v, %v) = %q, want %q", c.d, c.v, got, c.want)
		}
	}
	for _, c := range []struct {
		v    float64
		n    int
		want string
	}{
		{229.96, 4, "230.0 V"}, {229.96, 3, "230 V"}, {999.96, 4, "1.000 kV"},
		{999.94, 4, "999.9 V"}, {230, 2, "230 V"}, {0.0123456, 3, "12.3 mV"}, {0, 3, "0.00 V"}, {230, 0, "200 V"},
	} {
		if got := q.FormatDigits(q.Voltage, c.v, c.n); got != c.want {
			t.Errorf("FormatDigits(%v, %d) = %q, want %q", c.v, c.n, got, c.want)
		}
	}
}

// Every finite value of every dimension must read back bit for bit.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(q.Dimensions()).Draw(t, "dimension")
		bits := rapid.Uint64().Draw(t, "bits")
		near := rapid.Float64Range(-1e6, 1e6).Draw(t, "near")
		for _, v := range []float64{math.Float64frombits(bits), near} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				continue
			}
			s := q.Format(d, v)
			got, err := q.Parse(d, s)
			if err != nil || got != v {
				t.Fatalf("%v: %v printed %q, read %v, %v", d, v, s, got, err)
			}
			if !regexp.MustCompile(q.Pattern(d)).MatchString(s) {
				t.Fatalf("%q does not match the pattern of %v", s, d)
			}
		}
	})
}

// A written decimal with a prefix is the float64 that Go makes of the same
// decimal with the exponent folded in (strconv rounds to nearest even).
func TestParseExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := rapid.IntRange(0, 9999).Draw(t, "whole")
		part := rapid.IntRange(0, 9999).Draw(t, "part")
		p := rapid.SampledFrom([]struct{ prefix, exp string }{
			{"p", "e-12"}, {"n", "e-9"}, {"µ", "e-6"}, {"m", "e-3"}, {"", ""},
		}).Draw(t, "prefix")
		mantissa := fmt.Sprintf("%d.%04d", whole, part)
		var want float64
		if _, err := fmt.Sscan(mantissa+p.exp, &want); err != nil {
			t.Fatal(err)
		}
		got, err := q.Parse(q.Capacitance, mantissa+" "+p.prefix+"F")
		if err != nil || got != want {
			t.Fatalf("%s %sF = %v, %v, want %v", mantissa, p.prefix, got, err, want)
		}
	})
}

func TestDuration(t *testing.T) {
	for _, c := range []struct {
		text, printed string
		want          time.Duration
	}{
		{"25 min", "25 min", 25 * time.Minute},
		{"1 h 30 min", "1 h 30 min", 90 * time.Minute},
		{"1.5 h", "1 h 30 min", 90 * time.Minute},
		{"90min", "1 h 30 min", 90 * time.Minute},
		{"10 s", "10 s", 10 * time.Second},
		{"12.5 s", "12.5 s", 12500 * time.Millisecond},
		{"500 ms", "500 ms", 500 * time.Millisecond},
		{"1.5 us", "1.5 µs", 1500},
		{"0 s", "0 s", 0},
		{"-2 min", "-2 min", -2 * time.Minute},
		{"1\u00a0h 1 min 1 s 1 ms", "1 h 1 min 1.001 s", time.Hour + time.Minute + time.Second + time.Millisecond},
	} {
		got, err := q.ParseDuration(c.text)
		if err != nil || got != c.want {
			t.Errorf("ParseDuration(%q) = %v, %v, want %v", c.text, got, err, c.want)
		}
		if s := q.FormatDuration(got); s != c.printed {
			t.Errorf("FormatDuration(%v) = %q, want %q", got, s, c.printed)
		}
		if !regexp.MustCompile(q.DurationPattern()).MatchString(c.text) {
			t.Errorf("%q does not match the pattern", c.text)
		}
	}
	for _, bad := range []string{"", "-", "25", "25 m", "30 min 1 h", "1 min 1 min", "1.5 h 30 min", "1,5 h", "0.1 ns", "h", "1 h 30",
		"9999999999 h", "1..5 s", "5 s x", "infinite", "1e3 s", strings.Repeat("1", 200) + " s"} {
		if d, err := q.ParseDuration(bad); err == nil {
			t.Errorf("ParseDuration(%q) = %v, want an error", bad, d)
		} else if e := (*q.Error)(nil); !errors.As(err, &e) {
			t.Errorf("ParseDuration(%q): %T, want *quantity.Error", bad, err)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64().Draw(t, "d"))
		if got, err := q.ParseDuration(q.FormatDuration(d)); err != nil || got != d {
			t.Fatalf("%d printed %q, read %d, %v", d, q.FormatDuration(d), got, err)
		}
	})
}

func TestText(t *testing.T) {
	type part struct {
		R q.Ohm
		C q.Farad
		P q.Pascal
	}
	in := part{q.Ohm(math.Inf(1)), 1e-8, 301325}
	b, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"R":"open","C":"10 nF","P":"301.325 kPa"}`; string(b) != want {
		t.Errorf("got %s, want %s", b, want)
	}
	var out part
	if err := json.Unmarshal(b, &out); err != nil || out != in {
		t.Errorf("read %v, %v, want %v", out, err, in)
	}
	if err := json.Unmarshal([]byte(`{"R":"10 nF"}`), &out); err == nil || out != in {
		t.Errorf("a wrong dimension: error %v, value %v", err, out)
	}
	if _, err := json.Marshal(q.Watt(math.Inf(1))); err == nil {
		t.Error("an infinite power was written")
	}
	if _, err := json.Marshal(q.Ohm(math.NaN())); err == nil {
		t.Error("NaN was written")
	}
}

// Each dimension's own example and every spelling of its units read, and 1 of
// its SI unit is 1.
func TestTable(t *testing.T) {
	seen := map[string]bool{}
	for _, d := range q.Dimensions() {
		if seen[d.String()] {
			t.Errorf("two dimensions are called %v", d)
		}
		seen[d.String()] = true
		for e := range strings.SplitSeq(d.Example(), " or ") {
			if _, err := q.Parse(d, e); err != nil {
				t.Errorf("example of %v: %v", d, err)
			}
		}
		for _, u := range d.Units() {
			if _, err := q.Parse(d, "1 "+u); err != nil {
				t.Errorf("unit of %v: %v", d, err)
			}
			if _, err := q.Parse(d, "1"+u); err != nil {
				t.Errorf("unit of %v without space: %v", d, err)
			}
		}
		if got, err := q.Parse(d, "1 "+d.Unit()); err != nil || got != 1 {
			t.Errorf("1 %s reads as %v, %v", d.Unit(), got, err)
		}
	}
}

// The unit that each type holds, by SI Brochure symbols.
func TestTypes(t *testing.T) {
	for _, c := range []struct {
		x interface {
			Dimension() q.Dimension
			String() string
			MarshalText() ([]byte, error)
		}
		unit, printed string
	}{
		{q.Volt(2), "V", "2 V"}, {q.Ampere(2), "A", "2 A"}, {q.Ohm(2), "Ω", "2 Ω"}, {q.Siemens(2), "S", "2 S"},
		{q.Farad(2), "F", "2 F"}, {q.Henry(2), "H", "2 H"}, {q.Watt(2), "W", "2 W"}, {q.Joule(2), "J", "2 J"},
		{q.Celsius(2), "°C", "2 °C"}, {q.Kelvin(2), "K", "2 K"}, {q.PerKelvin(2), "/K", "2 /K"},
		{q.KelvinPerWatt(2), "K/W", "2 K/W"}, {q.WattPerKelvin(2), "W/K", "2 W/K"}, {q.JoulePerKelvin(2), "J/K", "2 J/K"},
		{q.Hertz(2), "Hz", "2 Hz"}, {q.Second(2), "s", "2 s"}, {q.Kilogram(2), "kg", "2 kg"}, {q.KilogramPerSecond(2), "kg/s", "2 kg/s"},
		{q.Pascal(2), "Pa", "2 Pa"}, {q.VoltPerSecond(2), "V/s", "2 V/s"}, {q.AmperePerSecond(2), "A/s", "2 A/s"},
		{q.AmpereSquaredSecond(2), "A²s", "2 A²s"}, {q.Degree(2), "°", "2°"}, {q.Ratio(2), "", "2"},
	} {
		text, err := c.x.MarshalText()
		if c.x.Dimension().Unit() != c.unit || c.x.String() != c.printed || string(text) != c.printed || err != nil {
			t.Errorf("%T: unit %q, printed %q, marshalled %q, %v", c.x, c.x.Dimension().Unit(), c.x, text, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1.5 kΩ", "10 nF", "2 bar gauge", "0.15 Ω at 50 Hz", "open", "1e999 min", "−3 °C", "5 %", "\u2126", "1e"} {
		for d := range q.Dimensions() {
			f.Add(d, s)
		}
	}
	f.Fuzz(func(t *testing.T, d int, s string) {
		v, err := q.Parse(q.Dimension(d), s)
		if err != nil {
			if err.Error() == "" {
				t.Error("an empty error")
			}
			return
		}
		if math.IsNaN(v) {
			t.Fatalf("%q reads as NaN", s)
		}
		if got, err := q.Parse(q.Dimension(d), q.Format(q.Dimension(d), v)); err != nil || got != v {
			t.Fatalf("%q reads as %v, prints %q, reads %v, %v", s, v, q.Format(q.Dimension(d), v), got, err)
		}
	})
}

func FuzzParseDuration(f *testing.F) {
	for _, s := range []string{"25 min", "1 h 30 min", "-1.5 s", "500 ms", "0 s", "1 h 1 h"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := q.ParseDuration(s)
		if err != nil {
			return
		}
		if got, err := q.ParseDuration(q.FormatDuration(d)); err != nil || got != d {
			t.Fatalf("%q reads as %d, prints %q, reads %d, %v", s, d, q.FormatDuration(d), got, err)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for _, s := range []string{"1.5 kΩ", "25 mΩ"} {
		b.Run("text="+s, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := q.Parse(q.Resistance, s); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkFormat(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		_ = q.Format(q.Resistance, 1499.6)
	}
}
