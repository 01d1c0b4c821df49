package command

import (
	"errors"
	"fmt"
	"io/fs"
	"os/exec"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"boilwright/faults/rules"
	"boilwright/faults/rules/checker"
	"boilwright/faults/rules/validate"
	"boilwright/sim/population"
	"boilwright/sim/population/evidence"
)

// ruleFlags are the flags of every command that tries rules on boards.
type ruleFlags struct {
	drawFlags
	each    uint64
	checker string
	meters  []string
}

func (o *ruleFlags) add(cmd *cobra.Command, boards uint64) {
	o.drawFlags.add(cmd, boards)
	f := cmd.Flags()
	f.Uint64Var(&o.each, "each", 0, "instead of -n: `NUMBER` of boards for each fault in each place, alone, with healthy ones as --healthy tells")
	f.StringVar(&o.checker, "checker", "", "let a program judge instead of a file: `PROGRAM` and its arguments, with spaces between them")
	f.StringArrayVarP(&o.meters, "meter", "m", nil, "the meter in hand is this one of the board, `NAME`; repeatable [each]")
	complete(cmd, "meter", completeRuleMeter)
}

// args tells how many arguments there are: rule files, unless a program
// judges, and at most one board.
func (o *ruleFlags) args(files int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		need := files
		if o.checker != "" {
			need--
		}
		if len(args) < need || len(args) > need+1 {
			return misuse("found %d arguments, expected %s", len(args), strings.TrimPrefix(cmd.Use, cmd.Name()+" "))
		}
		return nil
	}
}

// files parts the arguments into rule files and the board. A file that a
// program stands for is empty, the last one.
func (o *ruleFlags) files(args []string, n int) (files, board []string) {
	need := n
	if o.checker != "" {
		need--
	}
	files = slices.Clone(args[:need])
	for len(files) < n {
		files = append(files, "")
	}
	return files, args[need:]
}

func (o *ruleFlags) check(cmd *cobra.Command) error {
	if cmd.Flags().Changed("each") {
		switch {
		case cmd.Flags().Changed("boards"):
			return misuse("found --boards and --each, expected one of them")
		case cmd.Flags().Changed("more"):
			return misuse("found --more with --each, expected it without: each board then has one fault at most")
		case o.each < 1 || o.each > 1e6:
			return misuse("--each: found %d, expected 1 to 1000000", o.each)
		}
	}
	return o.drawFlags.check()
}

func completeRuleFile(cmd *cobra.Command, args []string, text string) ([]string, cobra.ShellCompDirective) {
	if len(args) == 0 {
		return []string{rules.StarterName}, cobra.ShellCompDirectiveDefault
	}
	return completeBoard(cmd, args[1:], text)
}

func completeRuleMeter(cmd *cobra.Command, args []string, text string) ([]string, cobra.ShellCompDirective) {
	return completeMeter(cmd, args[min(1, len(args)):], text)
}

// ruleWork is the boards on which rules are tried.
type ruleWork struct {
	target *target
	source validate.Source
	args   []string // the board, as given
}

// work makes the boards of the flags ready.
func (o *ruleFlags) work(cmd *cobra.Command, args []string) (*ruleWork, error) {
	t, err := (&faultFlags{}).load(cmd, args)
	if err != nil {
		return nil, err
	}
	w := &ruleWork{target: t, args: args}
	s := &w.source
	if s.Spec, err = o.spec(t); err != nil {
		return nil, err
	}
	if s.Population, err = population.New(t.file.Board, s.Spec, o.seed); err != nil {
		return nil, misused(err)
	}
	s.Seed, s.From, s.To = o.seed, o.from, o.from+o.boards
	s.Workers.Count = o.workers
	if o.each > 0 {
		if s.Design, err = validate.Balanced(s.Population, float64(o.healthy.value)); err != nil {
			return nil, misuse("--each: %w", err)
		}
		s.To = o.from + o.each*s.Design.Round()
	}
	for _, name := range o.meters {
		k := slices.Index(meterNames(t), name)
		if k < 0 {
			return nil, misuse("--meter: found %q, expected one of %s", name, list(meterNames(t), ""))
		}
		if !slices.Contains(s.Meters, k) {
			s.Meters = append(s.Meters, k)
		}
	}
	slices.Sort(s.Meters)
	return w, nil
}

