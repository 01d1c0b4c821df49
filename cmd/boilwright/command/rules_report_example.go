package command

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults/rules/validate"
	"boilwright/plots"
	"boilwright/plots/pages"
	"boilwright/sim/population/evidence"
)

// mostWaveforms is how many waveforms a report draws: of one board for each
// of so many rules.
const mostWaveforms = 12

// counterexamples are the boards on which rules fail. The nearest of each rule
// has its waveforms drawn, where the rule reads a live board.
func (v *validation) counterexamples(cmd *cobra.Command, prefix string) ([]pages.Failure, error) {
	var out []pages.Failure
	figures := 0
	for i := range v.report.Rules {
		x := &v.report.Rules[i]
		f := pages.Failure{Rule: i}
		var nearest *validate.Example
		at := 0
		for _, of := range []struct {
			mistake validate.Mistake
			list    []validate.Example
		}{{validate.Miss, x.Misses}, {validate.FalseAlarm, x.Alarms}} {
			for k := range of.list {
				e := &of.list[k]
				if nearest == nil || e.Distance < nearest.Distance {
					nearest, at = e, len(f.Examples)
				}
				f.Examples = append(f.Examples, v.counterexample(cmd, x, of.mistake, e))
			}
		}
		if nearest == nil {
			continue
		}
		if state := v.side.liveState(x.Rule, nearest, v.work.target); state != "" && figures < mostWaveforms {
			e := &f.Examples[at]
			figures++
			s, err := v.waveform(nearest, x.Rule, e.Mistake, state)
			switch {
			case errors.Is(err, context.Canceled):
				return nil, err
			case err != nil:
				e.Lacking = err.Error()
			default:
				if e.Figure, err = encodedDrawing(fmt.Sprintf("%sexample-%d.svg", prefix, figures), s); err != nil {
					return nil, err
				}
			}
		}
		out = append(out, f)
	}
	return out, nil
}

func (v *validation) counterexample(cmd *cobra.Command, x *validate.Rule, m validate.Mistake, e *validate.Example) pages.Counterexample {
	t := v.work.target
	return pages.Counterexample{
		Mistake: m, Index: e.Index, Channel: channelWord(t, e.Channel), Meters: v.meterWords(e.Meters), Distance: e.Distance,
		Truth: list(faultTexts(e.Faults, t.names), validate.Healthy), Seen: strings.ReplaceAll(v.side.seen(x.Rule, e, t), " *", " (live test)"), Command: v.again(cmd, x.Rule, e),
	}
}

// liveState is the first state in which a rule reads a live board; empty for
// none.
func (s *ruleSide) liveState(rule string, e *validate.Example, t *target) string {
	for k := range s.needs {
		o := &s.needs[k]
		read := s.rules == nil
		for i := range s.rules {
			read = read || s.rules[i].Name == rule && looks(&s.rules[i], o, e.Channel, e.Meters, t.names)
		}
		if state := stateOf(o); read && state != "" {
			return state
		}
	}
	return ""
}

// stateOf is the state in which an observable is read on a live board; empty
// for none.
func stateOf(o *evidence.Observable) string {
	for _, a := range o.Args {
		if o.Live && slices.Contains(liveStates, a) {
			return a
		}
	}
	return ""
}

// waveform draws the waveforms of a board on which a rule is wrong.
func (v *validation) waveform(e *validate.Example, rule string, m validate.Mistake, state string) (*plots.Sheet, error) {
	t := v.work.target
	member, err := v.work.source.Design.Member(v.work.source.Population, e.Index)
	if err != nil {
		return nil, err
	}
	b, err := member.Faulty()
	if err != nil {
		return nil, err
	}
	flags := newConditions(state)
	c, err := flags.conditions(b, liveStates...)
	if err != nil {
		return nil, err
	}
	h := heading(t, state)
	h.Title = fmt.Sprintf("%s of %q: board %d", strings.ToUpper(m.String()[:1])+m.String()[1:], rule, e.Index)
	h.Subtitle = fmt.Sprintf("%s; truth: %s", state, list(faultTexts(e.Faults, t.names), validate.Healthy))
	opts := plots.RecordingOptions{Heading: h}
	if e.Channel >= 0 {
		opts.Channels = []int{e.Channel}
	}
	return waveformSheet(b, c, 2, opts)
}
