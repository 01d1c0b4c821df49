package quantity

import (
	"math"
	"slices"
)

// Dimension says what a number measures.
type Dimension int

// The dimensions, in the order of the named types.
const (
	Voltage Dimension = iota
	Current
	Resistance
	Conductance
	Capacitance
	Inductance
	Power
	Energy
	Temperature
	TemperatureDifference
	TemperatureCoefficient
	ThermalResistance
	ThermalConductance
	HeatCapacity
	Frequency
	Time
	Mass
	MassFlow
	Pressure
	VoltageRate
	CurrentRate
	MeltingIntegral
	Angle
	Number
)

// Quantity is any of the named types of this package.
type Quantity interface {
	~float64
	Dimension() Dimension
}

// Dimensions lists all dimensions in order.
func Dimensions() []Dimension {
	all := make([]Dimension, len(dimensions))
	for d := range all {
		all[d] = Dimension(d)
	}
	return all
}

// dimension is one row of the closed table.
type dimension struct {
	name    string             // "resistance"
	example string             // "1.5 kΩ"
	units   map[string]unit    // by canonical spelling, see canonical
	names   []string           // the spellings in the order of the table
	words   map[string]float64 // written instead of number and unit
	ladder  []rung             // for printing, rising
	base    string             // the symbol of the SI unit, for 0 and extremes
	tight   bool               // no space before the symbol when printing
}

// rung prints values from 10^from up in units of 10^exp with a symbol.
type rung struct {
	from, exp int
	symbol    string
}

var (
	open     = map[string]float64{"open": math.Inf(1), "infinite": math.Inf(1), "none": math.Inf(1)}
	infinite = map[string]float64{"infinite": math.Inf(1), "none": math.Inf(1)}
	unfitted = map[string]float64{"none": 0}
)

var dimensions = [...]dimension{
	Voltage:     row("voltage", "230 V", prefixed("V", "nµm kM")).with(infinite),
	Current:     row("current", "25 mA", prefixed("A", "fpnµm kM")).with(infinite),
	Resistance:  row("resistance", "1.5 kΩ", prefixed("Ω", "µm kMGT"), prefixed("ohm", "µm kMGT")).with(open),
	Conductance: row("conductance", "50 nS", prefixed("S", "fpnµm k")),
	Capacitance: row("capacitance", "10 nF", prefixed("F", "fpnµm ")).with(unfitted),
	Inductance:  row("inductance", "1 mH or 0.15 Ω at 50 Hz", prefixed("H", "pnµm ")),
	Power:       row("power", "1200 W", prefixed("W", "pnµm kMG")),
	Energy:      row("energy", "150 J", prefixed("J", "nµm kMG"), scaled("Wh", 0, 3600, 1), scaled("kWh", 3, 3600, 1)),
	Temperature: row("temperature", "118 °C", plain("°C", 0), plain("degC", 0), plain("℃", 0)),
	TemperatureDifference: row("temperature difference", "2 K",
		plain("K", 0), plain("mK", -3)).with(infinite),
	TemperatureCoefficient: row("temperature coefficient", "170 ppm/K",
		plain("ppm/K", -6), plain("/K", 0), plain("1/K", 0), plain("%/K", -2), plain("% /K", -2)).
		rungs("/K", rung{-6, -6, "ppm/K"}, rung{-2, 0, "/K"}),
	ThermalResistance:  row("thermal resistance", "0.6 K/W", plain("K/W", 0), plain("mK/W", -3), plain("K/kW", -3)),
	ThermalConductance: row("thermal conductance", "20 W/K", plain("W/K", 0), plain("mW/K", -3), plain("kW/K", 3)),
	HeatCapacity:       row("heat capacity", "150 J/K", plain("J/K", 0), plain("mJ/K", -3), plain("kJ/K", 3)),
	Frequency:          row("frequency", "50 Hz", prefixed("Hz", "m kMG")),
	Time:               row("time", "50 ms", prefixed("s", "fpnµm "), scaled("min", 0, 60, 1), scaled("h", 0, 3600, 1)),
	Mass: row("mass", "1.2 kg", plain("kg", 0), plain("g", -3), plain("mg", -6),
		plain("L", 0), plain("l", 0), plain("mL", -3), plain("ml", -3)).
		rungs("kg", rung{-6, -6, "mg"}, rung{-3, -3, "g"}, rung{0, 0, "kg"}),
	MassFlow: row("mass flow", "5 g/s", plain("kg/s", 0), plain("g/s", -3), plain("mg/s", -6),
		plain("L/s", 0), plain("l/s", 0), plain("mL/s", -3), plain("ml/s", -3),
		scaled("kg/min", 0, 1, 60), scaled("g/min", -3, 1, 60), scaled("L/min", 0, 1, 60), scaled("l/min", 0, 1, 60),
		scaled("mL/min", -3, 1, 60), scaled("ml/min", -3, 1, 60),
		scaled("kg/h", 0, 1, 3600), scaled("g/h", -3, 1, 3600), scaled("L/h", 0, 1, 3600), scaled("l/h", 0, 1, 3600)).
		rungs("kg/s", rung{-6, -6, "mg/s"}, rung{-3, -3, "g/s"}, rung{0, 0, "kg/s"}),
	Pressure: row("pressure", "3 bar gauge", prefixed("Pa", " hkMG"), gauge("Pa", 0), gauge("hPa", 2), gauge("kPa", 3), gauge("MPa", 6),
		plain("bar", 5), gauge("bar", 5), plain("mbar", 2), gauge("mbar", 2)).
		rungs("Pa", rung{0, 0, "Pa"}, rung{3, 3, "kPa"}, rung{6, 6, "MPa"}, rung{9, 9, "GPa"}),
	VoltageRate: row("rate of rise of voltage", "50 V/µs",
		plain("V/s", 0), plain("V/ms", 3), plain("V/µs", 6), plain("V/us", 6), plain("V/ns", 9), plain("kV/s", 3), plain("kV/µs", 9), plain("kV/us", 9)).
		rungs("V/s", rung{0, 0, "V/s"}, rung{3, 3, "V/ms"}, rung{6, 6, "V/µs"}, rung{9, 9, "V/ns"}),
	CurrentRate: row("rate of change of current", "5 A/ms",
		plain("A/s", 0), plain("mA/s", -3), plain("A/ms", 3), plain("A/µs", 6), plain("A/us", 6), plain("kA/s", 3)).
		rungs("A/s", rung{0, 0, "A/s"}, rung{3, 3, "A/ms"}, rung{6, 6, "A/µs"}),
	MeltingIntegral: row("melting integral", "10 A²s",
		plain("A²s", 0), plain("A²·s", 0), plain("A² s", 0), plain("A2s", 0), plain("A^2s", 0), plain("A^2 s", 0)),
	Angle:  row("angle", "30°", plain("°", 0), plain("deg", 0)).close(),
	Number: row("ratio", "0.5 or 50 %", plain("", 0), plain("%", -2), plain("ppm", -6)).rungs("", rung{-2, -2, "%"}, rung{0, 0, ""}),
}

