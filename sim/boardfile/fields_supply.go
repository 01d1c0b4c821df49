package boardfile

import (
	"boilwright/models"
	q "boilwright/models/quantity"
)

// bar and pascals of the bounds.
const (
	bar  = 1e5
	hour = 3600.0 // s
)

// longest is the longest time that a board may name, in seconds.
const longest = 10000 * hour

// title is one line, which may be empty.
func title(f field) field {
	f.min, f.max, f.singleLine = 0, 120, true
	return f
}

func note(f field) field {
	f.min, f.max = 0, 4000
	return f
}

func ambient(b *models.Board, _ any) any { return float64(b.Ambient) }

// supplyFields are the board's surroundings and its supply.
var supplyFields = []field{
	title(textOf("name", "a short title", func(b *models.Board) *string { return &b.Name }).or("")),
	note(textOf("note", "where the values come from", func(b *models.Board) *string { return &b.Note }).or("")),

	quantityOf("ambient.temperature", "room temperature", func(b *models.Board) *q.Celsius { return &b.Ambient }).
		or("20 °C").from(-20).to(60).usually("15 °C to 30 °C"),
	quantityOf("ambient.pressure", "absolute ambient pressure, at which an open vat boils", func(b *models.Board) *q.Pascal { return &b.AmbientPressure }).
		or("101.325 kPa").from(0.5 * bar).to(1.1 * bar).usually("80 kPa at 2000 m to 103 kPa"),

	quantityOf("supply.voltage", "V1, rms voltage of the fundamental", func(b *models.Board) *q.Volt { return &b.Supply.Voltage }).
		needed().from(90).to(260).usually("120 V, 230 V or 240 V nominal"),
	quantityOf("supply.frequency", "frequency of the fundamental", func(b *models.Board) *q.Hertz { return &b.Supply.Frequency }).
		needed().from(45).to(65).usually("50 Hz or 60 Hz"),
	quantityOf("supply.direct-offset", "Vdc, direct component of the supply voltage", func(b *models.Board) *q.Volt { return &b.Supply.DC }).
		or("0 V").from(-50).to(50).usually("below 1 V"),
	quantityOf("supply.line-resistance", "Rs, resistance of the line conductor back to the source", func(b *models.Board) *q.Ohm { return &b.Supply.LineResistance }).
		or("0.24 Ω").from(0).to(1e9).usually("0.05 Ω to 0.5 Ω"),
	quantityOf("supply.line-inductance", "Ls, inductance of the line conductor back to the source", func(b *models.Board) *q.Henry { return &b.Supply.LineInductance }).
		or("0.15 Ω at 50 Hz").from(0).to(1).usually("50 µH to 1 mH"),
	quantityOf("supply.neutral-resistance", "Rn, resistance of the neutral conductor back to the source", func(b *models.Board) *q.Ohm { return &b.Supply.NeutralResistance }).
		or("0.16 Ω").from(0).to(1e9).usually("0.05 Ω to 0.5 Ω"),
	quantityOf("supply.neutral-inductance", "Ln, inductance of the neutral conductor back to the source", func(b *models.Board) *q.Henry { return &b.Supply.NeutralInductance }).
		or("0.10 Ω at 50 Hz").from(0).to(1).usually("50 µH to 1 mH"),
	quantityOf("supply.damping-resistance", "R_p in parallel with each supply inductance; none leaves them undamped", func(b *models.Board) *q.Ohm { return &b.Supply.Damping }).
		or("50 Ω").over(0).orInfinite().usually("20 Ω to 500 Ω"),
	booleanOf("supply.exchanged", "line and neutral are exchanged at the plug", func(b *models.Board) *bool { return &b.Supply.Exchanged }).
		or("false"),
	quantityOf("supply.across-capacitance", "C_x between L and N on the board", func(b *models.Board) *q.Farad { return &b.Supply.AcrossCapacitance }).
		or("none").from(0).to(1e-4).orNone().usually("none, or 10 nF to 1 µF"),

	quantityOf("earth.resistance", "R_pe, from protective earth on the board to the neutral at the supply end; none is a missing protective earth", func(b *models.Board) *q.Ohm { return &b.Earth.Resistance }).
		or("0.1 Ω").from(0).orInfinite().usually("0.05 Ω to 1 Ω"),

	residual(booleanOf("fitted", "a residual-current device ahead of the board", func(b *models.Board) *bool { return &b.Protection.Residual.Fitted })).
		or("false"),
	residual(quantityOf("rated-current", "rated residual operating current", func(b *models.Board) *q.Ampere { return &b.Protection.Residual.Rated })).
		or("30 mA").over(0).to(10).usually("10 mA to 300 mA"),
	residual(quantityOf("threshold", "fraction of the rated current at which it trips", func(b *models.Board) *q.Ratio { return &b.Protection.Residual.Threshold })).
		or("75 %").from(0.5).to(1).usually("50 % to 100 %"),
	residual(eitherOf("type", "A trips on half-wave residual current, AC is not assured to", func(b *models.Board) *bool { return &b.Protection.Residual.TypeAC }, "A", "AC")).
		or("A"),
	fuse(booleanOf("fitted", "a fuse in the line ahead of the board", func(b *models.Board) *bool { return &b.Protection.Fuse.Fitted })).
		or("false"),
	fuse(quantityOf("rated-current", "rated current", func(b *models.Board) *q.Ampere { return &b.Protection.Fuse.Rated })).
		or("20 A").over(0).to(1000).usually("10 A to 40 A"),
	fuse(quantityOf("melting-integral", "I²t at which it melts", func(b *models.Board) *q.AmpereSquaredSecond { return &b.Protection.Fuse.Melt })).
		or("1000 A²s").over(0).to(1e6).usually("200 A²s to 3000 A²s at 20 A"),
}

