package command

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults"
	"boilwright/faults/rules"
	"boilwright/faults/rules/validate"
	"boilwright/plots"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
	"boilwright/sim/readings"
)

// explainOptions are the flags of the command rules explain.
type explainOptions struct {
	ruleFlags
	index   uint64
	rule    string
	channel string
	figure  string
	state   string
	asJSON  bool
}

func (a *app) rulesExplain() *cobra.Command {
	o := &explainOptions{}
	cmd := &cobra.Command{
		Use:   "explain FILE [BOARD]",
		Short: "Show one drawn board: its truth, what rules see of it, and their verdicts",
		Long: wrapped(`Draw one board of a population again, tell its faults, what the rules look at on it, and what each concludes:
right, wrong, missed. The flags of which boards are drawn are those of "boilwright rules validate", which prints such
commands for the boards on which rules fail.

--figure draws its waveforms in the first state in which the rules read a live board, or in that of --state.`),
		Example: `  boilwright rules explain starter --index 42
  boilwright rules explain starter --index 42 --rule 'half the supply while off' --channel dye --meter rms --figure board.svg`,
		Args:              o.args(1),
		ValidArgsFunction: completeRuleFile,
		PreRunE: func(cmd *cobra.Command, _ []string) error {
			if !cmd.Flags().Changed("index") {
				return misuse("found no --index, expected that of a board")
			}
			if o.index > 1<<62 {
				return misuse("--index: found %d, expected at most %d", o.index, uint64(1)<<62)
			}
			if o.figure != "" {
				if _, err := format(o.figure); err != nil {
					return err
				}
			} else if o.state != "" {
				return misuse("found --state, expected it with --figure only")
			}
			o.boards = 1
			return o.check(cmd)
		},
		RunE: a.do(o.do),
	}
	o.ruleFlags.add(cmd, 1)
	f := cmd.Flags()
	for _, name := range []string{"boards", "from", "workers"} {
		f.MarkHidden(name)
	}
	f.Uint64Var(&o.index, "index", 0, "`INDEX` of the board")
	f.StringVar(&o.rule, "rule", "", "tell of this rule alone, `NAME`")
	f.StringVar(&o.channel, "channel", "", "tell of this `CHANNEL` alone")
	f.StringVar(&o.figure, "figure", "", "draw the waveforms to `FILE`, ending in ."+strings.Join(plots.Formats(), ", ."))
	f.StringVar(&o.state, "state", "", "with --figure: `STATE` "+list(liveStates, ""))
	complete(cmd, "state", completeWords(liveStates...))
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

// explanation is one board as rules see it.
type explanation struct {
	options *explainOptions
	work    *ruleWork
	side    *ruleSide
	member  population.Member
	record  evidence.Record
	meters  []int // in hand; -1 for none
	only    int   // channel; -2 for all
	said    [][]*rules.Conclusion
	files   []string
}

// everyChannel is no channel that is asked for.
const everyChannel = -2

func (o *explainOptions) do(cmd *cobra.Command, args []string) error {
	files, boardArgs := o.files(args, 1)
	w, err := o.work(cmd, boardArgs)
	if err != nil {
		return err
	}
	side, err := o.side(cmd, w, files)
	if err != nil {
		return err
	}
	defer side.close()
	x := &explanation{options: o, work: w, side: side, only: everyChannel, files: []string{}}
	if o.rule != "" && side.judge.Rules() != nil && !slices.Contains(side.judge.Rules(), o.rule) {
		return misuse("--rule: found %q, expected one of %s", o.rule, list(side.judge.Rules(), ""))
	}
	if o.channel != "" {
		if x.only = slices.Index(w.target.names, o.channel); x.only < 0 {
			return misuse("--channel: found %q, expected one of %s", o.channel, list(w.target.names, ""))
		}
	}
	if x.member, err = w.source.Design.Member(w.source.Population, o.index); err != nil {
		return wrongInput(err)
	}
	ctx := cmd.Context()
	if x.record, err = side.plan.Observe(ctx, x.member); err != nil {
		return err
	}
	if err := x.judge(ctx); err != nil {
		return err
	}
	if o.figure != "" {
		if err := x.draw(); err != nil {
			return err
		}
	}
	return buffered(cmd.OutOrStdout(), func(out io.Writer) error {
		if o.asJSON {
			return writeJSON(out, x.document())
		}
		return x.print(out)
	})
}

// judge lets the rules judge the board with each meter in hand.
func (x *explanation) judge(ctx context.Context) error {
	x.meters = []int{-1}
	if x.side.judge.InHand() {
		x.meters = x.work.source.Meters
		if len(x.meters) == 0 {
			x.meters = nil
			for i := range x.work.target.file.Board.Meters {
				x.meters = append(x.meters, i)
			}
		}
	}
	for _, m := range x.meters {
		var said []*rules.Conclusion
		if x.record.Problem == "" {
			var err error
			if said, err = x.side.judge.Judge(ctx, nil, &rules.Case{Index: x.member.Index, Meter: max(0, m), Values: x.record.Values}); err != nil {
				return err
			}
		}
		x.said = append(x.said, said)
	}
	return nil
}

// draw draws the waveforms of the board with its faults.
func (x *explanation) draw() error {
	o := x.options
	flags := newConditions(x.liveState())
	b, err := x.member.Faulty()
	if err != nil {
		return wrongInput(err)
	}
	c, err := flags.conditions(b, liveStates...)
	if err != nil {
		return err
	}
	h := heading(x.work.target, flags.state)
	h.Subtitle = fmt.Sprintf("board %d, %s, %s", o.index, list(faultTexts(x.member.Faults, x.work.target.names), validate.Healthy), flags.state)
	opts := plots.RecordingOptions{Heading: h}
	if x.only >= 0 {
		opts.Channels = []int{x.only}
	}
	s, err := waveformSheet(b, c, 2, opts)
	if err != nil {
		return err
	}
	x.files, err = writeSheet(o.figure, s, plots.Size{}, false)
	return err
}

// liveState is the state that is drawn.
func (x *explanation) liveState() string {
	if x.options.state != "" {
		return x.options.state
	}
	for _, n := range x.side.needs {
		for _, a := range n.Args {
			if n.Live && slices.Contains(liveStates, a) {
				return a
			}
		}
	}
	return readings.Standby.String()
}

// shown lists the observables that the rules look at, as the flags restrict
// them.
func (x *explanation) shown() []int {
	var out []int
	for k := range x.side.needs {
		n := &x.side.needs[k]
		if x.only >= 0 && n.Channel >= 0 && n.Channel != x.only {
			continue
		}
		seen := x.side.rules == nil
		for i := range x.side.rules {
			r := &x.side.rules[i]
			if x.options.rule == "" || r.Name == x.options.rule {
				seen = seen || looks(r, n, everyChannel, x.meters, x.work.target.names)
			}
		}
		if seen {
			out = append(out, k)
		}
	}
	return out
}

// ruleVerdict is what became of a rule on one channel, or on the board.
type ruleVerdict struct {
	rule, concludes string
	channel         int
	applied         []bool // by meter in hand
	right           bool   // that it applies
}

// verdicts lists the rules that applied or should have, by rule and channel,
// and counts those that rightly did not.
func (x *explanation) verdicts() (out []ruleVerdict, quiet int) {
	find := func(rule string, channel int, names []string) *ruleVerdict {
		for i := range out {
			if v := &out[i]; v.rule == rule && v.channel == channel && v.concludes == validate.Concluded(names) {
				return v
			}
		}
		c := rules.Conclusion{Channel: channel, Faults: names}
		out = append(out, ruleVerdict{rule, validate.Concluded(names), channel, make([]bool, len(x.meters)), validate.Right(&c, x.member.Faults)})
		return &out[len(out)-1]
	}
	wanted := func(rule string, channel int) bool {
		return (x.options.rule == "" || rule == x.options.rule) && (x.only == everyChannel || channel == x.only || channel == faults.WholeBoard)
	}
	for i := range x.side.rules {
		r := &x.side.rules[i]
		for _, k := range r.Channels {
			if wanted(r.Name, k) {
				find(r.Name, k, r.Concludes)
			}
		}
	}
	for i, said := range x.said {
		for _, c := range said {
			if wanted(c.Rule, c.Channel) {
				find(c.Rule, c.Channel, c.Faults).applied[i] = true
			}
		}
	}
	all := len(out)
	out = slices.DeleteFunc(out, func(v ruleVerdict) bool { return !v.right && !slices.Contains(v.applied, true) })
	return out, all - len(out)
}

// word tells what became of a rule with one meter in hand.
func (v *ruleVerdict) word(i int) string {
	switch {
	case v.applied[i] && v.right:
		return "right"
	case v.applied[i]:
		return "false alarm"
	case v.right:
		return "missed"
	}
	return ""
}

func (x *explanation) print(w io.Writer) error {
	t := x.work.target
	fmt.Fprintf(w, "%s on %s, board %d of seed %d\n", x.side.name, t.title(), x.options.index, x.options.seed)
	fmt.Fprintf(w, "truth: %s\n", list(faultTexts(x.member.Faults, t.names), validate.Healthy))
	if x.record.Problem != "" {
		fmt.Fprintln(w, wrapped("without a solution: "+x.record.Problem))
		_, err := fmt.Fprintf(w, "\n%s\n", notice)
		return err
	}
	shown := x.shown()
	live := false
	for _, k := range shown {
		live = live || x.side.needs[k].Live
	}
	if live {
		fmt.Fprintln(w, wrapped("* "+readings.LiveCaution))
	}
	fmt.Fprintln(w)
	tab := newTable(w, "", "what the rules see", "value")
	for _, k := range shown {
		name := x.side.needs[k].Name
		if x.side.needs[k].Live {
			name += " *"
		}
		tab.row(name, observed(&x.side.needs[k], x.record.Values[k]))
	}
	if err := tab.flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	verdicts, quiet := x.verdicts()
	if len(verdicts) > 0 {
		heads := []string{"rule", "concludes", "on"}
		for _, m := range x.meters {
			if m < 0 {
				heads = append(heads, "verdict")
			} else {
				heads = append(heads, "with "+t.file.Board.Meters[m].Name)
			}
		}
		tab = newTable(w, "", heads...)
		for i := range verdicts {
			v := &verdicts[i]
			cells := []string{v.rule, v.concludes, channelWord(t, v.channel)}
			for k := range x.meters {
				cells = append(cells, v.word(k))
			}
			tab.row(cells...)
		}
		if err := tab.flush(); err != nil {
			return err
		}
	}
	if quiet > 0 {
		fmt.Fprintf(w, "%d more rightly did not apply, a rule and a channel each\n", quiet)
	}
	if len(x.files) > 0 {
		fmt.Fprintln(w)
		for _, f := range x.files {
			fmt.Fprintln(w, f)
		}
	}
	_, err := fmt.Fprintf(w, "\n%s\n", notice)
	return err
}

// The document of the command rules explain.

type explanationDocument struct {
	Schema   string                `json:"schema" doc:"kind and version of this document"`
	Notice   string                `json:"notice" doc:"what to keep in mind"`
	Caution  string                `json:"caution" doc:"belongs beside every live test"`
	File     string                `json:"file" doc:"rules, or the program that judges"`
	Board    boardDocument         `json:"board" doc:"what the board was drawn around"`
	Seed     uint64                `json:"seed" doc:"of the draw"`
	Index    uint64                `json:"index" doc:"of the board"`
	Faults   []string              `json:"faults" doc:"truth, each as --fault takes it"`
	Problem  nullable              `json:"problem" doc:"why there is nothing to see; null where there is"`
	Evidence []seenDocument        `json:"evidence" doc:"what the rules look at"`
	Verdicts []ruleVerdictDocument `json:"verdicts" doc:"rules that applied or should have"`
	Quiet    int                   `json:"quiet" doc:"rules that rightly did not apply, by channel"`
	Files    []string              `json:"files" doc:"that were written"`
}

type seenDocument struct {
	Name  string   `json:"name" doc:"of the observable"`
	Value optional `json:"value" doc:"in its unit; null for over range, open or never"`
	Unit  string   `json:"unit" doc:"empty for a ratio, yes or no, a word"`
	Text  string   `json:"text" doc:"the same in words"`
	Live  bool     `json:"live" doc:"it takes a live test"`
}

type ruleVerdictDocument struct {
	Rule      string   `json:"rule" doc:"its name"`
	Concludes string   `json:"concludes" doc:"faults of which one is meant, or healthy"`
	Channel   nullable `json:"channel" doc:"its name; null for the board"`
	Meters    []string `json:"meters" doc:"in hand; empty for none"`
	Verdicts  []string `json:"verdicts" doc:"by meter: right, false alarm, missed, or empty where it rightly did not apply"`
}

func (x *explanation) document() *explanationDocument {
	t := x.work.target
	d := &explanationDocument{
		Schema: schemaName("explanation"), Notice: notice, Caution: readings.LiveCaution, File: x.side.name, Board: t.document(), Seed: x.options.seed, Index: x.options.index,
		Faults: faultTexts(x.member.Faults, t.names), Problem: nullable(x.record.Problem), Evidence: []seenDocument{}, Verdicts: []ruleVerdictDocument{}, Files: x.files,
	}
	if x.record.Problem != "" {
		return d
	}
	for _, k := range x.shown() {
		n := &x.side.needs[k]
		d.Evidence = append(d.Evidence, seenDocument{n.Name, optional(x.record.Values[k]), n.Unit, observed(n, x.record.Values[k]), n.Live})
	}
	verdicts, quiet := x.verdicts()
	d.Quiet = quiet
	for i := range verdicts {
		v := &verdicts[i]
		y := ruleVerdictDocument{Rule: v.rule, Concludes: v.concludes, Meters: []string{}, Verdicts: []string{}}
		if v.channel >= 0 {
			y.Channel = nullable(t.names[v.channel])
		}
		for k, m := range x.meters {
			if m >= 0 {
				y.Meters = append(y.Meters, t.file.Board.Meters[m].Name)
			}
			y.Verdicts = append(y.Verdicts, v.word(k))
		}
		d.Verdicts = append(d.Verdicts, y)
	}
	return d
}
