package boardfile

import (
	"time"

	"boilwright/models"
	q "boilwright/models/quantity"
)

type clock = time.Duration

// Fractions of the water from which the wetted and floor masses are computed,
// and how far the relief valve's gauge pressure falls before it reseats:
// generic, of this program.
const (
	wettedFraction = 0.4
	floorFraction  = 0.05
	reseatFraction = 0.9
	atmosphere     = 101325.0 // Pa, as in gauge pressures
)

var elementFields = []field{
	rated(quantityOf("element.resistance", "R20, resistance at 20 °C", func(c *models.Channel) *q.Ohm { return &c.Element.Resistance }).
		needed().over(0).to(1e9).usually("10 Ω to 100 Ω")),
	quantityOf("element.coefficient", "a in R20·(1 + a·(T − 20 °C))", func(c *models.Channel) *q.PerKelvin { return &c.Element.Coefficient }).
		or("170 ppm/K").from(-1e-3).to(1e-2).usually("50 ppm/K to 200 ppm/K for resistance alloys"),
	quantityOf("element.split", "place of the insulation fault or break, as a fraction from the link side", func(c *models.Channel) *q.Ratio { return &c.Element.Split }).
		or("50 %").from(0).to(1).usually("0 to 100 %"),
	quantityOf("element.insulation", "R_ins, from the element to protective earth", func(c *models.Channel) *q.Ohm { return &c.Element.Insulation }).
		or("1 GΩ").over(0).orInfinite().usually("1 MΩ to 10 GΩ"),
	booleanOf("element.open", "the element is broken", func(c *models.Channel) *bool { return &c.Element.Open }).
		or("false"),
	quantityOf("element.heat-capacity", "C_e", func(c *models.Channel) *q.JoulePerKelvin { return &c.Element.Capacity }).
		or("150 J/K").over(0).to(1e6).usually("50 J/K to 500 J/K"),
}

// rated lets a resistance be written as a power at a voltage.
func rated(f field) field {
	f.other = &alternative{
		key: "element.rating", doc: "power at a voltage, from which R20 = V²/P", example: "1200 W at 230 V", pattern: q.RatingPattern(),
		parse: func(text string) (float64, error) {
			p, v, err := q.ParseRating(text)
			if err != nil {
				return 0, err
			}
			if p <= 0 || v <= 0 {
				return 0, &q.Error{Input: text, Found: quote(text), Expected: "a power above 0 W at a voltage above 0 V"}
			}
			return float64(v) * float64(v) / float64(p), nil
		},
	}
	return f
}

var boilerFields = []field{
	booleanOf("boiler.open", "an open vat at ambient pressure; otherwise closed", func(c *models.Channel) *bool { return &c.Boiler.Open }).
		or("false"),
	quantityOf("boiler.water", "mass of water at the start, 1 L counted as 1 kg", func(c *models.Channel) *q.Kilogram { return &c.Boiler.Water }).
		needed().over(0).to(1e4).usually("0.5 kg to 20 kg"),
	quantityOf("boiler.wetted", "m_min, mass below which the element begins to lie dry", func(c *models.Channel) *q.Kilogram { return &c.Boiler.Wetted }).
		orFrom("40 % of the water", func(_ *models.Board, t any) any { return wettedFraction * float64(t.(*models.Channel).Boiler.Water) }).
		over(0).to(1e4).usually("30 % to 60 % of the water"),
	quantityOf("boiler.floor", "mass at which the boiler counts as dry", func(c *models.Channel) *q.Kilogram { return &c.Boiler.Floor }).
		orFrom("5 % of the water", func(_ *models.Board, t any) any { return floorFraction * float64(t.(*models.Channel).Boiler.Water) }).
		over(0).to(1e4).usually("1 % to 10 % of the water"),
	quantityOf("boiler.start", "temperature of water, shell, element, probe and link at the start", func(c *models.Channel) *q.Celsius { return &c.Boiler.Start }).
		orFrom("the ambient temperature", ambient).from(-20).to(200).usually("10 °C to 100 °C"),
	quantityOf("boiler.scale", "divides the conductance from element to water; 1 is clean", func(c *models.Channel) *q.Ratio { return &c.Boiler.Scale }).
		or("1").over(0).to(1e3).usually("1 to 5"),
	booleanOf("boiler.feed", "steam and boiled water are replaced from the cold supply", func(c *models.Channel) *bool { return &c.Boiler.Feed }).
		or("false"),
	quantityOf("boiler.inlet", "temperature of the cold supply", func(c *models.Channel) *q.Celsius { return &c.Boiler.Inlet }).
		or("15 °C").from(0).to(100).usually("5 °C to 25 °C"),
	quantityOf("boiler.element-to-water", "G_ew, clean and wet", func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.ElementToWater }).
		or("20 W/K").from(0).to(1e4).usually("10 W/K to 100 W/K"),
	quantityOf("boiler.element-to-shell", "G_es0, of an element that lies dry", func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.ElementToShell }).
		or("2 W/K").from(0).to(1e4).usually("0.5 W/K to 5 W/K"),
	quantityOf("boiler.water-to-shell", "G_ws", func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.WaterToShell }).
		or("60 W/K").from(0).to(1e4).usually("20 W/K to 200 W/K"),
	quantityOf("boiler.shell-to-lid", "G_sk", func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.ShellToLid }).
		or("0.15 W/K").from(0).to(1e4).usually("0.05 W/K to 1 W/K"),
	quantityOf("boiler.shell-to-air", "G_sa", func(c *models.Channel) *q.WattPerKelvin { return &c.Boiler.ShellToAir }).
		or("0.8 W/K").from(0).to(1e4).usually("0.3 W/K insulated to 3 W/K bare"),
	quantityOf("boiler.shell-capacity", "C_s", func(c *models.Channel) *q.JoulePerKelvin { return &c.Boiler.ShellCapacity }).
		or("400 J/K").over(0).to(1e6).usually("200 J/K to 2000 J/K"),
	quantityOf("boiler.relief", "pressure at which the relief valve of a closed boiler opens", func(c *models.Channel) *q.Pascal { return &c.Boiler.Relief }).
		or("3 bar gauge").over(atmosphere).to(30 * bar).usually("1 bar to 6 bar gauge"),
	quantityOf("boiler.reseat", "pressure at which the relief valve closes", func(c *models.Channel) *q.Pascal { return &c.Boiler.Reseat }).
		orFrom("90 % of the relief valve's gauge pressure", func(_ *models.Board, t any) any {
			relief := float64(t.(*models.Channel).Boiler.Relief)
			return atmosphere + float64(reseatFraction*(relief-atmosphere))
		}).
		over(0).to(30 * bar).usually("80 % to 95 % of the relief valve's gauge pressure"),
}