// ruleSide is a judge with what it needs.
type ruleSide struct {
	name    string // of the file, or the program with its arguments
	program bool
	judge   rules.Judge
	rules   []rules.Rule // of a file
	claims  []validate.Claim
	needs   []evidence.Observable
	plan    *evidence.Plan
	close   func()
	// troubles are conditions that could not be evaluated.
	troubles func() []rules.Trouble
}

// side makes the judge of a file ready, or with --checker that of the program.
func (o *ruleFlags) side(cmd *cobra.Command, w *ruleWork, files []string) (*ruleSide, error) {
	x := &ruleSide{name: files[0], close: func() {}}
	if files[0] == "" {
		c, err := checker.Start(cmd.Context(), w.target.file.Board, checker.Options{Args: strings.Fields(o.checker), Notice: notice})
		var missing *exec.Error
		var refused *fs.PathError
		if errors.As(err, &missing) || errors.As(err, &refused) {
			return nil, misuse("--checker: %w, expected a program that can be run", err)
		}
		if err != nil {
			return nil, err
		}
		x.name, x.program, x.judge, x.close, x.troubles = o.checker, true, c, c.Close, c.Troubles
	} else {
		p, err := loadRules(cmd, files[0], w.target.file.Board)
		if err != nil {
			return nil, err
		}
		x.judge, x.rules, x.troubles = p, p.List, p.Troubles
		for i := range p.List {
			r := &p.List[i]
			x.claims = append(x.claims, validate.Claim{Rule: r.Name, Channels: append([]int{}, r.Channels...), Faults: r.Concludes})
		}
	}
	x.needs = x.judge.Needs()
	var err error
	if x.plan, err = evidence.NewPlan(w.source.Population, x.needs); err != nil {
		x.close()
		return nil, misused(err)
	}
	return x, nil
}

// again is the command that shows one board of the population again.
func (o *ruleFlags) again(cmd *cobra.Command, s *ruleSide, w *ruleWork, index uint64, more ...string) string {
	words := []string{"boilwright", "rules", "explain"}
	if !s.program {
		words = append(words, asOperand(s.name))
	}
	for _, a := range w.args {
		words = append(words, asOperand(a))
	}
	words = append(words, "--index", fmt.Sprint(index), "--seed", fmt.Sprint(o.seed))
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Changed {
			return
		}
		switch f.Name {
		case "healthy", "more", "each":
			words = append(words, "--"+f.Name, f.Value.String())
		case "checker":
			if s.program {
				words = append(words, "--"+f.Name, f.Value.String())
			}
		case "only", "tolerance":
			for _, v := range f.Value.(pflag.SliceValue).GetSlice() {
				words = append(words, "--"+f.Name, v)
			}
		}
	})
	words = append(words, more...)
	for i, x := range words {
		words[i] = shellWord(x)
	}
	return strings.Join(words, " ")
}

// asOperand writes the name of a file so that it is not taken for a flag.
func asOperand(name string) string {
	if len(name) > 1 && name[0] == '-' {
		return "./" + name
	}
	return name
}

// shellWord quotes a word for a shell where it has to be.
func shellWord(s string) string {
	plain := s != "" && strings.IndexFunc(s, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./:=%,+", r))
	}) < 0
	if plain {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

// looks tells whether a rule looks at an observable when it is tried on a
// channel with one of the meters in hand.
func looks(r *rules.Rule, o *evidence.Observable, channel int, meters []int, names []string) bool {
	if channel >= 0 && o.Channel >= 0 && o.Channel != channel {
		return false
	}
	return slices.ContainsFunc(r.Needs, func(need string) bool {
		words := strings.Fields(need)
		if len(words) == 0 || words[0] != o.Form {
			return false
		}
		words = words[1:]
		if len(words) > len(o.Args) {
			words = words[:len(o.Args)]
		}
		at := 0
		for _, a := range o.Args {
			if at < len(words) && (words[at] == a || strings.HasSuffix(a, ":"+words[at])) {
				at++
				continue
			}
			// What a condition leaves out is its channel or the meter in hand.
			if !slices.Contains(names, a) && !(o.Meter >= 0 && slices.Contains(meters, o.Meter)) {
				return false
			}
		}
		return at == len(words)
	})
}
