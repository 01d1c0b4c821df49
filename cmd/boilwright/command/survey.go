package command

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"boilwright/models"
	"boilwright/sim/boardfile"
)

// surveyOptions are the flags of the command survey.
type surveyOptions struct {
	circuits, cycles int
	seed, only       uint64
	alone            bool // only the circuit only
	run              time.Duration
	file             string
	asJSON           bool
}

func (a *app) survey() *cobra.Command {
	o := &surveyOptions{}
	cmd := &cobra.Command{
		Use:   "survey",
		Short: "Solve many random circuits and check that nothing breaks",
		Long: wrapped(`Draw many circuits - an embedded board on a random supply, with up to three random faults, in a random
state and at random temperatures - solve some cycles of each, and count how many were solved, how many were rejected
with an error that explains it, and how many broke a rule that always holds: no panic, only finite numbers, energy
from the source = dissipated + stored and currents that sum to zero at every node, both to 1e-9, and no error that
does not explain itself.

The faults are drawn over all that their keys take, which is more than what happens to real parts. Each circuit
follows from the seed and its number alone; --circuit looks at one again. The exit code is 4 where a rule is broken.

An interrupted survey prints what it has counted.`),
		Example: `  boilwright survey
  boilwright survey --circuits 100000 --seed 7
  boilwright survey --seed 7 --circuit 4711 --out drawn.toml
  boilwright survey --circuits 200 --run "30 s"`,
		Args:              cobra.NoArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		PreRunE:           func(cmd *cobra.Command, _ []string) error { return o.validate(cmd) },
		RunE:              a.do(o.do),
	}
	f := cmd.Flags()
	f.IntVarP(&o.circuits, "circuits", "n", 1000, "`NUMBER` of circuits to draw")
	f.IntVar(&o.cycles, "cycles", 2, "`NUMBER` of cycles of the supply to solve of each")
	f.Uint64Var(&o.seed, "seed", 1, "`NUMBER` that seeds the draw")
	f.Uint64Var(&o.only, "circuit", 0, "draw the circuit of this `NUMBER`, from 0, alone and tell what it is")
	f.Var((*durationValue)(&o.run), "run", "also simulate circuit and heat of each over a `TIME`, with its faults: slow")
	f.StringVar(&o.file, "out", "", "with --circuit: write its board, faults in it, to `FILE`; - is standard output")
	addJSONFlag(cmd, &o.asJSON)
	return cmd
}

func (o *surveyOptions) validate(cmd *cobra.Command) error {
	o.alone = cmd.Flags().Changed("circuit")
	switch {
	case o.circuits < 1 || o.circuits > 1e8:
		return misuse("circuits: found %d, expected 1 to 100000000", o.circuits)
	case o.cycles < 1 || o.cycles > 1000:
		return misuse("cycles: found %d, expected 1 to 1000", o.cycles)
	case o.alone && cmd.Flags().Changed("circuits"):
		return misuse("found --circuit and --circuits, expected one of them")
	case o.file != "" && !o.alone:
		return misuse("found --out, expected it with --circuit only")
	case o.file == "-" && o.asJSON:
		return misuse("found more than one document for standard output, expected one of --json and --out -")
	}
	if o.alone {
		o.circuits = 1
	}
	return nil
}

func (o *surveyOptions) do(cmd *cobra.Command, _ []string) error {
	boards := map[string]*models.Board{}
	for _, name := range boardfile.EmbeddedNames() {
		f, err := boardfile.Embedded(name)
		if err != nil {
			return err
		}
		boards[name] = f.Board
	}
	out := cmd.OutOrStdout()
	ctx := cmd.Context()
	s := &survey{options: o, findings: make([]finding, o.circuits)}
	p := newProgress(cmd, "survey")
	var mu sync.Mutex
	done := 0
	parallel(o.circuits, func(i int) error {
		if ctx.Err() != nil {
			return nil // counted as not done
		}
		s.findings[i] = o.examine(ctx, boards, o.only+uint64(i))
		mu.Lock()
		defer mu.Unlock()
		done++
		p.show(time.Duration(done), time.Duration(o.circuits))
		return nil
	})
	p.end()
	s.count()
	if o.file != "" {
		c := drawCircuit(boards, o.seed, o.only, o.cycles)
		b, err := c.set.Applied(c.board)
		if err != nil {
			return wrongInput(err)
		}
		err = writeFile(o.file, out, func(w io.Writer) error {
			_, err := w.Write(boardfile.Marshal(b))
			return err
		})
		if err != nil {
			return err
		}
	}
	var err error
	switch {
	case o.file == "-":
	case o.asJSON:
		err = writeJSON(out, s.document())
	default:
		if o.alone {
			fmt.Fprintf(out, "circuit %d: %s\n", o.only, drawCircuit(boards, o.seed, o.only, o.cycles).describe())
			if why := s.findings[0].why; why != "" {
				fmt.Fprintf(out, "rejected: %s\n", why)
			}
		}
		err = s.print(out)
	}
	if err != nil {
		return err
	}
	return s.verdict()
}

