package population

import (
	"math"

	"boilwright/models"
	q "boilwright/models/quantity"
)

const assumption = "assumption"

// atmosphere in pascals is what a relief valve's gauge pressure is counted
// from (defined by the 10th General Conference on Weights and Measures, 1954).
const atmosphere = 101325.0

func always(*models.Board, int) bool { return true }

// parameters is everything that is drawn. The order is that of drawing: what
// follows from another parameter comes after it.
var parameters = []Parameter{
	ofBoard(Parameter{Name: "supply.voltage", Doc: "rms of the fundamental", Source: "bounds: IEC 60038 and EN 50160, ±10 % of the nominal voltage; law: assumption",
		Default: Within(Normal, 0.10), min: 90, max: 260, spread: func(t *Tolerances) *Spread { return &t.Supply.Voltage }},
		func(b *models.Board) *q.Volt { return &b.Supply.Voltage }),
	ofBoard(Parameter{Name: "supply.frequency", Doc: "of the fundamental", Source: "bounds: EN 50160, ±1 % for 99.5 % of a year; law: assumption",
		Default: Within(Normal, 0.01), min: 45, max: 65, spread: func(t *Tolerances) *Spread { return &t.Supply.Frequency }},
		func(b *models.Board) *q.Hertz { return &b.Supply.Frequency }),
	common(Parameter{Name: "supply.impedance", Doc: "factor on resistance and inductance of line and neutral", Source: assumption,
		Default: Times(3), spread: func(t *Tolerances) *Spread { return &t.Supply.Impedance }},
		always, func(m *Member, _ int, f float64) {
			s := &m.Board.Supply
			s.LineResistance *= q.Ohm(f)
			s.NeutralResistance *= q.Ohm(f)
			s.LineInductance = min(s.LineInductance*q.Henry(f), 1)
			s.NeutralInductance = min(s.NeutralInductance*q.Henry(f), 1)
		}),
	ofBoard(Parameter{Name: "earth.resistance", Doc: "of the protective conductor", Source: assumption,
		Default: Times(3), spread: func(t *Tolerances) *Spread { return &t.Supply.Earth }},
		func(b *models.Board) *q.Ohm { return &b.Earth.Resistance }),
	ambientTemperature(Parameter{Name: "ambient.temperature", Doc: "of the room, and of all that starts at its temperature", Source: assumption,
		Kind: Difference, Default: Spread{Uniform, -5, 5}, min: -20, max: 60, spread: func(t *Tolerances) *Spread { return &t.Ambient.Temperature }}),
	ofBoard(Parameter{Name: "ambient.pressure", Doc: "absolute", Source: "assumption: the weather",
		Default: Within(Normal, 0.03), min: 0.5e5, max: 1.1e5, spread: func(t *Tolerances) *Spread { return &t.Ambient.Pressure }},
		func(b *models.Board) *q.Pascal { return &b.AmbientPressure }),

	ofBoard(Parameter{Name: "protection.residual.threshold", Doc: "fraction of the rated current at which it trips",
		Source: "bounds: IEC 61008-1, between half and the whole of the rated residual current (from memory); law: assumption",
		Kind:   Absolute, Default: Spread{Uniform, 0.5, 1}, min: 0.5, max: 1, spread: func(t *Tolerances) *Spread { return &t.Protection.Residual }},
		func(b *models.Board) *q.Ratio {
			if !b.Protection.Residual.Fitted {
				return nil
			}
			return &b.Protection.Residual.Threshold
		}),
	ofBoard(Parameter{Name: "protection.fuse.melting-integral", Doc: "I²t at which it melts", Source: assumption,
		Default: Times(1.5), max: 1e6, spread: func(t *Tolerances) *Spread { return &t.Protection.Fuse }},
		func(b *models.Board) *q.AmpereSquaredSecond {
			if !b.Protection.Fuse.Fitted {
				return nil
			}
			return &b.Protection.Fuse.Melt
		}),

	ofChannel(Parameter{Name: "drive.on-voltage", Doc: "of the drive when on", Source: assumption,
		Default: Within(Normal, 0.05), max: 50, spread: func(t *Tolerances) *Spread { return &t.Drive.Voltage }},
		func(c *models.Channel) *q.Volt { return &c.Drive.On }),
	ofChannel(Parameter{Name: "drive.led-resistance", Doc: "in series with the LED", Source: resistor,
		Default: Within(Normal, 0.05), spread: func(t *Tolerances) *Spread { return &t.Drive.Resistance }},
		func(c *models.Channel) *q.Ohm { return &c.Drive.Resistance }),

	ofChannel(Parameter{Name: "opto.led-voltage", Doc: "V_F0", Source: assumption,
		Default: Within(Normal, 0.08), max: 50, spread: func(t *Tolerances) *Spread { return &t.Opto.Forward }},
		func(c *models.Channel) *q.Volt { return &c.Opto.Forward }),
	ofChannel(Parameter{Name: "opto.trigger-current", Doc: "I_FT at 25 °C", Source: assumption,
		Default: Times(1.6), spread: func(t *Tolerances) *Spread { return &t.Opto.Trigger }},
		func(c *models.Channel) *q.Ampere { return &c.Opto.Trigger }),
	ofChannel(Parameter{Name: "opto.output-threshold", Doc: "V_P0", Source: assumption,
		Default: Within(Normal, 0.15), max: 100, spread: func(t *Tolerances) *Spread { return &t.Opto.Threshold }},
		func(c *models.Channel) *q.Volt { return &c.Opto.Threshold }),
	ofChannel(Parameter{Name: "opto.output-slope", Doc: "r_P", Source: assumption,
		Default: Times(1.5), max: 1e9, spread: func(t *Tolerances) *Spread { return &t.Opto.Slope }},
		func(c *models.Channel) *q.Ohm { return &c.Opto.Slope }),
	ofChannel(Parameter{Name: "opto.off-conductance", Doc: "g_p of the blocking output", Source: assumption,
		Default: Times(5), max: 10, spread: func(t *Tolerances) *Spread { return &t.Opto.Off }},
		func(c *models.Channel) *q.Siemens { return &c.Opto.Off }),
	ofChannel(Parameter{Name: "opto.inhibit-voltage", Doc: "V_IH, not of a random-phase type", Source: assumption,
		Default: Within(Normal, 0.25), spread: func(t *Tolerances) *Spread { return &t.Opto.Window }},
		func(c *models.Channel) *q.Volt { return &c.Opto.Inhibit }),
	optoHolding(Parameter{Name: "opto.holding-current", Doc: "I_HP; I_LP goes with it", Source: assumption,
		Default: Times(1.8), max: 1, spread: func(t *Tolerances) *Spread { return &t.Opto.Holding }}),
	common(Parameter{Name: "opto.latching-excess", Doc: "factor on I_LP/I_HP − 1", Source: assumption, Scope: OfChannel,
		Default: Times(1.8), spread: func(t *Tolerances) *Spread { return &t.Opto.Excess }},
		optoLatches, func(m *Member, k int, f float64) {
			o := &m.Board.Channels[k].Opto
			o.Latching = min(o.Holding+(o.Latching-o.Holding)*q.Ampere(f), 10)
		}),

	ofChannel(Parameter{Name: "gate.resistance", Doc: "R_G", Source: resistor,
		Default: Within(Normal, 0.05), spread: func(t *Tolerances) *Spread { return &t.Gate.Resistance }},
		func(c *models.Channel) *q.Ohm { return &c.GateResistance }),
	ofChannel(Parameter{Name: "gate.shunt", Doc: "R_GK, where fitted", Source: resistor,
		Default: Within(Normal, 0.05), spread: func(t *Tolerances) *Spread { return &t.Gate.Shunt }},
		func(c *models.Channel) *q.Ohm { return &c.GateShunt }),

	ofChannel(Parameter{Name: "triac.threshold", Doc: "V_T0", Source: assumption,
		Default: Within(Normal, 0.10), max: 50, spread: func(t *Tolerances) *Spread { return &t.Triac.Threshold }},
		func(c *models.Channel) *q.Volt { return &c.Triac.Threshold }),
	ofChannel(Parameter{Name: "triac.slope", Doc: "r_T", Source: assumption,
		Default: Times(1.5), max: 1e3, spread: func(t *Tolerances) *Spread { return &t.Triac.Slope }},
		func(c *models.Channel) *q.Ohm { return &c.Triac.Slope }),
	ofChannel(Parameter{Name: "triac.off-conductance", Doc: "leakage of the blocking main path at 25 °C", Source: assumption,
		Default: Times(5), max: 10, spread: func(t *Tolerances) *Spread { return &t.Triac.Off }},
		func(c *models.Channel) *q.Siemens { return &c.Triac.Off }),
	ofChannel(Parameter{Name: "triac.gate-threshold", Doc: "V_G0", Source: assumption,
		Default: Within(Normal, 0.10), max: 50, spread: func(t *Tolerances) *Spread { return &t.Triac.GateThreshold }},
		func(c *models.Channel) *q.Volt { return &c.Triac.GateThreshold }),
	common(Parameter{Name: "triac.trigger-current", Doc: "factor on I_GT in all quadrants", Source: assumption, Scope: OfChannel,
		Default: Times(1.8), spread: func(t *Tolerances) *Spread { return &t.Triac.Trigger }},
		always, func(m *Member, k int, f float64) { triggers(m, k, f, f) }),
	common(Parameter{Name: "triac.trigger-imbalance", Doc: "factor on I_GT where MT2 is positive, divisor where it is negative", Source: assumption, Scope: OfChannel,
		Default: Times(1.15), spread: func(t *Tolerances) *Spread { return &t.Triac.Imbalance }},
		always, func(m *Member, k int, f float64) { triggers(m, k, f, 1/f) }),
	triacHolding(Parameter{Name: "triac.holding-current", Doc: "I_H at 25 °C; I_L goes with it", Source: assumption,
		Default: Times(1.8), max: 100, spread: func(t *Tolerances) *Spread { return &t.Triac.Holding }}),
	common(Parameter{Name: "triac.latching-excess", Doc: "factor on what I_L/I_H is above the least that it may be", Source: assumption, Scope: OfChannel,
		Default: Times(1.8), spread: func(t *Tolerances) *Spread { return &t.Triac.Excess }},
		triacLatches, func(m *Member, k int, f float64) {
			t := &m.Board.Channels[k].Triac
			floor := q.Ampere(leastLatching(t))
			t.Latching = floor + (t.Latching-floor)*q.Ampere(f)
		}),
	ofChannel(Parameter{Name: "triac.critical-rate", Doc: "of rise of the off-state voltage at 25 °C", Source: assumption,
		Default: Times(2), max: 1e12, spread: func(t *Tolerances) *Spread { return &t.Triac.StaticRate }},
		func(c *models.Channel) *q.VoltPerSecond { return &c.Triac.StaticRate }),
	ofChannel(Parameter{Name: "triac.commutating-rate", Doc: "rate of rise withstood just after turning off, at 25 °C", Source: assumption,
		Default: Times(1.5), max: 1e12, spread: func(t *Tolerances) *Spread { return &t.Triac.CommutatingRate }},
		func(c *models.Channel) *q.VoltPerSecond { return &c.Triac.CommutatingRate }),

	ofChannel(Parameter{Name: "snubber.resistance", Doc: "R_sn", Source: "bounds: tolerance letter K of IEC 60062, ±10 % (from memory); law: assumption",
		Default: Within(Normal, 0.10), spread: func(t *Tolerances) *Spread { return &t.Snubber.Resistance }},
		func(c *models.Channel) *q.Ohm { return &c.Snubber.Resistance }),
	ofChannel(Parameter{Name: "snubber.capacitance", Doc: "C_sn, where fitted", Source: "bounds: tolerance letter M of IEC 60062, ±20 % (from memory); law: assumption",
		Default: Within(Normal, 0.20), max: 1e-4, spread: func(t *Tolerances) *Spread { return &t.Snubber.Capacitance }},
		func(c *models.Channel) *q.Farad { return &c.Snubber.Capacitance }),

	ofChannel(Parameter{Name: "wire.resistance", Doc: "from the triac to the link", Source: assumption,
		Default: Times(2), spread: func(t *Tolerances) *Spread { return &t.Load.Wire }},
		func(c *models.Channel) *q.Ohm { return &c.Wire }),
	ofChannel(Parameter{Name: "link.functions", Doc: "temperature at which the thermal link opens",
		Source: "bounds: IEC 60691, +0/−10 K of the rated functioning temperature; law: assumption",
		Kind:   Difference, Default: Spread{Normal, -10, 0}, max: 400, spread: func(t *Tolerances) *Spread { return &t.Load.Link }},
		func(c *models.Channel) *q.Celsius { return &c.Link.Functions }),
	common(Parameter{Name: "thermostat", Doc: "difference of both temperatures of a thermostat", Source: assumption, Scope: OfChannel,
		Kind: Difference, Default: Spread{Normal, -5, 5}, spread: func(t *Tolerances) *Spread { return &t.Load.Thermostat }},
		func(b *models.Board, k int) bool { return b.Channels[k].Thermostat.Fitted },
		func(m *Member, k int, d float64) {
			t := &m.Board.Channels[k].Thermostat
			t.Opens += q.Celsius(d)
			t.Closes += q.Celsius(d)
		}),
	ofChannel(Parameter{Name: "element.resistance", Doc: "R20",
		Source:  "bounds: power +5/−10 % at the rated voltage, the input deviation of heating appliances in IEC 60335-1 clause 10.1 (from memory); law: assumption",
		Default: Spread{Normal, 1 / 1.05, 1 / 0.90}, spread: func(t *Tolerances) *Spread { return &t.Load.Element }},
		func(c *models.Channel) *q.Ohm { return &c.Element.Resistance }),
	ofChannel(Parameter{Name: "element.insulation", Doc: "to protective earth", Source: assumption,
		Default: Times(5), spread: func(t *Tolerances) *Spread { return &t.Load.Insulation }},
		func(c *models.Channel) *q.Ohm { return &c.Element.Insulation }),
	ofChannel(Parameter{Name: "element.heat-capacity", Doc: "C_e", Source: assumption,
		Default: Within(Normal, 0.15), max: 1e6, spread: func(t *Tolerances) *Spread { return &t.Load.Capacity }},
		func(c *models.Channel) *q.JoulePerKelvin { return &c.Element.Capacity }),

	boilerWater(Parameter{Name: "boiler.water", Doc: "mass at the start", Source: assumption,
		Default: Within(Normal, 0.05), max: 1e4, spread: func(t *Tolerances) *Spread { return &t.Boiler.Water }}),
	ofChannel(Parameter{Name: "boiler.scale", Doc: "divides the conductance from element to water", Source: assumption,
		Default: Spread{Uniform, 1, 1.3}, max: 1e3, spread: func(t *Tolerances) *Spread { return &t.Boiler.Scale }},
		func(c *models.Channel) *q.Ratio { return &c.Boiler.Scale }),
	ofChannel(Parameter{Name: "boiler.inlet", Doc: "temperature of the cold supply", Source: assumption,
		Kind: Difference, Default: Spread{Uniform, -5, 5}, max: 100, spread: func(t *Tolerances) *Spread { return &t.Boiler.Inlet }},
		func(c *models.Channel) *q.Celsius { return &c.Boiler.Inlet }),
	conductance("boiler.element-to-water", "G_ew", 1.3, func(t *Tolerances) *Spread { return &t.Boiler.ElementToWater },
		func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.ElementToWater }),
	conductance("boiler.water-to-shell", "G_ws", 1.3, func(t *Tolerances) *Spread { return &t.Boiler.WaterToShell },
		func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.WaterToShell }),
	conductance("boiler.shell-to-lid", "G_sk", 1.4, func(t *Tolerances) *Spread { return &t.Boiler.ShellToLid },
		func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.ShellToLid }),
	conductance("boiler.shell-to-air", "G_sa", 1.3, func(t *Tolerances) *Spread { return &t.Boiler.ShellToAir },
		func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.ShellToAir }),
	ofChannel(Parameter{Name: "boiler.shell-capacity", Doc: "C_s", Source: assumption,
		Default: Within(Normal, 0.10), max: 1e6, spread: func(t *Tolerances) *Spread { return &t.Boiler.ShellCapacity }},
		func(c *models.Channel) *q.JoulePerKelvin { return &c.Boiler.ShellCapacity }),
	common(Parameter{Name: "boiler.relief", Doc: "factor on the gauge pressures at which the relief valve opens and closes", Source: assumption, Scope: OfChannel,
		Default: Within(Normal, 0.08), spread: func(t *Tolerances) *Spread { return &t.Boiler.Relief }},
		func(b *models.Board, k int) bool { return !b.Channels[k].Boiler.Open },
		func(m *Member, k int, f float64) {
			v := &m.Board.Channels[k].Boiler
			relief := min(atmosphere+(float64(v.Relief)-atmosphere)*f, 30e5)
			v.Reseat = q.Pascal(math.Max(1, relief-(float64(v.Relief)-float64(v.Reseat))*f))
			v.Relief = q.Pascal(relief)
		}),
	coupling(Parameter{Name: "coupling.conductance", Doc: "between the shells of two boilers", Source: assumption,
		Default: Times(1.5), max: 1e4, spread: func(t *Tolerances) *Spread { return &t.Boiler.Coupling }}),

	ofBoard(Parameter{Name: "lid.heat-capacity", Doc: "C_k", Source: assumption,
		Default: Within(Normal, 0.10), max: 1e6, spread: func(t *Tolerances) *Spread { return &t.Housing.Lid }},
		func(b *models.Board) *q.JoulePerKelvin { return &b.Lid.Capacity }),
	ofBoard(Parameter{Name: "lid.to-pocket", Doc: "G_kb", Source: assumption,
		Default: Times(1.3), max: 1e4, spread: func(t *Tolerances) *Spread { return &t.Housing.LidToPocket }},
		func(b *models.Board) *q.WattPerKelvin { return &b.Lid.ToPocket }),
	ofBoard(Parameter{Name: "lid.to-air", Doc: "G_ka", Source: assumption,
		Default: Times(1.3), max: 1e4, spread: func(t *Tolerances) *Spread { return &t.Housing.LidToAir }},
		func(b *models.Board) *q.WattPerKelvin { return &b.Lid.ToAir }),
	ofBoard(Parameter{Name: "pocket.heat-capacity", Doc: "C_b", Source: assumption,
		Default: Within(Normal, 0.10), max: 1e6, spread: func(t *Tolerances) *Spread { return &t.Housing.Pocket }},
		func(b *models.Board) *q.JoulePerKelvin { return &b.Pocket.Capacity }),
	ofBoard(Parameter{Name: "pocket.to-air", Doc: "G_ba", Source: assumption,
		Default: Times(1.3), max: 1e4, spread: func(t *Tolerances) *Spread { return &t.Housing.PocketToAir }},
		func(b *models.Board) *q.WattPerKelvin { return &b.Pocket.ToAir }),

	ofChannel(Parameter{Name: "probe.offset", Doc: "by which the controller reads a probe high", Source: assumption,
		Kind: Difference, Default: Spread{Normal, -1, 1}, min: -200, max: 200, spread: func(t *Tolerances) *Spread { return &t.Probe.Offset }},
		func(c *models.Channel) *q.Kelvin { return &c.Probe.Offset }),
	conductance("probe.to-water", "G_wp", 1.3, func(t *Tolerances) *Spread { return &t.Probe.ToWater },
		func(c *models.Channel) *q.WattPerKelvin { return &c.Probe.ToWater }),
	ofChannel(Parameter{Name: "probe.heat-capacity", Doc: "C_p", Source: assumption,
		Default: Within(Normal, 0.15), max: 1e6, spread: func(t *Tolerances) *Spread { return &t.Probe.Capacity }},
		func(c *models.Channel) *q.JoulePerKelvin { return &c.Probe.Capacity }),

	meterError(Parameter{Name: "meter.gain", Doc: "error of a meter, part of the reading", Source: gum,
		Default: Spread{Uniform, -1, 1}, spread: func(t *Tolerances) *Spread { return &t.Meters.Gain }},
		func(m *models.Meter) float64 { return float64(m.Accuracy) }, func(c *Calibration) *float64 { return &c.Gain }),
	meterError(Parameter{Name: "meter.counts", Doc: "error of a meter, counts of its display", Source: gum,
		Default: Spread{Uniform, -1, 1}, spread: func(t *Tolerances) *Spread { return &t.Meters.Counts }},
		func(m *models.Meter) float64 { return m.AccuracyCounts }, func(c *Calibration) *float64 { return &c.Counts }),
	clampError(Parameter{Name: "clamp.gain", Doc: "error of a clamp ammeter, part of the reading", Source: gum,
		Default: Spread{Uniform, -1, 1}, spread: func(t *Tolerances) *Spread { return &t.Meters.ClampGain }},
		func(m *models.Clamp) float64 { return float64(m.Accuracy) }, func(c *Calibration) *float64 { return &c.Gain }),
	clampError(Parameter{Name: "clamp.counts", Doc: "error of a clamp ammeter, counts of its display", Source: gum,
		Default: Spread{Uniform, -1, 1}, spread: func(t *Tolerances) *Spread { return &t.Meters.ClampCounts }},
		func(m *models.Clamp) float64 { return m.AccuracyCounts }, func(c *Calibration) *float64 { return &c.Counts }),
	monitorGain(Parameter{Name: "monitor.gain", Doc: "error of the energy monitor, part of the reading", Source: gum,
		Default: Spread{Uniform, -1, 1}, spread: func(t *Tolerances) *Spread { return &t.Meters.Monitor }}),
}

// Sources that several parameters share.
const (
	resistor = "bounds: tolerance letter J of IEC 60062, ±5 % (from memory); law: assumption"
	gum      = "even within the stated accuracy, as where nothing else is known (JCGM 100:2008, 4.3.7; from memory)"
)
