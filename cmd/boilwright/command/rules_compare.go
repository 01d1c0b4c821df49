package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"boilwright/faults/rules/validate"
)

// rulesCompareOptions are the flags of the command rules compare.
type rulesCompareOptions struct {
	ruleFlags
	examples int
	asJSON   bool
}

func (a *app) rulesCompare() *cobra.Command {
	o := &rulesCompareOptions{}
	cmd := &cobra.Command{
		Use:   "compare FILE FILE [BOARD]",
		Short: "Compare two rule files on the same boards",
		Long: wrapped(`Let two rule files judge the same boards, and tell on how many units only one of them is right: in all, by meter
in hand and by fault, each with the test of McNemar for pairs. A file is right about a unit where nothing that it says is
wrong and, if there is a fault, it says so; to say nothing of a healthy unit is right. With --checker a program takes the
place of the second file.

P is the probability of a difference as large or larger if both were equally often right, and units independent of each
other, which those of one board are not: P of one meter in hand is closer to that.`),
		Example: `  boilwright rules compare old.toml new.toml --each 20
  boilwright rules compare starter mine.toml -n 1000 --meter rms`,
		Args: o.args(2),
		ValidArgsFunction: func(cmd *cobra.Command, args []string, text string) ([]string, cobra.ShellCompDirective) {
			return completeRuleFile(cmd, args[min(1, len(args)):], text)
		},
		PreRunE: func(cmd *cobra.Command, _ []string) error {
			if o.examples < 0 || o.examples > 100 {
				return misuse("--counterexamples: found %d, expected 0 to 100", o.examples)
			}
			return o.check(cmd)
		},
		RunE: a.do(o.do),
	}
	o.ruleFlags.add(cmd, 500)
	cmd.Flags().IntVar(&o.examples, "counterexamples", 3, "tell `NUMBER` boards on which each alone is right, the most ordinary ones")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

// ruleComparison is a comparison that is done, with what tells of it.
type ruleComparison struct {
	options *rulesCompareOptions
	work    *ruleWork
	sides   [2]*ruleSide
	result  *validate.Comparison
}

func (o *rulesCompareOptions) do(cmd *cobra.Command, args []string) error {
	defer debug.SetGCPercent(debug.SetGCPercent(300))
	files, boardArgs := o.files(args, 2)
	if files[0] == "-" && files[1] == "-" {
		return misuse("found standard input twice, expected it once")
	}
	w, err := o.work(cmd, boardArgs)
	if err != nil {
		return err
	}
	c := &ruleComparison{options: o, work: w}
	onBoard := false
	for i, f := range files {
		if c.sides[i], err = o.side(cmd, w, []string{f}); err != nil {
			return err
		}
		defer c.sides[i].close()
		onBoard = onBoard || f == ""
		for k := range c.sides[i].claims {
			onBoard = onBoard || c.sides[i].claims[k].OnBoard()
		}
	}
	p := newProgress(cmd, "rules compare")
	s := w.source
	s.Examples = o.examples
	s.Progress = func(done uint64) { p.show(time.Duration(done), time.Duration(s.To-s.From)) }
	c.result, err = validate.Compare(cmd.Context(), s,
		validate.Side{Judge: c.sides[0].judge, Observer: c.sides[0].plan}, validate.Side{Judge: c.sides[1].judge, Observer: c.sides[1].plan}, onBoard)
	p.end()
	if c.result == nil || err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	err = buffered(cmd.OutOrStdout(), func(out io.Writer) error {
		if o.asJSON {
			return writeJSON(out, c.document(cmd))
		}
		return c.print(cmd, out)
	})
	if err == nil && c.result.Done < c.result.Asked {
		err = fmt.Errorf("%w: %d of %d boards", errInterrupted, c.result.Done, c.result.Asked)
	}
	return err
}

// probability writes a P value.
func probability(p float64) string {
	if p < 1e-4 {
		return "below 0.0001"
	}
	return strconv.FormatFloat(p, 'f', 4, 64)
}

// pairedCaution is what P values of a comparison do not know.
const pairedCaution = `P takes units for independent. Those of one board are not, and with several meters each channel is
counted once with each, so that P of all and of a fault is too small: go by the rows of one meter.`

func (c *ruleComparison) print(cmd *cobra.Command, w io.Writer) error {
	r, o, t := c.result, c.options, c.work.target
	fmt.Fprintf(w, "%s against %s on %s\n", c.sides[0].name, c.sides[1].name, t.title())
	fmt.Fprintf(w, "%d boards drawn from index %d with seed %d, %d of them without a solution; %d units\n\n", r.Done, o.from, o.seed, r.Unsolved, r.Units)
	for _, s := range c.sides {
		if caution := s.caution(); caution != "" {
			fmt.Fprintf(w, "%s\n\n", wrapped("The rules read live boards. Caution: "+caution+"."))
			break
		}
	}
	n := func(x uint64) string { return strconv.FormatUint(x, 10) }
	tab := newTable(w, "", "units", "both right", "first alone", "second alone", "neither", "P")
	row := func(name string, both, neither uint64, p validate.Paired) {
		text := probability(p.P)
		if p.Exact {
			text += " exact"
		} else {
			text += fmt.Sprintf(", χ² %.2f", p.Square)
		}
		tab.row(name, n(both), n(p.First), n(p.Second), n(neither), text)
	}
	row("all", r.Both, r.Neither, r.Overall)
	for _, m := range r.ByMeter {
		if m.Meter != "" && len(r.ByMeter) > 1 {
			row("with "+m.Meter, m.Both, m.Neither, m.Paired)
		}
	}
	for _, f := range r.ByFault {
		if f.First+f.Second > 0 {
			row(f.Fault, f.Both, f.Neither, f.Paired)
		}
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\n%s\n", wrapped(pairedCaution))
	for i, of := range [][]validate.Difference{r.First, r.Second} {
		for k := range of {
			d := &of[k]
			meter := ""
			if d.Meters[0] >= 0 {
				meter = ", with " + t.file.Board.Meters[d.Meters[0]].Name
			}
			fmt.Fprintf(w, "\n%s\n", wrapped(fmt.Sprintf("%s alone is right about board %d, %s%s; truth: %s", c.sides[i].name, d.Index, channelWord(t, d.Channel), meter, list(faultTexts(d.Faults, t.names), validate.Healthy))))
			for side, said := range []string{d.FirstSaid, d.SecondSaid} {
				fmt.Fprintln(w, indented("  ", c.sides[side].name+": "+said))
			}
			for side := range c.sides {
				fmt.Fprintln(w, "  "+c.again(cmd, side, &d.Example))
			}
		}
	}
	_, err := fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

// again is the command that shows an example with one of the files.
func (c *ruleComparison) again(cmd *cobra.Command, side int, e *validate.Example) string {
	var more []string
	if e.Channel >= 0 {
		more = append(more, "--channel", c.work.target.names[e.Channel])
	}
	if e.Meters[0] >= 0 {
		more = append(more, "--meter", c.work.target.file.Board.Meters[e.Meters[0]].Name)
	}
	return c.options.again(cmd, c.sides[side], c.work, e.Index, more...)
}

// The document of the command rules compare.

type pairedRulesDocument struct {
	Schema   string               `json:"schema" doc:"kind and version of this document"`
	Notice   string               `json:"notice" doc:"what to keep in mind"`
	First    string               `json:"first" doc:"rules"`
	Second   string               `json:"second" doc:"rules, or the program that judges"`
	Board    boardDocument        `json:"board" doc:"what the boards were drawn around"`
	Seed     uint64               `json:"seed" doc:"of the draw"`
	From     uint64               `json:"from" doc:"index of the first board"`
	Asked    uint64               `json:"asked" doc:"boards that were asked for"`
	Done     uint64               `json:"done" doc:"boards that were done"`
	Unsolved uint64               `json:"unsolved" doc:"boards without a solution"`
	Units    uint64               `json:"units" doc:"that were judged by both"`
	Overall  pairedDocument       `json:"overall" doc:"all units"`
	ByMeter  []pairedDocument     `json:"by_meter" doc:"by meter in hand"`
	ByFault  []pairedDocument     `json:"by_fault" doc:"by fault of the unit, alone or with others"`
	Differ   []differenceDocument `json:"differences" doc:"the most ordinary boards on which one alone is right"`
}

type pairedDocument struct {
	Name    string   `json:"name" doc:"fault, healthy, meter, or all"`
	Both    uint64   `json:"both" doc:"units of which both are right"`
	First   uint64   `json:"first" doc:"of which the first alone is"`
	Second  uint64   `json:"second" doc:"of which the second alone is"`
	Neither uint64   `json:"neither" doc:"of which neither is"`
	Square  optional `json:"chi_squared" doc:"with continuity correction; null where they never differ"`
	P       number   `json:"p" doc:"two-sided probability of the test of McNemar, too small where units are not independent, as those of several meters"`
	Exact   bool     `json:"exact" doc:"of the binomial law"`
}

type differenceDocument struct {
	Right    string          `json:"right" doc:"first or second"`
	Example  exampleDocument `json:"example" doc:"the board"`
	First    string          `json:"first_said" doc:"what the first said"`
	Second   string          `json:"second_said" doc:"what the second said"`
	Commands []string        `json:"commands" doc:"that show it with the first and the second"`
}

func pairedOf(name string, both, neither uint64, p validate.Paired) pairedDocument {
	return pairedDocument{name, both, p.First, p.Second, neither, optional(p.Square), number(p.P), p.Exact}
}

func (c *ruleComparison) document(cmd *cobra.Command) *pairedRulesDocument {
	r, o, t := c.result, c.options, c.work.target
	d := &pairedRulesDocument{
		Schema: schemaName("comparison"), Notice: notice, First: c.sides[0].name, Second: c.sides[1].name, Board: t.document(), Seed: o.seed, From: o.from,
		Asked: r.Asked, Done: r.Done, Unsolved: r.Unsolved, Units: r.Units, Overall: pairedOf("all", r.Both, r.Neither, r.Overall),
		ByMeter: []pairedDocument{}, ByFault: []pairedDocument{}, Differ: []differenceDocument{},
	}
	for _, m := range r.ByMeter {
		if m.Meter != "" {
			d.ByMeter = append(d.ByMeter, pairedOf(m.Meter, m.Both, m.Neither, m.Paired))
		}
	}
	for _, f := range r.ByFault {
		d.ByFault = append(d.ByFault, pairedOf(f.Fault, f.Both, f.Neither, f.Paired))
	}
	for i, of := range [][]validate.Difference{r.First, r.Second} {
		for k := range of {
			x := &of[k]
			e := exampleDocument{Index: x.Index, Meters: []string{}, Distance: number(x.Distance), Faults: faultTexts(x.Faults, t.names), Command: c.again(cmd, i, &x.Example)}
			if x.Channel >= 0 {
				e.Channel = nullable(t.names[x.Channel])
			}
			for _, m := range x.Meters {
				if m >= 0 {
					e.Meters = append(e.Meters, t.file.Board.Meters[m].Name)
				}
			}
			d.Differ = append(d.Differ, differenceDocument{[]string{"first", "second"}[i], e, x.FirstSaid, x.SecondSaid, []string{c.again(cmd, 0, &x.Example), c.again(cmd, 1, &x.Example)}})
		}
	}
	return d
}
