package command

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"boilwright/faults/infer"
)

// ask asks for one test at a time until the action is settled, the answers end
// or nothing more can be asked.
func (o *diagnoseOptions) ask(cmd *cobra.Command, t *target, w *infer.Bench, es []infer.Evidence, cannot infer.Exclude) error {
	out := cmd.OutOrStdout()
	in := bufio.NewScanner(cmd.InOrStdin())
	fmt.Fprintln(out, t.title())
	fmt.Fprintln(out, notice)
	fmt.Fprintln(out, wrapped(`answer with a value and its unit, one of the words offered, "open", "can't do", or "stop"`))
	for {
		d, err := w.Diagnose(es, cannot)
		if err != nil {
			return misused(err)
		}
		w.Flush()
		fmt.Fprintln(out)
		if d.Next == nil {
			return o.print(out, t, w, d)
		}
		for i, s := range d.Suspects[:min(3, len(d.Suspects))] {
			if i == 0 || s.Probability > 0.05 {
				fmt.Fprintf(out, "%s %s\n", share(s.Probability), s.Text)
			}
		}
		printAsked(out, w, d.Next)
		stop, err := o.answer(cmd, in, w, d.Next.Test, &es, cannot)
		if err != nil {
			return err
		}
		if stop {
			fmt.Fprintln(out)
			return o.print(out, t, w, d)
		}
	}
}

// answer reads the answer to a test, again until it is one.
func (o *diagnoseOptions) answer(cmd *cobra.Command, in *bufio.Scanner, w *infer.Bench, t infer.Test, es *[]infer.Evidence, cannot infer.Exclude) (stop bool, err error) {
	out := cmd.OutOrStdout()
	for {
		fmt.Fprint(out, "> ")
		if !in.Scan() {
			return true, in.Err()
		}
		if err := cmd.Context().Err(); err != nil {
			return true, err
		}
		text := strings.TrimSpace(in.Text())
		switch strings.ToLower(text) {
		case "":
			continue
		case "stop", "quit", "q":
			return true, nil
		case "can't do", "cannot do", "cant do", "cannot", "skip", "no way":
			cannot[t.Key()] = true
			return false, nil
		}
		e, err := w.Answer(t, text)
		if err != nil {
			fmt.Fprintln(out, err)
			continue
		}
		*es = append(*es, e)
		return false, nil
	}
}

func printAsked(w io.Writer, b *infer.Bench, a *infer.Advice) {
	fmt.Fprintln(w, wrapped(a.Test.Describe(b.Board)+"?"))
	fmt.Fprintln(w, indented("  ", "caution: "+a.Caution))
	if a.Limit != "" {
		fmt.Fprintln(w, indented("  ", "time: "+a.Limit))
	}
	if c := a.Test.Choices(); c != nil {
		fmt.Fprintln(w, "  answers: "+strings.Join(c, ", "))
	} else {
		fmt.Fprintln(w, "  answer in "+a.Test.Unit())
	}
}