// row makes a dimension of its unit tables; the first is the one that prints.
func row(name, example string, tables ...table) dimension {
	d := dimension{name: name, example: example, units: map[string]unit{}}
	for _, t := range tables {
		for _, e := range t {
			d.names = append(d.names, e.name)
			d.units[canonical(e.name)] = e.unit
		}
	}
	first := tables[0]
	for _, e := range first {
		if e.unit.exp == 0 {
			d.base = e.name
		}
		if e.print {
			d.ladder = append(d.ladder, rung{e.unit.exp, e.unit.exp, e.name})
		}
	}
	slices.SortFunc(d.ladder, func(a, b rung) int { return a.exp - b.exp })
	return d
}

func (d dimension) with(words map[string]float64) dimension {
	d.words = words
	return d
}

func (d dimension) rungs(base string, ladder ...rung) dimension {
	d.base, d.ladder = base, ladder
	return d
}

func (d dimension) close() dimension {
	d.tight = true
	return d
}

// valid reports whether d is in the table.
func (d Dimension) valid() bool { return d >= 0 && int(d) < len(dimensions) }

// String gives the name of the dimension: "resistance".
func (d Dimension) String() string {
	if !d.valid() {
		return "unknown dimension"
	}
	return dimensions[d].name
}

// Unit returns the symbol of the SI unit that values of d hold: "Ω"; it is
// empty for Number.
func (d Dimension) Unit() string { return dimensions[d].base }

// Example returns a value of the dimension as people write it: "1.5 kΩ".
func (d Dimension) Example() string { return dimensions[d].example }

// Expected describes what Parse takes: "a resistance such as 1.5 kΩ".
func (d Dimension) Expected() string {
	return article(dimensions[d].name) + " such as " + dimensions[d].example
}

// Units lists every spelling of a unit that Parse takes for d, with its
// prefixes, in a fixed order.
func (d Dimension) Units() []string { return slices.Clone(dimensions[d].names) }

// Words lists the words that Parse takes for d instead of a number and a
// unit, sorted.
func (d Dimension) Words() []string {
	var words []string
	for w := range dimensions[d].words {
		words = append(words, w)
	}
	slices.Sort(words)
	return words
}

// article puts the indefinite article before a name.
func article(name string) string {
	switch name[0] {
	case 'a', 'e', 'i', 'o', 'u':
		return "an " + name
	}
	return "a " + name
}
