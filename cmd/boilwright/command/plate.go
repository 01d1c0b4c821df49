package command

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	q "boilwright/models/quantity"
	"boilwright/sim/boardfile"
)

// plateOptions are the flags of the command board plate.
type plateOptions struct {
	name      string
	supply    quantityValue[q.Volt]
	frequency quantityValue[q.Hertz]
	channels  []string
	out       string
}

func (a *app) plate() *cobra.Command {
	o := &plateOptions{
		supply:    quantityValue[q.Volt]{value: 230, min: 90, max: 260, typ: "VOLTAGE"},
		frequency: quantityValue[q.Hertz]{value: 50, min: 45, max: 65, typ: "FREQUENCY"},
	}
	cmd := &cobra.Command{
		Use:   "plate",
		Short: "Make a board file from a rating plate",
		Long: wrapped(`Make a board file from what a rating plate and the controls' front tell: the supply, and for each channel
its element's power or cold resistance, its water and its set point. Everything else is assumed, and what was assumed
is printed and kept in the file's note. Without --channel it asks.

"boilwright diagnose" takes such a board's elements and water with wide tolerances.`),
		Example: `  boilwright board plate --channel "dye, 1500 W, 2 L, 85 °C" --channel "steam, 52.9 Ω, 1 L, 118 °C" --out my-board.toml`,
		Args:    cobra.NoArgs,
		RunE:    a.do(o.run),
	}
	f := cmd.Flags()
	f.StringVar(&o.name, "name", "", "`TITLE` of the board")
	f.Var(&o.supply, "supply", "`VOLTAGE` of the supply")
	f.Var(&o.frequency, "frequency", "`FREQUENCY` of the supply")
	f.StringArrayVarP(&o.channels, "channel", "c", nil, "a channel, `\"NAME, POWER or OHMS, WATER, SET POINT[, LINK]\"`; repeatable, in the order of the board")
	f.StringVarP(&o.out, "out", "o", "-", "write to `FILE`; - is standard output")
	return cmd
}

func (o *plateOptions) run(cmd *cobra.Command, _ []string) error {
	p := &boardfile.Plate{Name: o.name, Supply: o.supply.value, Frequency: o.frequency.value,
		Presumed: !cmd.Flags().Changed("supply") && !cmd.Flags().Changed("frequency")}
	if len(o.channels) == 0 {
		if err := o.ask(cmd, p); err != nil {
			return err
		}
	}
	for _, text := range o.channels {
		c, err := plateChannel(text)
		if err != nil {
			return misuse("--channel %q: %v", text, err)
		}
		p.Channels = append(p.Channels, c)
	}
	text, assumed, err := p.Text()
	if err != nil {
		return misused(err)
	}
	if err := writeFile(o.out, cmd.OutOrStdout(), func(w io.Writer) error { _, err := w.Write(text); return err }); err != nil {
		return err
	}
	w := cmd.ErrOrStderr()
	fmt.Fprintln(w, "assumed:")
	for _, a := range assumed {
		fmt.Fprintln(w, indented("  ", a))
	}
	return nil
}

// plateChannel reads a channel: its name first, the rest by unit.
func plateChannel(text string) (boardfile.PlateChannel, error) {
	var c boardfile.PlateChannel
	parts := strings.Split(text, ",")
	c.Name = strings.TrimSpace(parts[0])
	seen := map[q.Dimension]int{}
	for _, p := range parts[1:] {
		p = strings.TrimSpace(p)
		v, t, ok := plateValue(p)
		switch {
		case !ok:
			return c, fmt.Errorf("found %q, expected a power, a resistance, a mass or volume of water, or a temperature, such as 1500 W, 35.3 Ω, 2 L, 85 °C", p)
		case t != q.Temperature && !(v > 0):
			return c, fmt.Errorf("found %q, expected more than 0", p)
		case seen[t] == 1 && t != q.Temperature, seen[t] == 2:
			return c, fmt.Errorf("found %q after another of its kind, expected it once", p)
		case t == q.Power:
			c.Power = q.Watt(v)
		case t == q.Resistance:
			c.Resistance = q.Ohm(v)
		case t == q.Mass:
			c.Water = q.Kilogram(v)
		case seen[t] == 0:
			c.SetPoint = q.Celsius(v)
		default:
			c.Link = q.Celsius(v)
		}
		seen[t]++
	}
	switch {
	case c.Name == "":
		return c, fmt.Errorf("found no name, expected one before the first comma")
	case (c.Power > 0) == (c.Resistance > 0):
		return c, fmt.Errorf("found %v and %v, expected either the element's power or its resistance", c.Power, c.Resistance)
	case !(c.Water > 0):
		return c, fmt.Errorf("found no water, expected its mass or volume such as 2 L")
	case seen[q.Temperature] == 2 && c.Link <= c.SetPoint:
		return c, fmt.Errorf("found a link that opens at %v, expected more than the set point %v", c.Link, c.SetPoint)
	case seen[q.Temperature] == 0:
		return c, fmt.Errorf("found no set point, expected a temperature such as 85 °C")
	}
	return c, nil
}

func plateValue(text string) (float64, q.Dimension, bool) {
	for _, d := range []q.Dimension{q.Power, q.Resistance, q.Mass, q.Temperature} {
		if v, err := q.Parse(d, text); err == nil {
			return v, d, true
		}
	}
	return 0, 0, false
}

// ask asks for the channels, one line each.
func (o *plateOptions) ask(cmd *cobra.Command, p *boardfile.Plate) error {
	w := cmd.ErrOrStderr()
	fmt.Fprintln(w, wrapped("each channel on a line: name, power or cold ohms, water, set point, and the thermal link's temperature if it is known; an empty line ends"))
	in := bufio.NewScanner(cmd.InOrStdin())
	for {
		fmt.Fprintf(w, "channel %d: ", len(p.Channels)+1)
		if !in.Scan() || strings.TrimSpace(in.Text()) == "" {
			break
		}
		c, err := plateChannel(in.Text())
		if err != nil {
			fmt.Fprintln(w, err)
			continue
		}
		p.Channels = append(p.Channels, c)
	}
	fmt.Fprintln(w)
	if err := in.Err(); err != nil {
		return err
	}
	if len(p.Channels) == 0 {
		return misuse("found no channel, expected at least one such as \"dye, 1500 W, 2 L, 85 °C\"")
	}
	return nil
}
