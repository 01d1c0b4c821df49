package command

import (
	"encoding/json"
	"fmt"
	"io"
	"reflect"

	"github.com/spf13/cobra"

	"boilwright/faults/rules/checker"
)

func (a *app) rulesLines() *cobra.Command {
	var header bool
	cmd := &cobra.Command{
		Use:   "lines [BOARD]",
		Short: "Tell which lines a program reads and writes that judges in place of a rule file",
		Long: wrapped(`Tell which lines a program reads and writes that judges in place of a rule file: JSON lines on its standard
input and output, in any language. With --header the first line that it reads for a board is printed as it is, to try a
program on.`),
		Example: `  boilwright rules lines
  boilwright rules lines --header | my-program`,
		Args:              cobra.MaximumNArgs(1),
		ValidArgsFunction: completeBoard,
		RunE: a.do(func(cmd *cobra.Command, args []string) error {
			if !header {
				return buffered(cmd.OutOrStdout(), describeLines)
			}
			t, err := (&faultFlags{}).load(cmd, args)
			if err != nil {
				return err
			}
			line, err := json.Marshal(checker.NewHeader(t.file.Board, notice))
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s\n", line)
			return err
		}),
	}
	cmd.Flags().BoolVar(&header, "header", false, "print the first line that a program reads for the board")
	return cmd
}

func describeLines(w io.Writer) error {
	note(w, `%s: UTF-8, one JSON object a line, at most %d bytes. Each line from the program answers the one before it, in order, and must be flushed. The end of its input is the end of its work. What it writes to standard error is kept for messages.`,
		checker.Schema, checker.MaxLine)
	for _, l := range []struct {
		title string
		zero  any
	}{
		{"first it reads the header", checker.Header{}},
		{"and answers with what it wants: only this is simulated", checker.Answer{}},
		{"then it reads a question for each case", checker.Question{}},
		{"and answers with its verdict", checker.Verdict{}},
	} {
		fmt.Fprintf(w, "\n%s\n", l.title)
		t := newTable(w, "  ", "field", "type", "meaning")
		describe(t, "", reflect.TypeOf(l.zero))
		if err := t.flush(); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(w, "\nexample\n  %s\n  %s\n\n%s\n", `{"id":1,"values":[115.2,true,"in band"]}`,
		`{"id":1,"conclusions":[{"rule":"half","channel":"dye","faults":["opto-one-way"]}]}`, notice)
	return err
}