var drawList = listOf("draw", "water or steam taken from the boiler",
	func(c *models.Channel) *[]models.Draw { return &c.Boiler.Draws },
	durationOf("from", "start of the first", func(d *models.Draw) *clock { return &d.From }).needed().from(0).to(longest),
	durationOf("to", "end of the first", func(d *models.Draw) *clock { return &d.To }).needed().from(0).to(longest),
	durationOf("every", "period of repetition; 0 s is once", func(d *models.Draw) *clock { return &d.Every }).or("0 s").from(0).to(longest),
	quantityOf("flow", "mass flow", func(d *models.Draw) *q.KilogramPerSecond { return &d.Flow }).
		needed().over(0).to(100).usually("0.1 g/s of steam to 100 g/s of water"),
	booleanOf("steam", "steam leaves; otherwise water, which is replaced", func(d *models.Draw) *bool { return &d.Steam }).or("false"),
	refill(channelOf("refill", "what replaces drawn water: the cold supply, or the water of another channel, which is then drawn in turn", func(d *models.Draw) *int { return &d.Refill })).
		or("cold"),
)

func refill(f field) field {
	f.names, f.values = []string{"cold"}, []int{-1}
	return f
}

// housingFields are the lid over all boilers and the pocket of the board.
var housingFields = []field{
	quantityOf("lid.heat-capacity", "C_k", func(b *models.Board) *q.JoulePerKelvin { return &b.Lid.Capacity }).
		or("1500 J/K").over(0).to(1e6).usually("500 J/K to 3000 J/K"),
	quantityOf("lid.to-pocket", "G_kb", func(b *models.Board) *q.WattPerKelvin { return &b.Lid.ToPocket }).
		or("0.4 W/K").from(0).to(1e4).usually("0.1 W/K to 2 W/K"),
	quantityOf("lid.to-air", "G_ka", func(b *models.Board) *q.WattPerKelvin { return &b.Lid.ToAir }).
		or("1.2 W/K").from(0).to(1e4).usually("0.5 W/K to 5 W/K"),
	quantityOf("lid.start", "temperature at the start", func(b *models.Board) *q.Celsius { return &b.Lid.Start }).
		orFrom("the ambient temperature", ambient).from(-20).to(200).usually("15 °C to 30 °C"),
	quantityOf("pocket.heat-capacity", "C_b, air and structure around the circuit board", func(b *models.Board) *q.JoulePerKelvin { return &b.Pocket.Capacity }).
		or("300 J/K").over(0).to(1e6).usually("100 J/K to 1000 J/K"),
	quantityOf("pocket.to-air", "G_ba", func(b *models.Board) *q.WattPerKelvin { return &b.Pocket.ToAir }).
		or("0.6 W/K").from(0).to(1e4).usually("0.2 W/K to 2 W/K"),
	quantityOf("pocket.start", "temperature at the start", func(b *models.Board) *q.Celsius { return &b.Pocket.Start }).
		orFrom("the ambient temperature", ambient).from(-20).to(200).usually("15 °C to 30 °C"),
}

var couplingList = listOf("coupling", "thermal conductances between the shells of two boilers",
	func(b *models.Board) *[]models.Coupling { return &b.Couplings },
	channelOf("channel", "one boiler", func(c *models.Coupling) *int { return &c.A }).needed(),
	channelOf("neighbour", "the other", func(c *models.Coupling) *int { return &c.B }).needed(),
	quantityOf("conductance", "G_ij", func(c *models.Coupling) *q.WattPerKelvin { return &c.Conductance }).
		needed().from(0).to(1e4).usually("0.05 W/K to 1 W/K"),
)

var crossingList = listOf("crossing", "pairs of channels whose drive plugs are exchanged",
	func(b *models.Board) *[]models.Crossing { return &b.Crossings },
	channelOf("channel", "one channel", func(c *models.Crossing) *int { return &c.A }).needed(),
	channelOf("with", "the other", func(c *models.Crossing) *int { return &c.B }).needed(),
)