// examine draws one circuit and finds out what becomes of it.
func (o *surveyOptions) examine(ctx context.Context, boards map[string]*models.Board, index uint64) finding {
	f := finding{done: true}
	f.survive(func() {
		c := drawCircuit(boards, o.seed, index, o.cycles)
		b := f.faulty(c)
		if b == nil {
			return
		}
		f.solve(c, b)
		if o.run > 0 && f.rejected == "" {
			f.run(ctx, c, o.seed, o.run)
		}
	})
	if ctx.Err() != nil {
		f.done = false // a run may have been cut short
	}
	return f
}

// survey is what the findings come to.
type survey struct {
	options    *surveyOptions
	findings   []finding
	done       int
	solved     int
	halves     int
	rejected   []rejection
	violations []foundViolation
	// The circuits with the greatest deviations and the most switchings.
	energy, kirchhoff, switchings extreme
}

// rejection counts the circuits that an error of one kind explains.
type rejection struct {
	kind    string
	count   int
	example uint64
}

type foundViolation struct {
	circuit uint64
	violation
	command string
}

// extreme is a greatest value and the circuit that has it.
type extreme struct {
	value   float64
	circuit uint64
}

func (e *extreme) take(v float64, circuit uint64) {
	if v > e.value {
		e.value, e.circuit = v, circuit
	}
}

// count goes through the findings in the order of the circuits.
func (s *survey) count() {
	by := map[string]int{}
	for i := range s.findings {
		f := &s.findings[i]
		n := s.options.only + uint64(i)
		if !f.done {
			continue
		}
		s.done++
		s.halves += f.halves
		s.energy.take(f.energy, n)
		s.kirchhoff.take(f.kirchhoff, n)
		s.switchings.take(float64(f.switchings), n)
		switch {
		case len(f.violations) > 0:
			for _, v := range f.violations {
				s.violations = append(s.violations, foundViolation{n, v, s.options.command(n)})
			}
		case f.rejected == "":
			s.solved++
		default:
			k, ok := by[f.rejected]
			if !ok {
				k = len(s.rejected)
				by[f.rejected] = k
				s.rejected = append(s.rejected, rejection{kind: f.rejected, example: n})
			}
			s.rejected[k].count++
		}
	}
	slices.SortStableFunc(s.rejected, func(a, b rejection) int {
		return cmp.Or(cmp.Compare(b.count, a.count), strings.Compare(a.kind, b.kind))
	})
}

// verdict is the error that the survey ends with.
func (s *survey) verdict() error {
	switch {
	case len(s.violations) > 0:
		return unmet(fmt.Errorf("found violations in the survey: %d, expected none", len(s.violations)))
	case s.done < s.options.circuits:
		return fmt.Errorf("%w: %d of %d circuits", errInterrupted, s.done, s.options.circuits)
	}
	return nil
}

// command is the command line that looks at a circuit again.
func (o *surveyOptions) command(circuit uint64) string {
	s := fmt.Sprintf("boilwright survey --seed %d --circuit %d", o.seed, circuit)
	if o.cycles != 2 {
		s += fmt.Sprintf(" --cycles %d", o.cycles)
	}
	if o.run > 0 {
		s += fmt.Sprintf(" --run %q", (*durationValue)(&o.run).String())
	}
	return s
}

func (s *survey) print(w io.Writer) error {
	o := s.options
	fmt.Fprintf(w, "%d circuits drawn with seed %d, %d half-cycles solved\n\n", s.done, o.seed, s.halves)
	t := newTable(w, "", "circuits", "what became of them", "for instance")
	t.row(strconv.Itoa(s.solved), "solved", "")
	for _, r := range s.rejected {
		t.row(strconv.Itoa(r.count), "rejected: "+r.kind, strconv.FormatUint(r.example, 10))
	}
	broken := s.done - s.solved
	for _, r := range s.rejected {
		broken -= r.count
	}
	example := ""
	if broken > 0 {
		example = strconv.FormatUint(s.violations[0].circuit, 10)
	}
	t.row(strconv.Itoa(broken), "broke a rule that always holds", example)
	if err := t.flush(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nlargest deviations: energy %.1e (circuit %d), Kirchhoff %.1e (circuit %d); allowed %.0e\n",
		s.energy.value, s.energy.circuit, s.kirchhoff.value, s.kirchhoff.circuit, surveyTolerance)
	_, err := fmt.Fprintf(w, "most switchings in a half-cycle: %.0f (circuit %d)\n", s.switchings.value, s.switchings.circuit)
	for _, v := range s.violations {
		_, err = fmt.Fprintf(w, "%s: %s: %s\n", v.command, v.kind, v.detail)
	}
	return err
}
