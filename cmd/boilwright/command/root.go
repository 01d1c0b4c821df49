package command

import (
	"context"
	"io"

	"github.com/spf13/cobra"
)

// Version is the program's version.
const Version = "0.1.0"

// notice stands wherever a person might act on what is printed.
const notice = "everything here is simulated; a real board can differ; local codes and licensed practice prevail"

// app is one execution of the program.
type app struct {
	begun bool // a command's own work has begun
}

// Execute runs the program with the given arguments and streams, and returns
// its exit code. Cancelling ctx stops it cleanly.
func Execute(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	a := &app{}
	root := a.root()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	cmd, err := root.ExecuteContextC(ctx)
	c := code(err, a.begun)
	if err != nil {
		report(errs, err, c, cmd.CommandPath())
	}
	return c
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "boilwright",
		Short: "Simulate a heater controller, its faults and its readings",
		Long: wrapped(`Boilwright simulates a zero-cross heater controller with opto-triac channels: the
circuit exactly, the heat of its boilers, the faults that its parts can have, and what
meters show at its test points. Start with "boilwright demo".

BOARD is a board file's path, "-" for standard input, or the name of an embedded board;
without one the first of "boilwright board list" is taken.`) + `

Exit codes:
  0  done
  1  the input is wrong: a line each on standard error, with file, line and field
  2  misuse: unknown command or flag, bad argument
  3  the tool failed or was interrupted
  4  a requirement that was stated is not met

` + wrapped("Safety: "+notice+`. Unplugged tests come first. Live tests are for competent and, where local
rules ask for it, licensed people only.`),
		Version: Version,

		DisableFlagsInUseLine: true,

		SilenceErrors: true,
		SilenceUsage:  true,
		RunE:          group,
		Args:          cobra.ArbitraryArgs,
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return misused(err) })
	root.AddGroup(&cobra.Group{ID: "story", Title: "Begin here:"}, &cobra.Group{ID: "sim", Title: "Simulate:"}, &cobra.Group{ID: "know", Title: "Look up:"})
	root.SetHelpCommandGroupID("know")
	root.SetCompletionCommandGroupID("know")
	for _, c := range []struct {
		id  string
		cmd *cobra.Command
	}{
		{"story", a.demo()},
		{"sim", a.run()},
		{"sim", a.readings()},
		{"sim", a.monitor()},
		{"sim", a.figure()},
		{"sim", a.animate()},
		{"sim", a.lessons()},
		{"sim", a.disturbance()},
		{"sim", a.recurrence()},
		{"sim", a.diagnose()},
		{"sim", a.population()},
		{"sim", a.rules()},
		{"know", a.survey()},
		{"know", a.faults()},
		{"know", a.reference()},
		{"know", a.board()},
		{"know", a.schema()},
		{"know", a.version()},
		{"", jsonTopic()},
	} {
		c.cmd.GroupID = c.id
		root.AddCommand(c.cmd)
	}
	return root
}

// group is what a command does that only has subcommands: it prints its help,
// and rejects what is none of them.
func group(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return cmd.Help()
	}
	text := "unknown command %q for %q"
	cmd.SuggestionsMinimumDistance = 2
	if s := cmd.SuggestionsFor(args[0]); len(s) > 0 {
		return misuse(text+"; did you mean %s", args[0], cmd.CommandPath(), s[0])
	}
	return misuse(text, args[0], cmd.CommandPath())
}

// do makes a command's work: from here on an error is no longer misuse unless
// it says so.
func (a *app) do(work func(cmd *cobra.Command, args []string) error) func(*cobra.Command, []string) error {
	return func(cmd *cobra.Command, args []string) error {
		a.begun = true
		return work(cmd, args)
	}
}