func residual(f field) field { return under("protection.residual", f) }

func fuse(f field) field { return under("protection.fuse", f) }

// under puts a field into a table.
func under(table string, f field) field {
	f.key = table + "." + f.key
	return f
}

var supplyLists = []list{
	listOf("supply.harmonic", "components of the supply voltage above the fundamental",
		func(b *models.Board) *[]models.Harmonic { return &b.Supply.Harmonics },
		integerOf("order", "multiple of the fundamental frequency", func(h *models.Harmonic) *int { return &h.Order }).
			needed().from(2).to(40).usually("3, 5, 7"),
		quantityOf("voltage", "rms voltage", func(h *models.Harmonic) *q.Volt { return &h.Voltage }).
			needed().from(0).to(260).usually("up to 5 % of the fundamental"),
		quantityOf("phase", "φn in sin(nθ + φn)", func(h *models.Harmonic) *q.Degree { return &h.Phase }).
			or("0°").from(-360).to(360).usually("-180° to 180°"),
	),
	listOf("supply.event", "sags, swells and interruptions of the fundamental",
		func(b *models.Board) *[]models.SupplyEvent { return &b.Supply.Events },
		durationOf("from", "start", func(e *models.SupplyEvent) *clock { return &e.From }).needed().from(0).to(longest),
		durationOf("to", "end", func(e *models.SupplyEvent) *clock { return &e.To }).needed().from(0).to(longest),
		quantityOf("factor", "multiplies the voltage", func(e *models.SupplyEvent) *q.Ratio { return &e.Factor }).
			needed().from(0).to(2).usually("0 for an interruption, 40 % to 90 % for a sag"),
	),
}

// linkFields are the fields of a thermal link in a table.
func linkFields[T any](table string, at func(*T) *models.ThermalLink) []field {
	fields := []field{
		quantityOf("resistance", "r_link, closed", reach(at, func(l *models.ThermalLink) *q.Ohm { return &l.Resistance })).
			or("5 mΩ").from(0).to(1e4).usually("1 mΩ to 20 mΩ"),
		quantityOf("stray-capacitance", "C_stray, when it has opened", reach(at, func(l *models.ThermalLink) *q.Farad { return &l.Stray })).
			or("5 pF").from(0).to(1e-6).orNone().usually("1 pF to 20 pF"),
		quantityOf("functions", "T_f, functioning temperature, at which it opens for good", reach(at, func(l *models.ThermalLink) *q.Celsius { return &l.Functions })).
			needed().from(0).to(400).usually("70 °C to 240 °C"),
		booleanOf("open", "it has opened already", reach(at, func(l *models.ThermalLink) *bool { return &l.Open })).
			or("false"),
		quantityOf("heat-capacity", "C_l", reach(at, func(l *models.ThermalLink) *q.JoulePerKelvin { return &l.Capacity })).
			or("5 J/K").over(0).to(1e6).usually("1 J/K to 10 J/K"),
		quantityOf("to-shell", "G_sl, from the shell of the boiler", reach(at, func(l *models.ThermalLink) *q.WattPerKelvin { return &l.ToShell })).
			or("0.25 W/K").from(0).to(1e4).usually("0.05 W/K to 1 W/K"),
	}
	for i := range fields {
		fields[i] = under(table, fields[i])
	}
	return fields
}

// reach goes through a pointer that may be nil.
func reach[T, M, V any](outer func(*T) *M, inner func(*M) *V) func(*T) *V {
	return func(t *T) *V {
		m := outer(t)
		if m == nil {
			return nil
		}
		return inner(m)
	}
}

// thermostatFields are the fields of a channel's thermostat.
var thermostatFields = []field{
	booleanOf("thermostat.fitted", "a bimetal thermostat on the shell, in series with the element", func(c *models.Channel) *bool { return &c.Thermostat.Fitted }).
		or("false"),
	quantityOf("thermostat.opens", "temperature of the shell at which it opens", func(c *models.Channel) *q.Celsius { return &c.Thermostat.Opens }).
		or("105 °C").from(-20).to(400).usually("60 °C to 180 °C"),
	quantityOf("thermostat.closes", "temperature of the shell at which it closes again", func(c *models.Channel) *q.Celsius { return &c.Thermostat.Closes }).
		or("90 °C").from(-30).to(400).usually("10 K to 20 K below"),
	quantityOf("thermostat.resistance", "of the closed contact", func(c *models.Channel) *q.Ohm { return &c.Thermostat.Resistance }).
		or("10 mΩ").from(0).to(1e4).usually("5 mΩ to 50 mΩ"),
	quantityOf("thermostat.stray-capacitance", "across the open contact", func(c *models.Channel) *q.Farad { return &c.Thermostat.Stray }).
		or("5 pF").from(0).to(1e-6).orNone().usually("1 pF to 20 pF"),
	choiceOf("thermostat.contact", "what has become of the contact", func(c *models.Channel) *models.Stuck { return &c.Thermostat.Stuck }, "free", "welded", "open").
		or("free"),
}
