package command

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim/circuit"
	"boilwright/sim/readings"
)

// conditionFlags are the flags of what a board is doing while it is looked at.
type conditionFlags struct {
	state       string
	temperature quantityValue[q.Celsius]
	duty        []string
	off         []string
}

func newConditions(state string) conditionFlags {
	return conditionFlags{state: state, temperature: quantityValue[q.Celsius]{value: 25, min: -40, max: 200, typ: "TEMPERATURE"}}
}

func (c *conditionFlags) add(cmd *cobra.Command, states ...string) {
	f := cmd.Flags()
	f.StringVarP(&c.state, "state", "s", c.state, "what the board is doing: `STATE` "+list(states, ""))
	f.Var(&c.temperature, "temperature", "`TEMPERATURE` of elements, junctions and board")
	f.StringArrayVar(&c.duty, "duty", nil, "in state holding: `[CHANNEL=]RATIO` of cycles driven, a quarter where not given; repeatable")
	f.StringArrayVar(&c.off, "off", nil, "leave the drive of a `CHANNEL` off; repeatable")
	complete(cmd, "state", completeWords(states...))
	complete(cmd, "off", completeChannel)
}

// conditions checks the flags against a board.
func (c *conditionFlags) conditions(b *models.Board, states ...string) (readings.Conditions, error) {
	out := readings.Conditions{Temps: circuit.Uniform(len(b.Channels), float64(c.temperature.value))}
	if !slices.Contains(states, c.state) {
		return out, misuse("state: found %q, expected one of %s", c.state, list(states, ""))
	}
	state, err := readings.ParseState(c.state)
	if err != nil {
		return out, misused(err)
	}
	out.State = state
	if len(c.duty) > 0 {
		if state != readings.Holding {
			return out, misuse("found --duty in state %s, expected it in state %s only", state, readings.Holding)
		}
		if out.Duty, err = duties(c.duty, b); err != nil {
			return out, err
		}
	}
	for _, name := range c.off {
		k := b.ChannelIndex(name)
		if k < 0 {
			return out, misuse("--off: found channel %q, expected one of %s", name, list(channelNames(b), ""))
		}
		if out.Off == nil {
			out.Off = make([]bool, len(b.Channels))
		}
		out.Off[k] = true
	}
	return out, nil
}

// duties reads the duty of each channel; later ones replace earlier ones.
func duties(texts []string, b *models.Board) ([]float64, error) {
	out := slices.Repeat([]float64{0.25}, len(b.Channels))
	for _, text := range texts {
		name, ratio, named := strings.Cut(text, "=")
		if !named {
			name, ratio = "", text
		}
		d, err := q.As[q.Ratio](ratio)
		if err != nil {
			return nil, misuse("--duty %q: %v", text, err)
		}
		if d < 0 || d > 1 {
			return nil, misuse("--duty %q: found %v, expected 0 to 1", text, d)
		}
		k := b.ChannelIndex(name)
		if named && k < 0 {
			return nil, misuse("--duty %q: found channel %q, expected one of %s", text, name, list(channelNames(b), ""))
		}
		for i := range out {
			if !named || i == k {
				out[i] = float64(d)
			}
		}
	}
	return out, nil
}

// describe puts conditions in words.
func (c *conditionFlags) describe(x readings.Conditions, b *models.Board) string {
	return c.describeIn(nil, x, b)
}
