package boardfile

import (
	"boilwright/models"
	q "boilwright/models/quantity"
)

// switchFields are a channel's drive, opto, gate, triac, snubber and wiring.
var switchFields = []field{
	choiceOf("side", "conductor in which the triac sits", func(c *models.Channel) *models.TriacSide { return &c.Side }, "line", "neutral").
		or("line"),
	choiceOf("mt1", "side to which main terminal 1 points", func(c *models.Channel) *models.MT1Side { return &c.MT1 }, "supply", "load").
		or("supply"),

	quantityOf("drive.on-voltage", "V_d when the drive is on", func(c *models.Channel) *q.Volt { return &c.Drive.On }).
		or("12 V").from(-50).to(50).usually("5 V to 24 V"),
	quantityOf("drive.off-voltage", "V_d when the drive is off; a stuck transistor shows here", func(c *models.Channel) *q.Volt { return &c.Drive.Off }).
		or("0 V").from(-50).to(50).usually("0 V"),
	quantityOf("drive.saturation-voltage", "V_sat of the transistor", func(c *models.Channel) *q.Volt { return &c.Drive.Saturation }).
		or("0.2 V").from(0).to(50).usually("0.1 V to 0.5 V"),
	quantityOf("drive.led-resistance", "R_LED in series with the LED of the opto", func(c *models.Channel) *q.Ohm { return &c.Drive.Resistance }).
		or("820 Ω").over(0).orOpen().usually("330 Ω to 1.5 kΩ"),

	quantityOf("drive.off-conductance", "of the transistor's output without base current; a punctured transistor shows here when the board is unplugged", func(c *models.Channel) *q.Siemens { return &c.Drive.OffConductance }).
		or("1 nS").from(0).to(1e6).usually("0.01 nS to 100 nS"),
	booleanOf("drive.transistor-open", "the transistor's base junction is open", func(c *models.Channel) *bool { return &c.Drive.Open }).
		or("false"),

	quantityOf("opto.led-voltage", "V_F0 of the LED", func(c *models.Channel) *q.Volt { return &c.Opto.Forward }).
		or("1.1 V").from(0).to(50).usually("1 V to 1.3 V"),
	quantityOf("opto.led-slope", "r_F of the LED; open for a broken LED", func(c *models.Channel) *q.Ohm { return &c.Opto.LEDSlope }).
		or("5 Ω").from(0).orOpen().usually("2 Ω to 15 Ω"),
	quantityOf("opto.trigger-current", "I_FT, LED trigger current at 25 °C", func(c *models.Channel) *q.Ampere { return &c.Opto.Trigger }).
		or("5 mA").over(0).orInfinite().usually("2 mA to 15 mA"),
	quantityOf("opto.output-threshold", "V_P0 of the conducting output", func(c *models.Channel) *q.Volt { return &c.Opto.Threshold }).
		or("1.2 V").from(0).to(100).usually("1 V to 2 V"),
	quantityOf("opto.output-slope", "r_P of the conducting output", func(c *models.Channel) *q.Ohm { return &c.Opto.Slope }).
		or("5 Ω").from(0).to(1e9).usually("2 Ω to 15 Ω"),
	quantityOf("opto.off-conductance", "g_p of the blocking output", func(c *models.Channel) *q.Siemens { return &c.Opto.Off }).
		or("2 nS").from(0).to(10).usually("0.1 nS to 10 nS"),
	quantityOf("opto.inhibit-voltage", "V_IH, voltage across the output above which it does not turn on; infinite for a random-phase type", func(c *models.Channel) *q.Volt { return &c.Opto.Inhibit }).
		or("20 V").over(0).orInfinite().usually("10 V to 25 V"),
	quantityOf("opto.latching-current", "I_LP of the output, above its holding current; infinite never turns on", func(c *models.Channel) *q.Ampere { return &c.Opto.Latching }).
		or("0.6 mA").orInfinite().over(0).to(10).usually("0.2 mA to 2 mA"),
	quantityOf("opto.holding-current", "I_HP of the output", func(c *models.Channel) *q.Ampere { return &c.Opto.Holding }).
		or("0.3 mA").from(0).to(10).usually("0.1 mA to 1 mA"),
	choiceOf("opto.fires", "polarity of MT2 against the gate in which it turns on", func(c *models.Channel) *int { return &c.Opto.Fires }, "both", "positive", "negative").
		meaning(0, 1, -1).or("both"),
	quantityOf("opto.trigger-scale", "temperature over which the trigger current grows by the factor e, falls if negative; infinite is no change", func(c *models.Channel) *q.Kelvin { return &c.Opto.TriggerScale }).
		or("infinite").from(-1e6).to(1e6).orInfinite().usually("100 K, or infinite"),

	quantityOf("gate.resistance", "R_G, in series with the opto's output", func(c *models.Channel) *q.Ohm { return &c.GateResistance }).
		or("330 Ω").over(0).orOpen().usually("100 Ω to 1 kΩ"),
	quantityOf("gate.shunt", "R_GK, between gate and MT1; none is not fitted", func(c *models.Channel) *q.Ohm { return &c.GateShunt }).
		or("330 Ω").over(0).orInfinite().usually("none, or 100 Ω to 1 kΩ"),

	quantityOf("triac.threshold", "V_T0 in the on-state voltage V_T0 + r_T·i", func(c *models.Channel) *q.Volt { return &c.Triac.Threshold }).
		or("0.9 V").from(0).to(50).usually("0.7 V to 1.1 V"),
	quantityOf("triac.slope", "r_T in the on-state voltage V_T0 + r_T·i", func(c *models.Channel) *q.Ohm { return &c.Triac.Slope }).
		or("20 mΩ").from(0).to(1e3).usually("10 mΩ to 50 mΩ"),
	quantityOf("triac.off-conductance", "g_off of the blocking main path at 25 °C", func(c *models.Channel) *q.Siemens { return &c.Triac.Off }).
		or("50 nS").from(0).to(10).usually("1 nS to 100 nS"),
	booleanOf("triac.open", "the main path never conducts; the gate junction is alive", func(c *models.Channel) *bool { return &c.Triac.Open }).
		or("false"),
	quantityOf("triac.gate-threshold", "V_G0 of the gate junction", func(c *models.Channel) *q.Volt { return &c.Triac.GateThreshold }).
		or("0.8 V").from(0).to(50).usually("0.6 V to 1 V"),
	quantityOf("triac.gate-slope", "r_G of the gate junction", func(c *models.Channel) *q.Ohm { return &c.Triac.GateSlope }).
		or("10 Ω").from(0).to(1e6).usually("2 Ω to 30 Ω"),
	booleanOf("triac.gate-open", "the gate lead is broken", func(c *models.Channel) *bool { return &c.Triac.GateOpen }).
		or("false"),
	trigger("i", "25 mA", models.QuadrantI, "MT2 positive, gate positive"),
	trigger("ii", "25 mA", models.QuadrantII, "MT2 positive, gate negative"),
	trigger("iii", "25 mA", models.QuadrantIII, "MT2 negative, gate negative"),
	trigger("iv", "50 mA", models.QuadrantIV, "MT2 negative, gate positive"),
	quantityOf("triac.latching-current", "I_L at 25 °C, above the holding current", func(c *models.Channel) *q.Ampere { return &c.Triac.Latching }).
		or("40 mA").over(0).to(1e3).usually("20 mA to 80 mA"),
	quantityOf("triac.holding-current", "I_H at 25 °C", func(c *models.Channel) *q.Ampere { return &c.Triac.Holding }).
		or("30 mA").from(0).to(1e3).usually("10 mA to 50 mA"),
	quantityOf("triac.critical-rate", "critical rate of rise of the off-state voltage at 25 °C", func(c *models.Channel) *q.VoltPerSecond { return &c.Triac.StaticRate }).
		or("200 V/µs").over(0).to(1e12).usually("50 V/µs to 1000 V/µs"),
	quantityOf("triac.commutating-rate", "rate of rise that it withstands just after turning off at the rate below, at 25 °C", func(c *models.Channel) *q.VoltPerSecond { return &c.Triac.CommutatingRate }).
		or("5 V/µs").over(0).to(1e12).usually("2 V/µs to 20 V/µs"),
	quantityOf("triac.commutating-fall", "rate of fall of current to which the commutating rate belongs", func(c *models.Channel) *q.AmperePerSecond { return &c.Triac.CommutatingFall }).
		or("5 A/ms").over(0).to(1e9).usually("2 A/ms to 10 A/ms"),
	quantityOf("triac.turn-off-time", "t_q, time after turn-off in which the commutating rate holds", func(c *models.Channel) *q.Second { return &c.Triac.TurnOffTime }).
		or("50 µs").from(0).to(1e-2).usually("20 µs to 100 µs"),
	quantityOf("triac.breakover-voltage", "V_BO; infinite is none", func(c *models.Channel) *q.Volt { return &c.Triac.Breakover }).
		or("800 V").over(0).orInfinite().usually("600 V to 1200 V"),
	quantityOf("triac.trigger-scale", "temperature over which I_GT falls by the factor e", func(c *models.Channel) *q.Kelvin { return &c.Triac.TriggerScale }).
		or("110 K").over(0).orInfinite().usually("80 K to 150 K"),
	quantityOf("triac.latching-scale", "the same for I_L", func(c *models.Channel) *q.Kelvin { return &c.Triac.LatchingScale }).
		or("150 K").over(0).orInfinite().usually("100 K to 200 K"),
	quantityOf("triac.holding-scale", "the same for I_H", func(c *models.Channel) *q.Kelvin { return &c.Triac.HoldingScale }).
		or("150 K").over(0).orInfinite().usually("100 K to 200 K"),
	quantityOf("triac.rate-scale", "the same for the critical and commutating rates", func(c *models.Channel) *q.Kelvin { return &c.Triac.RateScale }).
		or("60 K").over(0).orInfinite().usually("40 K to 100 K"),

	quantityOf("snubber.resistance", "R_sn", func(c *models.Channel) *q.Ohm { return &c.Snubber.Resistance }).
		or("100 Ω").from(0).orOpen().usually("22 Ω to 330 Ω"),
	quantityOf("snubber.capacitance", "C_sn; none is not fitted", func(c *models.Channel) *q.Farad { return &c.Snubber.Capacitance }).
		or("10 nF").from(0).to(1e-4).orNone().usually("none, or 10 nF to 100 nF"),
	quantityOf("wire.resistance", "r_wire, from the triac to the link; open for a broken wire", func(c *models.Channel) *q.Ohm { return &c.Wire }).
		or("20 mΩ").from(0).orOpen().usually("5 mΩ to 100 mΩ"),
}

func trigger(name, def string, quadrant models.Quadrant, signs string) field {
	return quantityOf("triac.trigger-current-"+name, "I_GT at 25 °C, "+signs,
		func(c *models.Channel) *q.Ampere { return &c.Triac.Trigger[quadrant] }).
		or(def).over(0).orInfinite().usually("5 mA to 100 mA")
}

var fosterList = func() list {
	l := listOf("triac.foster", "thermal impedance from junction to board, terms R·(1 − exp(−t/τ))",
		func(c *models.Channel) *[]models.FosterStage { return &c.Triac.Foster },
		quantityOf("resistance", "R", func(s *models.FosterStage) *q.KelvinPerWatt { return &s.Resistance }).
			needed().over(0).to(1e4).usually("0.1 K/W to 60 K/W"),
		quantityOf("time", "τ", func(s *models.FosterStage) *q.Second { return &s.Time }).
			needed().over(0).to(1e6).usually("1 ms to 100 s"),
	)
	l.def = `[{ resistance = "0.2 K/W", time = "1 ms" }, { resistance = "0.6 K/W", time = "50 ms" }, { resistance = "2.2 K/W", time = "5 s" }]`
	return l
}()
