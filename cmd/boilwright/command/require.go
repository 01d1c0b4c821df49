package command

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"boilwright/models"
	q "boilwright/models/quantity"
	"boilwright/sim"
)

// outcomes are what a run can be required to come to. Each tells when it came
// about, which is negative if it did not; what lasts to the end of a run came
// about at its start.
var outcomes = []struct {
	word, doc string
	when      func(sim.Outcome) time.Duration
}{
	{"reaches", "comes into band and neither overshoots nor loses its link", func(o sim.Outcome) time.Duration { return onlyIf(o.Verdict == sim.Reaches, o.Reached) }},
	{"stays-below", "never comes into band", func(o sim.Outcome) time.Duration { return onlyIf(o.Reached < 0, 0) }},
	{"overshoots", "goes above its over-temperature limit", func(o sim.Outcome) time.Duration { return onlyIf(o.Verdict == sim.Overshot, 0) }},
	{"link-opens", "its thermal link opens", func(o sim.Outcome) time.Duration { return o.LinkOpened }},
	{"link-holds", "its thermal link does not open", func(o sim.Outcome) time.Duration { return onlyIf(o.LinkOpened < 0, 0) }},
	{"boils", "its water begins to boil", func(o sim.Outcome) time.Duration { return o.Boiled }},
	{"runs-dry", "its boiler runs dry", func(o sim.Outcome) time.Duration { return o.Dry }},
}

// onlyIf is d where it holds, and never otherwise.
func onlyIf(holds bool, d time.Duration) time.Duration {
	if holds {
		return d
	}
	return -1
}

func outcomeWords() []string {
	var words []string
	for _, x := range outcomes {
		words = append(words, x.word)
	}
	return words
}

// allChannels is the word for every channel.
const allChannels = "all"

// requirement is one stated requirement.
type requirement struct {
	text     string
	channels []int
	outcome  int
	within   time.Duration // 0 is any time
}

func parseRequirements(texts, names []string) ([]requirement, error) {
	var rs []requirement
	var errs []error
	for _, text := range texts {
		r, err := parseRequirement(text, names)
		if err != nil {
			errs = append(errs, fmt.Errorf("requirement %q: %w", text, err))
			continue
		}
		rs = append(rs, r)
	}
	if len(errs) > 0 {
		return nil, misused(errors.Join(errs...))
	}
	return rs, nil
}

func parseRequirement(text string, names []string) (requirement, error) {
	r := requirement{text: text}
	channel, rest, found := strings.Cut(text, ":")
	if !found {
		return r, errors.New("expected CHANNEL:OUTCOME[,within=TIME]")
	}
	for k, n := range names {
		if channel == n || channel == allChannels {
			r.channels = append(r.channels, k)
		}
	}
	if len(r.channels) == 0 {
		return r, fmt.Errorf("found channel %q, expected %s or %s", channel, list(names, ""), allChannels)
	}
	word, within, limited := strings.Cut(rest, ",")
	r.outcome = slices.Index(outcomeWords(), word)
	if r.outcome < 0 {
		return r, fmt.Errorf("found outcome %q, expected one of %s", word, list(outcomeWords(), ""))
	}
	if !limited {
		return r, nil
	}
	value, ok := strings.CutPrefix(within, "within=")
	if !ok {
		return r, fmt.Errorf("found %q, expected within=TIME", within)
	}
	d, err := q.ParseDuration(value)
	if err != nil {
		return r, err
	}
	if d <= 0 {
		return r, fmt.Errorf("found within=%s, expected more than 0", q.FormatDuration(d))
	}
	r.within = d
	return r, nil
}

// verdict is whether a requirement is met.
type verdict struct {
	text, why string
	met       bool
}

func judge(rs []requirement, result *sim.Result) []verdict {
	var out []verdict
	for _, r := range rs {
		v := verdict{text: r.text, met: result.Status == sim.Completed}
		var why []string
		if !v.met {
			why = append(why, "the run was interrupted")
		}
		for _, k := range r.channels {
			o := result.Outcomes[k]
			when := outcomes[r.outcome].when(o)
			found := string(o.Verdict)
			if when > 0 {
				found += ", at " + clock(when)
			}
			why = append(why, o.Channel+": "+found)
			if when < 0 || r.within > 0 && when > r.within {
				v.met = false
			}
		}
		v.why = strings.Join(why, "; ")
		out = append(out, v)
	}
	return out
}

// failed is the error of the requirements that are not met.
func failed(verdicts []verdict) error {
	var errs []error
	for _, v := range verdicts {
		if !v.met {
			errs = append(errs, fmt.Errorf("required %s: %s", v.text, v.why))
		}
	}
	if len(errs) == 0 {
		return nil
	}
	return unmet(errors.Join(errs...))
}

func completeRequirement(cmd *cobra.Command, args []string, text string) ([]string, cobra.ShellCompDirective) {
	channel, _, found := strings.Cut(text, ":")
	if !found {
		words, d := fromBoard(func(b *models.Board) []string { return append(channelNames(b), allChannels) })(cmd, args, text)
		for i := range words {
			words[i] += ":"
		}
		return words, d | cobra.ShellCompDirectiveNoSpace
	}
	var words []string
	for _, x := range outcomes {
		words = append(words, channel+":"+x.word+"\t"+x.doc)
	}
	return words, wordEnds
}
