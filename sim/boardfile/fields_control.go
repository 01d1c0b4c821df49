package boardfile

import (
	"boilwright/models"
	q "boilwright/models/quantity"
)

// overTemperature in kelvins above the set point is where the indicator's
// default lies.
const overTemperature = 10

var probeFields = []field{
	quantityOf("probe.resistance", "of the thermistor at 25 °C", func(c *models.Channel) *q.Ohm { return &c.Probe.R25 }).
		or("10 kΩ").over(0).to(1e9).usually("1 kΩ to 100 kΩ"),
	quantityOf("probe.beta", "β of R25·exp(β·(1/T − 1/298.15 K)); without use where steinhart-hart-a is not 0", func(c *models.Channel) *q.Kelvin { return &c.Probe.Beta }).
		or("3950 K").over(0).to(2e4).usually("3000 K to 4500 K"),
	numberOf("probe.steinhart-hart-a", "A of 1/T = A + B·ln R + C·(ln R)³; 0 takes β", func(c *models.Channel) *float64 { return &c.Probe.A }).
		or("0").from(0).to(1).usually("0, or 0.5e-3 to 2e-3"),
	numberOf("probe.steinhart-hart-b", "B", func(c *models.Channel) *float64 { return &c.Probe.B }).
		or("0").from(0).to(1).usually("0, or 2e-4 to 3e-4"),
	numberOf("probe.steinhart-hart-c", "C", func(c *models.Channel) *float64 { return &c.Probe.C }).
		or("0").from(0).to(1).usually("0, or 0.5e-7 to 3e-7"),
	quantityOf("probe.divider-resistance", "from the reference to the thermistor", func(c *models.Channel) *q.Ohm { return &c.Probe.Top }).
		or("2.2 kΩ").over(0).to(1e9).usually("1 kΩ to 22 kΩ"),
	integerOf("probe.bits", "of the analogue-to-digital converter", func(c *models.Channel) *int { return &c.Probe.Bits }).
		or("12").from(4).to(24).usually("10 to 16"),
	quantityOf("probe.heat-capacity", "C_p", func(c *models.Channel) *q.JoulePerKelvin { return &c.Probe.Capacity }).
		or("15 J/K").over(0).to(1e6).usually("2 J/K to 30 J/K"),
	quantityOf("probe.to-water", "G_wp; 0 W/K is a detached probe", func(c *models.Channel) *q.WattPerKelvin { return &c.Probe.ToWater }).
		or("1.5 W/K").from(0).to(1e4).usually("0.5 W/K to 5 W/K"),
	quantityOf("probe.offset", "drift, added to the temperature that it senses", func(c *models.Channel) *q.Kelvin { return &c.Probe.Offset }).
		or("0 K").from(-200).to(200).usually("-2 K to 2 K"),
	booleanOf("probe.open", "the probe or its lead is broken", func(c *models.Channel) *bool { return &c.Probe.Open }).
		or("false"),
	booleanOf("probe.shorted", "the probe or its lead is shorted", func(c *models.Channel) *bool { return &c.Probe.Shorted }).
		or("false"),
}

var controlFields = []field{
	choiceOf("control.law", "law of the controller", func(c *models.Channel) *models.ControlKind { return &c.Control.Kind },
		models.Hysteresis.String(), models.Proportional.String(), models.FixedDuty.String()).
		or("proportional-integral"),
	booleanOf("control.enabled", "the channel heats at all", func(c *models.Channel) *bool { return &c.Control.Enabled }).
		or("true"),
	quantityOf("control.set-point", "temperature to hold", func(c *models.Channel) *q.Celsius { return &c.Control.SetPoint }).
		needed().from(0).to(200).usually("30 °C to 130 °C"),
	quantityOf("control.band", "full width of the hysteresis band about the set point", func(c *models.Channel) *q.Kelvin { return &c.Control.Band }).
		or("2 K").from(0).to(100).usually("1 K to 5 K"),
	perKelvinOf("control.gain", "Kp, share of full power per kelvin", func(c *models.Channel) *float64 { return &c.Control.Gain }).
		or("0.4 /K").from(0).to(1e3).usually("0.02 /K to 0.5 /K"),
	quantityOf("control.integral-time", "Ti; 0 s is proportional only", func(c *models.Channel) *q.Second { return &c.Control.Integral }).
		or("300 s").from(0).to(1e6).usually("60 s to 1000 s"),
	quantityOf("control.duty", "share of cycles of the fixed law", func(c *models.Channel) *q.Ratio { return &c.Control.Duty }).
		or("0").from(0).to(1).usually("0 to 100 %"),
	booleanOf("control.spread", "cycles are spread over the window; otherwise in one run", func(c *models.Channel) *bool { return &c.Control.Spread }).
		or("false"),
	integerOf("control.priority", "lower goes first where channels may not all conduct", func(c *models.Channel) *int { return &c.Control.Priority }).
		or("0").from(-1000).to(1000).usually("0 to 2"),
	quantityOf("control.in-band", "half-width about the set point that the indicator calls in band", func(c *models.Channel) *q.Kelvin { return &c.Control.InBand }).
		or("3 K").over(0).to(100).usually("1 K to 5 K"),
	quantityOf("control.over-temperature", "temperature above which the indicator says so", func(c *models.Channel) *q.Celsius { return &c.Control.OverTemp }).
		orFrom("set point + 10 K", func(_ *models.Board, t any) any {
			return float64(t.(*models.Channel).Control.SetPoint) + overTemperature
		}).
		from(0).to(400).usually("5 K to 20 K above the set point"),
}

var controllerFields = []field{
	evenly(integerOf("controller.window", "control window in half-cycles", func(b *models.Board) *int { return &b.Controller.Window }).
		or("100").from(2).to(12000).usually("20 to 200")),
	integerOf("controller.together", "channels that may conduct in the same cycle; 0 is no limit", func(b *models.Board) *int { return &b.Controller.Together }).
		or("0").from(0).to(64).usually("0 to 3"),
	eitherOf("controller.refused-cycles", "what becomes of a cycle that the limit refused", func(b *models.Board) *bool { return &b.Controller.LoseRefused }, "owed", "lost").
		or("owed"),
}

func evenly(f field) field {
	f.even = true
	return f
}

var onPeriodList = listOf("controller.on-period", "times when the controls are on; none is throughout",
	func(b *models.Board) *[]models.OnPeriod { return &b.Controller.Schedule },
	durationOf("from", "start", func(p *models.OnPeriod) *clock { return &p.From }).needed().from(0).to(longest),
	durationOf("to", "end", func(p *models.OnPeriod) *clock { return &p.To }).needed().from(0).to(longest),
)
