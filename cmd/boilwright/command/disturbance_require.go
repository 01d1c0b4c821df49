package command

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	q "boilwright/models/quantity"
	"boilwright/sim"
	"boilwright/sim/disturbance"
)

// disturbances are the quantities for which a limit can be required. Each is
// NaN where the run has none.
var disturbances = []struct {
	word, doc string
	of        func(*disturbance.Assessment) float64
}{
	{"pst", "highest short-term flicker severity of 10 min", func(x *disturbance.Assessment) float64 { return worst(x.Short) }},
	{"plt", "highest long-term flicker severity of 2 h", func(x *disturbance.Assessment) float64 { return worst(x.Long) }},
	{"largest-change", "largest relative voltage change, d_max", func(x *disturbance.Assessment) float64 { return x.Voltage.Max / 100 }},
	{"steady-change", "largest relative change between steady states, d_c", func(x *disturbance.Assessment) float64 { return x.Voltage.Steady / 100 }},
	{"thd-voltage", "highest total harmonic distortion of the voltage", func(x *disturbance.Assessment) float64 {
		return highest(x, func(p *disturbance.Pattern) float64 { return p.Voltage.THD() })
	}},
	{"class-a", "highest harmonic current as a part of its limit of class A", func(x *disturbance.Assessment) float64 {
		return highest(x, func(p *disturbance.Pattern) float64 {
			c, _ := disturbance.Worst(p.Current.ClassA())
			return c.Ratio()
		})
	}},
}

// worst is the highest of severities of whole length, NaN for none.
func worst(of []disturbance.Severity) float64 {
	x := math.NaN()
	for _, s := range of {
		if s.Whole && !(x >= s.Value) {
			x = s.Value
		}
	}
	return x
}

// highest is the highest value of a pattern, NaN for none.
func highest(x *disturbance.Assessment, of func(*disturbance.Pattern) float64) float64 {
	most := math.NaN()
	for i := range x.Patterns {
		if v := of(&x.Patterns[i]); !math.IsNaN(v) && !(most >= v) {
			most = v
		}
	}
	return most
}

func disturbanceWords() []string {
	var words []string
	for _, x := range disturbances {
		words = append(words, x.word)
	}
	return words
}

// disturbanceRequirement is one stated requirement.
type disturbanceRequirement struct {
	text   string
	which  int
	within q.Ratio
}

func parseDisturbanceRequirements(texts []string) ([]disturbanceRequirement, error) {
	var rs []disturbanceRequirement
	var errs []error
	for _, text := range texts {
		r, err := parseDisturbanceRequirement(text)
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

func parseDisturbanceRequirement(text string) (disturbanceRequirement, error) {
	r := disturbanceRequirement{text: text, which: -1}
	word, within, _ := strings.Cut(text, ",")
	for i, w := range disturbanceWords() {
		if w == word {
			r.which = i
		}
	}
	if r.which < 0 {
		return r, fmt.Errorf("found quantity %q, expected one of %s", word, list(disturbanceWords(), ""))
	}
	value, ok := strings.CutPrefix(within, "within=")
	if !ok {
		return r, fmt.Errorf("found %q after it, expected within=VALUE", within)
	}
	x, err := q.As[q.Ratio](value)
	if err != nil {
		return r, err
	}
	if x < 0 {
		return r, fmt.Errorf("found within=%v, expected 0 or more", x)
	}
	r.within = x
	return r, nil
}

func judgeDisturbance(rs []disturbanceRequirement, x *disturbance.Assessment) []verdict {
	var out []verdict
	for _, r := range rs {
		d := disturbances[r.which]
		found := d.of(x)
		v := verdict{text: r.text, met: found <= float64(r.within) && x.Run.Status == sim.Completed, why: d.doc + " " + q.Digits(q.Ratio(found), 4)}
		switch {
		case x.Run.Status != sim.Completed:
			v.why = "the run was interrupted; " + v.why
		case math.IsNaN(found):
			v.why = "the run was too short for it"
		}
		out = append(out, v)
	}
	return out
}

func completeDisturbance(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var words []string
	for _, x := range disturbances {
		words = append(words, x.word+",within=\t"+x.doc)
	}
	return words, wordOpen
}
